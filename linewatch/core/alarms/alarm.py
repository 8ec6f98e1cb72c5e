"""Every alarm of the line: where it stands, and how it moves.

Rule 1: a move goes through the table of `states`, and is told as an event if anybody sees it:
        if the alarm stood in the list before or does so after, or if a person moved it.
Rule 2: an alarm that comes back (from a shelf, from suppression, from being out of service)
        is settled at once: suppressed if the line's state or a cause asks for it, announced
        if its condition holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms import causes
from linewatch.core.alarms.causes import Causes
from linewatch.core.alarms.flood import Flood
from linewatch.core.alarms.limits import NEVER
from linewatch.core.alarms.states import (
    STANDING,
    TABLE,
    Move,
    State,
    moved,
)
from linewatch.core.alarms.wording import named, sentence
from linewatch.core.events import Event, EventKind
from linewatch.core.plan import LinePlan
from linewatch.core.readings import Moment

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Part
    from linewatch.core.plan import ConditionPlan

_GOES_ON = frozenset({Move.ACKNOWLEDGE, Move.CLEAR, Move.CLEAR_LATCHED})
"""Moves after which it is still the same occurrence, with the time at which it began."""
_QUIET = frozenset({State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE})


@dataclass(frozen=True, slots=True)
class By:
    """Who did something and why; empty if nobody did."""

    who: str = ""
    why: str = ""


NOBODY = By()


@dataclass(slots=True)
class Detail:
    """What is known of an alarm that is not plainly normal."""

    since_utc_ns: int
    value: float | None = None
    acknowledged_by: str = ""
    until_ns: int | None = None
    """Line time at which a shelved alarm comes back."""
    until_utc_ns: int | None = None
    why: str = ""
    removed_by: str = ""
    """Subject that was taken out of service, or the alarm itself."""


@dataclass(slots=True)
class Alarms:
    """All alarms of a line, by number: the place of their condition in the plan."""

    plan: LinePlan
    state: list[State] = field(default_factory=list)
    active: list[bool] = field(default_factory=list)
    """Whether the condition has been announced by its timers, whatever the state."""
    suppressed_by: dict[int, str] = field(default_factory=dict)
    """What the line is doing that makes the alarm expected, by number."""
    detail: dict[int, Detail] = field(default_factory=dict)
    applied: dict[int, float] = field(default_factory=dict)
    """Limit by which an alarm was told last, where what is usual made it wider, by number."""
    causes: Causes = field(init=False)
    begin_again: Callable[[int, Moment], None] | None = None
    """Lets whatever judges an alarm begin anew, with its whole on-delay; set by the line."""
    out: dict[str, str] = field(default_factory=dict)
    """Tanks and rectifiers out of service, with the reason."""
    flood: Flood = field(init=False)
    number: dict[str, int] = field(init=False)
    by_subject: dict[str, list[int]] = field(init=False)
    changed: bool = True
    _odd: set[int] = field(default_factory=set)
    """Numbers of those that are not normal: a few of ten thousand."""
    next_ns: int = NEVER
    """When the next shelved alarm comes back."""

    def __post_init__(self) -> None:
        conditions = self.plan.conditions
        self.state = [State.NORMAL] * len(conditions)
        self.active = [False] * len(conditions)
        self.causes = Causes(self.plan)
        self.flood = Flood(self.plan.flood_start_per_10min, self.plan.flood_end_per_10min)
        self.number = {condition.id: k for k, condition in enumerate(conditions)}
        self.by_subject = {}
        for k, condition in enumerate(conditions):
            self.by_subject.setdefault(self.subject(condition), []).append(k)

    def not_normal(self) -> list[int]:
        """Return the numbers of all alarms that are not normal, in the order of the plan."""
        return sorted(self._odd)

    def subject(self, condition: ConditionPlan) -> str:
        """Return the tank, rectifier or other subject that a condition belongs to."""
        tag = self.plan.tags.get(condition.tag)
        return tag.subject if tag is not None else condition.tag.split(".", 1)[0]

    # What the conditions and the line do.

    def turned(
        self, alarm: int, at: Moment, value: float | None, *, active: bool
    ) -> list[Event]:
        """Take what an alarm's timers announce.

        Args:
            alarm: Number of the alarm.
            at: When.
            value: The value that did it, if there is a good one.
            active: Whether the condition holds.

        Returns:
            Events, a flood's among them.
        """
        self.active[alarm] = active
        self.changed = True
        events = self._came(alarm, at, value) if active else self._went(alarm, at, value)
        return events + causes.follow(self, alarm, at)

    def _came(self, alarm: int, at: Moment, value: float | None) -> list[Event]:
        events = causes.fall_in(self, alarm, at) if alarm in self.causes.of else []
        return events + self._occur(alarm, at, value)

    def _went(self, alarm: int, at: Moment, value: float | None) -> list[Event]:
        if self.causes.behind.pop(alarm, None) is not None:
            return self.put_aside(alarm, at)
        latches = self.plan.conditions[alarm].latch
        move = Move.CLEAR_LATCHED if latches else Move.CLEAR
        # Normal already: it came back from a shelf or from suppression before it cleared.
        if (self.state[alarm], move) not in TABLE:
            return []
        return self.move(alarm, move, at, value=value)

    def _occur(self, alarm: int, at: Moment, value: float | None) -> list[Event]:
        events = self.move(alarm, Move.OCCUR, at, value=value)
        if self.state[alarm] is State.UNACKNOWLEDGED:
            events += self._announced(alarm, at)
        return events

    def _announced(self, alarm: int, at: Moment) -> list[Event]:
        if not self.flood.announced(alarm, at.mono_ns):
            return []
        condition = self.plan.conditions[self.flood.first_out]
        first = condition.id
        count = len(self.flood.recent)
        return [
            self._told(
                EventKind.FLOOD,
                at,
                f"alarm flood: {count} alarms within 10 min; those of the last minute began"
                f" with {named(self.plan, condition)}",
                {"on": True, "count": count, "first_out": first},
            )
        ]

    def suppress(self, alarm: int, reason: str, at: Moment) -> list[Event]:
        """Take what makes an alarm expected now.

        Args:
            alarm: Number of the alarm.
            reason: Name of the suppression; '' if there is none.
            at: When.

        Returns:
            Events.
        """
        before = self.suppressed_by.get(alarm, "")
        if reason == before:
            return []
        self.changed = True
        if reason:
            self.suppressed_by[alarm] = reason
        else:
            self.suppressed_by.pop(alarm, None)
        return self.put_aside(alarm, at) + causes.follow(self, alarm, at)

    def put_aside(self, alarm: int, at: Moment) -> list[Event]:
        """Put an alarm aside for whatever reason there is now, or bring it back.

        Args:
            alarm: Number of the alarm.
            at: When.

        Returns:
            Events.
        """
        reason, state = self._reason(alarm), self.state[alarm]
        if reason and (state, Move.SUPPRESS) in TABLE:
            return self.move(alarm, Move.SUPPRESS, at, By(why=reason))
        if state is State.SUPPRESSED:
            self.detail[alarm].why = reason
            if not reason:
                return self.move(alarm, Move.UNSUPPRESS, at) + self.settle(alarm, at)
        return []

    def _reason(self, alarm: int) -> str:
        return self.suppressed_by.get(alarm, "") or self.causes.reason(alarm)

    def passed(self, at: Moment) -> list[Event]:
        """Let time go by: shelved alarms come back, a flood may end.

        Args:
            at: Now.

        Returns:
            Events.
        """
        events: list[Event] = []
        if self.next_ns <= at.mono_ns:
            for alarm, detail in sorted(self.detail.items()):
                if detail.until_ns is not None and detail.until_ns <= at.mono_ns:
                    events += self.come_back(alarm, Move.UNSHELVE, at)
        was = len(self.flood.recent)
        if self.flood.passed(at.mono_ns):
            events.append(
                self._told(EventKind.FLOOD, at, "the alarm flood is over", {"on": False})
            )
        self.changed = self.changed or was != len(self.flood.recent)
        return events

    def come_back(self, alarm: int, move: Move, at: Moment, by: By = NOBODY) -> list[Event]:
        """Bring an alarm back from a shelf or from being out of service.

        Args:
            alarm: Number of the alarm.
            move: How.
            at: When.
            by: Who; nobody if it comes back by itself.

        Returns:
            Events: its return, and what its condition says now.

        Raises:
            Refused: the table has no such move; nothing has changed.
        """
        events = self.move(alarm, move, at, by)
        self.find_next()
        return events + self.settle(alarm, at) + causes.follow(self, alarm, at)

    def settle(self, alarm: int, at: Moment) -> list[Event]:
        """Let an alarm that has come back be what it is now.

        Args:
            alarm: Number of the alarm; it is normal.
            at: When.

        Returns:
            Events.
        """
        if self.active[alarm]:
            causes.find_cause(self, alarm)
        reason = self._reason(alarm)
        if reason:
            return self.move(alarm, Move.SUPPRESS, at, By(why=reason))
        return self._occur(alarm, at, None) if self.active[alarm] else []

    def move(
        self,
        alarm: int,
        move: Move,
        at: Moment,
        by: By = NOBODY,
        value: float | None = None,
    ) -> list[Event]:
        """Move an alarm.

        Args:
            alarm: Number of the alarm.
            move: How.
            at: When.
            by: Who and why, if a person did it.
            value: The value that did it, if there is a good one.

        Returns:
            The move as an event, if anybody sees it.

        Raises:
            Refused: the table has no such move; nothing has changed.
        """
        condition = self.plan.conditions[alarm]
        before = self.state[alarm]
        after = moved(before, move, condition.id)
        self.changed = True
        self.state[alarm] = after
        (self._odd.discard if after is State.NORMAL else self._odd.add)(alarm)
        value = self._keep_detail(alarm, move, at, value, by.why)
        if after is before or not _is_told(before, move, after, by):
            return []
        values: dict[str, Part] = {
            "alarm": condition.id,
            "move": str(move),
            "from": before.word,
            "to": after.word,
            "priority": condition.priority,
            "value": value,
            "limit": self.applied.get(alarm, condition.limit),
        }
        values |= {name: said for name, said in (("who", by.who), ("why", by.why)) if said}
        return [
            Event(
                kind=EventKind.ALARM,
                subject=self.subject(condition),
                utc_ns=at.utc_ns,
                mono_ns=at.mono_ns,
                text=sentence(self.plan, condition, move, values),
                values=values,
            )
        ]

    def _keep_detail(
        self, alarm: int, move: Move, at: Moment, value: float | None, why: str
    ) -> float | None:
        """Keep what is to be known of the alarm from now on; return the value that did it."""
        kept = self.detail.get(alarm)
        if value is None and kept is not None:
            value = kept.value
        if self.state[alarm] is State.NORMAL:
            self.detail.pop(alarm, None)
        elif kept is not None and move in _GOES_ON:
            kept.value = value
        elif kept is not None and self.state[alarm] in _QUIET and move is Move.OCCUR:
            kept.value, kept.since_utc_ns = value, at.utc_ns
        else:
            # To be shelved, or put behind a cause, does not make an alarm younger.
            is_one = kept is not None and move in {Move.SHELVE, Move.SUPPRESS}
            since_ns = kept.since_utc_ns if kept is not None and is_one else at.utc_ns
            self.detail[alarm] = Detail(since_ns, value, why=why)
        return value

    def _told(
        self, kind: EventKind, at: Moment, text: str, values: Mapping[str, Part]
    ) -> Event:
        return Event(
            kind=kind,
            subject=self.plan.line_id,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            text=text,
            values=values,
        )

    # What is remembered.

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on, by the ids of alarms; see `recall`."""
        conditions = self.plan.conditions
        return {
            "state": {conditions[k].id: int(self.state[k]) for k in self.not_normal()},
            "active": [conditions[k].id for k, active in enumerate(self.active) if active],
            "suppressed": {conditions[k].id: why for k, why in self.suppressed_by.items()},
            "detail": {conditions[k].id: asdict(each) for k, each in self.detail.items()},
            "applied": {conditions[k].id: limit for k, limit in self.applied.items()},
            "out": self.out,
            "recent": [[ns, conditions[k].id] for ns, k in self.flood.recent],
            "flood": self.flood.is_on,
            "first_out": conditions[self.flood.first_out].id if self.flood.is_on else "",
            **self.causes.remember(),
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for alarms that the plan no longer has."""
        number = self.number
        for name, state in kept["state"].items():
            if name in number:
                self.state[number[name]] = State(state)
                self._odd.add(number[name])
        for name in kept["active"]:
            if name in number:
                self.active[number[name]] = True
        self.suppressed_by = {
            number[name]: why for name, why in kept["suppressed"].items() if name in number
        }
        self.detail = {
            number[name]: Detail(**parts)
            for name, parts in kept["detail"].items()
            if name in number
        }
        self.applied = {
            number[name]: limit
            for name, limit in kept.get("applied", {}).items()
            if name in number
        }
        self.out = dict(kept["out"])
        self.flood.recent.extend(
            (ns, number[name]) for ns, name in kept["recent"] if name in number
        )
        self.flood.is_on = kept["flood"] and kept["first_out"] in number
        self.flood.first_out = number.get(kept["first_out"], -1)
        self.causes.recall(kept, number)
        self.find_next()

    def find_next(self) -> None:
        """Find out when the next shelved alarm comes back."""
        self.next_ns = min(
            (d.until_ns for d in self.detail.values() if d.until_ns is not None), default=NEVER
        )


def _is_told(before: State, move: Move, after: State, by: By) -> bool:
    """Say whether a move is an event."""
    if before in STANDING or after in STANDING or move in {Move.SHELVE, Move.UNSHELVE}:
        return True
    # A tank that is taken out of service is told once, not once for each of its alarms.
    return bool(by.who) and move not in {Move.REMOVE, Move.RETURN}
