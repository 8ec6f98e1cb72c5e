"""The metals that are plated, and alloys of them. Adding a metal is adding a row.

Molar masses: IUPAC/CIAAW standard atomic weights 2021, abridged or conventional values
(T. Prohaska et al., Pure Appl. Chem. 94 (2022) 573-600). Lead is given there as an interval,
[206.14, 207.94], since its isotopes depend on the ore; 207.2 is its conventional value.

Densities: of the bulk metal near 20 °C, with the spread over general reference works
(periodictable 2.1 and mendeleev 1.3, which take theirs from the CRC Handbook and others).
Electrodeposits may be lighter: hard acid gold about 17 to 18.5, chromium 6.9 to 7.2 g/cm3
(from memory); a bath's own figure belongs in the configuration.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.errors import OutsideValidity

if TYPE_CHECKING:
    from collections.abc import Mapping

MASS_YEAR = 2021
"""Of the table of standard atomic weights from which every row was taken."""
MASS_SOURCE = f"IUPAC/CIAAW standard atomic weights {MASS_YEAR}"
DENSITY_SOURCE = "periodictable 2.1 and mendeleev 1.3, bulk metal near 20 °C"


@dataclass(frozen=True, slots=True, kw_only=True)
class Metal:
    """One metal in one valence."""

    symbol: str
    """Of the element."""
    electrons: int
    """Electrons a deposited atom takes: the valence in the bath."""
    molar_mass_g_per_mol: float
    density_g_per_cm3: float
    density_low_g_per_cm3: float
    """Least density that reference works give."""
    density_high_g_per_cm3: float
    mass_year: int
    """Year of the table from which the molar mass was taken."""
    mass_source: str
    density_source: str
    mass_spread_ratio: float = 0.0
    """Half of the molar mass's interval over the molar mass [1], where the table gives an
    interval instead of a value; otherwise it is too small to matter."""

    @property
    def name(self) -> str:
        """Return the name used in configurations: 'Ni(II)'."""
        return f"{self.symbol}({_ROMAN[self.electrons]})"


_ROMAN = {1: "I", 2: "II", 3: "III", 4: "IV", 6: "VI"}


def _rows(
    symbol: str,
    molar_mass: float,
    densities: tuple[float, float, float],
    *valences: int,
    mass_spread: float = 0.0,
) -> list[Metal]:
    usual, low, high = densities
    return [
        Metal(
            symbol=symbol,
            electrons=valence,
            molar_mass_g_per_mol=molar_mass,
            density_g_per_cm3=usual,
            density_low_g_per_cm3=low,
            density_high_g_per_cm3=high,
            mass_year=MASS_YEAR,
            mass_source=MASS_SOURCE,
            density_source=DENSITY_SOURCE,
            mass_spread_ratio=mass_spread / molar_mass,
        )
        for valence in valences
    ]


_METALS = [
    *_rows("Ag", 107.8682, (10.49, 10.49, 10.50), 1),
    *_rows("Au", 196.96657, (19.3, 19.28, 19.32), 1, 3),
    *_rows("Cd", 112.414, (8.65, 8.64, 8.69), 2),
    *_rows("Co", 58.933194, (8.90, 8.86, 8.90), 2),
    *_rows("Cr", 51.9961, (7.19, 7.10, 7.20), 3, 6),
    *_rows("Cu", 63.546, (8.96, 8.92, 8.96), 1, 2),
    *_rows("Fe", 55.845, (7.87, 7.87, 7.90), 2),
    *_rows("In", 114.818, (7.31, 7.29, 7.31), 3),
    *_rows("Ni", 58.6934, (8.907, 8.90, 8.908), 2),
    *_rows("Pb", 207.2, (11.34, 11.30, 11.35), 2, mass_spread=(207.94 - 206.14) / 2.0),
    *_rows("Pd", 106.42, (12.02, 12.00, 12.02), 2),
    *_rows("Pt", 195.084, (21.45, 21.40, 21.50), 2, 4),
    *_rows("Rh", 102.90549, (12.41, 12.40, 12.50), 3),
    *_rows("Sn", 118.71, (7.31, 7.287, 7.31), 2, 4),
    *_rows("Zn", 65.38, (7.14, 7.10, 7.14), 2),
]

METALS: dict[str, Metal] = {metal.name: metal for metal in _METALS}
"""Every metal by name and valence: 'Ni(II)', 'Cr(VI)'."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deposit:
    """A pure metal or an alloy, as charge and volume see it."""

    name: str
    """'Ni', 'Zn-Ni'."""
    parts: tuple[tuple[Metal, float], ...]
    """(metal, mass fraction); fractions add up to 1."""
    equivalent_g_per_ah: float
    """Mass that one ampere-hour lays down at full efficiency [g/A·h]."""
    density_g_per_cm3: float
    """Ideal density: volumes add up."""
    density_spread_ratio: float
    """Half of the densities' spread over the density [1]."""
    equivalent_spread_ratio: float = 0.0
    """Half of the molar masses' intervals over the equivalent [1]; only lead has one."""


FRACTION_TOLERANCE = 1e-6


def deposit(parts: Mapping[str, float]) -> Deposit:
    """Return the deposit of a mixture by mass.

    With w_i grams of metal i in a gram of alloy, metal i takes w_i / k_i ampere-hours, so a
    gram takes the sum of them: the equivalent is the harmonic mean. The volumes w_i / ρ_i
    add up, so the density is the harmonic mean too.

    Args:
        parts: Mass fraction [1] by metal and valence: {"Zn(II)": 0.86, "Ni(II)": 0.14}.

    Returns:
        The deposit.

    Raises:
        KeyError: a metal is not in the table.
        OutsideValidity: a fraction is not above 0 and at most 1, or they do not add up to 1.

    References:
        M. Faraday, Phil. Trans. R. Soc. 124 (1834) 77-122, art. 783 ff.: equivalents of the
        parts add up. The density assumes that volumes add (common practice).

    Examples:
        >>> alloy = deposit({"Zn(II)": 0.86, "Ni(II)": 0.14})
        >>> alloy.name, alloy.equivalent_g_per_ah, alloy.density_g_per_cm3
        ('Zn-Ni', 1.20056, 7.344)
    """
    # Here, not at the top: faraday needs this module's rows.
    from linewatch.core.electrochemistry.faraday import equivalent_g_per_ah

    for name, fraction in parts.items():
        if not 0.0 < fraction <= 1.0:
            raise OutsideValidity(f"mass fraction of {name}", fraction, 0.0, 1.0, "")
    total = sum(parts.values())
    if not abs(total - 1.0) <= FRACTION_TOLERANCE:
        raise OutsideValidity("sum of the mass fractions", total, 1.0, 1.0, "")
    metals = [(METALS[name], fraction / total) for name, fraction in parts.items()]
    ah_per_g = sum(fraction / equivalent_g_per_ah(metal) for metal, fraction in metals)
    volume = sum(fraction / metal.density_g_per_cm3 for metal, fraction in metals)
    spread = sum(
        fraction
        * (metal.density_high_g_per_cm3 - metal.density_low_g_per_cm3)
        / (2.0 * metal.density_g_per_cm3)
        for metal, fraction in metals
    )
    heavy_first = sorted(metals, key=lambda part: -part[1])
    return Deposit(
        name="-".join(dict.fromkeys(metal.symbol for metal, _ in heavy_first)),
        parts=tuple(metals),
        equivalent_g_per_ah=1.0 / ah_per_g,
        density_g_per_cm3=1.0 / volume,
        density_spread_ratio=spread,
        # d ln k / d ln M of a part is its share of the charge, w k / k_i.
        equivalent_spread_ratio=sum(
            fraction / equivalent_g_per_ah(metal) / ah_per_g * metal.mass_spread_ratio
            for metal, fraction in metals
        ),
    )
