"""What would make a bad actor quieter: a delay and a deadband from its own history.

A suggestion is never applied by itself; it is rehearsed on the record, and a person decides.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from statistics import quantiles
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.performance import Announcement
from linewatch.core.alarms.states import State
from linewatch.core.events import EventKind
from linewatch.core.plan import PRIORITIES

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from linewatch.core.events import Event
    from linewatch.core.plan import ConditionPlan, LinePlan, Priority

NS: Final = 1_000_000_000
OFTEN: Final = 3
"""Fewer announcements in a span are no bad actor."""
DELAYS_S: Final = (15, 30, 60, 120, 300, 600)
"""Delays that people set; a longer one hides what must be seen."""
WIDER: Final = 2.0
"""Twice its deadband, for what comes and goes at its limit. Common practice."""
_UNSEEN: Final = State.UNACKNOWLEDGED.word
_OVER: Final = frozenset({"clear", "clear-latched"})
_COMPARED: Final = frozenset({"high-high", "high", "low", "low-low", "deviation", "rate"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A suggestion for one alarm."""

    alarm: str
    came: int
    """How often it was announced."""
    on_delay_s: float
    deadband: float


def announcements(events: Iterable[Event]) -> list[Announcement]:
    """Return every occurrence of every alarm that some events tell of, in order of time.

    Args:
        events: In order; others than alarms are passed over.

    Returns:
        The occurrences; one that is not over has no end.
    """
    found: list[Announcement] = []
    open_: dict[str, int] = {}
    for event in events:
        if event.kind is not EventKind.ALARM:
            continue
        name, move = str(event.values.get("alarm")), str(event.values.get("move"))
        if move == "occur" and event.values.get("to") == _UNSEEN:
            open_[name] = len(found)
            found.append(
                Announcement(
                    alarm=name,
                    priority=_priority(event.values.get("priority")),
                    at_ns=event.mono_ns,
                )
            )
        elif move in _OVER and name in open_:
            place = open_.pop(name)
            found[place] = replace(found[place], over_ns=event.mono_ns)
    return found


def _priority(said: object) -> Priority:
    return next((each for each in PRIORITIES if each == said), "medium")


def remedies(plan: LinePlan, occurred: Sequence[Announcement]) -> list[Remedy]:
    """Return a suggestion for each alarm that came often and was soon over.

    Args:
        plan: The line as it is configured.
        occurred: What was announced.

    Returns:
        The most frequent first: a delay that three of four occurrences would not have
        outlasted, and a wider deadband. None for what lasted: that alarm means something.
    """
    conditions = {each.id: each for each in plan.conditions}
    found = []
    for name, count in Counter(each.alarm for each in occurred).most_common():
        condition = conditions.get(name)
        if count < OFTEN or condition is None:
            continue
        remedy = _remedy(condition, [each for each in occurred if each.alarm == name])
        if remedy is not None:
            found.append(remedy)
    return found


def _remedy(condition: ConditionPlan, mine: Sequence[Announcement]) -> Remedy | None:
    lasted_s = [(e.over_ns - e.at_ns) / NS for e in mine if e.over_ns is not None]
    if len(lasted_s) < OFTEN:
        return None
    usual_s = quantiles(lasted_s, n=4)[2]
    had_s = condition.on_delay_ns / NS
    # What was announced had outlasted the present delay already.
    delay_s = next((each for each in DELAYS_S if each >= had_s + usual_s), None)
    if delay_s is None:
        return None
    wider = WIDER if condition.kind in _COMPARED else 1.0
    return Remedy(
        alarm=condition.id,
        came=len(mine),
        on_delay_s=float(delay_s),
        deadband=wider * condition.deadband,
    )


def with_remedies(plan: LinePlan, chosen: Iterable[Remedy]) -> LinePlan:
    """Return a plan in which suggestions are in force, to rehearse them.

    Args:
        plan: The plan.
        chosen: The suggestions.

    Returns:
        Another plan; the fingerprint stays, since it is only tried.
    """
    by_alarm = {each.alarm: each for each in chosen}
    return replace(
        plan,
        conditions=tuple(
            replace(
                each,
                on_delay_ns=round(by_alarm[each.id].on_delay_s * NS),
                deadband=by_alarm[each.id].deadband,
            )
            if each.id in by_alarm
            else each
            for each in plan.conditions
        ),
    )
