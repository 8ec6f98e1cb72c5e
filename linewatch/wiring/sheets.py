"""The shift's check sheet, of the present shift or of any that is recorded."""

from __future__ import annotations

import datetime
import time
from typing import TYPE_CHECKING, TypeAlias

from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.readings import is_good
from linewatch.core.sheets.items import BY_HAND
from linewatch.core.sheets.page import Heading, sheet_page
from linewatch.core.sheets.sheet import (
    Place,
    Read,
    blanks,
    checks_in,
    judged,
    present,
    reads_in,
    sheet,
)
from linewatch.core.sheets.shifts import shift_of
from linewatch.wiring import records, viewer
from linewatch.wiring.days import day_at, midnight

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from linewatch.core.events import Event
    from linewatch.core.pages import Page, Shown
    from linewatch.core.plan import LinePlan
    from linewatch.core.sheets.items import Item
    from linewatch.core.sheets.seen import CheckPicture
    from linewatch.core.sheets.sheet import Reads
    from linewatch.history.desk import StoreDesk

NS = 1_000_000_000
LAST_S = 180.0
"""A value that is this old at the end of a shift is not that moment's."""
SAID = (EventKind.NOTE, EventKind.COMMAND)


def midnights(utc_ns: int) -> tuple[int, int, int]:
    """Return this machine's midnight before a moment, the one before it, and the next."""
    day, one = day_at(utc_ns), datetime.timedelta(days=1)
    return midnight(day), midnight(day - one), midnight(day + one)


def shift_named(text: str, now_ns: int, shift_s: float) -> tuple[int, int]:
    """Return begin and end of a shift [ns since 1970].

    Args:
        text: "" for the present one, "last" for the one before it, or a time in it.
        now_ns: The present by the line's calendar.
        shift_s: Length of a shift [s].

    Raises:
        UnitMismatch: it is no time.
        Refused: it lies in the future.
    """
    begin, end = shift_of(now_ns, midnights(now_ns), shift_s)
    if text.strip().lower() == "last":
        return shift_of(begin - 1, midnights(begin - 1), shift_s)
    asked_ns, _ = records.span((text, ""), lambda: now_ns)
    if asked_ns is None:
        return begin, end
    if asked_ns > now_ns:
        raise Refused(f"show the sheet of {text}", "that shift is still to come")
    return shift_of(asked_ns, midnights(asked_ns), shift_s)


def page(store: Path, line_id: str, text: str, show: Shown) -> Page:
    """Return the sheet of a shift as a page.

    Raises:
        Refused: it lies in the future.
        StoreUnusable: nothing was recorded.
        UnitMismatch: `text` is no time.
    """
    plan, span, filled = _filled(store, line_id, text)
    reads, found, at_ns, signed = filled
    by = f"signed by {signed} at {show.clock(at_ns)}" if signed else ""
    heading = Heading(line=plan.name, span=span, utc_ns=at_ns, signed=by)
    return sheet_page(heading, sheet(places(plan), reads, found), show)


def blank_now(store: Path, line_id: str) -> int:
    """Return how many entries of the present shift's sheet are blank.

    Raises:
        StoreUnusable: nothing was recorded.
    """
    plan, _, (reads, found, _, _) = _filled(store, line_id, "")
    return blanks(sheet(places(plan), reads, found))


Filled: TypeAlias = "tuple[Reads, list[CheckPicture], int, str]"
"""What is read, what was found, as of when [ns since 1970], and by whom it is signed."""


def _filled(store: Path, line_id: str, text: str) -> tuple[LinePlan, tuple[int, int], Filled]:
    """Return line, shift and what stands on its sheet."""
    from linewatch import history

    desk = history.open_desk(store, line_id)
    picture = viewer.shown(desk, store, line_id)
    is_fast = picture.speed != 1.0
    now_ns = picture.utc_ns if is_fast or not desk.alive() else time.time_ns()
    plan = records.plan_in_force(store, line_id)
    span = shift_named(text, now_ns, plan.shift_s)
    told = desk.happened(plan.subjects, (span[0], span[1] - 1), records.MOST_EVENTS, SAID)
    events = [each.event for each in told]
    found = [each for event in events for each in checks_in(event)]
    signed = [each for each in events if reads_in(each)]
    reads: Reads
    if signed:
        reads, at_ns = _signed(signed), signed[-1].utc_ns
    elif span[1] > now_ns:
        reads = present(
            {tank.id: tank.figures for tank in picture.tanks},
            {each.id: each.figures for each in picture.rectifiers},
        )
        at_ns = picture.utc_ns
    else:
        reads, at_ns = _at_the_end(desk, plan, span[1]), span[1]
    by = str(signed[-1].values.get("by")) if signed else ""
    return plan, span, (reads, found, at_ns, by)


def items_meant(kind: str, called: str, said: str) -> str:
    """Return the ids of what a person looked at, who names them as the sheet does or by id.

    Args:
        kind: Kind of the position.
        called: What people call it.
        said: An id, the sheet's words or a part of them; several with commas between.

    Returns:
        Ids, separated by commas.

    Raises:
        Refused: nothing, or more than one thing, on its sheet is called so.
    """
    there = BY_HAND.get(kind, ())
    whole = [each.id for each in there if _folded(said) in {each.id, _folded(each.text)}]
    if whole:
        return whole[0]
    several = [each for each in said.split(",") if each.strip()] or [said]
    return ",".join(_item(there, called, each) for each in several)


def _item(there: Sequence[Item], called: str, said: str) -> str:
    wanted = _folded(said)
    found = [each.id for each in there if each.id == wanted]
    found = found or [each.id for each in there if f" {wanted}" in f" {_folded(each.text)}"]
    if wanted and len(found) == 1:
        return found[0]
    listed = "; ".join(f"{each.id} = {each.text}" for each in there) or "nothing by hand"
    raise Refused(
        f"write down what {said.strip()} is at {called}", f"its sheet asks for: {listed}"
    )


def _folded(text: str) -> str:
    return " ".join(text.casefold().replace(";", " ").replace(",", " ").split())


def places(plan: LinePlan) -> list[Place]:
    """Return the positions of a line's sheet, in process order."""
    return [
        *(Place(id=tank.id, name=tank.called, kind=tank.kind) for tank in plan.tanks),
        *(Place(id=each.id, name=each.name, kind="rectifier") for each in plan.rectifiers),
        Place(id=plan.line_id, name=plan.name, kind="line"),
    ]


def _signed(events: Sequence[Event]) -> dict[str, dict[str, Read]]:
    """Return what was read at each position when the sheet was signed last."""
    found: dict[str, dict[str, Read]] = {}
    for each in events:
        # Of records before a signature was one event, there is one a position.
        if each.utc_ns == events[-1].utc_ns:
            found |= reads_in(each)
    return found


def _at_the_end(desk: StoreDesk, plan: LinePlan, end_ns: int) -> Reads:
    """Return what the record has of each signal at the end of a shift that nobody signed."""
    found: dict[str, dict[str, Read]] = {}
    for tag in plan.tags.values():
        read = judged(_last(desk, tag.id, end_ns), tag.window)
        found.setdefault(tag.subject, {})[tag.name] = read
    return found


def _last(desk: StoreDesk, tag: str, end_ns: int) -> float | None:
    try:
        _, values, qualities = desk.raw(tag, end_ns - round(LAST_S * NS), end_ns)
    except KeyError:
        return None
    return float(values[-1]) if len(values) and is_good(int(qualities[-1])) else None
