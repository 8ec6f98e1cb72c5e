"""The ranges in which the formulas hold, and the refusal of everything else.

Rule 1: nothing is clipped. A number outside its range is refused by name, with the range.
Rule 2: `not low <= value <= high` on purpose: it also refuses NaN.
Rule 3: the upper ends are no physics but common sense: beyond them stands a slip of units or
        a broken signal, such as a density in kg/m3 or a charge in coulombs.
"""

from __future__ import annotations

from dataclasses import dataclass

from linewatch.core.errors import OutsideValidity


@dataclass(frozen=True, slots=True)
class Limit:
    """The unit of a quantity, and the most that it can sensibly be."""

    unit: str
    most: float


CHARGE = Limit("A·h", 1e10)
CURRENT = Limit("A", 1e6)
CURRENT_DENSITY = Limit("A/dm2", 1e4)
MASS = Limit("g", 1e9)
AREA = Limit("dm2", 1e6)
AREA_PER_MASS = Limit("dm2/kg", 1e5)
THICKNESS = Limit("µm", 1e12)
"""A thickness and a rate are worked out from other figures while the line runs: an area that
was typed in too small must give a figure that looks wrong, not a refusal that stops it."""
RATE = Limit("µm/h", 1e12)
TYPED_THICKNESS = Limit("µm", 1e5)
"""Ten centimetres: whoever types more than that meant another unit."""
DENSITY = Limit("g/cm3", 23.0)
"""The densest metal, osmium, has 22.6 g/cm3."""
EQUIVALENT = Limit("g/A·h", 10.0)
"""Above every plated metal's; gold(I) has 7.35 g/A·h."""
VOLUME = Limit("L", 1e7)
CONCENTRATION = Limit("g/L", 2000.0)
FLOW = Limit("L/min", 1e5)
DOSE = Limit("mL/kA·h", 1e6)
COUNT = Limit("", 1e6)
FILM = Limit("mL/m2", 1e5)
WEIGHT = Limit("kg", 1e5)
DILUTION = Limit("", 1e9)
SHARE = Limit("", 1.0)


def positive(quantity: str, value: float, limit: Limit) -> float:
    """Return a number that must be above 0.

    Args:
        quantity: What it is, in words.
        value: The number.
        limit: Its unit and the most it can be.

    Returns:
        The number.

    Raises:
        OutsideValidity: it is not above 0, above the most, or not a number.
    """
    if not 0.0 < value <= limit.most:
        raise OutsideValidity(quantity, value, 0.0, limit.most, limit.unit)
    return value


def not_negative(quantity: str, value: float, limit: Limit) -> float:
    """Return a number that must be 0 or above.

    Args:
        quantity: What it is, in words.
        value: The number.
        limit: Its unit and the most it can be.

    Returns:
        The number.

    Raises:
        OutsideValidity: it is below 0, above the most, or not a number.
    """
    if not 0.0 <= value <= limit.most:
        raise OutsideValidity(quantity, value, 0.0, limit.most, limit.unit)
    return value
