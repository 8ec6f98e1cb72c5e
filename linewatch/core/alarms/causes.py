"""Which alarm is the consequence of which: one cause is one call for attention.

Rule 1: what may follow from what stands in the plan (`ConditionPlan.causes`). A consequence is
        put aside while its cause stands, is counted behind it, and is announced by itself if
        it is still there when the cause has gone, after its whole on-delay.
Rule 2: what had begun well before its cause is no consequence of it and stays where it stands.
Rule 3: a cause that is suspected (it has told once and waits for its delay) holds back what
        would follow from it, so that the cause is what people hear of first.
Rule 4: what warns of danger to people is nobody's consequence.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import State
from linewatch.core.plan import LinePlan

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.alarms.alarm import Alarms
    from linewatch.core.events import Event
    from linewatch.core.readings import Moment

FOLLOWS: Final = "follows from "
"""What the reason of an alarm begins with that is put aside as a consequence; then the id."""


@dataclass(slots=True)
class Causes:
    """Causes and consequences, by the numbers of their alarms."""

    plan: LinePlan
    of: dict[int, tuple[tuple[int, int], ...]] = field(init=False)
    """By consequence: (cause, how much earlier it may have begun [ns])."""
    follow: dict[int, tuple[int, ...]] = field(init=False)
    """By cause: what follows from it."""
    behind: dict[int, int] = field(default_factory=dict)
    """By consequence that is put aside: its cause."""
    suspected: set[int] = field(default_factory=set)
    """Causes that have told, but not for long enough to be announced."""

    def __post_init__(self) -> None:
        conditions = self.plan.conditions
        number = {condition.id: k for k, condition in enumerate(conditions)}
        follow: dict[int, list[int]] = {}
        self.of = {}
        for alarm, condition in enumerate(conditions):
            known = tuple(
                (number[cause.id], cause.lead_ns)
                for cause in condition.causes
                if cause.id in number and condition.may_be_suppressed
            )
            if known:
                self.of[alarm] = known
            for cause, _ in known:
                follow.setdefault(cause, []).append(alarm)
        self.follow = {cause: tuple(alarms) for cause, alarms in follow.items()}

    def lead_ns(self, alarm: int, cause: int) -> int:
        """Return how much earlier than its cause a consequence may have begun [ns]."""
        return next(lead for each, lead in self.of[alarm] if each == cause)

    def reason(self, alarm: int) -> str:
        """Return why an alarm is put aside; '' if it is no consequence now."""
        cause = self.behind.get(alarm)
        return "" if cause is None else f"{FOLLOWS}{self.plan.conditions[cause].id}"

    def remember(self) -> dict[str, object]:
        """Return all that the future depends on, by the ids of alarms; see `recall`."""
        name = [condition.id for condition in self.plan.conditions] if self.of else []
        return {
            "behind": {name[k]: name[self.behind[k]] for k in sorted(self.behind)},
            "suspected": [name[k] for k in sorted(self.suspected)],
        }

    def recall(self, kept: Mapping[str, object], number: Mapping[str, int]) -> None:
        """Go on from what was remembered, but for what the plan no longer has.

        Args:
            kept: As `remember` told it; parts may be missing.
            number: Of each alarm, by its id.
        """
        behind, suspected = kept.get("behind"), kept.get("suspected")
        for name, cause in (behind if isinstance(behind, dict) else {}).items():
            if name in number and cause in number:
                self.behind[number[name]] = number[cause]
        for name in suspected if isinstance(suspected, list) else ():
            if name in number:
                self.suspected.add(number[name])


def suspect(alarms: Alarms, cause: int, at: Moment, *, is_suspected: bool) -> list[Event]:
    """Take whether a cause tells, but not for long enough to be announced.

    Args:
        alarms: The line's alarms.
        cause: Number of its alarm.
        at: When.
        is_suspected: Whether it does.

    Returns:
        Events.
    """
    suspected = alarms.causes.suspected
    if (cause in suspected) == is_suspected or cause not in alarms.causes.follow:
        return []
    (suspected.add if is_suspected else suspected.discard)(cause)
    alarms.changed = True
    return follow(alarms, cause, at)


def holds(alarms: Alarms, cause: int) -> bool:
    """Say whether a cause stands, or is suspected, so that it explains what follows from it."""
    if cause in alarms.suppressed_by or alarms.state[cause] is State.OUT_OF_SERVICE:
        return False
    return alarms.active[cause] or cause in alarms.causes.suspected


def find_cause(alarms: Alarms, alarm: int) -> bool:
    """Put an alarm that begins now behind a cause that stands; say whether there is one."""
    causes = alarms.causes
    for cause, _ in causes.of.get(alarm, ()):
        if holds(alarms, cause):
            causes.behind[alarm] = cause
            alarms.changed = True
            return True
    return False


def fall_in(alarms: Alarms, alarm: int, at: Moment) -> list[Event]:
    """Put an alarm aside, if a cause stands that explains it.

    Args:
        alarms: The line's alarms.
        alarm: Number of the alarm.
        at: When.

    Returns:
        Events.
    """
    if alarm in alarms.causes.behind or not find_cause(alarms, alarm):
        return []
    return alarms.put_aside(alarm, at)


def follow(alarms: Alarms, cause: int, at: Moment) -> list[Event]:
    """Let the consequences of an alarm be where it puts them.

    Args:
        alarms: The line's alarms.
        cause: Number of the alarm; one from which nothing follows moves nothing.
        at: When.

    Returns:
        Events.
    """
    following = alarms.causes.follow.get(cause)
    if following is None:
        return []
    events: list[Event] = []
    if holds(alarms, cause):
        for alarm in following:
            if _began_with(alarms, alarm, cause, at):
                events += fall_in(alarms, alarm, at)
        return events
    for alarm in following:
        if alarms.causes.behind.get(alarm) == cause:
            events += _leave(alarms, alarm, at)
    return events


def _began_with(alarms: Alarms, alarm: int, cause: int, at: Moment) -> bool:
    """Say whether an alarm stands that began no longer ago than its cause allows."""
    detail = alarms.detail.get(alarm)
    if not alarms.active[alarm] or detail is None:
        return False
    return at.utc_ns - detail.since_utc_ns <= alarms.causes.lead_ns(alarm, cause)


def _leave(alarms: Alarms, alarm: int, at: Moment) -> list[Event]:
    """Let a consequence go whose cause has gone, or put it behind another that stands."""
    alarms.changed = True
    del alarms.causes.behind[alarm]
    has_other = find_cause(alarms, alarm)
    if not has_other and alarm not in alarms.suppressed_by and alarms.begin_again is not None:
        alarms.begin_again(alarm, at)
    return alarms.put_aside(alarm, at) + follow(alarms, alarm, at)
