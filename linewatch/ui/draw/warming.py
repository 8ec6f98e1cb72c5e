"""When a tank that warms will be in its window: from the slope of the last minutes, with its ±.

A straight line looks ahead no better than the minutes behind it: a hotter bath loses more, and
a cold load takes heat. So what is told is the earliest moment, and says so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.readings import is_good
from linewatch.core.straight import straight
from linewatch.ui.draw.rows import Row, Span, row, wrap
from linewatch.ui.scales import scale
from linewatch.ui.text import number

if TYPE_CHECKING:
    from linewatch.core.view import Figure
    from linewatch.ui.draw.rows import Look
    from linewatch.ui.draw.trend import Curve

BEHIND_S: Final = 1200.0
LEAST_S: Final = 300.0
LEAST_POINTS: Final = 6
LONGEST_S: Final = 48 * 3600.0
LEAST_DOUBT_S: Final = 60.0


def slope_per_s(curve: Curve) -> tuple[float, float] | None:
    """Return the slope of the last twenty minutes by least squares, with its ± (k = 2).

    Returns:
        Slope and its ± [K/s]; None if five minutes of means are not there.
    """
    width = len(curve.means)
    if not width:
        return None
    step_s = (curve.end_ns - curve.start_ns) / 1e9 / width
    points = [
        (index * step_s, mean) for index, mean in enumerate(curve.means) if mean is not None
    ]
    if not points:
        return None
    last_s = points[-1][0]
    near = [each for each in points if each[0] > last_s - BEHIND_S]
    if len(near) < LEAST_POINTS or near[-1][0] - near[0][0] < LEAST_S:
        return None
    found = straight(near, last_s)
    return None if found is None else (found.slope, found.slope_pm)


def warming_words(curve: Curve, figure: Figure | None, look: Look) -> str:
    """Return when a figure below its window will be in it; '' where there is nothing to say."""
    # How a reading in doubt goes tells nothing of the bath.
    is_told = figure is not None and figure.kind == "temperature" and is_good(figure.quality)
    if figure is None or not is_told or not look.is_live:
        return ""
    if figure.value is None or figure.low is None or figure.value >= figure.low:
        return ""
    found = slope_per_s(curve)
    if found is None:
        return "below its window; too little of it is recorded to say when it will be in it"
    slope, spread = found
    shown = scale(figure.kind, look.units)
    rate = f"{number(shown.span(slope) * 3600.0, 1)} {shown.label}/h"
    if slope <= spread:
        return f"below its window, and it does not warm ({rate}): no time can be told"
    left_s = (figure.low - figure.value) / slope
    doubt_s = max(left_s * spread / slope, LEAST_DOUBT_S)
    if left_s > LONGEST_S:
        return f"below its window; it warms so slowly ({rate}) that no time can be told"
    return (
        f"in its window in {_minutes(left_s)} ± {_minutes(doubt_s)} at the earliest, if it goes"
        f" on at {rate} and no cold load comes in"
    )


def _minutes(seconds: float) -> str:
    """Return a forecast's time, which no second is worth: '46 min', '1 h 30 min'."""
    whole = round(seconds / 60.0)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"  # noqa: PLR2004 - an hour


def warming_rows(curve: Curve, figure: Figure | None, look: Look) -> list[Row]:
    """Return the same as rows."""
    said = warming_words(curve, figure, look)
    lines = wrap(said, max(look.width - 4, 1)) if said else []
    return [row(Span(f"  {line}", "strong")) for line in lines]
