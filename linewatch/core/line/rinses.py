"""Follows the rinses: what each load carried in, what the water between loads carries off.

Rule 1: a load's step is the rinse after it, brought back to its coming, less the rinse before
        it, brought on to it; both by least squares over looks in which all is mixed.
Rule 2: what is told of a load is told whole, in one event; means of the last loads are only
        for the screen, and forget nothing that the record does not have.
Rule 3: loads that follow too fast to be told apart are not told.
Rule 4: a load whose step is not told beyond its ±, or that was in the rinse when something
        else ran into it or while an alarm doubted its conductivity, is told as not known, with
        why, and teaches nothing.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.events import Event, EventKind
from linewatch.core.line.doubted import Doubted
from linewatch.core.line.loads import Loads
from linewatch.core.line.rinse_kept import (
    Coming,
    Rinse,
    is_mixed,
    mean,
    rinse_from,
    teach,
    told_words,
)
from linewatch.core.line.rinse_pictures import rinse_picture
from linewatch.core.line.study import Study
from linewatch.core.plan import TankPlan
from linewatch.core.water.rinse_record import WHAT
from linewatch.core.water.rinsing import (
    DOUBTED,
    UNSURE,
    WRONG_LIQUID,
    Ranged,
    Source,
    Tank,
    decayed,
    film_ml,
    per_m2,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.line.machine import Line
    from linewatch.core.line.trips import Trip
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment
    from linewatch.core.water.seen import RinsePicture

NS: Final = 1_000_000_000
LOOKS_KEPT: Final = 8
LONGEST_LOOK_S: Final = 120.0
"""Between two looks; a longer time was not looked at."""


@dataclass(frozen=True, slots=True)
class Place:
    """A rinse of the plan, ready to be looked at."""

    plan: TankPlan
    tank: Tank
    before: TankPlan | None
    """The tank before it on its track: where a load was, if nobody knows better."""


class Rinses(Study):
    """Follows every rinse whose conductivity is read.

    Args:
        plan: The line as it is configured.
    """

    NAME = "rinses"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.tank = {tank.id: tank for tank in plan.tanks}
        self._bath = {bath.id: bath for bath in plan.baths}
        self.places = {place.plan.id: place for place in _places(plan)}
        self.rinse = {name: Rinse() for name in self.places}
        self._doubted = Doubted(plan)
        self._wrong_liquid = {
            condition.tag.partition(".")[0]: number
            for number, condition in enumerate(plan.conditions)
            if condition.kind == "found" and condition.tag.endswith(".wrong-liquid")
        }

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a rinse."""
        return self.PERIOD_NS if self.places else 0

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear that a load came into a rinse, or left it."""
        if event.kind is not EventKind.LOAD or event.subject not in self.places:
            return []
        rinse, place = self.rinse[event.subject], self.places[event.subject]
        match event.values.get("what"):
            case "in":
                told = self._close(line, place, rinse, event.moment)
                self._open(line, place, rinse, event)
                return told
            case "named" if rinse.coming is not None:
                self._name(line, place, rinse.coming)
            case "out":
                return self._left(line, place, rinse, event)
            case _:
                pass
        return []

    def _open(self, line: Line, place: Place, rinse: Rinse, event: Event) -> None:
        at_s = event.mono_ns / NS
        before = decayed(_pairs(rinse.looks), at_s, self.feed_us(line, place))
        rinse.looks, rinse.coming = [], None
        if rinse.came_s >= 0.0:
            mean(rinse, "interval_s", at_s - rinse.came_s)
        rinse.came_s = at_s
        if before is None or event.values.get("is_first"):
            return
        rinse.coming = Coming(
            utc_ns=event.utc_ns,
            at_s=at_s,
            before_us=before.value,
            before_pm=before.value_pm,
            why=self._spoilt(line, place.plan.id),
        )
        self._name(line, place, rinse.coming)

    def _name(self, line: Line, place: Place, coming: Coming) -> None:
        """Note which load it is, where it was before, and how large it is."""
        loads = line.studies.of(Loads)
        stay = loads.stays.get(place.plan.id) if loads is not None else None
        trip = loads.trips.get(stay.trip) if loads is not None and stay is not None else None
        coming.source = place.before.id if place.before is not None else ""
        if loads is not None and trip is not None:
            asked = loads.catalogue.asked(trip, place.plan)
            coming.load, coming.part = trip.number, asked.part
            coming.source = _was_in(trip, place.plan.id) or coming.source
            coming.area_dm2 = asked.area_dm2
            coming.tolerance = asked.area_tolerance_ratio or coming.tolerance
        source = self.source(line, coming.source)
        coming.source_us, coming.source_from = None, ""
        if source is not None and source.range_us is not None:
            coming.source_us, coming.source_from = list(source.range_us), source.told_by

    def _left(self, line: Line, place: Place, rinse: Rinse, event: Event) -> list[Event]:
        now_us = line.good(f"{place.plan.id}.conductivity")
        if rinse.came_s < 0.0 or now_us is None:
            return []
        dwell_s = event.mono_ns / NS - rinse.came_s
        spoilt = self._spoilt(line, place.plan.id)
        if rinse.coming is not None:
            rinse.coming.exit_us, rinse.coming.dwell_s = now_us, dwell_s
            spoilt = rinse.coming.why = rinse.coming.why or spoilt
        if not spoilt:
            mean(rinse, "exit_us", now_us)
        mean(rinse, "dwell_s", dwell_s)
        if rinse.coming is not None and rinse.coming.after_us is not None:
            return self._close(line, place, rinse, event.moment)
        return []

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look at every rinse."""
        events: list[Event] = []
        now_s = at.mono_ns / NS
        for name, rinse in self.rinse.items():
            place = self.places[name]
            since_s = now_s - rinse.looked_s if rinse.looked_s >= 0.0 else 0.0
            rinse.looked_s = now_s
            self._count(line, place, rinse, since_s)
            now_us = line.good(f"{name}.conductivity")
            if now_us is None or since_s > LONGEST_LOOK_S:
                # Not seen for a while: neither a step nor a decay goes over the gap.
                rinse.looks, rinse.coming = [], None
            self._see_jump(line, name, rinse, now_s)
            if rinse.coming is not None:
                rinse.coming.why = rinse.coming.why or self._spoilt(line, name)
            if now_us is None or not is_mixed(rinse, now_s):
                continue
            rinse.looks.append([now_s, now_us])
            del rinse.looks[:-LOOKS_KEPT]
            coming = rinse.coming
            if coming is None or coming.after_us is not None or len(rinse.looks) < LOOKS_KEPT:
                continue
            self._settle(line, place, rinse, coming)
            if coming.exit_us is not None:
                events += self._close(line, place, rinse, at)
        return events

    def _see_jump(self, line: Line, name: str, rinse: Rinse, now_s: float) -> None:
        """See whether something else has run into a rinse: no step nor decay goes over that.

        What comes after it is seen as ever: the rinse clears, and each load has its step.
        """
        wrong = self._wrong_liquid.get(name)
        has_jumped = wrong is not None and line.alarms.active[wrong]
        if has_jumped and not rinse.has_jumped:
            rinse.looks, rinse.jumped_s = [], now_s
            if rinse.coming is not None:
                rinse.coming.why = rinse.coming.why or WRONG_LIQUID
        rinse.has_jumped = has_jumped

    def _spoilt(self, line: Line, name: str) -> str:
        """Return why a rinse tells nothing of the loads in it now; '': it does."""
        return DOUBTED if "conductivity" in self._doubted.blind(line, name) else ""

    def _settle(self, line: Line, place: Place, rinse: Rinse, coming: Coming) -> None:
        """Find where the rinse was right after a load came, and how it clears."""
        looks, feed_us = _pairs(rinse.looks), self.feed_us(line, place)
        after = decayed(looks, coming.at_s, feed_us)
        if after is None:
            return
        coming.after_us, coming.after_pm = after.value, after.value_pm
        middle = decayed(looks, looks[len(looks) // 2][0], feed_us)
        if middle is not None and not coming.why:
            mean(rinse, "slope", middle.slope)
            mean(rinse, "slope_pm", middle.slope_pm)
            mean(rinse, "middle_us", middle.value)

    def _count(self, line: Line, place: Place, rinse: Rinse, since_s: float) -> None:
        flow = line.good(f"{place.plan.id}.flow")
        if flow is None or since_s > LONGEST_LOOK_S:
            rinse.unknown_s += since_s
        else:
            rinse.water_l += flow * since_s / 60.0

    def _close(self, line: Line, place: Place, rinse: Rinse, at: Moment) -> list[Event]:
        """Tell of the load that came in last, if its step can be told."""
        coming, rinse.coming = rinse.coming, None
        if coming is None:
            return []
        if coming.after_us is None:
            self._settle(line, place, rinse, coming)
        if coming.after_us is None:
            return []
        step = Ranged(
            coming.after_us - coming.before_us,
            (coming.after_pm**2 + coming.before_pm**2) ** 0.5,
        )
        why = coming.why or ("" if step.value > step.pm else UNSURE)
        source = self._came_from(coming)
        film = None if why else film_ml(step, coming.before_us, source, place.tank)
        area = coming.area_dm2
        of_area = per_m2(film, area, coming.tolerance) if film is not None and area else None
        high = place.plan.windows.get("conductivity")
        limit = high.high if high is not None else None
        is_beyond = limit is not None and (coming.exit_us or 0.0) > limit
        rinse.loads, rinse.beyond = rinse.loads + 1, rinse.beyond + is_beyond
        if why:
            rinse.untold, rinse.why = rinse.untold + 1, why
        else:
            teach(rinse, step, coming.before_us, {"film": film, "per_m2": of_area})
        values = {
            "what": WHAT,
            "load": coming.load,
            "part": coming.part,
            "track": place.plan.track,
            "source": coming.source,
            "source_us": source.value_us,
            "source_from": source.told_by,
            "came_utc_ns": coming.utc_ns,
            "before_us": coming.before_us,
            "step_us": step.value,
            "step_pm_us": step.pm,
            "why": why,
            "exit_us": coming.exit_us,
            "dwell_s": coming.dwell_s,
            "limit_us": limit,
            "film_ml": film.value if film else None,
            "film_pm_ml": film.pm if film else None,
            "area_dm2": area,
            "film_ml_per_m2": of_area.value if of_area else None,
            "film_pm_ml_per_m2": of_area.pm if of_area else None,
            "water_l": rinse.water_l,
            "unknown_s": rinse.unknown_s,
            "fingerprint": line.plan.fingerprint,
        }
        rinse.water_l = rinse.unknown_s = 0.0
        text = told_words(coming.load, step, film, why)
        return [
            Event(
                kind=EventKind.WATER,
                subject=place.plan.id,
                utc_ns=at.utc_ns,
                mono_ns=at.mono_ns,
                text=text,
                values=values,
            )
        ]

    def _came_from(self, coming: Coming) -> Source:
        """Return the tank before as it was when a load came out of it."""
        tank = self.tank.get(coming.source)
        return Source(
            tank=coming.source,
            name=tank.name if tank is not None else coming.source,
            range_us=_three(coming.source_us),
            is_dilute=tank is not None and tank.kind == "rinse",
            told_by=coming.source_from,
        )

    # What it knows of what flows in.

    def feed_us(self, line: Line, place: Place) -> float | None:
        """Return what the water that runs in conducts [µS/cm]; None: nobody says."""
        rinse = place.plan.rinse
        read = line.good(f"{rinse.fed_from}.conductivity") if rinse.fed_from else None
        return rinse.water_us if read is None else read

    def source(self, line: Line, name: str) -> Source | None:
        """Return what is known of the tank that a load came from."""
        tank = self.tank.get(name)
        if tank is None:
            return None
        value, told_by = line.good(f"{name}.conductivity"), "measured"
        if value is None:
            value, told_by = self._by_hand(line, tank), "read by hand"
        known = (value, value, value) if value is not None else None
        if known is None:
            known, told_by = self._window(tank), "its window"
        return Source(
            tank=name,
            name=tank.name,
            range_us=known,
            is_dilute=tank.kind == "rinse",
            told_by=told_by if known is not None else "",
        )

    def _by_hand(self, line: Line, tank: TankPlan) -> float | None:
        for subject in (tank.id, tank.bath):
            hand = line.hands.last.get(f"{subject}.conductivity")
            if hand is not None:
                return hand.value
        return None

    def _window(self, tank: TankPlan) -> tuple[float, float, float] | None:
        bath = self._bath.get(tank.bath or "")
        for windows in (tank.windows, bath.windows if bath is not None else {}):
            window = windows.get("conductivity")
            if window is not None and window.low is not None and window.high is not None:
                return (window.low + window.high) / 2.0, window.low, window.high
        return None

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {name: asdict(rinse) for name, rinse in self.rinse.items()}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for rinses that the plan no longer has."""
        for name, row in kept.items():
            if name in self.rinse:
                self.rinse[name] = rinse_from(row)


def rinses_of(line: Line) -> tuple[RinsePicture, ...]:
    """Return every rinse of a line whose conductivity is read."""
    rinses = line.studies.of(Rinses)
    if rinses is None:
        return ()
    return tuple(
        rinse_picture(line, rinses, rinses.places[name], rinse)
        for name, rinse in rinses.rinse.items()
    )


def _places(plan: LinePlan) -> list[Place]:
    found = []
    for index, tank in enumerate(plan.tanks):
        is_read = f"{tank.id}.conductivity" in plan.tags
        if tank.kind != "rinse" or tank.volume_l is None or not is_read:
            continue
        before = plan.tanks[index - 1] if index else None
        if before is not None and before.track != tank.track:
            before = None
        known = Tank(
            volume_l=tank.volume_l,
            feed_us=tank.rinse.water_us,
            response_us=tank.rinse.response_us,
        )
        found.append(Place(tank, known, before))
    return found


def _was_in(trip: Trip, tank: str) -> str:
    """Return where a load was before it came into a tank."""
    tanks = trip.tanks
    return tanks[-2] if len(tanks) > 1 and tanks[-1] == tank else ""


def _three(row: list[float] | None) -> tuple[float, float, float] | None:
    return (row[0], row[1], row[2]) if row is not None else None


def _pairs(looks: list[list[float]]) -> list[tuple[float, float]]:
    return [(each[0], each[1]) for each in looks]
