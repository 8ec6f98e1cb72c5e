"""Does the loaded cell take more volts than it did? Load by load, against itself.

Each load gives one point: mean volts, current density and bath temperature once it has
settled. A line through the points of good running is learned (`fit_cell_line` where the
current varied enough and the area is known, else the level alone, with the slope that common
practice gives the solution's part), and each new point is held against it. A lasting rise is
told by a cumulative sum; a jump within a load by three looks in a row.

Rule 1: points are clipped before they are summed, so that no single load tells anything.
Rule 2: instruments that show whole volts widen what counts as usual.
Rule 3: where the area is not known to 5 % a rise is told only when it is twice as large.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt
from typing import TYPE_CHECKING, Final

import numpy as np

from linewatch.core.diagnostics.cell import (
    LARGEST_AREA_TOLERANCE_RATIO,
    TEMPERATURE_PER_K,
    fit_cell_line,
    temperature_factor,
)
from linewatch.core.diagnostics.change import stands, summed
from linewatch.core.diagnostics.remembered import Remembered
from linewatch.core.errors import Refused

if TYPE_CHECKING:
    from numpy.typing import NDArray

SETTLED_S: Final = 40.0
"""After a ramp: common practice."""
LEAST_LOOKS: Final = 2
LONGEST_LOOKS: Final = 60
"""A long load gives a point as often [looks]."""
FIRST_POINTS: Final = 10
"""Points after which others are held against them."""
UNKNOWN_POINTS: Final = 20
"""The same where the area is not known."""
A_PLACE: Final = 20
"""Points that are learned at one current density; then the base stands there until the unit is
serviced."""
PLACE_RATIO: Final = 0.04
"""Width of a place, in current density [1]."""
NEAR_POINTS: Final = 4
"""Points that must have been learned near a current density before it is judged there."""
SOLUTION_RATIO: Final = 0.6
"""Share of the volts that goes with the current: 55 to 70 %, common practice."""
LEAST_SPREAD: Final = 0.008
"""Spread of healthy points over their volts [1], however well they agreed so far."""
CLIP: Final = 3.0
SLACK: Final = 1.0
THRESHOLD: Final = 8.0
LEAST_RISE: Final = 0.04
"""A rise of the volts below this share is not worth a walk [1]; common practice."""
STEP_RATIO: Final = 0.05
STEP_LOOKS: Final = 3
STEADY_RATIO: Final = 0.03
LEAST_WIDTH: Final = 0.10
"""Variation of the current from which on a slope is taken from the points themselves [1]."""


@dataclass(slots=True)
class CellPoint:
    """What one look sees of a loaded cell."""

    current_a: float
    voltage_v: float
    density_a_per_dm2: float
    """Over the load's own area, or a usual one."""
    temperature_degc: float | None
    area_tolerance_ratio: float


@dataclass(slots=True)
class CellTold:
    """What a point has told."""

    voltage_v: float
    usual_v: float
    rise_ratio: float
    """Smoothed excess over the usual volts [1]."""
    extra_w: float
    """Heat of the extra volts at the present current [W]."""
    is_line: bool
    """Whether a line was fitted, or the level alone."""


@dataclass(slots=True)
class CellWatch(Remembered):
    """One unit's loaded cell."""

    points: list[list[float]] = field(default_factory=list)
    """Learned: density, volts, temperature, tolerance of the area."""
    total: list[float] = field(default_factory=lambda: [0.0] * 6)
    """Of the load now in: looks, sums of density, volts, temperature, tolerance, current."""
    load_since_s: float = -1.0
    line: list[float] = field(default_factory=list)
    """V0, slope, spread, temperature, whether it was fitted; empty before there are enough."""
    up: float = 0.0
    since_ns: int = -1
    """Line time at which the sum last left zero [ns]: when a rise began, if it is one."""
    excess: float = 0.0
    """Exponentially weighted excess over the usual volts [1]."""
    step: float = 0.0
    """Size of the jump that was seen within the load now in [1]."""
    step_row: int = 0
    has_risen: bool = False
    resolution_v: float = 1.0
    """Step in which the voltmeter counts [V], as far as was seen."""

    def look(self, point: CellPoint, since_s: float, mono_ns: int) -> CellTold | None:
        """Look at a settled, loaded cell.

        Args:
            point: What is read.
            since_s: For how long the work has been in [s].
            mono_ns: Line time [ns].

        Returns:
            What a point told that became whole with this look; None for none.
        """
        self._resolve(point.voltage_v)
        began_s = mono_ns / 1e9 - since_s
        told = None
        if self.load_since_s < 0.0 or abs(began_s - self.load_since_s) > 1.0:
            told = self.leave(mono_ns)
            self.load_since_s = began_s
        if since_s < SETTLED_S:
            return told
        self._jumped(point)
        self.total[0] += 1.0
        warm = point.temperature_degc if point.temperature_degc is not None else 25.0
        values = (
            point.density_a_per_dm2,
            point.voltage_v,
            warm,
            point.area_tolerance_ratio,
            point.current_a,
        )
        for k, value in enumerate(values, 1):
            self.total[k] += value
        if self.total[0] >= LONGEST_LOOKS:
            return self._point(mono_ns) or told
        return told

    def leave(self, mono_ns: int) -> CellTold | None:
        """Take that the load has gone: its point is whole."""
        self.step, self.step_row = 0.0, 0
        found = self._point(mono_ns) if self.total[0] >= LEAST_LOOKS else None
        self.total = [0.0] * 6
        self.load_since_s = -1.0
        return found

    def _resolve(self, voltage_v: float) -> None:
        while self.resolution_v > 1e-3:  # noqa: PLR2004 - finer than any panel meter
            if abs(voltage_v / self.resolution_v - round(voltage_v / self.resolution_v)) < 1e-6:  # noqa: PLR2004
                return
            self.resolution_v /= 10.0

    def _jumped(self, point: CellPoint) -> None:
        """See a jump against the load's own mean at the same current."""
        count = self.total[0]
        if count < LEAST_LOOKS:
            return
        density, volts = self.total[1] / count, self.total[2] / count
        if abs(point.density_a_per_dm2 / density - 1.0) > STEADY_RATIO:
            self.step_row = 0
            return
        jump = (point.voltage_v - volts) / volts
        least = max(STEP_RATIO, 2.0 * self.resolution_v / volts)
        if jump <= least:
            self.step_row = 0
            return
        self.step_row += 1
        if self.step_row >= STEP_LOOKS:
            self.step = max(self.step, jump)

    def _point(self, mono_ns: int) -> CellTold | None:
        count = self.total[0]
        now = [each / count for each in self.total[1:]]
        # A mean of equal tolerances must not come out a hair above them.
        now[3] = round(now[3], 6)
        self.total = [0.0] * 6
        near = [row for row in self.points if abs(row[0] / now[0] - 1.0) <= 2 * PLACE_RATIO]
        judged = bool(self.line) and (len(near) >= NEAR_POINTS or self._lies_between(now[0]))
        told = self._judged(now, mono_ns) if judged else None
        healthy = self.up < 0.5 * THRESHOLD and not self.has_risen
        is_near = told is None or abs(told.voltage_v - told.usual_v) < 2 * CLIP * self.line[2]
        here = sum(abs(row[0] / now[0] - 1.0) <= PLACE_RATIO / 2 for row in near)
        if here < A_PLACE and healthy and is_near:
            self.points.append(now[:4])
            known = now[3] <= LARGEST_AREA_TOLERANCE_RATIO
            if len(self.points) >= (FIRST_POINTS if known else UNKNOWN_POINTS):
                self.line = _learned(self.points, self.resolution_v)
        return told

    def _lies_between(self, density_a_per_dm2: float) -> bool:
        """Say whether a current density lies among those that were learned, wide apart."""
        learned = [row[0] for row in self.points]
        wide = max(learned) > (1.0 + LEAST_WIDTH) * min(learned)
        return wide and min(learned) <= density_a_per_dm2 <= max(learned)

    def _judged(self, now: list[float], mono_ns: int) -> CellTold:
        density, volts, warm, tolerance, current_a = now
        v0, slope, spread, reference, is_line = self.line
        usual = v0 + slope * density * temperature_factor(warm, reference)
        excess = volts / usual - 1.0
        known = tolerance <= LARGEST_AREA_TOLERANCE_RATIO
        slack = SLACK if known else 2.0 * SLACK
        standard = max(-CLIP, min(CLIP, (volts - usual) / spread))
        before = self.up
        self.up = summed(self.up, standard, slack, THRESHOLD)
        if self.up > 0.0 and (before <= 0.0 or self.since_ns < 0):
            self.since_ns = mono_ns
        weight = 0.5 if known else 0.25
        self.excess += weight * (max(-0.3, min(0.3, excess)) - self.excess)
        least = LEAST_RISE if known else 2.0 * LEAST_RISE
        is_large = self.excess >= least
        self.has_risen = stands(self.up, THRESHOLD, was=self.has_risen, is_large=is_large)
        return CellTold(
            voltage_v=volts,
            usual_v=usual,
            rise_ratio=self.excess,
            extra_w=max(0.0, volts - usual) * current_a,
            is_line=bool(is_line),
        )


def _learned(points: list[list[float]], resolution_v: float) -> list[float]:
    """Return (V0, slope, spread, temperature, whether a line could be fitted)."""
    rows = np.array(points)
    density, volts, warm, tolerance = rows.T
    floor = max(LEAST_SPREAD * float(np.median(volts)), resolution_v / sqrt(12.0))
    try:
        line = fit_cell_line(
            density, volts, warm, area_tolerance_ratio=float(np.median(tolerance))
        )
    except Refused:
        reference = float(np.median(warm))
        scaled = density * np.exp(-TEMPERATURE_PER_K * (warm - reference))
        slope, v0 = _level(scaled, volts)
        off = np.abs(volts - v0 - slope * scaled)
        # Where the area is not known, the tails are what must be expected.
        spread = max(1.4826 * float(np.median(off)), float(np.quantile(off, 0.95)) / 1.6)
        return [v0, slope, max(spread, floor), reference, 0.0]
    return [
        line.v0_v,
        line.slope_ohm_dm2,
        max(line.spread_v, floor),
        line.temperature_degc,
        1.0,
    ]


def _level(scaled: NDArray[np.float64], volts: NDArray[np.float64]) -> tuple[float, float]:
    """Return (slope, V0) through points that vary too little for a line of the cell."""
    middle, level = float(np.median(scaled)), float(np.median(volts))
    low, high = np.quantile(scaled, [0.05, 0.95])
    slope = SOLUTION_RATIO * level / middle
    if high - low > LEAST_WIDTH * middle:
        # Imported here: SciPy costs a tenth of a second at start.
        from scipy.stats import theilslopes

        slope = float(theilslopes(volts, scaled)[0])
    return slope, level - slope * middle
