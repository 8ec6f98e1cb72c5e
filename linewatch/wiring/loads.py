"""What can be asked about loads, from the command line and for the screen."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Final, TypeAlias

from linewatch.core.errors import Refused, UnitMismatch
from linewatch.core.loads.present import lasting
from linewatch.core.loads.record import load_record, newest_trips, subject
from linewatch.core.loads.wanted import objections
from linewatch.core.loads.why import why
from linewatch.wiring import records
from linewatch.wiring.meant import meant, things
from linewatch.wiring.records import FOR_EVER, MOST_EVENTS
from linewatch.wiring.viewer import open_desk, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from linewatch.core.electrochemistry.explanation import Explanation
    from linewatch.core.loads.record import LoadRecord
    from linewatch.core.ports import Desk
    from linewatch.core.view import LinePicture

KINDS: Final = ("tank", "rectifier", "bath")
NEAREST: Final = 4
Explain: TypeAlias = "Callable[[LinePicture, str], Sequence[Explanation]]"


def record_of(desk: Desk, number: str, trip: int | None = None) -> LoadRecord:
    """Return a load's record.

    Raises:
        Refused: nothing was told of such a load.
    """
    events = desk.happened({subject(number)}, FOR_EVER, MOST_EVENTS)
    if not events:
        asked, picture = f"show load {number}", desk.picture()
        here = picture.present(number) if picture is not None else None
        if here is not None:
            raise Refused(
                asked,
                f"it is in {here.tank_name} for {lasting(here.dwell_s)}, in its first stay: its"
                f" record begins when it leaves; see `linewatch explain {here.tank_name!r}`",
            )
        raise Refused(asked, f"nothing was told of it{_nearest(desk, number)}")
    return load_record(number, (each.event for each in events), trip)


def objections_to(desk: Desk, number: str, decision: str) -> tuple[str, ...]:
    """Return what the record holds against a decision about a load.

    Args:
        desk: The line's record, as it stood before the decision.
        number: Of the load.
        decision: What is decided: 'released'.
    """
    try:
        record = record_of(desk, number)
    except Refused:  # The collector says of such a load what there is to say.
        return ()
    picture = desk.picture()
    held = picture.held if picture is not None else ()
    if any(each.load == number and each.is_number_reused for each in held):
        # Another load bears its number by now: what is let go is the one on hold.
        for trip in range(record.trip - 1, 0, -1):
            before = record_of(desk, number, trip)
            if before.decision == "held":
                return objections(before, decision)
    present = picture.present(number) if picture is not None else None
    return objections(record, decision, present)


def _nearest(desk: Desk, number: str) -> str:
    """Return in words which loads, of all that are recorded, have numbers like one."""
    told = [each.event for each in desk.loads(FOR_EVER, MOST_EVENTS)]
    known = list(dict.fromkeys(each for each, _ in newest_trips(told, MOST_EVENTS)))
    near = nearest_numbers(number, known)
    return f"; the nearest: {', '.join(near)}" if near else "; no load was told of yet"


def nearest_numbers(number: str, known: Sequence[str]) -> list[str]:
    """Return the numbers of loads nearest to one: by number, else by letters."""
    numbers = [each for each in known if each.isdecimal()]
    if number.isdecimal() and numbers:
        near = sorted(numbers, key=lambda each: (abs(int(each) - int(number)), each))
        return near[:NEAREST]
    return difflib.get_close_matches(number, known, NEAREST) or list(known[:NEAREST])


def records_of(desk: Desk, count: int) -> Sequence[LoadRecord]:
    """Return the records of the loads that were told of last, the latest first."""
    told = [each.event for each in desk.loads(FOR_EVER, max(500, count * 60))]
    wanted = newest_trips(told, count)
    # What was told of a load long ago belongs to its record too.
    subjects = {subject(number) for number, _ in wanted}
    events = [each.event for each in desk.happened(subjects, FOR_EVER, MOST_EVENTS)]
    return [load_record(number, events, trip) for number, trip in wanted]


def places_of(desk: Desk, found: Sequence[LoadRecord]) -> Sequence[str]:
    """Return where each of some loads was seen last, in words: where it is, if it is there.

    A stay is told when it is over: where a load hangs now, only the picture tells.
    """
    picture = desk.picture()
    now: dict[str, str] = {}
    if picture is not None:
        called = {tank.id: tank.name for tank in picture.tanks}
        ways = {way.load: called.get(way.before, way.before) for way in picture.ways}
        now = {load: f"on its way from {before}" for load, before in ways.items()}
        now |= {tank.load.number: tank.name for tank in picture.tanks if tank.load is not None}
    return [
        now.get(each.number, each.stays[-1].tank_name if each.stays else "-") for each in found
    ]


def explainer(store: Path, line_id: str) -> Explain:
    """Return what explains a thing's figures on a picture, or a load's; for the screen."""
    others = records.explainer(store, line_id)

    def reasons(picture: LinePicture, about: str) -> Sequence[Explanation]:
        kind, _, number = about.partition(" ")
        if kind != "load":
            return others(picture, about)
        try:
            found = list(why(record_of(open_desk(store, line_id), number)))
        except Refused:  # It is in its first stay: the picture alone tells of it.
            found = []
        for tank in picture.tanks:
            if tank.load is not None and tank.load.number == number:
                found += others(picture, f"tank {tank.id}")
        return found

    return reasons


def explain(store: Path, line_id: str, number: str, figure: str) -> Sequence[Explanation]:
    """Return why a load's figures are what they are, or those with a word in their name.

    Raises:
        Refused: there is no such load, or it has no such figure.
    """
    found = why(record_of(open_desk(store, line_id), number))
    return records.by_word(found, subject(number), figure)


def explain_meant(store: Path, line_id: str, said: str, figure: str) -> Sequence[Explanation]:
    """Return why the figures of something are what they are, which a person names.

    Args:
        store: The store.
        line_id: The line.
        said: Number, name or id of a tank, rectifier or bath; "load 1041", or 1041 where no
            position has that number.
        figure: A word of the figure; all for ''.

    Raises:
        Refused: nothing, or more than one thing, is called so.
        StoreUnusable: there is no picture yet.
    """
    lead, _, rest = said.strip().replace("/", " ", 1).partition(" ")
    if lead.casefold() == "load" and rest.strip():
        return explain(store, line_id, rest.strip(), figure)
    name = said
    kinds: tuple[str, ...] = KINDS
    if lead.casefold() in KINDS and rest.strip():
        kinds, name = (lead.casefold(),), rest
    desk = open_desk(store, line_id)
    try:
        among = list(things(shown(desk, store, line_id)))
        found = meant(among, name, f"explain {said}", kinds)
    except Refused:
        if desk.happened({subject(said.strip())}, FOR_EVER, 1):
            return explain(store, line_id, said.strip(), figure)
        raise
    return records.explain(store, line_id, found, figure)


def square_decimetres(text: str) -> float | None:
    """Return an area as a person writes it [dm2]; None for ''.

    Raises:
        UnitMismatch: it is no area.
    """
    from linewatch.core import units

    if not text:
        return None
    if text.replace(".", "", 1).isdigit():
        raise UnitMismatch(text, "dm2", 'write the unit too, as "250 dm2"')
    return units.parse(text, "dm2")
