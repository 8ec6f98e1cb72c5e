"""Floods: more alarms than a person can take in.

A flood begins when at least `start` alarms were announced within ten minutes, and is over
when fewer than `end` were. ANSI/ISA-18.2-2016 clause 16 gives 10 ("e.g. more than 10") for
the one, EEMUA 191 the convention of 5 for the other. As counts are whole, "more than 10" is
written as a start of 11, or 10.5.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

NS = 1_000_000_000
WINDOW_NS = 600 * NS
BURST_NS = 60 * NS
"""Alarms no further apart than this belong to one burst; its first is the first-out."""


def is_flood(was: bool, count: int, start: float, end: float) -> bool:  # noqa: FBT001
    """Say whether ten minutes with `count` announcements are in a flood.

    Args:
        was: Whether the ten minutes before were.
        count: Announcements within ten minutes.
        start: A flood begins at this many.
        end: A flood goes on down to this many.

    Returns:
        Whether there is a flood.
    """
    return count >= end if was else count >= start


def flood_intervals(counts: Iterable[int], start: float, end: float) -> list[int]:
    """Return which of many ten-minute intervals are in a flood.

    Args:
        counts: Announcements of each interval, in order.
        start: A flood begins at this many.
        end: A flood goes on down to this many.

    Returns:
        Indices of the intervals.

    Examples:
        >>> flood_intervals([0, 3, 12, 7, 5, 4, 1], start=10, end=5)
        [2, 3, 4]
    """
    found, was = [], False
    for k, count in enumerate(counts):
        was = is_flood(was, count, start, end)
        if was:
            found.append(k)
    return found


@dataclass(slots=True)
class Flood:
    """The last ten minutes of announcements."""

    start: float
    end: float
    recent: deque[tuple[int, int]] = field(default_factory=deque)
    """(line time [ns], number of the alarm), oldest first."""
    is_on: bool = False
    first_out: int = -1
    """Number of the alarm that began the burst; -1: none."""

    def announced(self, alarm: int, now_ns: int) -> bool:
        """Count an announcement; say whether a flood has begun with it."""
        self.recent.append((now_ns, alarm))
        if self.is_on:
            return False
        self._forget(now_ns)
        self.is_on = is_flood(False, len(self.recent), self.start, self.end)  # noqa: FBT003
        if self.is_on:
            self.first_out = self._first_of_burst()
        return self.is_on

    def passed(self, now_ns: int) -> bool:
        """Let time go by; say whether a flood has ended."""
        self._forget(now_ns)
        if not self.is_on or is_flood(True, len(self.recent), self.start, self.end):  # noqa: FBT003
            return False
        self.is_on, self.first_out = False, -1
        return True

    def _forget(self, now_ns: int) -> None:
        while self.recent and self.recent[0][0] <= now_ns - WINDOW_NS:
            self.recent.popleft()

    def _first_of_burst(self) -> int:
        first = self.recent[-1]
        for each in reversed(self.recent):
            if first[0] - each[0] > BURST_NS:
                break
            first = each
        return first[1]


def most_within_window(at_ns: Sequence[int]) -> int:
    """Return the most announcements within any ten minutes.

    Args:
        at_ns: When each was announced [ns of line time], in order.
    """
    most = first = 0
    for count, now_ns in enumerate(at_ns, start=1):
        while at_ns[first] <= now_ns - WINDOW_NS:
            first += 1
        most = max(most, count - first)
    return most


def floods(
    at_ns: Sequence[int], end_ns: int, start: float, end: float
) -> list[tuple[int, int]]:
    """Return every flood as the line told it: the same moving ten minutes.

    Args:
        at_ns: When each alarm was announced [ns of line time], in order.
        end_ns: Where it ends that goes on [ns].
        start: A flood begins at this many.
        end: A flood goes on down to this many.

    Returns:
        (begin, end) of each [ns].

    Examples:
        >>> floods([k * NS for k in range(12)], 3600 * NS, start=10, end=5)
        [(9000000000, 607000000000)]
    """
    flood, found, began_ns = Flood(start, end), [], 0
    # What is ten minutes old is forgotten before what comes at that moment is counted.
    moments = sorted([(each, 1) for each in at_ns] + [(each + WINDOW_NS, 0) for each in at_ns])
    for now_ns, comes in moments:
        if now_ns > end_ns:
            break
        if comes:
            began_ns = now_ns if flood.announced(0, now_ns) else began_ns
        elif flood.passed(now_ns):
            found.append((began_ns, now_ns))
    return [*found, (began_ns, end_ns)] if flood.is_on else found
