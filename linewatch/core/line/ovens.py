"""Loads in an oven: how long, how hot by the oven's own thermometers, and whether in time.

Which load is in the oven is said by key: an oven's door tells of a batch, not of loads.
The cautions of `linewatch.core.loads.bake` hold: what is counted is what the oven's
thermometers read, which is the load's own temperature only if one of them is in the load.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.line.telling import told
from linewatch.core.loads.bake import BAKE_HIGH_DEGC, BAKE_LOW_DEGC, bake_for

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Event, Part
    from linewatch.core.line.machine import Line
    from linewatch.core.line.trips import Catalogue, Trip
    from linewatch.core.loads.bake import BakeRow
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000
LOAD_PROBE: Final = "temperature.load"
"""A thermometer in the load tells more than one in the oven's air."""


@dataclass(slots=True)
class Bake:
    """A load in an oven."""

    oven: str
    since_utc_ns: int
    since_ns: int
    looked_ns: int
    hot_ns: int = 0
    """Time within the bake's temperatures so far."""
    hot_utc_ns: int = 0
    """When it first was hot enough; 0: not yet."""
    low_degc: float | None = None
    """Lowest and highest temperature since it first was hot enough."""
    high_degc: float | None = None
    unread_ns: int = 0
    """Time in which no thermometer told: never counted as hot."""


class Ovens:
    """Every load that is baking.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        self.baking: dict[str, Bake] = {}
        """By load."""
        self._called = {tank.id: tank.called for tank in plan.tanks}
        self._tag = {
            tank.id: next(
                (
                    f"{tank.id}.{kind}"
                    for kind in (LOAD_PROBE, "temperature")
                    if f"{tank.id}.{kind}" in plan.tags
                ),
                "",
            )
            for tank in plan.tanks
            if tank.kind == "bake"
        }

    def has(self, oven: str) -> bool:
        """Say whether there is such an oven."""
        return oven in self._tag

    def look(
        self, line: Line, trips: Mapping[str, Trip], catalogue: Catalogue, at: Moment
    ) -> list[Event]:
        """Count the time at temperature; tell of loads whose bake is late."""
        for bake in self.baking.values():
            self._count(line, bake, at)
        found = []
        for trip in trips.values():
            part = catalogue.part_of(trip) if trip.plated_utc_ns else None
            if part is None or not part.bake_within_s or trip.is_late:
                continue
            if trip.number in self.baking or bake_row(part.strength_mpa) is None:
                continue
            latest_utc_ns = trip.plated_utc_ns + round(part.bake_within_s * NS)
            if at.utc_ns > latest_utc_ns:
                trip.is_late = True
                text = (
                    f"its bake is late: {part.bake_within_s / 3600:g} h after plating are over"
                )
                late: dict[str, Part] = {"what": "bake-late", "latest_utc_ns": latest_utc_ns}
                found.append(told(trip, at, text, late))
        return found

    def _count(self, line: Line, bake: Bake, at: Moment) -> None:
        value = line.good(self._tag.get(bake.oven, ""))
        span_ns = at.mono_ns - bake.looked_ns
        bake.looked_ns = at.mono_ns
        if value is None:
            bake.unread_ns += span_ns
            return
        is_hot = BAKE_LOW_DEGC <= value <= BAKE_HIGH_DEGC
        if is_hot:
            bake.hot_ns += span_ns
            bake.hot_utc_ns = bake.hot_utc_ns or at.utc_ns
        if bake.hot_utc_ns:
            bake.low_degc = value if bake.low_degc is None else min(bake.low_degc, value)
            bake.high_degc = value if bake.high_degc is None else max(bake.high_degc, value)

    def begin(self, trip: Trip, oven: str, at: Moment) -> Event:
        """Take that a load went into an oven."""
        self.baking[trip.number] = Bake(oven, at.utc_ns, at.mono_ns, at.mono_ns)
        after = _after(trip, at.utc_ns)
        said = f", {after / 3600:.2f} h after plating" if after is not None else ""
        values = {"what": "bake-begun", "oven": oven, "after_plating_s": after}
        return told(trip, at, f"into {self._called.get(oven, oven)}{said}", values)

    def end(self, line: Line, trip: Trip, strength_mpa: float | None, at: Moment) -> Event:
        """Take that a load left its oven; tell what it got there."""
        bake = self.baking.pop(trip.number)
        self._count(line, bake, at)
        row = bake_row(strength_mpa)
        hot_h = bake.hot_ns / NS / 3600
        is_enough = None if row is None else hot_h >= row.least_h
        trip.plated_utc_ns = 0 if is_enough is not False else trip.plated_utc_ns
        wanted = "" if row is None else f", at least {row.least_h:g} h wanted ({row.name})"
        return told(
            trip,
            at,
            f"{hot_h:.2f} h at {BAKE_LOW_DEGC:g} to {BAKE_HIGH_DEGC:g} degC{wanted}",
            {
                "what": "baked",
                "oven": bake.oven,
                "in_utc_ns": bake.since_utc_ns,
                "hot_utc_ns": bake.hot_utc_ns or None,
                "out_utc_ns": at.utc_ns,
                "hot_h": hot_h,
                "unread_s": bake.unread_ns / NS,
                "low_degc": bake.low_degc,
                "high_degc": bake.high_degc,
                "strength_mpa": strength_mpa,
                "least_h": row.least_h if row is not None else None,
                "row": row.name if row is not None else "",
                "source": row.source if row is not None else "",
                "is_enough": is_enough,
            },
        )

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on."""
        return {number: asdict(bake) for number, bake in self.baking.items()}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for ovens that the plan no longer has."""
        self.baking = {
            number: Bake(**each) for number, each in kept.items() if each["oven"] in self._tag
        }


def bake_row(strength_mpa: float | None) -> BakeRow | None:
    """Return the row of a steel's strength; None where none is known, or no bake is asked."""
    return bake_for(strength_mpa) if strength_mpa is not None else None


def _after(trip: Trip, utc_ns: int) -> float | None:
    return (utc_ns - trip.plated_utc_ns) / NS if trip.plated_utc_ns else None
