"""What was not seen of the way of loads: before the record, in its holes, in rare readings.

Rule 1: what nobody saw is no fact. Whether a step was left out, how long the work was bare or
        in a tank, is not known where the time in question reaches into such a time.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewatch.core.events import EventKind
from linewatch.core.line.unwatched import READ_AGAIN_NS
from linewatch.core.loads.present import lasting
from linewatch.core.loads.record import UNSEEN_S
from linewatch.core.loads.travel import dwell_known, dwell_mark

if TYPE_CHECKING:
    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.line.study import Unwatched
    from linewatch.core.line.trips import Stay, Trip

NS: Final = 1_000_000_000
MISSED_POLLS: Final = 3
"""A station that was not read for more of its periods has been lost sight of, like a stale
value."""


class Sight:
    """Knows the last time in which nobody looked at the line."""

    def __init__(self) -> None:
        self.has_begun = False
        self.until_ns = -1
        """Until when the record's last hole lasted, or what lay before it [ns of line time]."""

    def hear(self, line: Line, event: Event) -> None:
        """Hear of the record's begin: what was before it nobody saw."""
        if event.kind is EventKind.RUN_STARTED and not self.has_begun:
            self.has_begun = True
            self.until_ns = event.mono_ns + round(READ_AGAIN_NS * max(1.0, line.speed))

    def pass_over(self, hole: Unwatched) -> None:
        """Note a hole of the record; until all has been read again, it lasts."""
        self.until_ns = max(self.until_ns, hole.until_ns)

    def hidden_s(self, line: Line, event: Event) -> float:
        """Return how long before it was seen a move may have been [s]; 0 between two polls."""
        unseen_s = float(event.values.get("unseen_s") or 0.0)
        tag = line.plan.tags.get(f"{event.subject}.load-present")
        polls_s = MISSED_POLLS * tag.period_ns / NS * max(1.0, line.speed) if tag else 0.0
        return unseen_s if unseen_s > max(UNSEEN_S, polls_s) else 0.0

    def is_way_hidden(self, trip: Trip, event: Event, stay: Stay | None) -> bool:
        """Say whether a load may have been elsewhere, unseen, before it came into a tank.

        Args:
            trip: The load, as it was before it came.
            event: That it came.
            stay: Its stay there, if it is in a tank that tells.

        Returns:
            True where nobody can tell.
        """
        is_lost = stay is not None and (stay.is_first or stay.hidden_s > 0.0)
        left_ns = event.mono_ns if trip.left_ns < 0 else trip.left_ns
        return is_lost or trip.left_hidden_s > 0.0 or left_ns < self.until_ns

    def remember(self) -> dict[str, int]:
        """Return all that the future depends on."""
        return {"until_ns": self.until_ns, "has_begun": int(self.has_begun)}

    def recall(self, kept: dict[str, int]) -> None:
        """Go on from what was remembered; older memories know no hole."""
        self.has_begun = bool(kept.get("has_begun", True))
        self.until_ns = int(kept.get("until_ns", -1))


def dwell(
    seen_s: float, ends: tuple[Stay, float], shortest_s: float | None, longest_s: float | None
) -> dict[str, str]:
    """Return what is odd about a dwell, or that nobody can tell.

    Args:
        seen_s: Time between being seen to come in and to have left [s].
        ends: The stay, and how much earlier the load may have left [s].
        shortest_s: Shortest allowed [s]; None: no limit.
        longest_s: Longest allowed [s]; None: no limit.

    Returns:
        Both in words, as they stand in the event of the stay; one of them at most.
    """
    stay, left_hidden_s = ends
    most_s = math.inf if stay.is_first else seen_s + stay.hidden_s
    span_s = (max(0.0, seen_s - left_hidden_s), most_s)
    if dwell_known(span_s, shortest_s, longest_s):
        return {"dwell": dwell_mark(seen_s, shortest_s, longest_s), "dwell_not_known": ""}
    if stay.is_first:
        span = f"at least {lasting(span_s[0])}; it was in when the record began"
    else:
        span = f"between {lasting(span_s[0])} and {lasting(most_s)}"
        span += "; nobody looked when it came or left"
    text = f"how long it was in: {span}"
    return {"dwell": "", "dwell_not_known": text}
