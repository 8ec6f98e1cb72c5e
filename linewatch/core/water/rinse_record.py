"""What was told of each load in a rinse, put together: events in, rows and sums out.

Rule 1: nothing is worked out here that was not told, but for sums and means.
Rule 2: what is not known of a load stands as such, and no mean goes over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind, Part
from linewatch.core.water.rinsing import UNSURE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

WHAT = "rinse"


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What one load carried into a rinse."""

    tank: str
    load: str
    part: str
    source: str
    source_from: str
    came_utc_ns: int
    step_us: float
    step_pm_us: float
    exit_us: float | None
    limit_us: float | None
    film_ml: float | None
    film_pm_ml: float | None
    film_ml_per_m2: float | None
    film_pm_ml_per_m2: float | None
    water_l: float
    unknown_s: float
    why: str = ""
    """Why what it carried in is not known; '': it is told."""

    @property
    def is_beyond(self) -> bool:
        """Say whether it left the rinse above its limit."""
        return None not in (self.exit_us, self.limit_us) and self.exit_us > self.limit_us  # type: ignore[operator]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Loads of one kind in one rinse."""

    name: str
    loads: int
    """Those of which it is told what they carried in."""
    step_us: float | None
    film_ml: float | None
    film_pm_ml: float | None
    film_ml_per_m2: float | None
    film_pm_ml_per_m2: float | None


def carried(events: Iterable[Event], tank: str) -> list[Carried]:
    """Return the loads that events tell of, in the order in which they were told."""
    return [
        _carried(event)
        for event in events
        if event.kind is EventKind.WATER
        and event.subject == tank
        and event.values.get("what") == WHAT
    ]


def _carried(event: Event) -> Carried:
    values = event.values
    step_us = _number(values, "step_us") or 0.0
    step_pm_us = _number(values, "step_pm_us") or 0.0
    why = str(values.get("why") or "")
    if not why and step_us <= step_pm_us:
        # Records of earlier versions hold figures for such loads too.
        why = UNSURE
    known: Mapping[str, Part] = {} if why else values
    return Carried(
        tank=event.subject,
        load=str(values.get("load") or ""),
        part=str(values.get("part") or ""),
        source=str(values.get("source") or ""),
        source_from=str(values.get("source_from") or ""),
        came_utc_ns=int(values.get("came_utc_ns") or event.utc_ns),
        step_us=step_us,
        step_pm_us=step_pm_us,
        exit_us=_number(values, "exit_us"),
        limit_us=_number(values, "limit_us"),
        film_ml=_number(known, "film_ml"),
        film_pm_ml=_number(known, "film_pm_ml"),
        film_ml_per_m2=_number(known, "film_ml_per_m2"),
        film_pm_ml_per_m2=_number(known, "film_pm_ml_per_m2"),
        water_l=_number(values, "water_l") or 0.0,
        unknown_s=_number(values, "unknown_s") or 0.0,
        why=why,
    )


def _number(values: Mapping[str, Part], name: str) -> float | None:
    value = values.get(name)
    return float(value) if isinstance(value, int | float) else None


def by_kind(rows: Sequence[Carried]) -> list[Kind]:
    """Return loads by part and source, those that carry most by area first.

    The ± of a mean is the mean ±: what is assumed is the same for all of them.
    """
    groups: dict[tuple[str, str], list[Carried]] = {}
    for each in rows:
        groups.setdefault((each.part or "not known", each.source), []).append(each)
    found = [
        Kind(
            name=f"{part} from {source}" if source else part,
            loads=sum(not each.why for each in some),
            step_us=_mean([None if each.why else each.step_us for each in some]),
            film_ml=_mean([each.film_ml for each in some]),
            film_pm_ml=_mean([each.film_pm_ml for each in some]),
            film_ml_per_m2=_mean([each.film_ml_per_m2 for each in some]),
            film_pm_ml_per_m2=_mean([each.film_pm_ml_per_m2 for each in some]),
        )
        for (part, source), some in groups.items()
    ]
    return sorted(found, key=lambda kind: -(kind.film_ml_per_m2 or kind.step_us or 0.0))


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None
