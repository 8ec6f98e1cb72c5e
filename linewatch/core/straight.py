"""A straight line of least squares, with how sure it is."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_LOOKS: Final = 3


class Straight(NamedTuple):
    """A straight line through looks, brought to one instant."""

    value: float
    slope: float
    """Per second."""
    value_pm: float
    slope_pm: float
    """Twice the standard error."""


def straight(looks: Sequence[tuple[float, float]], at_s: float) -> Straight | None:
    """Return the line of least squares through looks; None of fewer than three.

    Args:
        looks: (time [s], value).
        at_s: The instant that its value is wanted at [s].
    """
    count = len(looks)
    if count < LEAST_LOOKS:
        return None
    mean_s = sum(t for t, _ in looks) / count
    mean = sum(y for _, y in looks) / count
    spread = sum((t - mean_s) ** 2 for t, _ in looks)
    if not spread > 0.0:
        return None
    slope = sum((t - mean_s) * (y - mean) for t, y in looks) / spread
    rest = sum((y - mean - slope * (t - mean_s)) ** 2 for t, y in looks)
    error = sqrt(rest / (count - 2))
    return Straight(
        value=mean + slope * (at_s - mean_s),
        slope=slope,
        value_pm=2.0 * error * sqrt(1.0 / count + (at_s - mean_s) ** 2 / spread),
        slope_pm=2.0 * error / sqrt(spread),
    )
