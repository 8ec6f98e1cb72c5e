"""Small models that rules share. Each takes what was kept and returns what to keep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from linewatch.core.rules.rule import Kept

HOUR_S: Final = 3600.0


def slope(
    now_s: float, value: float | None, kept: Kept, span_s: float
) -> tuple[float | None, Kept]:
    """Return how fast a value moves, from one sample each span to the next.

    Args:
        now_s: Line time [s].
        value: The value; None: the sample waits.
        kept: (time, value) of the last sample.
        span_s: Time between samples [s].

    Returns:
        (change per hour if there is a new one, what to keep). After twice the span without a
        sample it begins anew.
    """
    if value is None:
        return None, kept
    if len(kept) != 2 or now_s - kept[0] > 2.0 * span_s:  # noqa: PLR2004 - time and value
        return None, (now_s, value)
    if now_s - kept[0] < span_s:
        return None, kept
    return (value - kept[1]) / (now_s - kept[0]) * HOUR_S, (now_s, value)


def habit(value: float, kept: Kept, count: int) -> Kept:
    """Return a habit with one more value: (how many, mean), forgetting after so many.

    Args:
        value: The value.
        kept: The habit so far; empty at first.
        count: The mean is that of about so many last values.
    """
    if not kept:
        return (1.0, value)
    n = min(kept[0] + 1.0, float(count))
    return (n, kept[1] + (value - kept[1]) / n)
