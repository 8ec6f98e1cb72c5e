"""The inputs that several calculations share, and what stands in for what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.calc.desk import Input
from linewatch.core.electrochemistry.thickness import (
    barrel_area_dm2,
    current_density_a_per_dm2,
    rack_area_dm2,
)
from linewatch.core.electrochemistry.uncertainty import (
    Budget,
    charge_budget,
    mass_budget,
    thickness_budget,
)
from linewatch.core.electrochemistry.validity import (
    AREA,
    CURRENT,
    CURRENT_DENSITY,
    SHARE,
    Limit,
    not_negative,
    positive,
)
from linewatch.core.errors import Refused

if TYPE_CHECKING:
    from linewatch.core.calc.desk import Given

SECONDS_PER_HOUR = 3600.0
LONGEST = Limit("s", 1e9)
"""Thirty years: a longer time is a slip."""

ASK_METAL = Input(
    name="metal",
    words="metal or alloy of the deposit",
    example="Zn-14Ni",
    kind="deposit",
)
ASK_EFFICIENCY = Input(
    name="efficiency",
    words="share of the charge that deposits metal",
    example="95.5 %",
    kind="ratio",
    symbol="η",
)
ASK_CHARGE = (
    Input(
        name="charge",
        words="charge; or give current and time",
        example="2400 A.h",
        unit="A.h",
        symbol="Q",
        is_optional=True,
    ),
    Input(
        name="current",
        words="steady current",
        example="400 A",
        unit="A",
        symbol="I",
        is_optional=True,
    ),
    Input(
        name="time",
        words="time it flows",
        example="45 min",
        unit="s",
        symbol="t",
        is_optional=True,
    ),
)
ASK_AREA = (
    Input(
        name="area",
        words="plated area; or give parts and area-per-part, or weight and area-per-weight",
        example="50 dm2",
        unit="dm2",
        symbol="A",
        is_optional=True,
    ),
    Input(
        name="parts",
        words="count of parts on the rack",
        example="120",
        kind="count",
        symbol="N",
        is_optional=True,
    ),
    Input(
        name="area-per-part",
        words="plated area of one part",
        example="0.85 dm2",
        unit="dm2",
        symbol="A₁",
        is_optional=True,
    ),
    Input(
        name="weight",
        words="weight of the parts in the barrel",
        example="60 kg",
        unit="kg",
        symbol="W",
        is_optional=True,
    ),
    Input(
        name="area-per-weight",
        words="area of a kilogram of the parts",
        example="8 dm2/kg",
        unit="dm2/kg",
        symbol="a",
        is_optional=True,
    ),
)
ASK_THICKNESS = Input(
    name="thickness", words="mean thickness", example="12 um", unit="um", symbol="δ"
)
_SENSOR_ERROR = Input(
    name="sensor-error",
    words="limit of error of the current sensor, as a share of its reading; gives a ±",
    example="0.5 %",
    kind="ratio",
    is_optional=True,
)
_EFFICIENCY_ERROR = Input(
    name="efficiency-error",
    words="how far the efficiency may be off, in points; gives a ±",
    example="2 %",
    kind="ratio",
    is_optional=True,
)
_AREA_ERROR = Input(
    name="area-error",
    words="tolerance of the area, as a share of it; gives a ±",
    example="5 %",
    kind="ratio",
    is_optional=True,
)
MASS_DOUBTS = (_SENSOR_ERROR, _EFFICIENCY_ERROR)
THICKNESS_DOUBTS = (*MASS_DOUBTS, _AREA_ERROR)


def one_way(given: Given, *ways: tuple[str, ...]) -> tuple[str, ...]:
    """Return the one way in which something was given.

    Args:
        given: The inputs.
        ways: Sets of inputs that stand in for each other, the usual one first.

    Returns:
        The set that is complete.

    Raises:
        Refused: none is complete, or inputs of two sets were given.
    """
    begun = [way for way in ways if given.has_any(*way)]
    if len(begun) > 1:
        raise Refused(
            f"calculate {given.calculation}",
            "give either " + ", or ".join(" and ".join(way) for way in ways) + ", not both",
        )
    way = begun[0] if begun else ways[0]
    for name in way:
        if not given.has(name):
            raise given.missing(name)
    return way


def charge_ah(given: Given) -> float:
    """Return the charge, typed in or from a steady current over a time.

    Args:
        given: The inputs.

    Returns:
        Charge [A·h].

    Raises:
        Refused: it was not given, or given twice over.
        OutsideValidity: current or time is negative.
    """
    if one_way(given, ("charge",), ("current", "time")) == ("charge",):
        return given.number("charge")
    current_a = not_negative("current", given.number("current"), CURRENT)
    return current_a * not_negative("time", given.number("time"), LONGEST) / SECONDS_PER_HOUR


def area_dm2(given: Given) -> float:
    """Return the plated area: typed in, of a rack, or of a barrel.

    Args:
        given: The inputs.

    Returns:
        Area [dm2].

    Raises:
        Refused: it was not given, or given twice over.
        OutsideValidity: a part of it is not above 0.
    """
    way = one_way(given, ("area",), ("parts", "area-per-part"), ("weight", "area-per-weight"))
    if way == ("area",):
        return positive("area", given.number("area"), AREA)
    if way == ("parts", "area-per-part"):
        return rack_area_dm2(given.number("parts"), given.number("area-per-part"))
    return barrel_area_dm2(given.number("weight"), given.number("area-per-weight"))


def density_a_per_dm2(given: Given) -> float:
    """Return the current density, typed in or from current and area.

    Args:
        given: The inputs.

    Returns:
        Current density [A/dm2].

    Raises:
        Refused: it was not given, or given twice over.
        OutsideValidity: it is not above 0.
    """
    if given.has("current-density"):
        if given.has_any("current", *(each.name for each in ASK_AREA)):
            raise Refused(
                f"calculate {given.calculation}",
                "give either current-density, or current and the area, not both",
            )
        return positive("current density", given.number("current-density"), CURRENT_DENSITY)
    if not given.has("current"):
        raise given.missing("current-density")
    current_a = positive("current", given.number("current"), CURRENT)
    return current_density_a_per_dm2(current_a, area_dm2(given))


def mass_doubt(given: Given) -> Budget | None:
    """Return the budget of a mass, if limits of error were given.

    Args:
        given: The inputs.

    Returns:
        The budget; None without any limit, for then nobody can say how sure it is.

    Raises:
        OutsideValidity: a limit is negative, or the efficiency is 0.
    """
    if not given.has_any("sensor-error", "efficiency-error"):
        return None
    efficiency = positive("efficiency", given.number("efficiency"), SHARE)
    half = given.number_or("efficiency-error", 0.0)
    return mass_budget(
        charge_budget(sensor_class_ratio=given.number_or("sensor-error", 0.0)),
        efficiency=efficiency,
        low=efficiency - half,
        high=efficiency + half,
        equivalent_spread_ratio=given.deposit().equivalent_spread_ratio,
    )


def thickness_doubt(given: Given) -> Budget | None:
    """Return the budget of a thickness, if limits of error were given.

    Args:
        given: The inputs.

    Returns:
        The budget; None without any limit.

    Raises:
        OutsideValidity: a limit is negative, or the efficiency is 0.
    """
    mass = mass_doubt(given)
    if mass is None and not given.has("area-error"):
        return None
    return thickness_budget(
        mass if mass is not None else Budget(terms=()),
        area_tolerance_ratio=given.number_or("area-error", 0.0),
        density_spread_ratio=given.deposit().density_spread_ratio,
    )
