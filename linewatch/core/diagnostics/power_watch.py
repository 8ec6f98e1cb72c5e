"""Does a rectifier lose more of its input power than it did?

Input power less what goes out as direct current is what the unit loses. Losses have a part that
is always there (transformer, control), one that goes with the current (the drop of devices) and
one that goes with its square (windings, bars); how large each is, is learned from the unit's
own running, so that a unit turned down, of poorer efficiency by nature, is not called worse. A
fall of the efficiency at its operating point is a device, a joint or a winding; a rise that no
repair explains is an instrument: a shunt that reads too much makes any unit look better.

Rule 1: nothing is judged while the current moves, or outside the currents that were learned.
Rule 2: an input meter that shows whole kilowatts widens what counts as usual.
Rule 3: what is odd is never learned.

References:
    C. L. Lawson, R. J. Hanson, "Solving Least Squares Problems", SIAM (1995), chapter 23, as
    `scipy.optimize.nnls` has it: no part of the losses can be negative.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from linewatch.core.diagnostics.change import stands, summed
from linewatch.core.diagnostics.remembered import Remembered

STEADY_RATIO: Final = 0.06
"""How far a look's current may lie from the mean of its point: a barrel's swings by some
percent."""
LOOKS: Final = 4
"""Steady looks that are one point."""
LEAST_POINTS: Final = 30
EVERY: Final = 10
MOST_POINTS: Final = 240
"""Points that are learned from; then the base stands until the unit is serviced."""
SPREAD: Final = 0.004
"""Spread of healthy points, in efficiency [1], however well they agreed so far."""
NEAR: Final = 10
"""Points that the model must have been fitted to near a current before it is judged there."""
NEAR_RATIO: Final = 0.15
CLIP: Final = 3.0
SLACK: Final = 1.5
THRESHOLD: Final = 12.0
LEAST_DRIFT: Final = 0.02
"""A change of the efficiency below this is not worth a walk [1]; common practice."""
WEIGHT: Final = 0.2
LEAST_W: Final = 1.0
"""Input or output below which meters show their own zero [W]; common practice."""
MOST_OUT_RATIO: Final = 2.0
"""Output over input beyond which the meter does not read this unit, or reads nothing, and
nothing is learned: a shunt that reads too much makes some percent. Common practice."""


@dataclass(slots=True)
class PowerTold:
    """What a point has told."""

    efficiency_ratio: float
    """Output over input [1]."""
    usual_ratio: float
    """What was learned at this current and these volts [1]."""
    drift_ratio: float
    """Smoothed difference of the two [1]."""
    extra_w: float
    """Losses over the learned ones [W]."""


@dataclass(slots=True)
class PowerWatch(Remembered):
    """One unit's input power."""

    points: list[list[float]] = field(default_factory=list)
    """Learned: current over rated current, losses [W], output [W]."""
    total: list[float] = field(default_factory=lambda: [0.0] * 4)
    """Of the point now: looks, sums of current ratio, input [W], output [W]."""
    fitted: int = 0
    """How many of the points the model was fitted to."""
    model: list[float] = field(default_factory=list)
    """Losses at rest [W], at rated current by its first [W] and second power [W], spread of the
    efficiency [1]; empty: not known."""
    resolution_w: float = 1000.0
    """Step in which the input meter counts [W], as far as was seen."""
    down: float = 0.0
    up: float = 0.0
    drift: float = 0.0
    usual: float = 0.0
    """Efficiency at the last point by what was learned [1]."""
    seen: float = 0.0
    """Efficiency at the last point [1]."""
    has_drifted: bool = False

    def look(self, load_ratio: float, input_w: float, output_w: float) -> PowerTold | None:
        """Look at one reading.

        Args:
            load_ratio: Current over rated current [1], without sign.
            input_w: AC input [W].
            output_w: Volts times amperes of the output [W].

        Returns:
            What a point told that became whole with this look; None for none.
        """
        self._resolve(input_w)
        count = self.total[0]
        if count and abs(load_ratio / (self.total[1] / count) - 1.0) > STEADY_RATIO:
            self.rest()
        for k, value in enumerate((1.0, load_ratio, input_w, output_w)):
            self.total[k] += value
        if self.total[0] < LOOKS + 1:
            return None
        count, loads, inputs, outputs = self.total
        self.rest()
        # Where nothing comes out there is no efficiency; far more than goes in is no reading.
        if min(inputs, outputs) < LEAST_W * count or outputs > MOST_OUT_RATIO * inputs:
            return None
        return self._point(loads / count, inputs / count, outputs / count)

    def rest(self) -> None:
        """Take that the current has moved or ceased: the point begins anew."""
        self.total = [0.0] * 4

    def _resolve(self, input_w: float) -> None:
        while self.resolution_w > 0.1:  # noqa: PLR2004 - finer than any meter
            steps = input_w / self.resolution_w
            if abs(steps - round(steps)) < 1e-6:  # noqa: PLR2004
                return
            self.resolution_w /= 10.0

    def _point(self, load: float, input_w: float, output_w: float) -> PowerTold | None:
        told = None
        if self.model and self._is_learned(load):
            told = self._judged(load, input_w, output_w)
        near = told is None or abs(self.seen - self.usual) < 2 * CLIP * self.model[3]
        quiet = max(self.up, self.down) < 0.5 * THRESHOLD and not self.has_drifted
        if len(self.points) < MOST_POINTS and near and quiet:
            lost_w = round(input_w - output_w, 1)
            self.points.append([round(load, 4), lost_w, round(output_w, 1)])
            count = len(self.points)
            if count >= LEAST_POINTS and count % EVERY == 0:
                self.model, self.fitted = _learned(self.points, self.resolution_w), count
        return told

    def _is_learned(self, load: float) -> bool:
        near = sum(abs(row[0] / load - 1.0) <= NEAR_RATIO for row in self.points[: self.fitted])
        return near >= NEAR

    def _judged(self, load: float, input_w: float, output_w: float) -> PowerTold:
        rest_w, first_w, second_w, spread = self.model
        losses_w = rest_w + first_w * load + second_w * load * load
        self.usual = output_w / (output_w + losses_w)
        self.seen = output_w / input_w
        drift = self.seen - self.usual
        standard = max(-CLIP, min(CLIP, drift / spread))
        self.up = summed(self.up, standard, SLACK, THRESHOLD)
        self.down = summed(self.down, -standard, SLACK, THRESHOLD)
        self.drift += WEIGHT * (max(-0.3, min(0.3, drift)) - self.drift)
        larger = max(self.up, self.down)
        is_large = abs(self.drift) >= LEAST_DRIFT
        self.has_drifted = stands(larger, THRESHOLD, was=self.has_drifted, is_large=is_large)
        return PowerTold(
            efficiency_ratio=self.seen,
            usual_ratio=self.usual,
            drift_ratio=self.drift,
            extra_w=input_w - output_w - losses_w,
        )


def _learned(points: list[list[float]], resolution_w: float) -> list[float]:
    """Return (losses at rest, by the current, by its square, spread of the efficiency)."""
    # Imported here: SciPy costs a tenth of a second at start.
    from scipy.optimize import nnls

    load, losses_w, output_w = np.array(points).T
    parts, _ = nnls(np.column_stack((np.ones_like(load), load, load**2)), losses_w)
    expected_w = parts[0] + parts[1] * load + parts[2] * load**2
    off = np.abs(output_w / (output_w + losses_w) - output_w / (output_w + expected_w))
    coarse = resolution_w / float(np.median(output_w + losses_w)) / 12.0**0.5
    spread = max(
        SPREAD, coarse, 1.4826 * float(np.median(off)), float(np.quantile(off, 0.95)) / 2
    )
    return [*(float(each) for each in parts), spread]
