"""How a quantity went: the curve, its limits, what happened meanwhile, a cursor with values."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from linewatch.core.events import EventKind
from linewatch.ui.draw.plot import Band, braille, resampled, row_of, scale_of, strokes, ticks
from linewatch.ui.draw.rows import Look, Row, Span, row
from linewatch.ui.draw.stays import Stay, loads_at, stays_among
from linewatch.ui.scales import scale
from linewatch.ui.text import clean, clock, clock_minutes, day, fit, number, zone_shift_ns

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from linewatch.core.ports import Series, StoredEvent
    from linewatch.core.view import Figure
    from linewatch.ui.scales import Scale

MINUTE_NS: Final = 60 * 1_000_000_000
SPANS: Final = tuple(
    (minutes * MINUTE_NS, label)
    for minutes, label in (
        (10, "10 min"),
        (30, "30 min"),
        (60, "1 h"),
        (120, "2 h"),
        (240, "4 h"),
        (480, "8 h"),
        (1440, "24 h"),
        (4320, "3 days"),
        (10080, "7 days"),
        (43200, "30 days"),
        (129600, "90 days"),
    )
)
AXIS: Final = 10
"""Cells of the scale at the left."""
DAY_NS: Final = 1440 * MINUTE_NS


STEPS_NS: Final = tuple(
    minutes * MINUTE_NS
    for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 240, 360, 720, 1440, 2880, 10080, 20160)
)
LABEL_CELLS: Final = 12
MOST_DECIMALS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """What was fetched of one tag's past."""

    tag: str
    start_ns: int
    end_ns: int
    bands: tuple[Band, ...] = ()
    means: tuple[float | None, ...] = ()
    good_s: tuple[float, ...] = ()
    refused: str = ""
    """Why there is no curve."""


def curve_of(series: Series, start_ns: int, end_ns: int, width: int) -> Curve:
    """Return a fetched series as `width` even columns; what was never recorded is a gap."""
    bands: list[Band] = [None] * width
    means: list[float | None] = [None] * width
    good = [0.0] * width
    span = max(end_ns - start_ns, 1)
    rows = zip(
        series.start_utc_ns.tolist(),
        series.low.tolist(),
        series.mean.tolist(),
        series.high.tolist(),
        series.good_s.tolist(),
        strict=True,
    )
    for start, low, mean, high, good_s in rows:
        column = (start - start_ns) * width // span
        if not 0 <= column < width:
            continue
        good[column] += good_s
        if math.isnan(low) or math.isnan(high):
            continue
        band = bands[column]
        bands[column] = (low, high) if band is None else (min(low, band[0]), max(high, band[1]))
        means[column] = None if math.isnan(mean) else mean
    return Curve(
        tag=series.tag,
        start_ns=start_ns,
        end_ns=end_ns,
        bands=tuple(bands),
        means=tuple(means),
        good_s=tuple(good),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What stands on a trend beside the curve."""

    limits: tuple[float, ...] = ()
    """In the stored unit."""
    alarms: tuple[tuple[int, str], ...] = ()
    """When alarms began, and what they say in short."""
    additions_ns: tuple[int, ...] = ()
    stays: tuple[Stay, ...] = ()
    """Of loads in the tanks that the curve is about."""
    cursor: int | None = None
    """Column of the cursor, from the left."""


def marks_of(
    figure: Figure | None,
    tag: str,
    events: Sequence[StoredEvent],
    cursor: int | None,
    tanks: Collection[str] = (),
    others: Collection[str] = (),
) -> Marks:
    """Return what stands beside a curve.

    Args:
        figure: What is drawn; None for what is worked out.
        tag: Its tag.
        events: Among which its alarms, additions and stays are.
        cursor: Column of the cursor, if there is one.
        tanks: Whose loads are meant.
        others: Ids of what else explains the curve by its alarms: its rectifiers, the line.
    """
    limits = () if figure is None else (figure.low, figure.high)
    subject = tag.partition(".")[0]
    explains = {subject, *others}
    alarms = []
    additions = []
    for stored in events:
        event = stored.event
        if event.kind is EventKind.ALARM and event.subject in explains:
            if event.values.get("move") == "occur":
                alarms.append((event.utc_ns, event.text.partition(":")[0]))
        elif event.kind is EventKind.ADDITION and subject in {
            event.subject,
            event.values.get("tank"),
        }:
            additions.append(event.utc_ns)
    return Marks(
        limits=tuple(limit for limit in limits if limit is not None),
        alarms=tuple(alarms),
        additions_ns=tuple(additions),
        stays=stays_among(events, tanks),
        cursor=cursor,
    )


def plot_rows(curve: Curve, marks: Marks, size: tuple[int, int], look: Look) -> list[Row]:
    """Return the plot: scale at the left, curve, limits, times and marks below."""
    width, height = size[0] - AXIS - 1, size[1] - 2
    if width < 1 or height < 1:
        return []
    if curve.refused:
        said = row(Span(fit("", AXIS)), Span(clean(curve.refused), "doubt"))
        return [said, *[row()] * (size[1] - 1)]
    shown = scale(curve.tag.partition(".")[2], look.units)
    bands = [None if b is None else (shown.shown(b[0]), shown.shown(b[1])) for b in curve.bands]
    limits = [shown.shown(limit) for limit in marks.limits]
    span = scale_of(bands, limits)
    draw = strokes if look.is_plain else braille
    lines = draw(bands, (width, height), span)
    edge = _scale_column(span, height, shown)
    at_limit = {row_of(limit, span, height) for limit in limits}
    rows = [
        row(
            Span(edge[index], "quiet"),
            *_plot_line(line, marks.cursor, "╌" if index in at_limit else " "),
        )
        for index, line in enumerate(lines)
    ]
    return [*rows, _marks_row(curve, marks, width), _time_row(curve, width, look)]


def _scale_column(span: tuple[float, float], height: int, shown: Scale) -> list[str]:
    """Return the texts of the scale, a row each, ending in the plot's edge."""
    texts = [f"{'':{AXIS}}│"] * height
    values = ticks(*span, max(height // 3, 1))
    # Two ticks never read alike: a close look at a calm figure has more decimals than usual.
    step = min((b - a for a, b in pairwise(values)), default=1.0)
    decimals = max(
        shown.decimals, 0 if step >= 1.0 else min(ceil_decimals(step), MOST_DECIMALS)
    )
    for value in values:
        at = row_of(value, span, height)
        texts[at] = fit(f"{number(value, decimals)} ", AXIS, right=True) + "┤"
    return texts


def ceil_decimals(step: float) -> int:
    """Return how many decimals tell neighbours apart that are a step apart: 0.25 needs two."""
    decimals = max(-math.floor(math.log10(step)), 0)
    return decimals + (round(step, decimals) != round(step, decimals + 2))


def _plot_line(line: str, cursor: int | None, behind: str) -> list[Span]:
    """Return one row of the plot as spans: curve, limit behind it, cursor over both."""
    spans: list[Span] = []
    for column, cell in enumerate(line):
        if column == cursor:
            role, cell_shown = "now", cell
        elif cell != " ":
            role, cell_shown = "curve", cell
        else:
            role, cell_shown = "limit", behind
        if spans and spans[-1].role == role:
            spans[-1] = Span(spans[-1].text + cell_shown, role)
        else:
            spans.append(Span(cell_shown, role))
    return spans


def _column(curve: Curve, at_ns: int, width: int) -> int | None:
    span = max(curve.end_ns - curve.start_ns, 1)
    column = (at_ns - curve.start_ns) * width // span
    return column if 0 <= column < width else None


def _marks_row(curve: Curve, marks: Marks, width: int) -> Row:
    """Return the row under the plot: '^' a load came, '+' an addition, '!' an alarm began."""
    cells = ["─"] * width
    came_ns = tuple(each.since_ns for each in marks.stays)
    began_ns = tuple(at_ns for at_ns, _ in marks.alarms)
    for times, sign in ((came_ns, "^"), (marks.additions_ns, "+"), (began_ns, "!")):
        for at_ns in times:
            column = _column(curve, at_ns, width)
            if column is not None:
                cells[column] = sign
    return row(Span(f"{'':{AXIS}}└", "quiet"), Span("".join(cells), "gauge"))


def _time_row(curve: Curve, width: int, look: Look) -> Row:
    """Return round times of day where they belong."""
    span = curve.end_ns - curve.start_ns
    most = max(width // LABEL_CELLS, 1)
    step = next((each for each in STEPS_NS if span // each <= most), STEPS_NS[-1])
    shift = zone_shift_ns(curve.start_ns, look.zone)
    first = -(-(curve.start_ns + shift) // step) * step - shift
    text = ""
    for at_ns in range(first, curve.end_ns, step):
        column = (at_ns - curve.start_ns) * width // span
        label = day(at_ns, look.zone) if step >= DAY_NS else clock_minutes(at_ns, look.zone)
        if column >= len(text) + (1 if text else 0) and column + len(label) <= width:
            text = text.ljust(column) + label
    return row(Span(f"{'':{AXIS}} {text}", "quiet"))


def cursor_words(
    curve: Curve, cursor: int, width: int, look: Look, marks: Marks | None = None
) -> str:
    """Return what was at the cursor: when, mean, least and most, alarms that began, loads."""
    bands = resampled(curve.bands, width)
    if not 0 <= cursor < width or not bands:
        return ""
    span = curve.end_ns - curve.start_ns
    at_ns = curve.start_ns + span * cursor // width
    when = f"{day(at_ns, look.zone)} {clock(at_ns, look.zone)}"
    band = bands[cursor]
    beside = _beside(marks or Marks(), at_ns, span // width)
    if band is None:
        return f"{when}  nothing good was recorded  {beside}".rstrip()
    shown = scale(curve.tag.partition(".")[2], look.units)
    low, high = (number(shown.shown(value), shown.decimals) for value in band)
    column = min(cursor * len(curve.means) // width, len(curve.means) - 1)
    mean = curve.means[column]
    middle = f"mean {number(shown.shown(mean), shown.decimals)}  " if mean is not None else ""
    return f"{when}  {middle}least {low}  most {high} {shown.label}  {beside}".rstrip()


def _beside(marks: Marks, at_ns: int, for_ns: int) -> str:
    """Return which alarms began within a column, and which loads were in."""
    began = [said for since, said in marks.alarms if at_ns <= since < at_ns + for_ns]
    told = [f"! {clean(', '.join(dict.fromkeys(began)), 200)}"] if began else []
    return "  ".join(each for each in (*told, loads_at(marks.stays, at_ns)) if each)


def small_plot(curve: Curve, figure: Figure | None, look: Look, height: int) -> list[Row]:
    """Return a plot without cursor and marks, for a corner of another view."""
    marks = marks_of(figure, curve.tag, (), None)
    return plot_rows(curve, marks, (look.width, height), replace(look))
