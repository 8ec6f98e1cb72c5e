"""What is overdue: a load past its longest dwell, a check that nobody made in time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.alarms.limits import Timers
from linewatch.core.line.memory import pack, places, unpack

if TYPE_CHECKING:
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import ConditionPlan, LinePlan

NS = 1_000_000_000


class Overdue:
    """Every 'overdue' condition of a line.

    A condition on a 'load-present' tag begins when a load comes in and ends when it leaves.
    One on any other tag is a check: it begins with the line, and anew with each reading that a
    person types in for that tag.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        dwell = {tank.id: tank.longest_dwell_s for tank in plan.tanks}
        found = [
            (number, condition)
            for number, condition in enumerate(plan.conditions)
            if condition.kind == "overdue"
        ]
        self.alarm = [number for number, _ in found]
        self.names = [condition.id for _, condition in found]
        self._by_tank: dict[str, list[int]] = {}
        self._by_check: dict[str, list[int]] = {}
        for timer, (_, condition) in enumerate(found):
            subject, _, kind = condition.tag.partition(".")
            if kind.split(".")[0] == "load-present":
                self._by_tank.setdefault(subject, []).append(timer)
            else:
                self._by_check.setdefault(condition.tag, []).append(timer)
        self.timers = Timers(
            [_allowed_ns(each, dwell) for _, each in found],
            [each.off_delay_ns for _, each in found],
        )
        self._since_ns = np.zeros(len(found), dtype=np.int64)
        self._has_begun = False

    def begin_checks(self, now_ns: int) -> None:
        """Begin every check, once in the life of a line."""
        if not self._has_begun:
            self._has_begun = True
            for timers in self._by_check.values():
                self._begin(timers, now_ns)

    def begin(self, tank: str, now_ns: int) -> None:
        """A load has come into a tank."""
        self._begin(self._by_tank.get(tank, []), now_ns)

    def end(self, tank: str, now_ns: int) -> None:
        """A load has left a tank."""
        for timer in self._by_tank.get(tank, []):
            self.timers.judge(timer, np.array([False]), now_ns)

    def checked(self, tag: str, now_ns: int) -> list[int]:
        """A check was made; return the alarms that it calls off."""
        found = []
        for timer in self._by_check.get(tag, []):
            if self.timers.active[timer]:
                found.append(self.alarm[timer])
            self._since_ns[timer] = now_ns
            self.timers.begin_again(timer, now_ns)
        return found

    def _begin(self, timers: list[int], now_ns: int) -> None:
        for timer in timers:
            self._since_ns[timer] = now_ns
            self.timers.judge(timer, np.array([True]), now_ns)

    def due(self, line: Line) -> list[int]:
        """Announce what is due; a load only once its station was read again: it may have left.

        Args:
            line: The line, for its time and what was read when.

        Returns:
            The timers that have turned.
        """
        if self.timers.next_ns > line.now_ns:
            return []
        waits = []
        for tank, timers in self._by_tank.items():
            last_ns = _read_ns(line, tank)
            if last_ns is None:
                continue
            due_ns = self.timers.due_ns[timers]
            waits += [
                timer
                for timer, at_ns in zip(timers, due_ns.tolist(), strict=True)
                if last_ns < at_ns <= line.now_ns and self.timers.raw[timer]
            ]
        return self.timers.due(line.now_ns, waits)

    def lasted_s(self, timer: int, now_ns: int) -> float:
        """Return how long a dwell or check has lasted [s]."""
        return (now_ns - int(self._since_ns[timer])) / NS

    def is_over(self, alarm: int) -> bool:
        """Say whether an alarm is one of these and has lasted too long by now."""
        return alarm in self.alarm and bool(self.timers.active[self.alarm.index(alarm)])

    def lasts_s(self, alarm: int, now_ns: int) -> float | None:
        """Return how long what an alarm is about has lasted [s]; None if it is over."""
        timer = self.alarm.index(alarm)
        return self.lasted_s(timer, now_ns) if self.timers.raw[timer] else None

    def remember(self) -> bytes:
        """Return all that the future depends on; see `recall`."""
        said = {"names": self.names, "has_begun": self._has_begun}
        return pack(said, {**self.timers.remember(), "since_ns": self._since_ns})

    def recall(self, part: bytes) -> None:
        """Go on from what was remembered."""
        said, kept = unpack(part)
        self._has_begun = said["has_begun"]
        to = places(said["names"], self.names)
        self.timers.recall(kept, to)
        for before, after in to:
            self._since_ns[after] = kept["since_ns"][before]


def _read_ns(line: Line, tank: str) -> int | None:
    """Return when a tank's station was read last [ns]; None unless its value is good."""
    tag = f"{tank}.load-present"
    place = line.place(tag)
    return None if place is None or line.good(tag) is None else place[0].mono_ns


def _allowed_ns(condition: ConditionPlan, dwell_s: dict[str, float | None]) -> int:
    """Return how long it may last; a limit of 0 stands for the tank's longest dwell."""
    limit_s = condition.limit or dwell_s.get(condition.tag.split(".", 1)[0]) or 0.0
    return round(limit_s * NS) + condition.on_delay_ns
