"""What people do to alarms.

Rule: an act is checked whole before anything changes. What is refused has changed nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.alarms import states
from linewatch.core.alarms.causes import follow
from linewatch.core.alarms.states import TO_ACKNOWLEDGE, Move, State
from linewatch.core.alarms.wording import called, title
from linewatch.core.errors import Refused

if TYPE_CHECKING:
    from linewatch.core.alarms.alarm import Alarms, By
    from linewatch.core.events import Event
    from linewatch.core.readings import Moment

NS = 1_000_000_000
DANGER = "it warns of danger to people and is never put aside"
ALL = "*"


def acknowledge(alarms: Alarms, name: str, by: By, at: Moment) -> list[Event]:
    """Acknowledge an alarm, or all that wait for it.

    Args:
        alarms: The line's alarms.
        name: Id of the alarm; '*' for all.
        by: Who.
        at: When.

    Returns:
        Events.

    Raises:
        Refused: there is no such alarm, or nothing to acknowledge.
    """
    if name == ALL:
        numbers = [k for k, state in enumerate(alarms.state) if state in TO_ACKNOWLEDGE]
        if not numbers:
            raise Refused("seen: all alarms", "none waits to be seen")
    else:
        numbers = [_number(alarms, name, Move.ACKNOWLEDGE)]
    events: list[Event] = []
    for alarm in numbers:
        events += _move(alarms, alarm, Move.ACKNOWLEDGE, at, by)
        if alarm in alarms.detail:
            alarms.detail[alarm].acknowledged_by = by.who
    return events


def reset(alarms: Alarms, name: str, by: By, at: Moment) -> list[Event]:
    """Release a latched alarm.

    Args:
        alarms: The line's alarms.
        name: Id of the alarm.
        by: Who.
        at: When.

    Returns:
        Events.

    Raises:
        Refused: there is no such alarm, or it is not latched and acknowledged.
    """
    return _move(alarms, _number(alarms, name, Move.RESET), Move.RESET, at, by)


def shelve(alarms: Alarms, name: str, for_s: float, by: By, at: Moment) -> list[Event]:
    """Put an alarm aside for a limited time.

    Args:
        alarms: The line's alarms.
        name: Id of the alarm.
        for_s: For how long [s].
        by: Who and why.
        at: When.

    Returns:
        Events.

    Raises:
        Refused: no such alarm, no reason, too long, or it is shelved or out of service.
    """
    alarm, longest_s = _number(alarms, name, Move.SHELVE), alarms.plan.shelve_longest_s
    asked = states.asked(Move.SHELVE, _called(alarms, name))
    if not 0.0 < for_s <= longest_s:
        reason = f"{for_s / 60.0:g} min is not above 0 and up to {longest_s / 60.0:g} min"
        raise Refused(asked, reason)
    if not alarms.plan.conditions[alarm].may_be_suppressed:
        raise Refused(asked, DANGER)
    _needs_reason(asked, by)
    events = _move(alarms, alarm, Move.SHELVE, at, by)
    detail, span_ns = alarms.detail[alarm], round(for_s * NS)
    detail.until_ns, detail.until_utc_ns = at.mono_ns + span_ns, at.utc_ns + span_ns
    alarms.find_next()
    return events


def unshelve(alarms: Alarms, name: str, by: By, at: Moment) -> list[Event]:
    """Bring a shelved alarm back.

    Args:
        alarms: The line's alarms.
        name: Id of the alarm.
        by: Who.
        at: When.

    Returns:
        Events.

    Raises:
        Refused: there is no such alarm, or it is not shelved.
    """
    return _come_back(alarms, _number(alarms, name, Move.UNSHELVE), Move.UNSHELVE, at, by)


def remove(alarms: Alarms, subject: str, by: By, at: Moment) -> list[Event]:
    """Take an alarm, or all alarms of a tank or rectifier, out of service.

    What warns of danger to people stays in service: who mends a heater stands beside it.

    Args:
        alarms: The line's alarms.
        subject: Id of the alarm, tank or rectifier.
        by: Who and why.
        at: When.

    Returns:
        Events.

    Raises:
        Refused: unknown, out of service already, no reason, or a danger to people.
    """
    asked = states.asked(Move.REMOVE, _called(alarms, subject))
    _needs_reason(asked, by)
    if subject in alarms.number:
        numbers = [alarms.number[subject]]
        if not alarms.plan.conditions[numbers[0]].may_be_suppressed:
            raise Refused(asked, DANGER)
    else:
        _needs_equipment(alarms, subject, asked)
        if subject in alarms.out:
            raise Refused(asked, "it is out of service already")
        alarms.out[subject] = by.why
        alarms.changed = True
        numbers = [
            alarm
            for alarm in alarms.by_subject.get(subject, [])
            if alarms.state[alarm] is not State.OUT_OF_SERVICE
            and alarms.plan.conditions[alarm].may_be_suppressed
        ]
    events: list[Event] = []
    for alarm in numbers:
        events += _move(alarms, alarm, Move.REMOVE, at, by)
        alarms.detail[alarm].removed_by = subject
    for alarm in numbers:
        events += follow(alarms, alarm, at)
    alarms.find_next()
    return events


def put_back(alarms: Alarms, subject: str, by: By, at: Moment) -> list[Event]:
    """Put an alarm, tank or rectifier back into service.

    Args:
        alarms: The line's alarms.
        subject: Id of the alarm, tank or rectifier.
        by: Who.
        at: When.

    Returns:
        Events.

    Raises:
        Refused: unknown, or not out of service.
    """
    asked = states.asked(Move.RETURN, _called(alarms, subject))
    if subject in alarms.number:
        return _come_back(alarms, alarms.number[subject], Move.RETURN, at, by)
    _needs_equipment(alarms, subject, asked)
    if subject not in alarms.out:
        raise Refused(asked, "it is in service")
    del alarms.out[subject]
    alarms.changed = True
    removed = [k for k, detail in sorted(alarms.detail.items()) if detail.removed_by == subject]
    return [
        event for alarm in removed for event in alarms.come_back(alarm, Move.RETURN, at, by)
    ]


def _number(alarms: Alarms, name: str, move: Move) -> int:
    number = alarms.number.get(name)
    if number is None:
        raise Refused(states.asked(move, name), "there is no such alarm")
    return number


def _called(alarms: Alarms, name: str) -> str:
    """Return what people call an alarm or a thing: 'Nickel 1 rectifier, current low'."""
    number = alarms.number.get(name)
    if number is None:
        return called(alarms.plan, name)
    condition = alarms.plan.conditions[number]
    subject = condition.tag.partition(".")[0]
    return f"{called(alarms.plan, subject)}, {title(alarms.plan, condition)}"


def _move(alarms: Alarms, alarm: int, move: Move, at: Moment, by: By) -> list[Event]:
    """Move an alarm; what is refused is told by names."""
    try:
        return alarms.move(alarm, move, at, by)
    except Refused as refused:
        raise _by_name(alarms, alarm, move, refused) from None


def _come_back(alarms: Alarms, alarm: int, move: Move, at: Moment, by: By) -> list[Event]:
    """Bring an alarm back; what is refused is told by names."""
    try:
        return alarms.come_back(alarm, move, at, by)
    except Refused as refused:
        raise _by_name(alarms, alarm, move, refused) from None


def _by_name(alarms: Alarms, alarm: int, move: Move, refused: Refused) -> Refused:
    name = _called(alarms, alarms.plan.conditions[alarm].id)
    return Refused(states.asked(move, name), refused.reason)


def _needs_reason(asked: str, by: By) -> None:
    if not by.why.strip():
        raise Refused(asked, "it needs a reason")


def _needs_equipment(alarms: Alarms, subject: str, asked: str) -> None:
    plan = alarms.plan
    tanks = {tank.id for tank in plan.tanks}
    if subject not in tanks | {rectifier.id for rectifier in plan.rectifiers}:
        raise Refused(asked, "there is no such alarm, tank or rectifier")
