"""What people ask of the line, carried out or refused. Nothing reaches a field device."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from linewatch.core.commands import (
    Acknowledge,
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
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.line.positions import STATES

if TYPE_CHECKING:
    from linewatch.core.events import Part
    from linewatch.core.line.machine import Line
    from linewatch.core.ports import Order
    from linewatch.core.readings import Moment

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
        raise Refused(_words(command), "it needs initials")
    followed = _carry_out(line, command, at)
    return [_act(line, command, at), *followed]


def _carry_out(line: Line, command: Command, at: Moment) -> list[Event]:  # noqa: C901, PLR0911
    who, alarms = command.who, line.alarms
    match command:
        case Acknowledge():
            return alarms.acknowledge(command.alarm, who, at)
        case ResetLatch():
            return alarms.reset(command.alarm, who, at)
        case Shelve():
            return alarms.shelve(command.alarm, command.for_s, (who, command.why), at)
        case Unshelve():
            return alarms.unshelve(command.alarm, who, at)
        case TakeOutOfService():
            return alarms.remove(command.subject, (who, command.why), at)
        case ReturnToService():
            return alarms.put_back(command.subject, who, at)
        case SetLineState():
            return _set_state(line, command, at)
        case MarkMeter():
            return _mark_meter(line, command)
        case EndCollecting():
            return []
        case HandReading() | WriteNote():
            _known_subject(line, command.subject, command)
            return []
        case LogAddition():
            _known_subject(line, command.bath, command)
            return []
        case _:
            raise Refused(_words(command), "the line does not know this command")


def _set_state(line: Line, command: SetLineState, at: Moment) -> list[Event]:
    asked = _words(command)
    if command.state not in STATES:
        raise Refused(asked, f"no state {command.state!r}; use one of {', '.join(STATES)}")
    if command.track and command.track not in {tank.track for tank in line.plan.tanks}:
        raise Refused(asked, f"there is no track {command.track!r}")
    events: list[Event] = []
    said = {"who": command.who, "why": command.why}
    moved = line.set_state(command.state, command.track, said, at, events)
    line.expect(moved, at, events)
    return events


def _mark_meter(line: Line, command: MarkMeter) -> list[Event]:
    rectifier = line.rectifiers.get(command.rectifier)
    if rectifier is None:
        raise Refused(_words(command), f"there is no rectifier {command.rectifier!r}")
    rectifier.ledger.mark_meter()
    return []


def _known_subject(line: Line, subject: str, command: Command) -> None:
    plan = line.plan
    known = {each.id for each in (*plan.tanks, *plan.rectifiers, *plan.baths)}
    if subject not in known | {plan.line_id}:
        raise Refused(_words(command), f"there is no {subject!r} on this line")


def _words(command: Command) -> str:
    """Return a command in words: 'acknowledge nickel-1.temperature.low'."""
    name = "".join(
        f" {letter.lower()}" if letter.isupper() else letter
        for letter in type(command).__name__
    ).strip()
    parts = asdict(command)
    first = next((str(part) for key, part in parts.items() if key != "who"), "")
    return f"{name} {first}".strip()


def _act(line: Line, command: Command, at: Moment) -> Event:
    parts: dict[str, Part] = asdict(command)
    subject = next(
        (
            str(parts[key])
            for key in ("subject", "bath", "rectifier", "alarm", "track")
            if parts.get(key) not in {None, "", "*"}
        ),
        line.plan.line_id,
    )
    why = f": {parts['why']}" if parts.get("why") else ""
    return Event(
        kind=_KIND.get(type(command), EventKind.COMMAND),
        subject=subject,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=f"{_words(command)} by {command.who}{why}",
        values={"what": type(command).__name__, **parts},
    )
