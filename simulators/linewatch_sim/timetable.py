"""Where every load is: worked out from a track's own time, for all stops at once.

Rule 1: a stop's occupancy is a function of its track's time alone. A conveyor that stalls is a
        track whose time stands still.
Rule 2: the size of a load is a function of its number and the seed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.parts import AtOne, AtZero, Floats, Quantity, columns, usual

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from linewatch_sim.rows import LineRow, StopRow


def dwells(
    stops: Sequence[tuple[str, float]], transfer_s: float = 20.0
) -> tuple[tuple[str, float, float], ...]:
    """Return (tank, enters_s, dwell_s) for a load that goes straight from dip to dip."""
    at_s, way = 0.0, []
    for tank, dwell_s in stops:
        way.append((tank, at_s, dwell_s))
        at_s += dwell_s + transfer_s
    return tuple(way)


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A load's finished stay at one tank."""

    load: int
    tank: str
    entered_s: float
    left_s: float
    cathodic_ah: float
    anodic_ah: float
    metal_g: float


@dataclass(slots=True)
class TimetableWrong:
    """What may go wrong with a track; one place for each track."""

    moving: AtOne
    """0: its conveyor or crane stalls."""
    size_factor: AtOne
    """How much larger the loads are that are hung from now on."""
    drag_factor: AtOne
    """How much more film they carry: they drain too short."""
    left_out: AtZero
    """Which tank of the line its loads pass over, counted from 1; 0: none."""
    salted_bar: AtZero
    """Number of the bar whose contacts are salted; 0: none is."""


FOLLOWED = 500
"""Loads whose last tank is still known."""
BARS = 12
"""Flight bars that a track has: loads hang on them in turn."""
SALTED_MOHM = 0.8
"""What salted contacts of a bar add."""


@dataclass(slots=True)
class _Stops:
    """All stops of all tracks as arrays, one place for each stop."""

    place: Floats
    track: Floats
    enters_s: Floats
    dwell_s: Floats
    interval_s: Floats
    every: Floats
    turn: Floats
    first_load: Floats
    gap_every: Floats
    skip_every: Floats
    skip_turn: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stop:
    """One stop with what its track says."""

    place: int
    track: int
    enters_s: float
    dwell_s: float
    interval_s: float
    every: int
    turn: int
    first_load: int
    gap_every: int
    skip_every: int
    skip_turn: int


class Timetable:
    """Loads at all stops. Arrays have one place for each tank of the line, in its order."""

    def __init__(self, line: LineRow, seed: int) -> None:
        self.ids = tuple(track.id for track in line.tracks)
        self._tracks = line.tracks
        self._seed = seed
        self.wrong = usual(TimetableWrong, len(line.tracks))
        self.track_s = np.array([_start_s(track.stops) for track in line.tracks])
        """Each track's own time [s]."""
        stops = _flat(line)
        self._stop = columns(_Stops, stops)
        self._at = np.array([stop.place for stop in stops], dtype=np.intp)
        self._track = np.array([stop.track for stop in stops], dtype=np.intp)
        self._period = self._stop.interval_s * self._stop.every
        self._offset = self._stop.enters_s + self._stop.turn * self._stop.interval_s
        if (self._stop.dwell_s >= self._period).any():
            raise ValueError(f"{line.id}: a load would come to a station before the last left")
        n = len(line.tanks)
        self.tanks = tuple(tank.id for tank in line.tanks)
        self._usually_from = _came_from(line)
        self.came_from = self._usually_from.copy()
        """The tank that the load was in before; -1: it comes from the loading place."""
        self._was_in: dict[tuple[int, int], int] = {}
        """By track and load, the tank that it left last."""
        self.is_in = np.zeros(n, dtype=bool)
        self.since_s = np.zeros(n)
        """Time since the load entered [s of track time]."""
        self.left_s = np.zeros(n)
        """Time until it is lifted [s of track time]."""
        self.load = np.zeros(n, dtype=np.int64)
        """Number of the load that is in, or was last."""
        self.area_dm2 = np.zeros(n)
        """Area of the load that is in, or was last."""
        self.bar_mohm = np.zeros(n)
        """What the contacts of the bar that is in add [mOhm]."""
        self.mass_kg = np.zeros(n)
        self.film_l = np.zeros(n)
        """Liquid that it carries along."""
        self.entered = np.zeros(n, dtype=bool)
        self.left = np.zeros(n, dtype=bool)
        """Whether a load entered or left in the last step."""
        self.advance(0.0)
        self.entered[:] = False

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What a track as a whole tells."""
        return _QUANTITIES

    def advance(self, dt_s: float) -> None:
        """Go on by a step."""
        self.track_s += dt_s * self.wrong.moving
        stop, at = self._stop, self._at
        since = self.track_s[self._track] - self._offset
        turns = np.floor(since / self._period)
        phase = since - turns * self._period
        number = turns * stop.every + stop.turn
        now_in = (phase < stop.dwell_s) & self._comes(number)
        if self.wrong.left_out.any():
            now_in &= at + 1 != self.wrong.left_out[self._track]
        load = (stop.first_load + number).astype(np.int64)
        was_in = self.is_in[at]
        changed = now_in & (load != self.load[at])
        self.entered[at] = now_in & (changed | ~was_in)
        self.left[at] = was_in & (~now_in | changed)
        self._follow(load)
        self.is_in[at] = now_in
        self.since_s[at] = phase
        self.left_s[at] = stop.dwell_s - phase
        if changed.any():
            for k in np.flatnonzero(changed).tolist():
                self._hang(int(at[k]), int(self._track[k]), int(load[k]))

    def _follow(self, load: NDArray[np.int64]) -> None:
        """Note which tank each load comes from: not every load stops everywhere."""
        at, track = self._at, self._track
        for k in np.flatnonzero(self.left[at]).tolist():
            gone = (int(track[k]), int(self.load[at[k]]))
            self._was_in[gone] = int(at[k])
            if len(self._was_in) > FOLLOWED:
                del self._was_in[next(iter(self._was_in))]
        for k in np.flatnonzero(self.entered[at]).tolist():
            here = int(at[k])
            before = self._was_in.get((int(track[k]), int(load[k])))
            self.came_from[here] = self._usually_from[here] if before is None else before

    def _comes(self, number: Floats) -> NDArray[np.bool_]:
        """Tell for each stop whether that load hangs at all, and stops there."""
        stop = self._stop
        hung = np.mod(number, np.maximum(stop.gap_every, 1.0)) != stop.gap_every - 1.0
        stops = np.mod(number, np.maximum(stop.skip_every, 1.0)) != stop.skip_turn
        comes: NDArray[np.bool_] = (hung | (stop.gap_every < 1.0)) & (
            stops | (stop.skip_every < 1.0)
        )
        return comes

    def _hang(self, place: int, track: int, load: int) -> None:
        row = self._tracks[track]
        # A cheap mixing of the load's number, so that its size is the same at every stop.
        mixed = (load * 2654435761 + self._seed * 40503) & 0xFFFFFFFF
        size = 1.0 + row.spread_ratio * (2.0 * (mixed >> 8) / 0xFFFFFF - 1.0)
        size *= float(self.wrong.size_factor[track])
        film_ml = row.drag_ml_per_m2 * row.area_dm2 / 100.0 * size
        self.load[place] = load
        is_salted = load % BARS + 1 == self.wrong.salted_bar[track]
        self.bar_mohm[place] = SALTED_MOHM if is_salted else 0.0
        self.area_dm2[place] = row.area_dm2 * size
        self.mass_kg[place] = row.mass_kg * size
        self.film_l[place] = film_ml / 1000.0 * float(self.wrong.drag_factor[track])

    def taken(self, tank: int) -> float:
        """Return the number of the load in a tank; 0 if it is empty."""
        return float(self.load[tank]) if self.is_in[tank] else 0.0

    def hanging(self, track: int) -> float:
        """Return how many loads of a track are in a tank now."""
        return float(self.is_in[self._at[self._track == track]].sum())


_QUANTITIES: dict[str, Quantity] = {
    "running": lambda t, k: float(t.wrong.moving[k]),
    "count": lambda t, k: t.hanging(k),
}


class Stations:
    """The same loads, told tank by tank."""

    wrong = None

    def __init__(self, loads: Timetable) -> None:
        self.ids = loads.tanks
        self.loads = loads

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What a station's proximity switch and reader tell."""
        return _AT_STATIONS


_AT_STATIONS: dict[str, Quantity] = {
    "load-present": lambda s, k: float(s.loads.is_in[k]),
    "load-number": lambda s, k: s.loads.taken(k),
}


def _flat(line: LineRow) -> list[_Stop]:
    order = {tank.id: k for k, tank in enumerate(line.tanks)}
    return [
        _Stop(
            place=order[stop.tank],
            track=t,
            enters_s=stop.enters_s,
            dwell_s=stop.dwell_s,
            interval_s=track.interval_s,
            every=stop.every,
            turn=stop.turn,
            first_load=track.first_load,
            gap_every=track.gap_every,
            skip_every=stop.skip_every,
            skip_turn=stop.skip_turn,
        )
        for t, track in enumerate(line.tracks)
        for stop in track.stops
    ]


def _came_from(line: LineRow) -> NDArray[np.intp]:
    order = {tank.id: k for k, tank in enumerate(line.tanks)}
    came = np.full(len(order), -1, dtype=np.intp)
    for track in line.tracks:
        for stop in track.stops:
            earlier = [other for other in track.stops if _shares_loads(other, stop)]
            if earlier:
                last = max(earlier, key=lambda other: other.enters_s)
                came[order[stop.tank]] = order[last.tank]
    return came


def _shares_loads(earlier: StopRow, later: StopRow) -> bool:
    same = earlier.every == 1 or later.every == 1 or earlier.turn == later.turn
    return same and earlier.enters_s < later.enters_s


def _start_s(stops: Sequence[StopRow]) -> float:
    """Return a track time at which the whole track is full, off the moment of any move."""
    return max(stop.enters_s + stop.dwell_s for stop in stops) + 7.0
