"""What was true at past moments: the beginning, and the last ten minutes of wall time.

Snapshots of everything cumulative lie on a grid; what is asked between two of them is
interpolated. Before the oldest that is left, the oldest is given, and said to be it.
"""

from __future__ import annotations

import bisect
import math
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from linewatch_sim.works import Works

KEPT_WALL_S = 600.0
OPENING_WALL_S = 60.0
"""How much of the beginning is kept for good."""
MOST = 20_000
"""Snapshots of the last minutes, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """What was true at one moment: one row a quantity, one column a tank."""

    line_s: float
    tanks: NDArray[np.float64]
    meters_ah: NDArray[np.float64]


TANK_ROWS = ("cathodic_ah", "anodic_ah", "metal_g", "temperature_degc", "level_mm")


def snapshot(works: Works) -> Snapshot:
    """Return what is true now."""
    return Snapshot(
        line_s=works.line_s,
        tanks=np.stack(
            [
                works.cathodic_ah,
                works.anodic_ah,
                works.metal_g,
                works.solutions.temperature_degc,
                works.solutions.level_mm,
            ]
        ),
        meters_ah=works.electrics.meter_ah.copy(),
    )


class Past:
    """Snapshots of a running plant."""

    def __init__(self, works: Works, speed: float) -> None:
        self._works = works
        kept_s = KEPT_WALL_S * speed
        self.grid_s = max(0.1, math.ceil(kept_s / MOST * 10.0) / 10.0)
        """Line time between two snapshots."""
        self._opening_s = OPENING_WALL_S * speed
        self._opening: list[Snapshot] = []
        self._recent: deque[Snapshot] = deque(maxlen=math.ceil(kept_s / self.grid_s) + 2)
        self._next_s = 0.0
        self.note()

    def note(self) -> None:
        """Take a snapshot if the next is due."""
        works = self._works
        if works.line_s + 1e-9 < self._next_s:
            return
        taken = snapshot(works)
        if works.line_s <= self._opening_s:
            self._opening.append(taken)
        self._recent.append(taken)
        self._next_s = works.line_s + self.grid_s

    def at(self, line_s: float) -> tuple[Snapshot, bool]:
        """Return what was true at a line time, and whether that moment was still known."""
        now = snapshot(self._works)
        if line_s >= now.line_s:
            return now, True
        for kept in (self._recent, self._opening):
            if (
                kept
                and kept[0].line_s <= line_s
                and (kept is self._recent or line_s <= kept[-1].line_s)
            ):
                return self._between(kept, line_s, now), True
        return self._recent[0], False

    @staticmethod
    def _between(
        kept: deque[Snapshot] | list[Snapshot], line_s: float, now: Snapshot
    ) -> Snapshot:
        after = bisect.bisect_right(kept, line_s, key=lambda one: one.line_s)
        before = kept[after - 1]
        later = kept[after] if after < len(kept) else now
        span = later.line_s - before.line_s
        share = (line_s - before.line_s) / span if span > 0.0 else 0.0
        return Snapshot(
            line_s=line_s,
            tanks=before.tanks + share * (later.tanks - before.tanks),
            meters_ah=before.meters_ah + share * (later.meters_ah - before.meters_ah),
        )
