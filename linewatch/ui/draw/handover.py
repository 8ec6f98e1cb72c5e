"""What one shift hands over to the next: what stands, what is put aside, what was done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import State
from linewatch.core.events import EventKind
from linewatch.ui.draw.alarms import ASIDE, DEEPER, SHOWN_OF_GROUP, alarm_row, folded_row
from linewatch.ui.draw.families import consequences, heads
from linewatch.ui.draw.loads import left_rows
from linewatch.ui.draw.naming import bath_of, names, tank_of, target
from linewatch.ui.draw.parts import alarm_line, fact, worded
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, wrap
from linewatch.ui.marks import PRIORITY_ORDER, is_new, is_standing
from linewatch.ui.text import clean, clock, clock_minutes, counted, fit, moment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.events import Event
    from linewatch.core.loads.record import LoadRecord
    from linewatch.core.ports import Sealed, StoredEvent
    from linewatch.core.view import AlarmPicture, DutyPicture, LinePicture
    from linewatch.ui.draw.shifts import Shift

SOON_NS: Final = 24 * 3600 * 1_000_000_000
NUMBER: Final = 10
"""Cells of a load's number, as among those that left."""
NEVER_SHOWN: Final = 3
"""Analyses that nobody ever made, told one by one."""
SEAL_GROUP: Final = 8
"""Signs of the seal between two gaps, so that it can be read out and copied by hand."""


def handover_rows(
    picture: LinePicture,
    shift: Shift,
    events: Sequence[StoredEvent],
    sealed: Sealed | None,
    left: Sequence[LoadRecord],
    look: Look,
) -> list[Row]:
    """Return the page that one shift leaves to the next.

    Args:
        picture: The line.
        shift: Which shift is handed over, and who is at this terminal.
        events: The newest events, oldest first.
        sealed: Where the people's journal ends; None while it is not known.
        left: The loads that left in the shift.
        look: How it is drawn.

    Returns:
        The rows.
    """
    rows = [_span(shift, look), row()]
    rows += _standing(picture, shift, look)
    rows += _aside(picture, look)
    rows += _held(picture, look)
    rows += [row(), *left_rows(left, look)]
    rows += _due(picture, look)
    rows += [row(), *_happened(picture, shift, events, look)]
    return [*rows, row(), *_record(picture, sealed, look)]


def _span(shift: Shift, look: Look) -> Row:
    """Return which shift it is."""
    day = moment(shift.begin_ns, look.zone)[:10]
    who = f", {clean(shift.initials, 12)} at this terminal" if shift.initials else ""
    is_over = look.now_ns >= shift.end_ns
    over = "  it is over: hand over" if is_over else "  still goes on"
    return row(
        Span(f" shift {shift.words(look.zone)} of {day}", "strong"),
        Span(over, "outside" if is_over else "quiet"),
        Span(who, "quiet"),
    )


def _standing(picture: LinePicture, shift: Shift, look: Look) -> list[Row]:
    """Return the alarms that stand; what began after the shift's end apart from the others."""
    every = heads(picture.alarms)
    own = [each for each in every if not _is_later(shift, each.since_utc_ns, look)]
    later = [each for each in every if each not in own]
    rows = _stand(picture, own, "alarms that stand", look)
    if later:
        rows += [row(), *_stand(picture, later, _since_then(shift, look), look)]
    return rows


def _is_later(shift: Shift, utc_ns: int, look: Look) -> bool:
    """Say whether something came after the end of the shift that is handed over."""
    return look.now_ns >= shift.end_ns > 0 and utc_ns >= shift.end_ns


def _since_then(shift: Shift, look: Look) -> str:
    end = clock_minutes(shift.end_ns, look.zone)
    return f"since then, after {end}, alarms that stand and are not of this shift"


def _stand(
    picture: LinePicture, group: Sequence[AlarmPicture], said: str, look: Look
) -> list[Row]:
    called = names(picture)
    behind = consequences(picture.alarms)
    every = (each for head in group for each in (head, *behind.get(head.id, [])))
    members = [each for each in every if is_standing(each.state)]
    unseen = sum(1 for each in members if is_new(each.state))
    rows = [titled(f"{said}: {len(members)}, not seen: {unseen}", look.width)]
    for each in group:
        mine = behind.get(each.id, [])
        shown = mine if len(mine) <= SHOWN_OF_GROUP else []
        rows.append(alarm_row(each, called, look))
        rows += [alarm_row(one, called, look, DEEPER) for one in shown]
        if len(mine) > len(shown):
            # A page is no list: what is folded here is shown among the alarms.
            first = target("alarm", mine[0].id)
            rows.append(folded_row(mine, "; open it to see them among the alarms", first))
    return rows


def _aside(picture: LinePicture, look: Look) -> list[Row]:
    """Return what is shelved and what is out of service, each with its reason."""
    called = names(picture)
    rows: list[Row] = []
    for state, title in ASIDE:
        if state is State.SUPPRESSED:
            continue
        mine = [e for e in picture.alarms if e.state == state.word and not e.behind]
        places: list[tuple[str, str]] = []
        if state is State.OUT_OF_SERVICE:
            places = [
                *(
                    (f"tank {each.id}", each.name)
                    for each in picture.tanks
                    if each.out_of_service
                ),
                *(
                    (f"rectifier {each.id}", each.name)
                    for each in picture.rectifiers
                    if each.out_of_service
                ),
            ]
        rows += [row(), titled(f"{title}: {len(mine) + len(places)}", look.width)]
        rows += [row(Span(f"   {clean(name, 40)}"), target=about) for about, name in places]
        for each in mine:
            named = called.get(each.subject, clean(each.subject, 40))
            rows.append(alarm_line(each, named, look, target=target("alarm", each.id)))
            until = ""
            if each.until_utc_ns is not None:
                until = f", comes back at {clock(each.until_utc_ns, look.zone)}"
            if each.why:
                why = f"because {clean(each.why, 100)}{until}"
                rows.append(fact("", Span(why, "quiet")))
    return rows


def _held(picture: LinePicture, look: Look) -> list[Row]:
    """Return the loads that wait for a decision, wherever they are and whenever they left."""
    if not picture.held:
        return []
    called = names(picture)
    rows = [row(), titled(f"loads on hold: {len(picture.held)}", look.width)]
    for each in picture.held:
        when = moment(each.utc_ns, look.zone)[5:16] if each.utc_ns else ""
        where = called.get(each.tank, "")
        if each.is_number_reused:
            where = "another load has its number now"
        spans = (
            Span(f"   {fit(clean(each.load, 24), NUMBER)} ", "strong"),
            Span(f"{when}  {clean(each.who, 12)}: {clean(each.why, 100)}"),
            Span(
                "".join(f"  {word}" for word in (clean(each.part, 40), where) if word), "quiet"
            ),
        )
        rows.append(Row(clip(spans, look.width), target("load", each.load)))
    return rows


def _due(picture: LinePicture, look: Look) -> list[Row]:
    """Return what is overdue, what is due now, and what the next shift finds due."""
    soon_ns = look.now_ns + SOON_NS
    late, never, soon = [], [], []
    for each in picture.duties:
        if each.due_utc_ns is not None and each.due_utc_ns < look.now_ns:
            late.append(each)
        elif each.was_never_analysed:
            never.append(each)
        elif each.due_utc_ns is not None and each.due_utc_ns < soon_ns:
            soon.append(each)
    rows = [_duty_row(picture, each, "", look) for each in late]
    rows += [_duty_row(picture, each, "now", look) for each in never[:NEVER_SHOWN]]
    # A new installation has one for every substance of every bath: the rest in one row.
    if (more := len(never) - NEVER_SHOWN) > 0:
        made = counted(more, "more analysis", "more analyses")
        said = f"now  {made} that nobody ever made: `linewatch duty list` has them"
        rows.append(
            row(Span(f"   {'due':<8}", "quiet"), Span(f"{said}, V those of a bath or tank"))
        )
    rows += [_duty_row(picture, each, "", look) for each in soon]
    return [row(), titled("due in the next day", look.width), *rows] if rows else []


def _duty_row(picture: LinePicture, each: DutyPicture, when: str, look: Look) -> Row:
    """Return one duty, with its place: it can be gone to."""
    is_late = each.due_utc_ns is not None and each.due_utc_ns < look.now_ns
    lead = Span(f"   {'OVERDUE' if is_late else 'due':<8}", "outside" if is_late else "quiet")
    when = when or moment(each.due_utc_ns or look.now_ns, look.zone)
    never = "; never analysed" if each.was_never_analysed else ""
    place = ""
    if bath_of(picture, each.subject) is not None:
        place = target("bath", each.subject)
    elif tank_of(picture, each.subject) is not None:
        place = target("tank", each.subject)
    spans = [lead, Span(f"{when}  {clean(each.text, 100)}"), Span(never, "quiet")]
    return Row(clip(spans, look.width), place)


def _happened(
    picture: LinePicture, shift: Shift, events: Sequence[StoredEvent], look: Look
) -> list[Row]:
    since = [each.event for each in events if each.event.utc_ns >= shift.begin_ns]
    is_cut = bool(events) and len(since) == len(events) and events[0].number > 1
    mine = [each for each in since if not _is_later(shift, each.utc_ns, look)]
    later = since[len(mine) :] if len(mine) < len(since) else []
    announced = _announced(mine)
    by_priority = [
        f"{count} {name}"
        for name in PRIORITY_ORDER
        if (count := sum(1 for each in announced if each.values.get("priority") == name))
    ]
    first = f" at least, since {clock(mine[0].utc_ns, look.zone)}" if is_cut and mine else ""
    split = f": {', '.join(by_priority)}" if by_priority else ""
    return [
        titled("what happened in this shift", look.width),
        fact("alarms", f"{len(announced)}{first}{split}"),
        fact("people", f"{_entries(mine)}{first} of what they did, each under initials"),
        *_checked(picture, shift, look),
        *_later(later),
    ]


def _announced(events: Sequence[Event]) -> list[Event]:
    return [
        each
        for each in events
        if each.kind is EventKind.ALARM and each.values.get("move") == "occur"
    ]


def _entries(events: Sequence[Event]) -> str:
    """Return how many entries people made."""
    # The start of a collector bears the initials it was started with, and is nobody's entry.
    acts = sum(
        1
        for each in events
        if each.values.get("who") and each.kind is not EventKind.RUN_STARTED and _is_new(each)
    )
    return counted(acts, "entry", "entries")


def _later(events: Sequence[Event]) -> list[Row]:
    """Return what happened after the end of the shift: it belongs to the next one."""
    if not events:
        return []
    alarms = counted(len(_announced(events)), "alarm")
    said = f"{alarms}, {_entries(events)}: of the shift after it"
    return [fact("since then", Span(said, "quiet"))]


def _is_new(event: Event) -> bool:
    """Say whether an event is more than the configuration that a record began with."""
    return event.kind is not EventKind.CONFIGURATION or bool(event.values.get("from"))


def _checked(picture: LinePicture, shift: Shift, look: Look) -> list[Row]:
    """Return what people found bad on their rounds, and whether the sheet is signed."""
    called = names(picture)
    bad = [
        each
        for each in picture.checks
        if each.is_bad
        and each.utc_ns >= shift.begin_ns
        and not _is_later(shift, each.utc_ns, look)
    ]
    rows = [
        fact(
            "" if index else "found bad",
            Span(
                f"{called.get(each.subject, clean(each.subject, 40))}:"
                f" {clean(each.found, 60)}  {clean(each.who, 12)}",
                "outside",
            ),
        )
        for index, each in enumerate(bad)
    ]
    signed = picture.sheet_signed
    is_own = signed is not None and not _is_later(shift, signed[0], look)
    if signed is not None and is_own and signed[0] >= shift.begin_ns:
        rows.append(fact("check sheet", f"signed by {clean(signed[1], 12)}"))
    return rows


def _record(picture: LinePicture, sealed: Sealed | None, look: Look) -> list[Row]:
    rows = [titled("the record", look.width)]
    recording = picture.recording
    if not look.is_live:
        # A record that nobody is seen to write is not called running.
        heard = f"not seen to run: last heard at {clock(picture.utc_ns, look.zone)}"
        rows.append(fact("recording", Span(heard, "outside")))
    elif recording is not None and not recording.running:
        since = clock(recording.since_utc_ns, look.zone)
        rows.append(fact("recording", Span(f"not recording since {since}", "outside")))
    elif recording is not None:
        rows.append(fact("recording", "runs"))
    if sealed is None:
        return rows
    seal = sealed.seal
    groups = " ".join(seal[k : k + SEAL_GROUP] for k in range(0, len(seal), SEAL_GROUP))
    counts = (
        f"{sealed.acts} in the journal since it began, starts included, an act however many"
        " entries it gave; its seal:"
    )
    rows += worded("people's acts", counts, look, "plain")
    rows += [fact("", Span(line)) for line in wrap(groups, max(look.width - 17, SEAL_GROUP))]
    told = "Note it down: a journal that is changed or cut off later has no such seal."
    return rows + [
        fact("", Span(line, "quiet")) for line in wrap(told, max(look.width - 17, 8))
    ]
