"""Line time: how far the plant's own time has come, by the machine's monotonic clock.

CLOCK_MONOTONIC is the same in every process of a machine, so that whoever asks for the truth
of a moment and the plant mean the same moment.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class LineClock:
    """Line time since the plant began."""

    speed: float = 1.0
    """Seconds of line time in a second of wall time."""
    began_ns: int = field(default_factory=time.monotonic_ns)

    def now_s(self) -> float:
        """Return the line time now."""
        return self.at(time.monotonic_ns())

    def at(self, monotonic_ns: int) -> float:
        """Return the line time at a moment of the monotonic clock; never before the start."""
        return max((monotonic_ns - self.began_ns) * 1e-9 * self.speed, 0.0)

    def wall_s(self, line_s: float) -> float:
        """Return how much wall time a span of line time takes."""
        return line_s / self.speed
