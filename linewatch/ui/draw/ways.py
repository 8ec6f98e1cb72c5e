"""Loads between two positions: in the row of the one that they left, and in a list."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from linewatch.ui.draw.naming import names, target
from linewatch.ui.draw.parts import fact, hold_mark, hold_rows, part_and_odd
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, told
from linewatch.ui.marks import PRESENCE_MARKS, SIDE_MARKS
from linewatch.ui.text import cells, clean, fit, span, span_within

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.view import LinePicture, TankPicture, WayPicture

NO_NUMBER: Final = "no number"
MOST_NAMED: Final = 3
LONG_S: Final = 120.0
"""For so long no load goes from one position to the next: common practice."""
LATE_MARK: Final = SIDE_MARKS["high"].strip()
"""Behind a time in the air that is longer than it may be."""


class Spot(NamedTuple):
    """A load on its way as the row of a position shows it."""

    way: WayPicture
    brief: str
    """'12', '14-16': where it goes, by number; 'from 9' in the row of where it goes; '' where
    that is not known."""


def spots(tanks: Sequence[TankPicture], ways: Sequence[WayPicture]) -> dict[str, Spot]:
    """Return by position the load on its way that stands in its row.

    That is the row of the position that it left; where the next load hangs there already, the
    row of the one to which it goes.

    Args:
        tanks: The positions.
        ways: The loads on their way, the longest out first.
    """
    here = {tank.id: tank for tank in tanks}
    found: dict[str, Spot] = {}
    for way in reversed(ways):
        before = here.get(way.before)
        if before is not None and before.load is None and before.id not in found:
            found[before.id] = Spot(way, _numbers(way.to, here))
            continue
        to = here.get(way.to[0]) if len(way.to) == 1 else None
        if to is not None and to.load is None and to.id not in found and before is not None:
            known = clean(before.number, 5)
            found[to.id] = Spot(way, f"from {known}" if known else "")
    return found


def _numbers(to: Sequence[str], here: Mapping[str, TankPicture]) -> str:
    """Return the numbers of positions, as short as can be."""
    told = [clean(here[name].number, 4) for name in to if name in here]
    if not told or not all(told):
        return ""
    return told[0] if len(told) == 1 else f"{told[0]}-{told[-1]}"


def way_cell(column: str, width: int, spot: Spot, look: Look, *, is_brief: bool) -> Span | None:
    """Return what one column of a position's row shows of a load on its way.

    Args:
        column: The column's id.
        width: Its cells.
        spot: The load.
        look: How it is drawn.
        is_brief: Whether the row has no column for number and time of a load.

    Returns:
        The cell; None where the column shows the position itself.
    """
    is_late = spot.way.is_late and look.is_live
    out = span(spot.way.out_s)
    match column:
        case "presence":
            return Span(PRESENCE_MARKS["gone"], "outside" if is_late else "plain")
        case "load":
            return Span(fit(clean(spot.way.number, 16), width))
        case "dwell" if is_late:
            said = Span(f"{out}{LATE_MARK}", "outside")
        case "dwell":
            said = told(out, look)
        case "pull" if is_brief:
            said = _brief_pull(spot, width, look)
        case "pull":
            said = Span(_where(spot.brief, width), "quiet")
        case _:
            return None
    return Span(fit(said.text, width, right=True), said.role)


def _brief_pull(spot: Spot, width: int, look: Look) -> Span:
    """Return where a load goes, or how long it has been out, where there is room for one."""
    out_s = spot.way.out_s
    if spot.way.is_late and look.is_live:
        brief = span_within(out_s, width - cells("air ") - cells(LATE_MARK))
        return Span(f"air {brief}{LATE_MARK}", "outside")
    if spot.brief and out_s < LONG_S:
        return Span(_where(spot.brief, width), "quiet")
    # A bare time would read as the time left, which every other row tells here; and whether it
    # is too long nobody may know as yet, but that it is long is to be seen.
    lead = "air " if spot.brief else "gone "
    said = told(f"{lead}{span_within(out_s, width - cells(lead))}", look)
    return said if cells(said.text) <= width else Span(lead.strip(), "quiet")


def _where(brief: str, width: int) -> str:
    if not brief:
        return "out"
    where = brief if brief.startswith("from") else f"to {brief}"
    return where if cells(where) <= width else brief


def way_rows(
    picture: LinePicture, look: Look, odd: Mapping[str, tuple[bool, str]] | None = None
) -> list[Row]:
    """Return the list of the loads on their way; empty if there is none.

    Args:
        picture: The line.
        look: How it is drawn.
        odd: By number what is odd about a load by now: (it may be spoilt, in words).
    """
    if not picture.ways:
        return []
    called = names(picture)
    heading = titled(f"on their way: {len(picture.ways)}, the longest out first", look.width)
    numbers = [clean(each.number, 24) or NO_NUMBER for each in picture.ways]
    wide = max(cells(each) for each in numbers) + 1
    rows = [row(), heading]
    for number, way in zip(numbers, picture.ways, strict=True):
        out = told(span(way.out_s), look)
        is_late = way.is_late and look.is_live
        spans = (
            Span(f" {fit(number, wide)}", "strong"),
            Span(fit(out.text, 8, right=True), "outside" if is_late else out.role),
            Span(f" {LATE_MARK} " if is_late else "  ", "outside"),
            Span(f"{_words(way, called)}"),
            Span(f"  {_late_words(way)}" if is_late else "", "outside"),
            *hold_mark(picture, way.load),
            *part_and_odd(way.part, (odd or {}).get(way.load, (False, "")), look),
        )
        rows.append(Row(clip(spans, look.width), target("load", way.load)))
    return rows


def way_detail(picture: LinePicture, load: str, look: Look) -> list[Row]:
    """Return where a load is between two positions; empty if it is not."""
    way = next((each for each in picture.ways if each.load == load), None)
    if way is None:
        return []
    said = told(f"for {span(way.out_s)}", look)
    rows = [fact("on its way", said, f" {_words(way, names(picture))}")]
    if way.is_late and look.is_live:
        rows.append(fact("", Span(f"{LATE_MARK} {_late_words(way)}", "outside")))
    return [*rows, *hold_rows(picture, load, look)]


def _late_words(way: WayPicture) -> str:
    """Return that a load hangs in the air, and how long it might have been out."""
    most = f", at most {span(way.allowed_s)} here" if way.allowed_s is not None else ""
    return f"hangs in the air{most}"


def _words(way: WayPicture, called: Mapping[str, str]) -> str:
    """Return in words from where a load comes and where it goes."""
    words = f"from {called.get(way.before, clean(way.before, 40))}"
    if not way.to or len(way.to) > MOST_NAMED:
        return words
    return f"{words} to {' or '.join(called.get(name, clean(name, 40)) for name in way.to)}"
