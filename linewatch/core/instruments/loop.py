"""The 4-20 mA signal and where it stops being a measurement.

References:
    NAMUR NE 43: measurement information lies from 3.8 to 20.5 mA; at or below 3.6 mA and at
    or above 21.0 mA the signal tells a failure.
"""

from __future__ import annotations

from linewatch.core.errors import OutsideValidity

ZERO_MA = 4.0
FULL_MA = 20.0
MEASURES_FROM_MA = 3.8
MEASURES_TO_MA = 20.5
FAILS_AT_OR_BELOW_MA = 3.6
FAILS_AT_OR_ABOVE_MA = 21.0


def has_failed(loop_ma: float) -> bool:
    """Say whether a loop current tells a failure; NaN does.

    Args:
        loop_ma: Loop current [mA].

    Returns:
        True at or beyond the failure limits of NE 43.
    """
    return not FAILS_AT_OR_BELOW_MA < loop_ma < FAILS_AT_OR_ABOVE_MA


def is_beyond_range(loop_ma: float) -> bool:
    """Say whether a loop current that tells no failure lies outside the measuring range.

    Args:
        loop_ma: Loop current [mA].

    Returns:
        True between the measuring range and the failure limits: saturated, so doubtful.
    """
    return not MEASURES_FROM_MA <= loop_ma <= MEASURES_TO_MA


def from_loop(loop_ma: float, low: float, high: float) -> float:
    """Return the quantity that a loop current stands for.

    Args:
        loop_ma: Loop current [mA].
        low: Quantity at 4 mA.
        high: Quantity at 20 mA, not equal to `low`.

    Returns:
        The quantity, in the unit of `low` and `high`.

    Raises:
        OutsideValidity: the current tells a failure.

    Examples:
        >>> from_loop(12.0, 0.0, 100.0)
        50.0
    """
    if has_failed(loop_ma):
        raise OutsideValidity(
            "loop current", loop_ma, FAILS_AT_OR_BELOW_MA, FAILS_AT_OR_ABOVE_MA, "mA"
        )
    return low + (loop_ma - ZERO_MA) / (FULL_MA - ZERO_MA) * (high - low)
