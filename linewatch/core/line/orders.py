"""What people ask of the line, carried out or refused. Nothing reaches a field device."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from linewatch.core.alarms import people
from linewatch.core.alarms.alarm import By
from linewatch.core.alarms.wording import called, named, spoken
from linewatch.core.commands import (
    Acknowledge,
    CaptureFrames,
    Command,
    EndCollecting,
    HandReading,
    LogAddition,
    MarkMeter,
    ResetLatch,
    ReturnToService,
    SetLineState,
    Shelve,
    TakeOutOfService,
    Unshelve,
    WriteNote,
)
from linewatch.core.errors import LinewatchError, Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.line.hearing import expect, set_state
from linewatch.core.line.positions import STATES
from linewatch.core.measurements import MEASUREMENTS

if TYPE_CHECKING:
    from linewatch.core.events import Part
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.ports import Order
    from linewatch.core.readings import Moment

REMARKS = ("why", "found", "text", "note")
"""Parts of a command in which a person says something in words of their own."""
MOST_CAPTURED_S = 8 * 3600.0
_KIND = {
    HandReading: EventKind.ANALYSIS,
    WriteNote: EventKind.NOTE,
    LogAddition: EventKind.ADDITION,
}


def obey(line: Line, order: Order) -> list[Event]:
    """Carry out a command.

    Args:
        line: The line.
        order: The command with its moment.

    Returns:
        The act itself as an event, then what followed from it.

    Raises:
        Refused: it cannot be done; nothing has changed.
    """
    command, at = order.command, order.at
    if not command.who.strip():
        raise Refused(_words(command, line.plan), "it needs initials")
    followed = _carry_out(line, command, at)
    return [_act(line, command, at), *followed]


def _carry_out(  # noqa: PLR0911 - one answer a command
    line: Line, command: Command, at: Moment
) -> list[Event]:
    alarms, by = line.alarms, By(command.who, getattr(command, "why", ""))
    match command:
        case Acknowledge():
            return people.acknowledge(alarms, command.alarm, by, at)
        case ResetLatch():
            return people.reset(alarms, command.alarm, by, at)
        case Shelve():
            return people.shelve(alarms, command.alarm, command.for_s, by, at)
        case Unshelve():
            return people.unshelve(alarms, command.alarm, by, at)
        case TakeOutOfService():
            return people.remove(alarms, command.subject, by, at)
        case ReturnToService():
            return people.put_back(alarms, command.subject, by, at)
        case _:
            return _about_line(line, command, at)


def _about_line(line: Line, command: Command, at: Moment) -> list[Event]:
    match command:
        case SetLineState():
            return _set_state(line, command, at)
        case MarkMeter():
            return _mark_meter(line, command)
        case EndCollecting():
            return []
        case CaptureFrames():
            return _capture(line, command)
        case HandReading():
            _known_subject(line, command.subject, command)
            return _read_by_hand(line, command, at)
        case _:
            return _written_down(line, command, at)


def _written_down(line: Line, command: Command, at: Moment) -> list[Event]:
    """Carry out what concerns the studies, or only the record."""
    if isinstance(command, WriteNote):
        _known_subject(line, command.subject, command)
        if not command.text.strip():
            raise Refused(_words(command, line.plan), "the note is empty")
    if isinstance(command, LogAddition):
        _known_subject(line, command.bath, command)
    followed = line.studies.obey(line, command, at)
    if followed is None and not isinstance(command, WriteNote | LogAddition):
        raise Refused(_words(command, line.plan), "the line does not know this command")
    return followed or []


def _set_state(line: Line, command: SetLineState, at: Moment) -> list[Event]:
    asked = _words(command, line.plan)
    if command.state not in STATES:
        raise Refused(asked, f"no state {command.state!r}; use one of {', '.join(STATES)}")
    if command.track and command.track not in line.positions.track_names:
        raise Refused(asked, f"there is no track {command.track!r}")
    events: list[Event] = []
    said: dict[str, Part] = {"who": command.who, "why": command.why}
    moved = set_state(line, (command.state, command.track), said, at, events)
    expect(line, moved, at, events)
    return events


def _mark_meter(line: Line, command: MarkMeter) -> list[Event]:
    rectifier = line.rectifiers.get(command.rectifier)
    if rectifier is None:
        raise Refused(
            _words(command, line.plan), f"there is no rectifier {command.rectifier!r}"
        )
    rectifier.ledger.track.stop()
    return []


def _capture(line: Line, command: CaptureFrames) -> list[Event]:
    """Note that frames are to be captured; it is the collector that does it."""
    if not line.plan.links_of(command.subject):
        raise Refused(
            _words(command, line.plan), f"no link brings values of {command.subject!r}"
        )
    if not 0.0 <= command.for_s <= MOST_CAPTURED_S:
        hours = MOST_CAPTURED_S / 3600.0
        raise Refused(_words(command, line.plan), f"{command.for_s:g} s; at most {hours:g} h")
    return []


def _read_by_hand(line: Line, command: HandReading, at: Moment) -> list[Event]:
    try:
        line.hands.take(command, at)
    except LinewatchError as error:
        raise Refused(_words(command, line.plan), str(error)) from error
    events: list[Event] = []
    for alarm in line.overdue.checked(f"{command.subject}.{command.kind}", at.mono_ns):
        events += line.alarms.turned(alarm, at, None, active=False)
    return events


def _known_subject(line: Line, subject: str, command: Command) -> None:
    if subject not in line.plan.subjects:
        raise Refused(_words(command, line.plan), f"there is no {subject!r} on this line")


def _words(command: Command, plan: LinePlan) -> str:
    """Return a command in words and names: 'acknowledge 9 Nickel 1: level low'."""
    name = "".join(
        f" {letter.lower()}" if letter.isupper() else letter
        for letter in type(command).__name__
    ).strip()
    parts = asdict(command)
    about, first = next(
        ((key, str(part)) for key, part in parts.items() if key != "who"), ("", "")
    )
    # A load's number stays as it was typed, whatever else is called so.
    if about != "load":
        first = _named(plan, first)
    return f"{name} {first}{_read_off(command)}".strip()


def _read_off(command: Command) -> str:
    """Return what a person read off, with its unit: ': temperature 66 degC'; else ''."""
    if not isinstance(command, HandReading):
        return ""
    kind = MEASUREMENTS.get(command.kind.partition(".")[0])
    what = spoken(command.kind) if kind is not None else command.kind
    unit = "" if command.unit == what else command.unit
    return f": {what} {command.value:g} {unit}".rstrip()


def _named(plan: LinePlan, what: str) -> str:
    """Return what people call the thing, or the alarm, of an id; other words as they are."""
    condition = next((each for each in plan.conditions if each.id == what), None)
    if condition is not None:
        return named(plan, condition)
    return "all alarms" if what == "*" else called(plan, what)


def _act(line: Line, command: Command, at: Moment) -> Event:
    parts: dict[str, Part] = asdict(command)
    subject = next(
        (
            str(parts[key])
            for key in ("subject", "bath", "tank", "rectifier", "alarm", "track")
            if parts.get(key) not in {None, "", "*"}
        ),
        line.plan.line_id,
    )
    said = next((parts[key] for key in REMARKS if parts.get(key)), "")
    items = str(parts.get("item") or "").replace(",", ", ")
    why = f": {items} {said}" if items else f": {said}" if said else ""
    return Event(
        kind=_KIND.get(type(command), EventKind.COMMAND),
        subject=subject,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=f"{_words(command, line.plan)} by {command.who}{why}",
        values={"what": type(command).__name__, **parts},
    )
