"""A load that is still in a tank: what it has by now, which no ended stay tells yet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

MINUTE_S: Final = 60
HOUR_S: Final = 3600
IN_SECONDS_S: Final = 120
"""A shorter time is told in seconds alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """The stay that a load is in."""

    tank_name: str
    utc_ns: int
    """As of when [ns since 1970]."""
    since_utc_ns: int
    dwell_s: float
    """For how long it is in [s]."""
    shortest_s: float | None = None
    longest_s: float | None = None
    deposit: str = ""
    """What the tank lays down; '' for nothing."""
    charge_ah: float | None = None
    thickness_um: float | None = None
    thickness_pm_um: float | None = None
    target_um: float | None = None
    not_known: str = ""
    """Why its thickness is not known, if it is not."""
    grave: tuple[str, ...] = ()
    """What may have spoilt it since it came in, in words."""
    growing: frozenset[str] = frozenset()
    """Baths from which it may still get metal."""

    @property
    def odd(self) -> tuple[str, ...]:
        """Return what is odd about it by now, in words."""
        if self.longest_s is None or self.dwell_s <= self.longest_s:
            return self.grave
        is_over = (
            f"in for {lasting(self.dwell_s)}, at most {lasting(self.longest_s)} are allowed;"
            " it is in still"
        )
        return (*self.grave, is_over)


def lasting(seconds: float) -> str:
    """Return a time in whole words, to the second below an hour, then to the minute.

    Examples:
        >>> lasting(44.0), lasting(210.0), lasting(57 * 60.0), lasting(2.5 * 3600.0)
        ('44 s', '3 min 30 s', '57 min', '2 h 30 min')
    """
    whole = int(seconds)
    if whole < IN_SECONDS_S:
        return f"{whole} s"
    large, small = ("min", "s") if whole < HOUR_S else ("h", "min")
    count, rest = divmod(whole if whole < HOUR_S else whole // MINUTE_S, MINUTE_S)
    return f"{count} {large} {rest:02d} {small}" if rest else f"{count} {large}"


def lasting_span(shortest_s: float | None, longest_s: float | None) -> str:
    """Return how long something may last: '18 min to 45 min', 'from 90 s'; '' for any time."""
    if shortest_s is None:
        return "" if longest_s is None else f"to {lasting(longest_s)}"
    if longest_s is None:
        return f"from {lasting(shortest_s)}"
    return f"{lasting(shortest_s)} to {lasting(longest_s)}"
