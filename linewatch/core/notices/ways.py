"""A way of being heard: whom it reaches is not known here, only when it may be used."""

from __future__ import annotations

from dataclasses import dataclass

from linewatch.core.plan import PRIORITIES

DAY_MIN = 24 * 60


def is_at_least(priority: str, least: str) -> bool:
    """Say whether a priority is as urgent as another, or more; an unknown one always is."""
    if priority not in PRIORITIES or least not in PRIORITIES:
        return True
    return PRIORITIES.index(priority) >= PRIORITIES.index(least)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quiet:
    """Hours in which only what is urgent is told; the rest waits for their end."""

    begin_min: int
    """Minute of the local day at which it begins; may lie after its end: over midnight."""
    end_min: int
    least: str
    """Least priority that is told nevertheless."""

    def holds(self, minute: int) -> bool:
        """Say whether it is quiet at a minute of the local day."""
        if self.begin_min <= self.end_min:
            return self.begin_min <= minute < self.end_min
        return minute >= self.begin_min or minute < self.end_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way of being heard."""

    id: str
    least: str = "high"
    """Least priority of an alarm that is told this way."""
    after_s: float = 0.0
    """How long nobody must have acknowledged it [s]: the next one on the ladder."""
    gather_s: float = 30.0
    """Least time between two notices [s]; what comes in between is told together."""
    quiet: Quiet | None = None

    def tells(self, priority: str, minute: int) -> bool:
        """Say whether an alarm of a priority is told this way at a minute of the day."""
        if not is_at_least(priority, self.least):
            return False
        quiet = self.quiet
        return quiet is None or not quiet.holds(minute) or is_at_least(priority, quiet.least)
