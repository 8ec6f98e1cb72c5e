"""When to poll what: due times, fair turns, and rare, short questions to a silent unit. Pure.

Rule 1: a poll that comes late is skipped to the next due instant, never made up for.
Rule 2: whoever has waited longest is served first.
Rule 3: a unit that is known to be silent costs its neighbours nothing: it is asked rarely,
        with a short limit, and when nobody else is due.
"""

from __future__ import annotations

import heapq
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_WALL_S = 0.02
"""No layout is polled oftener than this [wall time]."""
NS = 1_000_000_000
KEPT = 16
SILENT_AFTER = 2
"""Unanswered questions in a row after which a unit is known to be silent."""
PROBE_FIRST_S = 2.0
PROBE_LONGEST_S = 30.0
PROBE_LEAST_LIMIT_S = 0.1
PROBE_RESPONSES = 5.0
"""A silent unit is waited for this many times its usual response."""
NEVER_HEARD = 50.0
"""Where nobody ever answered, a silent unit is taken to answer in this part of the limit."""
LONGEST_LIMITS = 3.0
"""A slow unit is waited for at most this many times the configured limit."""
CALM_AFTER = 50
"""Quick answers in a row after which a slow unit counts as quick again."""
BUSY_FIRST_S = 0.2
BUSY_LONGEST_S = 10.0


@dataclass(order=True, slots=True)
class _Turn:
    """A layout's next poll in the queue."""

    key_ns: int
    """Its place in the queue: the due time, or later if it stood back."""
    order: int
    """Whoever was served longest ago goes first."""
    place: int = field(compare=False)
    due_ns: int = field(compare=False)
    stood_back: bool = field(compare=False, default=False)


class Timetable:
    """Due polls of several layouts in line time.

    Args:
        periods_ns: How often each is due [ns of line time].
        start_ns: When the first polls are due [ns of line time].
        speed: Line time over wall time.
    """

    def __init__(self, periods_ns: Sequence[int], start_ns: int, speed: float) -> None:
        self._least_ns = round(LEAST_WALL_S * speed * NS)
        self._periods_ns = periods_ns
        self._order = len(periods_ns)
        self._queue = [
            _Turn(start_ns, place, place, start_ns) for place in range(len(periods_ns))
        ]
        heapq.heapify(self._queue)
        self._served: list[deque[int]] = [deque(maxlen=KEPT) for _ in periods_ns]

    def next(self) -> tuple[int, int]:
        """Return which layout is due next, and when [ns of line time]."""
        turn = self._queue[0]
        return turn.place, turn.due_ns

    def stand_back(self, now_ns: int) -> bool:
        """Let the next layout wait until all that are due by now have been served.

        Returns:
            Whether it does; once for each turn, and only if somebody else is due.
        """
        turn = self._queue[0]
        if turn.stood_back or not any(each.key_ns <= now_ns for each in self._queue[1:3]):
            return False
        turn.stood_back = True
        turn.key_ns = max(turn.key_ns, now_ns)
        self._order += 1
        turn.order = self._order
        heapq.heapreplace(self._queue, turn)
        return self._queue[0] is not turn

    def served(self, now_ns: int) -> None:
        """Note that the next layout has had its turn; its next one comes a period later."""
        turn = self._queue[0]
        self._served[turn.place].append(now_ns)
        self._order += 1
        due_ns = self._after(turn.due_ns, now_ns, turn.place)
        heapq.heapreplace(self._queue, _Turn(due_ns, self._order, turn.place, due_ns))

    def _after(self, due_ns: int, now_ns: int, place: int) -> int:
        period_ns = self._periods_ns[place]
        if period_ns <= self._least_ns:
            return max(due_ns + self._least_ns, now_ns + self._least_ns // 2)
        missed = max(0, (now_ns - due_ns) // period_ns)
        following_ns = due_ns + (missed + 1) * period_ns
        if following_ns - now_ns < self._least_ns:
            following_ns += period_ns
        return following_ns

    def reached_s(self) -> float | None:
        """Return the longest period reached among the most frequent layouts [s, line time]."""
        shortest = min(self._periods_ns, default=0)
        reached = [
            (served[-1] - served[0]) / (len(served) - 1)
            for served, period_ns in zip(self._served, self._periods_ns, strict=True)
            if period_ns == shortest and len(served) > 1
        ]
        return max(reached) / NS if reached else None


@dataclass(slots=True)
class UnitPace:
    """How a unit answers, and so how long and how often it is waited for.

    Args:
        limit_s: The configured time limit.
    """

    configured_s: float
    unanswered: int = 0
    _limit_s: float = 0.0
    _responses_s: deque[float] = field(default_factory=lambda: deque(maxlen=KEPT))
    _calm: int = 0
    _probe_s: float = 0.0
    _probe_due_s: float = 0.0
    _busy_s: float = 0.0
    _busy_until_s: float = 0.0

    @property
    def is_silent(self) -> bool:
        """Whether the unit is known not to answer."""
        return self.unanswered >= SILENT_AFTER

    @property
    def is_slow(self) -> bool:
        """Whether its answers used to come after the configured limit."""
        return self._limit_s > 0.0

    def limit_s(self, *, is_suspect: bool = False, usual_s: float | None = None) -> float:
        """Return how long to wait for its next answer.

        Args:
            is_suspect: Another unit of the link has just been silent: if the whole link is,
                nobody is served by finding that out one full limit at a time.
            usual_s: How long the link's other units take, if any answers. A unit that never
                did is then given no more than that, once it has been silent.
        """
        full_s = max(self.configured_s, self._limit_s)
        if not (is_suspect or self.unanswered):
            return full_s
        if self._responses_s:
            usual_s = max(self._responses_s)
        if usual_s is None or not (self._responses_s or self.unanswered):
            usual_s = full_s / NEVER_HEARD if self.is_silent else full_s
        return min(full_s, max(PROBE_LEAST_LIMIT_S, PROBE_RESPONSES * usual_s))

    def usual_s(self) -> float | None:
        """Return the longest of its last responses; None if it never answered."""
        return max(self._responses_s, default=None)

    def may_ask(self, now_s: float) -> bool:
        """Say whether the unit may be asked now."""
        return now_s >= self._busy_until_s and (
            not self.is_silent or now_s >= self._probe_due_s
        )

    def is_busy(self, now_s: float) -> bool:
        """Say whether the unit asked to be left alone, and still is."""
        return now_s < self._busy_until_s

    def answered(self, response_s: float) -> None:
        """Note an answer in time."""
        self._responses_s.append(response_s)
        self._alive()
        self._busy_s = 0.0
        if self._limit_s:
            self._calm = self._calm + 1 if response_s < 0.5 * self.configured_s else 0
            if self._calm >= CALM_AFTER:
                self._limit_s = 0.0

    def late(self, after_s: float) -> None:
        """Note an answer that came after its limit: the unit is slow, not dead."""
        self._alive()
        self._calm = 0
        self._responses_s.append(after_s)
        self._limit_s = max(
            self._limit_s, min(LONGEST_LIMITS * self.configured_s, 1.5 * after_s)
        )

    def silent(self, now_s: float) -> None:
        """Note a question that was not answered."""
        self.unanswered += 1
        if self.is_silent:
            self._probe_s = min(PROBE_LONGEST_S, max(PROBE_FIRST_S, 2.0 * self._probe_s))
            self._probe_due_s = now_s + self._probe_s

    def busy(self, now_s: float) -> None:
        """Note that the unit asks to be left alone for a while."""
        self._alive()
        self._busy_s = min(BUSY_LONGEST_S, max(BUSY_FIRST_S, 2.0 * self._busy_s))
        self._busy_until_s = now_s + self._busy_s

    def _alive(self) -> None:
        self.unanswered = 0
        self._probe_s = 0.0
