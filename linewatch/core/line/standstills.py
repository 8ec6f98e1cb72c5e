"""Tracks on which nothing moves: one alarm a track, above what hangs and is overdue there.

Rule 1: a hoist, crane or conveyor stands when at least two alarms of loads on its track (they
        hang in the air, or are past their longest dwell) began since any load moved there.
Rule 2: when loads move again the alarm is over; what still hangs or is overdue is held back
        for as long as one round may take, then told by itself.
Rule 3: that a track which is not meant to move stands is expected: it is suppressed by design,
        and the loads that are still in tell for themselves, for their dwell goes on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewatch.core.alarms.causes import suspect
from linewatch.core.alarms.states import State
from linewatch.core.events import EventKind
from linewatch.core.line.moves import Moves
from linewatch.core.line.positions import PRODUCING
from linewatch.core.line.study import Study
from linewatch.core.rules.movement import LEAST_STANDING, load_troubles, standstill

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000
AT_REST: Final = "line-rests"
ROUND_NS: Final = 600 * NS
"""Within this time all loads of a track that moves again have been moved: common practice."""


class Standstills(Study):
    """Every alarm of a track that stands.

    Args:
        plan: The line as it is configured.
    """

    NAME = "standstills"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        number = {condition.id: k for k, condition in enumerate(plan.conditions)}
        self._track = {tank.id: tank.track for tank in plan.tanks if tank.track}
        self._alarm = {
            track: number[standstill(plan.line_id, track)]
            for track in dict.fromkeys(self._track.values())
            if standstill(plan.line_id, track) in number
        }
        """By track."""
        self._of = {
            track: {number[name]: name.partition(".")[0] for name in load_troubles(plan, track)}
            for track in self._alarm
        }
        """By track: the alarms of its loads, with their tanks."""
        self.moved_ns: dict[str, int] = {}
        """By track: when a load moved last [ns]."""
        self.since_ns: dict[str, int] = {}
        """By alarm of a load, as long as it holds: since when, as it was seen [ns]."""
        self.standing: list[str] = []
        """Tracks."""
        self.held_until_ns: dict[str, int] = {}
        """By track that moves again: until when its loads' alarms are held back [ns]."""

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]."""
        return self.PERIOD_NS if self._alarm else 0

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear of loads that move, and of those that hang or are overdue."""
        if event.kind is EventKind.LOAD and event.values.get("what") in {"in", "out"}:
            track = self._track.get(event.subject, "")
            return self._moves(line, track, event.moment) if track in self._alarm else []
        if event.kind is EventKind.ALARM and event.values.get("move") == "occur":
            number = line.alarms.number.get(str(event.values.get("alarm")))
            track = next((name for name, own in self._of.items() if number in own), "")
            return self._judge(line, track, event.moment) if track else []
        return []

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look at every track."""
        return [event for track in self._alarm for event in self._judge(line, track, at)]

    def suspects(self, line: Line, alarm: int, at: Moment) -> bool:
        """Say whether a track will be told to stand once the loads are told that hang now."""
        track = next((name for name, each in self._alarm.items() if each == alarm), None)
        moves = line.studies.of(Moves)
        if track is None or moves is None or not self._is_meant_to_move(line, track):
            return False
        new = {out.tank for _, out, _ in moves.over(line, at)}
        own = {number for number, tank in self._of[track].items() if tank in new}
        own = {k for k in own if self.plan.conditions[k].tag.endswith(".hangs")}
        # One that is overdue is asked about just before it is announced.
        due = {k for k in self._of[track] if line.overdue.is_over(k) and _is_told(line, k)}
        own |= {k for k in due if not line.alarms.active[k]}
        return len(own.union(self._new(line, track, at))) >= LEAST_STANDING

    def _moves(self, line: Line, track: str, at: Moment) -> list[Event]:
        self.moved_ns[track] = at.mono_ns
        if track not in self.standing:
            return []
        self.standing.remove(track)
        self.held_until_ns[track] = at.mono_ns + ROUND_NS
        alarm = self._alarm[track]
        held = suspect(line.alarms, alarm, at, is_suspected=True)
        return held + line.alarms.turned(alarm, at, None, active=False)

    def _judge(self, line: Line, track: str, at: Moment) -> list[Event]:
        """Find out whether a track stands, and tell it."""
        self._note(line, track, at)
        alarm = self._alarm[track]
        count = len(self._new(line, track, at))
        is_meant = self._is_meant_to_move(line, track)
        # Stopped on purpose it goes on standing: that is expected, and no return to normal.
        stands = count >= LEAST_STANDING and (is_meant or track in self.standing)
        events = line.alarms.suppress(alarm, "" if is_meant else AT_REST, at)
        if stands and track not in self.standing:
            self.standing.append(track)
            self.held_until_ns.pop(track, None)
            events += line.alarms.turned(alarm, at, float(count), active=True)
        elif not stands and track in self.standing:
            self.standing.remove(track)
            events += line.alarms.turned(alarm, at, float(count), active=False)
        if self.held_until_ns.get(track, at.mono_ns) <= at.mono_ns:
            self.held_until_ns.pop(track, None)
            events += suspect(line.alarms, alarm, at, is_suspected=False)
        return events

    def _note(self, line: Line, track: str, at: Moment) -> None:
        """Note since when loads hang or are overdue."""
        for number in self._of[track]:
            name = self.plan.conditions[number].id
            if _holds(line, number):
                self.since_ns.setdefault(name, at.mono_ns)
            else:
                self.since_ns.pop(name, None)

    def _new(self, line: Line, track: str, at: Moment) -> list[int]:
        """Return the alarms of loads that hold and began since any load moved."""
        moved_ns = self.moved_ns.get(track, 0)
        conditions = self.plan.conditions
        return [
            number
            for number in self._of[track]
            if _holds(line, number)
            and self.since_ns.get(conditions[number].id, at.mono_ns) >= moved_ns
        ]

    def _is_meant_to_move(self, line: Line, track: str) -> bool:
        return line.positions.of_track(track) == PRODUCING

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            "moved_ns": self.moved_ns,
            "since_ns": self.since_ns,
            "standing": self.standing,
            "held_until_ns": self.held_until_ns,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for what the plan no longer has."""
        self.moved_ns = _known(kept.get("moved_ns", {}), self._alarm)
        self.since_ns = dict(kept.get("since_ns", {}))
        self.standing = [track for track in kept.get("standing", ()) if track in self._alarm]
        self.held_until_ns = _known(kept.get("held_until_ns", {}), self._alarm)


def _known(kept: Mapping[str, int], tracks: Mapping[str, int]) -> dict[str, int]:
    return {track: ns for track, ns in kept.items() if track in tracks}


def _holds(line: Line, number: int) -> bool:
    """Say whether an alarm is true, and nobody expects it or has taken it out of service."""
    return line.alarms.active[number] and _is_told(line, number)


def _is_told(line: Line, number: int) -> bool:
    alarms = line.alarms
    return (
        number not in alarms.suppressed_by and alarms.state[number] is not State.OUT_OF_SERVICE
    )
