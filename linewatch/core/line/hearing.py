"""What the line hears: where loads are, what flows, what the line is doing; and what follows.

Rule 1: signals are heard before alarms are turned, so that what makes an alarm expected is
        known in the same scan.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind
from linewatch.core.line.consequences import begin_timer_again
from linewatch.core.line.positions import STATE_OF_CODE, Visit, load_number
from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.events import Part
    from linewatch.core.line.machine import Line
    from linewatch.core.line.watch import Watch
    from linewatch.core.plan import TagPlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000
EXCHANGED_NS = 5 * NS
"""No hoist takes one load out and puts another in within it. Common practice."""
NOTHING: Mapping[str, Part] = MappingProxyType({})


def hear(
    line: Line, watch: Watch, turned: Iterable[int], at: Moment, events: list[Event]
) -> None:
    """Hear all that a scan tells, and work out anew which alarms are expected.

    Args:
        line: The line.
        watch: The layout that was read.
        turned: Timers whose announcement has turned.
        at: When.
        events: Gets what happened.
    """
    moved = _hear_currents(line, watch, turned)
    for column in watch.pinned.tolist():
        tag = watch.tags[column]
        if tag is not None and watch.quality[column] < Quality.UNCERTAIN:
            moved |= _hear_signal(line, tag, float(watch.value[column]), at, events)
    expect(line, moved, at, events)


def _hear_currents(line: Line, watch: Watch, turned: Iterable[int]) -> set[str]:
    """Note which rectifiers have begun or ceased to deliver current."""
    moved = set()
    for timer in turned:
        number = watch.judge.alarm[timer]
        if number < 0:
            name = watch.ledgers[-1 - number][0].plan.id
            line.positions.has_no_current[name] = bool(watch.timers.active[timer])
            moved.add(name)
    return moved


def _hear_signal(
    line: Line, tag: TagPlan, value: float, at: Moment, events: list[Event]
) -> set[str]:
    match tag.kind:
        case "load-number":
            _hear_number(line, tag.subject, load_number(tag, value), at, events)
            return set()
        case "load-present":
            return _hear_presence(line, tag.subject, at, events, here=value > 0.0)
        case _:
            state = STATE_OF_CODE.get(round(value))
            if state is None:
                return set()
            track = tag.subject if tag.subject in line.positions.track_names else ""
            return set_state(line, (state, track), {"by": tag.id}, at, events)


def _hear_number(line: Line, tank: str, number: str, at: Moment, events: list[Event]) -> None:
    positions = line.positions
    if positions.number.get(tank, "") == number:
        return
    positions.number[tank] = number
    visit = positions.visit.get(tank)
    if visit is None or not number or visit.number == number:
        return
    if not visit.number:
        visit.number = number
        events.append(_about_load(tank, at, "named", visit, f"the load is number {number}"))
    elif (_unseen_ns(line, f"{tank}.load-number") or 0) > EXCHANGED_NS and line.good(
        f"{tank}.load-present"
    ):
        # While nobody looked, one load left and another came in.
        _left(line, tank, at, events)
        _entered(line, tank, at, events)


def _hear_presence(
    line: Line, tank: str, at: Moment, events: list[Event], *, here: bool
) -> set[str]:
    positions = line.positions
    before = positions.present.get(tank)
    if before == here:
        return set()
    positions.present[tank] = here
    if here:
        _entered(line, tank, at, events, is_first=before is None)
    elif before is not None:
        _left(line, tank, at, events)
    return {tank}


def _entered(
    line: Line, tank: str, at: Moment, events: list[Event], *, is_first: bool = False
) -> None:
    positions = line.positions
    positions.changed_ns[tank] = at.mono_ns
    visit = positions.visit[tank] = _visit(line, tank, at)
    load = f"load {visit.number}" if visit.number else "a load"
    text = f"{load} is in already" if is_first else f"{load} came in"
    more = {"is_first": is_first, **_unseen(line, tank)}
    events.append(_about_load(tank, at, "in", visit, text, more))
    line.overdue.begin(tank, at.mono_ns)


def _left(line: Line, tank: str, at: Moment, events: list[Event]) -> None:
    positions = line.positions
    positions.changed_ns[tank] = at.mono_ns
    visit = positions.visit.pop(tank)
    dwell_s = (at.mono_ns - visit.since_ns) / NS
    load = f"load {visit.number}" if visit.number else "the load"
    text = f"{load} left after {dwell_s:.0f} s"
    more = {"dwell_s": dwell_s, **_unseen(line, tank)}
    events.append(_about_load(tank, at, "out", visit, text, more))
    line.overdue.end(tank, at.mono_ns)


def _unseen(line: Line, tank: str) -> dict[str, Part]:
    """Return for how long the station had not been read before it told of a move [s]."""
    unseen_ns = _unseen_ns(line, f"{tank}.load-present")
    return {"unseen_s": None if unseen_ns is None else unseen_ns / NS}


def _unseen_ns(line: Line, tag: str) -> int | None:
    place = line.place(tag)
    return None if place is None else place[0].unseen_ns(place[1])


def _visit(line: Line, tank: str, at: Moment) -> Visit:
    """Return a load's visit, with what its rectifiers had counted when it came in."""
    visit = Visit(line.positions.number.get(tank, ""), at.utc_ns, at.mono_ns)
    plating = line.platings.get(tank)
    if plating is not None:
        visit.cathodic, visit.deposits = plating.sums()
        visit.unmetered_ns = plating.unmetered_ns(at.mono_ns)
    return visit


def _about_load(
    tank: str,
    at: Moment,
    what: str,
    visit: Visit,
    text: str,
    more: Mapping[str, Part] = NOTHING,
) -> Event:
    return Event(
        kind=EventKind.LOAD,
        subject=tank,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=text,
        values={"what": what, "load": visit.number, "tank": tank, **more},
    )


def set_state(
    line: Line,
    to: tuple[str, str],
    said: Mapping[str, Part],
    at: Moment,
    events: list[Event],
) -> set[str]:
    """Set what the line or a track is doing.

    Args:
        line: The line.
        to: (state, track; '' for the whole line).
        said: Who or what says so.
        at: When.
        events: Gets what happened.

    Returns:
        The subjects that it concerns.
    """
    state, track = to
    if not line.positions.set_state(state, track):
        return set()
    values = {"state": state, "track": track, **said}
    text = f"{track}: {state}" if track else state
    events.append(line.event(EventKind.LINE_STATE, at, text, values))
    return set(line.alarms.by_subject)


def expect(line: Line, moved: set[str], at: Moment, events: list[Event]) -> None:
    """Work out anew which alarms are expected, for subjects whose state has moved.

    Args:
        line: The line.
        moved: Tanks and rectifiers of which something has become known.
        at: When.
        events: Gets what happened.
    """
    if not moved:
        return
    concerned: set[str] = set().union(*(line.positions.affected(each) for each in moved))
    for subject in sorted(concerned):
        for alarm in line.alarms.by_subject.get(subject, ()):
            condition = line.plan.conditions[alarm]
            names = condition.suppress_when if condition.may_be_suppressed else ()
            if not names:
                continue
            reason = line.positions.expected(subject, names)
            if not reason and alarm in line.alarms.suppressed_by:
                begin_timer_again(line, alarm, at)
            events += line.alarms.suppress(alarm, reason, at)
