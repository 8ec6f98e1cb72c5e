"""Tells where each tank's water goes: evaporation, top-up, drag-out, and what is left over.

Rule 1: an hour is one of the wall clock's, told whole in one event when it ends.
Rule 2: what falls is measured while nothing moves and nobody fills (`core/rules/leaks.py`);
        what is filled in is what the level has after that over an hour; so neither hides the
        other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewatch.core.additions.water import evaporates_l_per_h
from linewatch.core.events import Event, EventKind, Part
from linewatch.core.line.loads import Loads
from linewatch.core.line.rules import Rules
from linewatch.core.line.study import Study
from linewatch.core.rules.leaks import (
    FALL_S,
    FALLS_LEARNED,
    FIELDS,
    SETTLES_S,
    Fall,
    closed,
    evaporates_mm_per_h,
    habit_of,
    half_hours_of,
    looked,
)
from linewatch.core.water.rinse_record import WHAT as CARRIED
from linewatch.core.water.seen import LevelPicture

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan, TankPlan
    from linewatch.core.readings import Moment
    from linewatch.core.water.seen import RinsePicture

NS: Final = 1_000_000_000
HOUR_NS: Final = 3600 * NS
LONGEST_S: Final = 120.0
WHAT: Final = "level"
RULE: Final = "leaks-slowly"
HOURS_MEANT: Final = 6.0
"""What is topped up comes in gulps, hours apart: its rate is over so long."""


class Levels(Study):
    """Keeps the running hour of every tank whose level and surface are known.

    Args:
        plan: The line as it is configured.
    """

    NAME = "levels"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.tanks = {
            tank.id: tank
            for tank in plan.tanks
            if tank.surface_m2 is not None and f"{tank.id}.level" in plan.tags
        }
        self._bath = {bath.id: bath for bath in plan.baths}
        self.falls = {name: Fall() for name in self.tanks}
        self.hours: dict[str, dict[str, float]] = {name: {} for name in self.tanks}
        self.rates: dict[str, dict[str, float]] = {name: {} for name in self.tanks}
        """What is shown: litres an hour over the last hours."""
        self.marks: dict[str, dict[str, float]] = {name: {} for name in self.tanks}
        """Level and time from which what is filled in is reckoned, with work and without."""
        self.hour = -1
        self.looked_ns = -1

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a level."""
        return self.PERIOD_NS if self.tanks else 0

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear what loads carry out of a tank."""
        if event.kind is EventKind.LOAD and event.values.get("what") == "out":
            self._carried_out(line, event.subject)
        if event.kind is EventKind.WATER and event.values.get("what") == CARRIED:
            source, film = str(event.values.get("source")), event.values.get("film_ml")
            if source in self.hours and isinstance(film, float):
                _add(self.hours[source], "told_l", film / 1000.0)
                _add(self.hours[source], "told_loads", 1.0)
        return []

    def _carried_out(self, line: Line, name: str) -> None:
        tank = self.tanks.get(name)
        if tank is None:
            return
        row, bath = self.hours[name], self._bath.get(tank.bath or "")
        _add(row, "loads", 1.0)
        if bath is None or bath.drag_out_ml_per_m2 is None:
            return
        area_dm2 = _area(line, tank)
        if area_dm2 is not None:
            _add(row, "configured_l", bath.drag_out_ml_per_m2 * area_dm2 / 100.0 / 1000.0)

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Count since the last look; tell of an hour that is over."""
        events: list[Event] = []
        hour = at.utc_ns // HOUR_NS
        if self.hour >= 0 and hour != self.hour:
            events = [self._told(name, line, at) for name in self.tanks if self.hours[name]]
            self.hours = {name: {} for name in self.tanks}
        self.hour = hour
        since_s = (at.mono_ns - self.looked_ns) / NS if self.looked_ns >= 0 else 0.0
        self.looked_ns = at.mono_ns
        for tank in self.tanks.values():
            self._look(line, tank, at, since_s)
        return events

    def _look(self, line: Line, tank: TankPlan, at: Moment, since_s: float) -> None:
        row = self.hours[tank.id]
        level, degc = line.sure(f"{tank.id}.level"), line.sure(f"{tank.id}.temperature")
        if level is None or since_s > LONGEST_S:
            _add(row, "unknown_s", since_s)
        else:
            _add(row, "seen_s", since_s)
        surface_m2 = tank.surface_m2 or 0.0
        if degc is not None and since_s <= LONGEST_S:
            litres = evaporates_l_per_h(degc, surface_m2)
            _add(row, "evaporates_l", (litres or 0.0) * since_s / 3600.0)
        changed_s = (at.mono_ns - line.positions.changed_ns.get(tank.id, 0)) / NS
        if level is None or changed_s < SETTLES_S:
            return
        state = "in" if line.positions.present.get(tank.id) else "out"
        row[f"{state}_mm"], row[f"{state}_s"] = level, at.mono_ns / NS
        self.marks[tank.id].setdefault(f"{state}_mm", level)
        self.marks[tank.id].setdefault(f"{state}_s", at.mono_ns / NS)
        before = self.falls[tank.id]
        fall = looked(before, at.mono_ns / NS, level, changed_s)
        if fall.counted_s >= FALL_S:
            mm_per_h, fall = closed(fall)
            _add(row, "falls", 1.0)
            _add(row, "falls_mm_per_h", mm_per_h)
            self.rates[tank.id]["falls_l_per_h"] = mm_per_h * surface_m2
        self.falls[tank.id] = fall

    def _topped_up(self, name: str, row: Mapping[str, float]) -> float | None:
        """Return what was filled in since the last marks [L]; None where nothing tells.

        Level now less level then, without work both times if it was seen so, and what fell
        meanwhile: a filling after the level was seen so last stands in the next hour.
        Loads of unlike size make an hour unsure by what they displace, but not their sum: the
        marks go on from hour to hour.
        """
        marks, surface_m2 = self.marks[name], self.tanks[name].surface_m2 or 0.0
        falls = self.rates[name].get("falls_l_per_h")
        if row.get("falls"):
            falls = row["falls_mm_per_h"] / row["falls"] * surface_m2
        for state in ("out", "in"):
            if falls is None or f"{state}_mm" not in row or f"{state}_mm" not in marks:
                continue
            hours = (row[f"{state}_s"] - marks[f"{state}_s"]) / 3600.0
            rose_l = (row[f"{state}_mm"] - marks[f"{state}_mm"]) * surface_m2
            litres = rose_l + falls * hours
            if hours <= 0.0 or litres < 0.0:
                # Nothing yet; what is missing is carried on to the next hour.
                return 0.0
            self.marks[name] = {
                key: row[key] for key in row if key in {"in_mm", "in_s", "out_mm", "out_s"}
            }
            return litres
        return None

    def _told(self, name: str, line: Line, at: Moment) -> Event:
        row, surface_m2 = self.hours[name], self.tanks[name].surface_m2 or 0.0
        topped_l = self._topped_up(name, row)
        values: dict[str, Part] = {
            "what": WHAT,
            "hour": self.hour,
            "seen_s": row.get("seen_s", 0.0),
            "unknown_s": row.get("unknown_s", 0.0),
            "evaporates_l": row.get("evaporates_l"),
            "topped_up_l": topped_l,
            "loads": row.get("loads", 0.0),
            "fingerprint": line.plan.fingerprint,
        }
        if row.get("falls"):
            values["falls_l_per_h"] = row["falls_mm_per_h"] / row["falls"] * surface_m2
        dragged, source = _dragged(row)
        values |= {"dragged_l": dragged, "dragged_from": source}
        self._go_on(name, row, {"topped_up_l_per_h": topped_l, "dragged_l_per_h": dragged})
        said = []
        if "falls_l_per_h" in values:
            said.append(f"fell by {values['falls_l_per_h']:.1f} L/h")
        if topped_l is not None:
            said.append(f"topped up {topped_l:.1f} L")
        # It belongs to the hour that is over, whenever the next look comes.
        return Event(
            kind=EventKind.WATER,
            subject=name,
            utc_ns=min(at.utc_ns, (self.hour + 1) * HOUR_NS - 1),
            mono_ns=at.mono_ns,
            text=", ".join(said) or (_UNTOLD if row.get("seen_s") else _UNREAD),
            values=values,
        )

    def _go_on(
        self, name: str, row: Mapping[str, float], litres: Mapping[str, float | None]
    ) -> None:
        """Let the rates that are shown go on by an hour."""
        rates, hours = self.rates[name], row.get("seen_s", 0.0) / 3600.0
        if hours <= 0.0:
            return
        count = rates["hours"] = min(rates.get("hours", 0.0) + 1.0, HOURS_MEANT)
        for key, each in litres.items():
            if each is not None:
                mean = rates.get(key, each / hours)
                rates[key] = mean + (each / hours - mean) / count
        rates["dragged_told"] = 1.0 if row.get("told_loads") else 0.0

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {
            "falls": {name: list(fall) for name, fall in self.falls.items()},
            "hours": self.hours,
            "rates": self.rates,
            "marks": self.marks,
            "hour": self.hour,
            "looked_ns": self.looked_ns,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for tanks that the plan no longer has."""
        self.hour, self.looked_ns = kept.get("hour", -1), kept.get("looked_ns", -1)
        for name in self.tanks:
            fall = kept.get("falls", {}).get(name, ())
            if len(fall) == FIELDS:
                self.falls[name] = Fall(*fall)
            self.hours[name] = dict(kept.get("hours", {}).get(name, {}))
            self.rates[name] = dict(kept.get("rates", {}).get(name, {}))
            self.marks[name] = dict(kept.get("marks", {}).get(name, {}))


_UNTOLD: Final = "its level was not at rest for long enough to tell how fast it falls"
_UNREAD: Final = "its level was not read"


def levels_of(line: Line, rinses: Sequence[RinsePicture]) -> tuple[LevelPicture, ...]:
    """Return where the water of every tank goes whose level is read.

    Args:
        line: The line.
        rinses: Its rinses as they are shown.
    """
    levels = line.studies.of(Levels)
    if levels is None:
        return ()
    after = {each.source: each for each in rinses}
    return tuple(
        _level_picture(line, tank, levels.rates[name], after.get(name))
        for name, tank in levels.tanks.items()
    )


def _level_picture(
    line: Line, tank: TankPlan, rates: Mapping[str, float], rinse: RinsePicture | None
) -> LevelPicture:
    surface_m2 = tank.surface_m2 or 0.0
    degc = line.sure(f"{tank.id}.temperature")
    falls = rates.get("falls_l_per_h")
    usual, leaks, unknown = _usual(line, tank, degc)
    room = None if falls is None else max(0.0, falls - (leaks or 0.0))
    if rinse is None or tank.kind == "rinse":
        room = None
    flow = rinse.flow_l_per_min or rinse.decay_flow_l_per_min if rinse is not None else None
    told = "" if "dragged_l_per_h" not in rates else "configuration"
    if rates.get("dragged_told") and rinse is not None:
        told = f"rinse {rinse.tank}"
    return LevelPicture(
        tank=tank.id,
        evaporates_l_per_h=None if degc is None else evaporates_l_per_h(degc, surface_m2),
        falls_l_per_h=falls,
        usual_l_per_h=usual,
        leaks_l_per_h=leaks,
        leaks_unknown=unknown,
        topped_up_l_per_h=rates.get("topped_up_l_per_h"),
        dragged_l_per_h=rates.get("dragged_l_per_h"),
        dragged_from=told,
        room_l_per_h=room,
        returns_ratio=min(1.0, room / (60.0 * flow)) if room is not None and flow else None,
    )


def _usual(
    line: Line, tank: TankPlan, degc: float | None
) -> tuple[float | None, float | None, str]:
    """Return what a tank usually loses now, what it loses beyond [L/h], or why nobody knows."""
    rules, surface_m2 = line.studies.of(Rules), tank.surface_m2 or 0.0
    kept, is_there, limit = rules.at(tank.id, RULE) if rules is not None else ((), False, 0.0)
    habit = habit_of(kept)
    if not limit:
        return None, None, "no temperature, or no load, is read"
    if habit is None:
        learned = f"{half_hours_of(kept):.0f} of {FALLS_LEARNED:.0f}"
        return None, None, f"being learned: {learned} half hours"
    if degc is None:
        return None, None, "temperature not known now"
    usual = (habit.mean + evaporates_mm_per_h(degc)) * surface_m2
    if habit.square**0.5 > limit:
        return usual, None, "the level moves too much to tell"
    return usual, habit.smooth * surface_m2 if is_there else 0.0, ""


def _dragged(row: Mapping[str, float]) -> tuple[float | None, str]:
    """Return what loads carried out in an hour [L], and by what it is known."""
    if row.get("told_loads"):
        return row["told_l"] / row["told_loads"] * row.get("loads", 0.0), "rinse"
    if "configured_l" in row:
        return row["configured_l"], "configuration"
    return None, ""


def _area(line: Line, tank: TankPlan) -> float | None:
    """Return the area of the load that has just left a tank [dm2]."""
    loads = line.studies.of(Loads)
    if loads is not None:
        for trip in reversed(loads.trips.values()):
            if trip.tanks[-1:] == [tank.id]:
                return loads.catalogue.asked(trip, tank).area_dm2
    return tank.area_dm2


def _add(row: dict[str, float], name: str, value: float) -> None:
    row[name] = row.get(name, 0.0) + value
