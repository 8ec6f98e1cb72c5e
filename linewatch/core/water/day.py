"""One day of a discharge, put together from what was told of each hour.

Rule 1: nothing is worked out here that was not told: hours are added up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind

if TYPE_CHECKING:
    from collections.abc import Iterable

WHAT = "hour"


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """One quantity of a discharge over a span."""

    kind: str
    low_seen: float | None
    mean: float | None
    """Over the time in which water flowed and the value was good."""
    high_seen: float | None
    outside_s: float
    """Time outside its limits while water flowed [s]."""
    unknown_s: float
    """Time in which water flowed, or may have, and the value was not good [s]."""
    low: float | None
    high: float | None
    """The limits in force."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharged:
    """What was let go at one place over a span."""

    tank: str
    volume_m3: float
    flowed_s: float
    unknown_s: float
    """Time in which nobody knows whether water flowed [s]."""
    hours: int
    """How many hours were told of."""
    watched: tuple[Watched, ...]
    fingerprints: tuple[str, ...]

    @property
    def outside_s(self) -> float:
        """Longest time outside of any of its quantities [s]."""
        return max((each.outside_s for each in self.watched), default=0.0)


def discharged(events: Iterable[Event], tank: str) -> Discharged | None:
    """Return what was let go at a place; None if nothing was told of it.

    Args:
        events: Events of the span; others than hours of this place are passed over.
        tank: The place.
    """
    hours = [
        each.values
        for each in events
        if each.kind is EventKind.DISCHARGE
        and each.subject == tank
        and each.values.get("what") == WHAT
    ]
    if not hours:
        return None

    def total(name: str) -> float:
        return sum(_number(each.get(name)) or 0.0 for each in hours)

    kinds = dict.fromkeys(
        kind for each in hours for kind in str(each.get("kinds") or "").split(",") if kind
    )
    watched = []
    for kind in kinds:
        good_s = total(f"{kind}_good_s")
        lows = [v for each in hours if (v := _number(each.get(f"{kind}_low"))) is not None]
        highs = [v for each in hours if (v := _number(each.get(f"{kind}_high"))) is not None]
        watched.append(
            Watched(
                kind=kind,
                low_seen=min(lows, default=None),
                mean=total(f"{kind}_sum") / good_s if good_s else None,
                high_seen=max(highs, default=None),
                outside_s=total(f"{kind}_outside_s"),
                unknown_s=total(f"{kind}_unknown_s"),
                low=_number(hours[-1].get(f"{kind}_limit_low")),
                high=_number(hours[-1].get(f"{kind}_limit_high")),
            )
        )
    return Discharged(
        tank=tank,
        volume_m3=total("volume_m3"),
        flowed_s=total("flowed_s"),
        unknown_s=total("unknown_s"),
        hours=len(hours),
        watched=tuple(watched),
        fingerprints=tuple(dict.fromkeys(str(each.get("fingerprint")) for each in hours)),
    )


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
