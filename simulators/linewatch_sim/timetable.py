"""Where every load is: worked out from a track's own time, for all stops at once.

Rule 1: a stop's occupancy is a function of its track's time alone. A conveyor that stalls is a
        track whose time stands still.
Rule 2: the size of a load is a function of its number and the seed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

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


class Timetable:
    """Loads at all stops. Arrays have one place for each tank of the line, in its order."""

    def __init__(self, line: LineRow, seed: int) -> None:
        order = {tank.id: k for k, tank in enumerate(line.tanks)}
        self._tracks = line.tracks
        self._seed = seed
        self.track_s = np.array([_start_s(track.stops) for track in line.tracks])
        """Each track's own time [s]."""
        self.moving = np.ones(len(line.tracks))
        """1 while a track's conveyor or crane works, 0 while it stalls."""
        stops = [
            (order[stop.tank], stop, t)
            for t, track in enumerate(line.tracks)
            for stop in track.stops
        ]
        self._at = np.array([place for place, _, _ in stops], dtype=np.intp)
        self._track_of = np.array([t for _, _, t in stops], dtype=np.intp)
        interval = np.array([line.tracks[t].interval_s for _, _, t in stops])
        every = np.array([float(stop.every) for _, stop, _ in stops])
        turn = np.array([float(stop.turn) for _, stop, _ in stops])
        self._every, self._turn = every, turn
        self._offset = np.array([stop.enters_s for _, stop, _ in stops]) + turn * interval
        self._period = interval * every
        self._dwell = np.array([stop.dwell_s for _, stop, _ in stops])
        _refuse_overlap(line, self._dwell, self._period)
        self._first = np.array([line.tracks[t].first_load for _, _, t in stops])
        n = len(line.tanks)
        self.is_in = np.zeros(n, dtype=bool)
        self.since_s = np.zeros(n)
        """Time since the load entered [s of track time]."""
        self.left_s = np.zeros(n)
        """Time until it is lifted [s of track time]."""
        self.load = np.zeros(n, dtype=np.int64)
        """Number of the load that is in, or was last."""
        self.area_dm2 = np.zeros(n)
        """Area of the load that is in, or was last."""
        self.mass_kg = np.zeros(n)
        self.film_l = np.zeros(n)
        """Liquid that it carries along."""
        self.entered = np.zeros(n, dtype=bool)
        self.left = np.zeros(n, dtype=bool)
        """Whether a load entered or left in the last step."""
        self.came_from = np.full(n, -1)
        """The tank that a load is in before this one; -1: it comes from the loading place."""
        for track in line.tracks:
            for stop in track.stops:
                earlier = [s for s in track.stops if _shares_loads(s, stop)]
                if earlier:
                    last = max(earlier, key=lambda s: s.enters_s)
                    self.came_from[order[stop.tank]] = order[last.tank]
        self.advance(0.0)
        self.entered[:] = False

    def advance(self, dt_s: float) -> None:
        """Go on by a step."""
        self.track_s += dt_s * self.moving
        since = self.track_s[self._track_of] - self._offset
        turns = np.floor(since / self._period)
        phase = since - turns * self._period
        at = self._at
        now_in = phase < self._dwell
        load = (self._first + turns * self._every + self._turn).astype(np.int64)
        was_in, was_load = self.is_in[at], self.load[at]
        changed = now_in & (load != was_load)
        self.entered[at] = now_in & (changed | ~was_in)
        self.left[at] = was_in & (~now_in | changed)
        self.is_in[at] = now_in
        self.since_s[at] = phase
        self.left_s[at] = self._dwell - phase
        if changed.any():
            for stop in np.flatnonzero(changed).tolist():
                self._hang(stop, int(load[stop]))

    def _hang(self, stop: int, load: int) -> None:
        place, track = int(self._at[stop]), self._tracks[self._track_of[stop]]
        # A cheap mixing of the load's number, so that its size is the same at every stop.
        mixed = (load * 2654435761 + self._seed * 40503) & 0xFFFFFFFF
        size = 1.0 + track.spread_ratio * (2.0 * (mixed >> 8) / 0xFFFFFF - 1.0)
        self.load[place] = load
        self.area_dm2[place] = track.area_dm2 * size
        self.mass_kg[place] = track.mass_kg * size
        self.film_l[place] = track.drag_ml_per_m2 * track.area_dm2 * size / 1e5


def _shares_loads(earlier: StopRow, later: StopRow) -> bool:
    same = earlier.every == 1 or later.every == 1 or earlier.turn == later.turn
    return same and earlier.enters_s < later.enters_s


def _start_s(stops: Sequence[StopRow]) -> float:
    """Return a track time at which the whole track is full, off the moment of any move."""
    return max(stop.enters_s + stop.dwell_s for stop in stops) + 7.0


def _refuse_overlap(
    line: LineRow, dwell: NDArray[np.float64], period: NDArray[np.float64]
) -> None:
    if (dwell >= period).any():
        raise ValueError(f"{line.id}: a load would enter a station before the last has left it")
