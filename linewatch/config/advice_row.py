"""One row of advice: what to tell with an alarm."""

from __future__ import annotations

from dataclasses import dataclass

from linewatch.core.plan import Priority

MIN = 60.0
HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to tell with an alarm, and how soon somebody must act."""

    cause: str
    consequence: str
    action: str
    respond_within_s: float | None = None
    priority: Priority = "medium"
    """Of the outer limit; the window's own edge is announced lower."""


def advised(
    cause: str,
    consequence: str,
    action: str,
    within_s: float | None = None,
    priority: Priority = "medium",
) -> Advice:
    """Return a row in the order in which it is read aloud."""
    return Advice(
        cause=cause,
        consequence=consequence,
        action=action,
        respond_within_s=within_s,
        priority=priority,
    )
