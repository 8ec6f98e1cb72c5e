"""The only file that reads a clock.

Rule 1: line time (`mono_ns`) comes from a clock that never runs back; it starts where the
        last run left off, plus the wall time that has gone by since. It counts on while the
        machine is suspended, where the system has such a clock: charge flows all the same.
Rule 2: wall time (`utc_ns`) is for the record. At speed 1 it is the system's, steps and all.
        At another speed it runs ahead with the line, so that the record's dates agree with
        its durations; a step of the system's clock still shows in it once, unmultiplied.
Rule 3: what belongs to the wire stays in wall time: `wall_s`.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import dataclass

from linewatch.core.readings import Moment

NS = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LastSeen:
    """When an earlier run last wrote: where this one's clock begins."""

    moment: Moment
    system_utc_ns: int
    """The system's wall clock at that moment; equals `moment.utc_ns` at speed 1."""


_BOOT: int | None = getattr(time, "CLOCK_BOOTTIME", None)
_ASLEEP_NS = 0 if _BOOT is None else time.clock_gettime_ns(_BOOT) - time.monotonic_ns()
"""How long the machine had been suspended before this process began: left out, so that
processes that begin together agree with each other and with the monotonic clock."""


def _steady_ns() -> int:
    """Return a time that never runs back, if possible not even stops while suspended [ns]."""
    if _BOOT is None:
        return time.monotonic_ns()
    return time.clock_gettime_ns(_BOOT) - _ASLEEP_NS


class SystemClock:
    """The clock of a collector: the system's, run at a speed.

    Args:
        speed: Line time over wall time.
        last: Where an earlier run left off, if there was one.
    """

    def __init__(self, *, speed: float = 1.0, last: LastSeen | None = None) -> None:
        self.speed = speed
        self._wall_start_ns = _steady_ns()
        system_utc_ns = time.time_ns()
        self._mono_start_ns = 0
        self._ahead_ns = 0
        if last is not None:
            # A wall clock that was set back meanwhile must not turn line time back.
            away_ns = max(0, system_utc_ns - last.system_utc_ns)
            self._mono_start_ns = last.moment.mono_ns + round(away_ns * speed)
            self._ahead_ns = last.moment.utc_ns - last.system_utc_ns
            if speed != 1.0:
                self._ahead_ns += round(away_ns * (speed - 1.0))

    def now(self) -> Moment:
        """Return this instant on both clocks."""
        wall_ns = _steady_ns() - self._wall_start_ns
        line_ns = wall_ns if self.speed == 1.0 else round(wall_ns * self.speed)
        return Moment(
            utc_ns=time.time_ns() + self._ahead_ns + (line_ns - wall_ns),
            mono_ns=self._mono_start_ns + line_ns,
        )

    def system_utc_ns(self) -> int:
        """Return the system's own wall time [ns since the Unix epoch]."""
        return time.time_ns()

    def wall_s(self) -> float:
        """Return seconds of wall time from an arbitrary start; never runs back."""
        return _steady_ns() / NS

    def wall_at(self, mono_ns: int) -> float:
        """Return the `wall_s` at which line time reaches `mono_ns`."""
        return (self._wall_start_ns + (mono_ns - self._mono_start_ns) / self.speed) / NS

    async def sleep_until(self, mono_ns: int) -> None:
        """Wait until line time has reached `mono_ns`."""
        await asyncio.sleep(max(0.0, self.wall_at(mono_ns) - self.wall_s()))
