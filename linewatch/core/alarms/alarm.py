"""Every alarm of the line: where it stands, how it moves, and who did what to it.

Rule 1: a move goes through the table of `states`, and is told as an event if anybody sees it:
        if the alarm stood in the list before or does so after, or if a person moved it.
Rule 2: a person's act is checked whole before anything changes. What is refused has changed
        nothing.
Rule 3: an alarm that comes back (from a shelf, from suppression, from being out of service)
        is settled at once: suppressed if the line's state asks for it, announced if its
        condition holds.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms.flood import Flood
from linewatch.core.alarms.limits import NEVER
from linewatch.core.alarms.states import (
    STANDING,
    TABLE,
    TO_ACKNOWLEDGE,
    Move,
    State,
    moved,
)
from linewatch.core.alarms.wording import sentence
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Part
    from linewatch.core.plan import ConditionPlan, LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000

_GOES_ON = frozenset({Move.ACKNOWLEDGE, Move.CLEAR, Move.CLEAR_LATCHED})
"""Moves after which it is still the same occurrence, with the time at which it began."""


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
    out: dict[str, str] = field(default_factory=dict)
    """Tanks and rectifiers out of service, with the reason."""
    flood: Flood = field(init=False)
    number: dict[str, int] = field(init=False)
    by_subject: dict[str, list[int]] = field(init=False)
    changed: bool = True
    next_ns: int = NEVER
    """When the next shelved alarm comes back."""

    def __post_init__(self) -> None:
        conditions = self.plan.conditions
        self.state = [State.NORMAL] * len(conditions)
        self.active = [False] * len(conditions)
        self.flood = Flood(self.plan.flood_start_per_10min, self.plan.flood_end_per_10min)
        self.number = {condition.id: k for k, condition in enumerate(conditions)}
        self.by_subject = {}
        for k, condition in enumerate(conditions):
            self.by_subject.setdefault(self.subject(condition), []).append(k)

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
        if active:
            return self._occur(alarm, at, value)
        latches = self.plan.conditions[alarm].latch
        move = Move.CLEAR_LATCHED if latches else Move.CLEAR
        # Normal already: it came back from a shelf or from suppression before it cleared.
        if (self.state[alarm], move) not in TABLE:
            return []
        return self._move(alarm, move, at, value=value)

    def _occur(self, alarm: int, at: Moment, value: float | None) -> list[Event]:
        events = self._move(alarm, Move.OCCUR, at, value=value)
        if self.state[alarm] is State.UNACKNOWLEDGED:
            events += self._announced(alarm, at)
        return events

    def _announced(self, alarm: int, at: Moment) -> list[Event]:
        if not self.flood.announced(alarm, at.mono_ns):
            return []
        first = self.plan.conditions[self.flood.first_out].id
        count = len(self.flood.recent)
        return [
            self._told(
                EventKind.FLOOD,
                at,
                f"alarm flood: {count} alarms within 10 min, the first was {first}",
                {"on": True, "count": count, "first_out": first},
            )
        ]

    def suppress(self, alarm: int, reason: str, at: Moment) -> list[Event]:
        """Say what makes an alarm expected now, '' if nothing does."""
        before = self.suppressed_by.get(alarm, "")
        if reason == before:
            return []
        self.changed = True
        if reason:
            self.suppressed_by[alarm] = reason
        else:
            self.suppressed_by.pop(alarm, None)
        state = self.state[alarm]
        if reason and (state, Move.SUPPRESS) in TABLE:
            return self._move(alarm, Move.SUPPRESS, at, why=reason)
        if reason and state is State.SUPPRESSED:
            self._detail(alarm, at).why = reason
        if not reason and state is State.SUPPRESSED:
            return self._move(alarm, Move.UNSUPPRESS, at)
        return []

    def passed(self, at: Moment) -> list[Event]:
        """Let time go by: shelved alarms come back, a flood may end."""
        events: list[Event] = []
        if self.next_ns <= at.mono_ns:
            for alarm, detail in sorted(self.detail.items()):
                if detail.until_ns is not None and detail.until_ns <= at.mono_ns:
                    events += self._unshelve(alarm, at, who="")
        was = len(self.flood.recent)
        if self.flood.passed(at.mono_ns):
            events.append(
                self._told(EventKind.FLOOD, at, "the alarm flood is over", {"on": False})
            )
        self.changed = self.changed or was != len(self.flood.recent)
        return events

    # What people do.

    def acknowledge(self, name: str, who: str, at: Moment) -> list[Event]:
        """Acknowledge an alarm, or all of them ('*').

        Raises:
            Refused: there is no such alarm, or nothing to acknowledge.
        """
        if name != "*":
            alarm = self._known(name, "acknowledge")
            return self._acknowledge(alarm, who, at)
        waiting = [k for k, state in enumerate(self.state) if state in TO_ACKNOWLEDGE]
        if not waiting:
            raise Refused("acknowledge all alarms", "there is nothing to acknowledge")
        return [event for alarm in waiting for event in self._acknowledge(alarm, who, at)]

    def _acknowledge(self, alarm: int, who: str, at: Moment) -> list[Event]:
        events = self._move(alarm, Move.ACKNOWLEDGE, at, who=who)
        if alarm in self.detail:
            self.detail[alarm].acknowledged_by = who
        return events

    def reset(self, name: str, who: str, at: Moment) -> list[Event]:
        """Release a latched alarm.

        Raises:
            Refused: there is no such alarm, or it is not latched and acknowledged.
        """
        return self._move(self._known(name, "reset"), Move.RESET, at, who=who)

    def shelve(self, name: str, for_s: float, by: tuple[str, str], at: Moment) -> list[Event]:
        """Put an alarm aside; `by` is (initials, reason).

        Raises:
            Refused: no such alarm, no reason, too long, or it is shelved or out of service.
        """
        who, why = by
        asked = f"shelve {name}"
        alarm = self._known(name, "shelve")
        longest_s = self.plan.shelve_longest_s
        if not 0.0 < for_s <= longest_s:
            raise Refused(
                asked, f"{for_s / 60:g} min is not between 0 and {longest_s / 60:g} min"
            )
        if not why.strip():
            raise Refused(asked, "it needs a reason")
        events = self._move(alarm, Move.SHELVE, at, who=who, why=why)
        detail = self._detail(alarm, at)
        span_ns = round(for_s * NS)
        detail.until_ns, detail.until_utc_ns = at.mono_ns + span_ns, at.utc_ns + span_ns
        self.next_ns = min(self.next_ns, detail.until_ns)
        return events

    def unshelve(self, name: str, who: str, at: Moment) -> list[Event]:
        """Bring a shelved alarm back.

        Raises:
            Refused: there is no such alarm, or it is not shelved.
        """
        return self._unshelve(self._known(name, "unshelve"), at, who)

    def _unshelve(self, alarm: int, at: Moment, who: str) -> list[Event]:
        events = self._move(alarm, Move.UNSHELVE, at, who=who)
        self._find_next()
        return events + self._settle(alarm, at)

    def remove(self, subject: str, by: tuple[str, str], at: Moment) -> list[Event]:
        """Take an alarm, or all alarms of a tank or rectifier, out of service.

        Raises:
            Refused: unknown, out of service already, or no reason.
        """
        who, why = by
        asked = f"take {subject} out of service"
        if not why.strip():
            raise Refused(asked, "it needs a reason")
        if subject in self.number:
            alarms = [self.number[subject]]
        elif self._is_subject(subject):
            if subject in self.out:
                raise Refused(asked, "it is out of service already")
            self.out[subject] = why
            alarms = [
                alarm
                for alarm in self.by_subject.get(subject, [])
                if self.state[alarm] is not State.OUT_OF_SERVICE
            ]
        else:
            raise Refused(asked, "there is no such alarm, tank or rectifier")
        events: list[Event] = []
        for alarm in alarms:
            events += self._move(alarm, Move.REMOVE, at, who=who, why=why)
            self._detail(alarm, at).removed_by = subject
        self.changed = True
        return events

    def put_back(self, subject: str, who: str, at: Moment) -> list[Event]:
        """Put an alarm, tank or rectifier back into service.

        Raises:
            Refused: unknown, or not out of service.
        """
        asked = f"put {subject} back into service"
        if subject in self.number:
            alarms = [self.number[subject]]
        elif subject in self.out:
            del self.out[subject]
            alarms = [a for a, d in sorted(self.detail.items()) if d.removed_by == subject]
        elif self._is_subject(subject):
            raise Refused(asked, "it is in service")
        else:
            raise Refused(asked, "there is no such alarm, tank or rectifier")
        events: list[Event] = []
        for alarm in alarms:
            events += self._move(alarm, Move.RETURN, at, who=who)
            events += self._settle(alarm, at)
        self.changed = True
        return events

    def _is_subject(self, subject: str) -> bool:
        plan = self.plan
        return any(each.id == subject for each in (*plan.tanks, *plan.rectifiers))

    def _settle(self, alarm: int, at: Moment) -> list[Event]:
        reason = self.suppressed_by.get(alarm, "")
        if reason:
            return self._move(alarm, Move.SUPPRESS, at, why=reason)
        return self._occur(alarm, at, None) if self.active[alarm] else []

    # How a move is made.

    def _known(self, name: str, asked: str) -> int:
        alarm = self.number.get(name)
        if alarm is None:
            raise Refused(f"{asked} {name}", "there is no such alarm")
        return alarm

    def _detail(self, alarm: int, at: Moment) -> Detail:
        return self.detail.setdefault(alarm, Detail(at.utc_ns))

    def _move(
        self,
        alarm: int,
        move: Move,
        at: Moment,
        *,
        value: float | None = None,
        who: str = "",
        why: str = "",
    ) -> list[Event]:
        condition = self.plan.conditions[alarm]
        before = self.state[alarm]
        after = moved(before, move, condition.id)
        if after is before:
            return []
        self.state[alarm] = after
        self.changed = True
        value = self._keep_detail(alarm, move, at, value, why)
        is_seen = before in STANDING or after in STANDING
        # A tank that is taken out of service is told once, not once for each of its alarms.
        if not is_seen and (not who or move in {Move.REMOVE, Move.RETURN}):
            return []
        values: dict[str, Part] = {
            "alarm": condition.id,
            "move": str(move),
            "from": before.word,
            "to": after.word,
            "priority": condition.priority,
            "value": value,
            "limit": condition.limit,
        }
        values |= {name: said for name, said in (("who", who), ("why", why)) if said}
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
        else:
            self.detail[alarm] = Detail(at.utc_ns, value, why=why)
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
            "state": {
                conditions[k].id: int(state)
                for k, state in enumerate(self.state)
                if state is not State.NORMAL
            },
            "active": [conditions[k].id for k, active in enumerate(self.active) if active],
            "suppressed": {conditions[k].id: why for k, why in self.suppressed_by.items()},
            "detail": {conditions[k].id: asdict(each) for k, each in self.detail.items()},
            "out": self.out,
            "recent": [[ns, conditions[k].id] for ns, k in self.flood.recent],
            "flood": self.flood.is_on,
            "first_out": conditions[self.flood.first_out].id if self.flood.is_on else "",
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered; alarms that the plan no longer has are left behind."""
        number = self.number
        for name, state in kept["state"].items():
            if name in number:
                self.state[number[name]] = State(state)
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
        self.out = dict(kept["out"])
        self.flood.recent.extend(
            (ns, number[name]) for ns, name in kept["recent"] if name in number
        )
        self.flood.is_on = kept["flood"] and kept["first_out"] in number
        self.flood.first_out = number.get(kept["first_out"], -1)
        self._find_next()

    def _find_next(self) -> None:
        self.next_ns = min(
            (d.until_ns for d in self.detail.values() if d.until_ns is not None), default=NEVER
        )
