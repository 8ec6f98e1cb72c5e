"""What goes in and out of a solution: metal, acid, additives, water.

All balances are of a whole bath: several tanks that share circulation are one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from linewatch.core.electrochemistry.faraday import FARADAY_AH_PER_MOL
from linewatch.core.electrochemistry.validity import (
    CHARGE,
    CONCENTRATION,
    DOSE,
    EQUIVALENT,
    MASS,
    SHARE,
    VOLUME,
    not_negative,
    positive,
)
from linewatch.core.errors import OutsideValidity

CRO3_PER_CR = 99.994 / 51.9961
"""Mass of chromic acid anhydride over its chromium [1] (IUPAC 2021 atomic weights)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalBalance:
    """What a charge did to the metal in a bath."""

    dissolved_g: float
    """From the anodes."""
    deposited_g: float
    dragged_out_g: float
    added_g: float

    @property
    def gain_g(self) -> float:
        """Return the change of metal in the bath [g]."""
        return self.dissolved_g - self.deposited_g - self.dragged_out_g + self.added_g


def metal_balance(  # noqa: PLR0913 - one argument a term of the balance
    charge_ah: float,
    equivalent_g_per_ah: float,
    *,
    cathode_efficiency: float,
    anode_efficiency: float,
    dragged_out_l: float = 0.0,
    concentration_g_per_l: float = 0.0,
    added_g: float = 0.0,
) -> MetalBalance:
    """Return the metal balance of a bath over a charge.

    Args:
        charge_ah: Charge [A·h], not negative.
        equivalent_g_per_ah: Of the metal [g/A·h].
        cathode_efficiency: Share that deposits [1].
        anode_efficiency: Share that dissolves [1]; 0 with inert anodes.
        dragged_out_l: Solution carried out on the parts [L].
        concentration_g_per_l: Metal in it [g/L].
        added_g: Metal put in as salts [g].

    Returns:
        The terms of the balance.

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    References:
        Conservation of mass with M. Faraday, Phil. Trans. R. Soc. 124 (1834) 77-122.

    Examples:
        >>> metal_balance(
        ...     10_000.0, 1.094966, cathode_efficiency=0.955, anode_efficiency=1.0
        ... ).gain_g
        492.73
    """
    not_negative("charge", charge_ah, CHARGE)
    not_negative("electrochemical equivalent", equivalent_g_per_ah, EQUIVALENT)
    not_negative("cathode efficiency", cathode_efficiency, SHARE)
    not_negative("anode efficiency", anode_efficiency, SHARE)
    not_negative("drag-out", dragged_out_l, VOLUME)
    not_negative("concentration", concentration_g_per_l, CONCENTRATION)
    not_negative("addition of metal", added_g, MASS)
    return MetalBalance(
        dissolved_g=charge_ah * equivalent_g_per_ah * anode_efficiency,
        deposited_g=charge_ah * equivalent_g_per_ah * cathode_efficiency,
        dragged_out_g=dragged_out_l * concentration_g_per_l,
        added_g=added_g,
    )


def acid_consumed_mol(charge_ah: float, *, hydrogen_ratio: float) -> float:
    """Return the hydrogen ions that the cathode's hydrogen takes out of a bath.

    Args:
        charge_ah: Charge [A·h], not negative.
        hydrogen_ratio: Share of the charge that makes hydrogen at the cathode less the share
            that makes acid at the anode [1].

    Returns:
        Hydrogen ions [mol].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    References:
        M. Faraday, Phil. Trans. R. Soc. 124 (1834) 77-122; one electron an ion.
    """
    not_negative("charge", charge_ah, CHARGE)
    not_negative("share of hydrogen", hydrogen_ratio, SHARE)
    return charge_ah * hydrogen_ratio / FARADAY_AH_PER_MOL


def drag_out_that_offsets_l(gain_g: float, concentration_g_per_l: float) -> float:
    """Return the drag-out that takes away a gain of metal.

    Args:
        gain_g: Gain of metal [g], not negative.
        concentration_g_per_l: Metal in the bath [g/L], above 0.

    Returns:
        Volume of solution [L].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    not_negative("gain of metal", gain_g, MASS)
    positive("concentration", concentration_g_per_l, CONCENTRATION)
    return gain_g / concentration_g_per_l


def chromic_acid_g(chromium_g: float) -> float:
    """Return the chromic acid anhydride that replaces plated chromium.

    Args:
        chromium_g: Chromium laid down [g], not negative.

    Returns:
        CrO3 [g].

    Raises:
        OutsideValidity: the mass is negative or not a number.
    """
    not_negative("chromium", chromium_g, MASS)
    return chromium_g * CRO3_PER_CR


def additive_dose_ml(charge_ah: float, dose_ml_per_kah: float) -> float:
    """Return the additive that a charge has used up, by the supplier's rate.

    Args:
        charge_ah: Charge [A·h], not negative.
        dose_ml_per_kah: Rate [mL/kA·h], not negative.

    Returns:
        Dose [mL].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    Examples:
        >>> additive_dose_ml(2400.0 * 7.5, 150.0)
        2700.0
    """
    not_negative("charge", charge_ah, CHARGE)
    not_negative("dose", dose_ml_per_kah, DOSE)
    return charge_ah * dose_ml_per_kah / 1000.0


def evaporation_l_per_h_m2(temperature_degc: float) -> float:
    """Return what a still, open, water-like surface loses.

    A start only: published figures differ by a factor of two, extraction and air agitation
    add a third to all of it again. Learn it per tank.

    Args:
        temperature_degc: Of the solution [degC], from 20 to 95.

    Returns:
        Evaporation [L/(h·m2)], which is as many millimetres an hour.

    Raises:
        OutsideValidity: the temperature is outside 20 to 95 degC.

    References:
        E = exp(-(7.2 - 0.03236 T)) US gal/(h·ft2), T in degF: common practice.
    """
    if not 20.0 <= temperature_degc <= 95.0:  # noqa: PLR2004 - the rule's own range
        raise OutsideValidity("temperature", temperature_degc, 20.0, 95.0, "degC")
    gallons_per_h_ft2 = exp(-(7.2 - 0.03236 * (temperature_degc * 1.8 + 32.0)))
    return gallons_per_h_ft2 * 3.785411784 / 0.09290304
