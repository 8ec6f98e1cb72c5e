"""Mass to thickness, current to current density, and when a target is reached.

A thickness computed from charge is the mean over the area, if the metal were spread evenly.
Where it is thinnest, a distribution factor says; no signal of the line does.
"""

from __future__ import annotations

from dataclasses import dataclass

from linewatch.core.electrochemistry.validity import (
    AREA,
    AREA_PER_MASS,
    COUNT,
    CURRENT,
    DENSITY,
    MASS,
    RATE,
    SHARE,
    THICKNESS,
    WEIGHT,
    not_negative,
    positive,
)
from linewatch.core.errors import OutsideValidity, Refused

UM_PER_G_PER_DM2_G_PER_CM3 = 100.0
"""1 g over 1 dm2 of density 1 g/cm3 is 1 cm3 / 100 cm2 = 100 µm."""
SECONDS_PER_HOUR = 3600.0


def mean_thickness_um(mass_g: float, density_g_per_cm3: float, area_dm2: float) -> float:
    """Return the mean thickness of a mass of deposit over an area.

    Args:
        mass_g: Mass [g], not negative.
        density_g_per_cm3: Of the deposit [g/cm3], above 0.
        area_dm2: Plated area [dm2], above 0.

    Returns:
        Mean thickness [µm].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    Examples:
        >>> mean_thickness_um(1.094966, 8.907, 1.0)
        12.2933
    """
    not_negative("mass", mass_g, MASS)
    positive("density", density_g_per_cm3, DENSITY)
    positive("area", area_dm2, AREA)
    return UM_PER_G_PER_DM2_G_PER_CM3 * mass_g / (density_g_per_cm3 * area_dm2)


def mass_for_thickness_g(
    thickness_um: float, density_g_per_cm3: float, area_dm2: float
) -> float:
    """Return the mass that a mean thickness takes; the inverse of `mean_thickness_um`.

    Args:
        thickness_um: Mean thickness [µm], not negative.
        density_g_per_cm3: Of the deposit [g/cm3], above 0.
        area_dm2: Plated area [dm2], above 0.

    Returns:
        Mass [g].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    not_negative("thickness", thickness_um, THICKNESS)
    positive("density", density_g_per_cm3, DENSITY)
    positive("area", area_dm2, AREA)
    return thickness_um * density_g_per_cm3 * area_dm2 / UM_PER_G_PER_DM2_G_PER_CM3


def thinnest_um(mean_um: float, *, distribution_ratio: float) -> float:
    """Return the thickness at the thinnest place.

    Args:
        mean_um: Mean thickness [µm], not negative.
        distribution_ratio: Thinnest place over mean [1], above 0 to 1; found by measuring
            parts, never from the line's signals.

    Returns:
        Least thickness [µm].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    not_negative("mean thickness", mean_um, THICKNESS)
    return mean_um * positive("distribution factor", distribution_ratio, SHARE)


def rack_area_dm2(count: float, area_per_part_dm2: float) -> float:
    """Return the plated area of a rack.

    Args:
        count: Parts on it, above 0.
        area_per_part_dm2: Plated area of a part [dm2], above 0.

    Returns:
        Area [dm2].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    positive("count of parts", count, COUNT)
    positive("area a part", area_per_part_dm2, AREA)
    return count * area_per_part_dm2


def barrel_area_dm2(mass_kg: float, area_per_mass_dm2_per_kg: float) -> float:
    """Return the total area of a barrel's parts.

    Only the outer layer plates at a time; limits for barrels are stated on total area.

    Args:
        mass_kg: Weight of the parts [kg], above 0.
        area_per_mass_dm2_per_kg: Area of a kilogram of them [dm2/kg], above 0.

    Returns:
        Area [dm2].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    positive("weight of the parts", mass_kg, WEIGHT)
    positive("area a kilogram", area_per_mass_dm2_per_kg, AREA_PER_MASS)
    return mass_kg * area_per_mass_dm2_per_kg


def current_density_a_per_dm2(current_a: float, area_dm2: float) -> float:
    """Return the mean current density; its sign is the current's.

    Args:
        current_a: Current [A], finite.
        area_dm2: Area [dm2], above 0.

    Returns:
        Current density [A/dm2].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    if not abs(current_a) <= CURRENT.most:
        raise OutsideValidity("current", current_a, -CURRENT.most, CURRENT.most, CURRENT.unit)
    positive("area", area_dm2, AREA)
    return current_a / area_dm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """What a deposit needs to grow: all that a rate depends on."""

    equivalent_g_per_ah: float
    density_g_per_cm3: float
    efficiency: float
    area_dm2: float


def rate_um_per_h(current_a: float, growth: Growth) -> float:
    """Return how fast the mean thickness grows.

    Args:
        current_a: Cathodic current [A], not negative.
        growth: Equivalent, density, efficiency and area.

    Returns:
        Deposition rate [µm/h].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.
    """
    not_negative("current", current_a, CURRENT)
    not_negative("efficiency", growth.efficiency, SHARE)
    mass_g_per_h = current_a * growth.equivalent_g_per_ah * growth.efficiency
    return mean_thickness_um(mass_g_per_h, growth.density_g_per_cm3, growth.area_dm2)


STEADY_RATIO = 0.10
"""A current that moved by more than this share of its mean within the last minute is not
steady: a time computed from it would jump about. Common practice."""
LONGEST_FORECAST_S = 48 * SECONDS_PER_HOUR
"""Beyond two days a time to target says only that the rate is next to nothing."""


def time_to_target_s(
    *, target_um: float, present_um: float, rate_um_per_h: float, spread_ratio: float
) -> float:
    """Return how long until a mean thickness is reached, at the present rate.

    Args:
        target_um: Mean thickness wanted [µm].
        present_um: Mean thickness now [µm].
        rate_um_per_h: Present deposition rate [µm/h].
        spread_ratio: How much the current moved within the last minute, over its mean [1].

    Returns:
        Time [s]; 0 if the target is reached.

    Raises:
        OutsideValidity: a thickness or the rate is negative or not a number.
        Refused: the rate is nothing or unsteady: a time would mean nothing.
    """
    not_negative("target thickness", target_um, THICKNESS)
    not_negative("present thickness", present_um, THICKNESS)
    if present_um >= target_um:
        return 0.0
    asked = "time to target"
    if not_negative("deposition rate", rate_um_per_h, RATE) <= 0.0:
        raise Refused(asked, "no current flows")
    if not spread_ratio <= STEADY_RATIO:
        raise Refused(asked, "the current is not steady")
    left_s = SECONDS_PER_HOUR * (target_um - present_um) / rate_um_per_h
    if left_s > LONGEST_FORECAST_S:
        raise Refused(asked, "the current is too small to tell")
    return left_s
