"""Water by level: what is there, what evaporates, what brings the level back."""

from __future__ import annotations

from linewatch.core.electrochemistry.baths import evaporation_l_per_h_m2
from linewatch.core.electrochemistry.validity import AREA, not_negative
from linewatch.core.errors import OutsideValidity

DM2_PER_M2 = 100.0


def water_l(level_mm: float, wanted_mm: float, surface_m2: float) -> float:
    """Return the water that brings a level to another.

    Args:
        level_mm: Level [mm].
        wanted_mm: Level that is wanted [mm].
        surface_m2: Open surface [m2], not negative.

    Returns:
        Water [L]; negative if there is too much.

    Raises:
        OutsideValidity: the surface is negative or not a number.

    Examples:
        >>> water_l(880.0, 920.0, 2.5)
        100.0
    """
    not_negative("surface", surface_m2 * DM2_PER_M2, AREA)
    return (wanted_mm - level_mm) * surface_m2


def evaporates_l_per_h(temperature_degc: float, surface_m2: float) -> float | None:
    """Return the water that an open tank loses by itself; None outside the rule's range.

    Args:
        temperature_degc: Of the solution [degC].
        surface_m2: Open surface [m2].

    Returns:
        Evaporation [L/h].

    References:
        See `evaporation_l_per_h_m2`: a start only, common practice.
    """
    try:
        return evaporation_l_per_h_m2(temperature_degc) * surface_m2
    except OutsideValidity:
        return None
