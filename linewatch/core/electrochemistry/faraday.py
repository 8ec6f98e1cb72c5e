"""Charge to mass and back: Faraday's law.

The Faraday constant is exact since 2019: F = e N_A, with e = 1.602176634e-19 C and
N_A = 6.02214076e23 /mol (SI Brochure, 9th edition, 2019, table 1).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.validity import (
    CHARGE,
    EQUIVALENT,
    MASS,
    SHARE,
    not_negative,
    positive,
)

if TYPE_CHECKING:
    from linewatch.core.electrochemistry.metals import Metal

ELEMENTARY_CHARGE_C = 1.602176634e-19
"""Exact since 2019 (SI Brochure, 9th edition)."""
AVOGADRO_PER_MOL = 6.02214076e23
"""Exact since 2019 (SI Brochure, 9th edition)."""
FARADAY_C_PER_MOL = ELEMENTARY_CHARGE_C * AVOGADRO_PER_MOL
SECONDS_PER_HOUR = 3600.0
FARADAY_AH_PER_MOL = FARADAY_C_PER_MOL / SECONDS_PER_HOUR
FARADAY_SOURCE = "F = e N_A, exact since 2019 (SI Brochure, 9th edition)"


def equivalent_g_per_ah(metal: Metal) -> float:
    """Return the electrochemical equivalent: grams a fully efficient ampere-hour lays down.

    Args:
        metal: The metal and its valence in the bath.

    Returns:
        Equivalent [g/A·h]: M / (n F).

    References:
        M. Faraday, Phil. Trans. R. Soc. 124 (1834) 77-122, art. 783 ff.

    Examples:
        >>> from linewatch.core.electrochemistry.metals import METALS
        >>> equivalent_g_per_ah(METALS["Ni(II)"])
        1.094966
    """
    return metal.molar_mass_g_per_mol / (metal.electrons * FARADAY_AH_PER_MOL)


def deposited_mass_g(
    charge_ah: float, equivalent_g_per_ah: float, *, efficiency: float
) -> float:
    """Return the mass of metal that a charge lays down.

    Args:
        charge_ah: Charge through the cell [A·h], not negative.
        equivalent_g_per_ah: Of the metal or alloy [g/A·h], above 0.
        efficiency: Share of the charge that deposits metal [1], from 0 to 1. It has no
            default: a bath whose efficiency nobody knows has no known mass either.

    Returns:
        Mass [g].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    References:
        M. Faraday, Phil. Trans. R. Soc. 124 (1834) 77-122, art. 783 ff.

    Examples:
        >>> deposited_mass_g(1000.0, 1.094966, efficiency=0.96)
        1051.17
    """
    not_negative("charge", charge_ah, CHARGE)
    positive("electrochemical equivalent", equivalent_g_per_ah, EQUIVALENT)
    not_negative("efficiency", efficiency, SHARE)
    return charge_ah * equivalent_g_per_ah * efficiency


def charge_for_mass_ah(
    mass_g: float, equivalent_g_per_ah: float, *, efficiency: float
) -> float:
    """Return the charge that lays a mass down; the inverse of `deposited_mass_g`.

    Args:
        mass_g: Mass [g], not negative.
        equivalent_g_per_ah: Of the metal or alloy [g/A·h], above 0.
        efficiency: Share of the charge that deposits metal [1], above 0 to 1.

    Returns:
        Charge [A·h].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    not_negative("mass", mass_g, MASS)
    positive("electrochemical equivalent", equivalent_g_per_ah, EQUIVALENT)
    positive("efficiency", efficiency, SHARE)
    return mass_g / (equivalent_g_per_ah * efficiency)
