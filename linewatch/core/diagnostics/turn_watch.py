"""Does a barrel's current swing with its turns as it did?

Parts tumble and the contact rides among them, so the current of a turning barrel swings by some
percent with every turn, each unit in its own measure. A worn contact makes the swing grow load
after load; a barrel that stands leaves only the noise.

What is looked at is the swing within ten seconds, the middle one of a minute: a turn or a good
part of one. It is not resolved by frequency.

Rule 1: swings are compared as ratios to those that were learned; what is odd is not learned.
Rule 2: a swing that scatters from minute to minute by itself (a poll as slow as a turn) widens
        every limit.
Rule 3: a barrel may rest by design; the rhythm is lost when it stays away for longer.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, log
from typing import Final

import numpy as np

from linewatch.core.diagnostics.change import OVER, stands, summed
from linewatch.core.diagnostics.remembered import Remembered

SETTLED_S: Final = 40.0
"""After a load came: nothing of its ramp is looked at."""
LEAST_SWING: Final = 0.002
"""A swing below this is the instruments' own [1]."""
LEAST_LOOKS: Final = 2
LEAST_POINTS: Final = 10
MOST_POINTS: Final = 60
"""Loads that are learned from; then the base stands until the unit is serviced."""
LEAST_SPREAD: Final = 0.10
"""Spread of healthy loads, in the logarithm of the swing, however well they agreed."""
FEW: Final = 6.0
"""The spread of n loads is taken for wider by a share of so much over n."""
WORN_RATIO: Final = 1.4
"""Swing over the usual from which on wear is worth a walk [1]; common practice."""
TORN_RATIO: Final = 2.0
"""The same within one load."""
STILL_RATIO: Final = 0.65
"""Swing over the usual below which the rhythm is not in it [1]."""
WIDE: Final = 4.0
"""Spreads of single looks that widen the limits within a load."""
LOOK_S: Final = 15.0
MINUTE_S: Final = 60.0
ROW: Final = 4
CLIP: Final = 3.0
SLACK: Final = 1.0
THRESHOLD: Final = 6.0
WEIGHT: Final = 0.4
FORGETS: Final = 400.0


@dataclass(slots=True)
class TurnTold:
    """What a look, or a load, has told."""

    swing_ratio: float
    """Swing within ten seconds over the current [1]."""
    usual_ratio: float
    ratio: float
    """Of the two, smoothed over loads where loads tell it."""


@dataclass(slots=True)
class TurnWatch(Remembered):
    """One unit's barrel."""

    points: list[float] = field(default_factory=list)
    """Learned: logarithm of each load's mean swing."""
    total: list[float] = field(default_factory=lambda: [0.0, 0.0])
    """Of the load now in: looks, sum of the swing's logarithm."""
    model: list[float] = field(default_factory=list)
    """Mean and spread of the points; empty: not known."""
    scatter: list[float] = field(default_factory=lambda: [0.0, 0.0])
    """Of looks round their load's mean: how many, mean square."""
    up: float = 0.0
    down: float = 0.0
    smooth: float = 0.0
    """Weighted mean of the loads' logarithms over the usual."""
    high_row: int = 0
    low_row: int = 0
    is_torn: bool = False
    """Within a load, all of a sudden."""
    is_worn: bool = False
    """Load after load."""
    is_still: bool = False

    @property
    def wears(self) -> bool:
        """Say whether the contact is worse than it was."""
        return self.is_torn or self.is_worn

    def look(self, swing_ratio: float, rest_s: float) -> TurnTold | None:
        """Look at a settled, loaded barrel.

        Args:
            swing_ratio: Largest less least current within ten seconds over their middle, the
                middle one of the last minute [1].
            rest_s: Longest time for which the barrel rests by design [s].

        Returns:
            What it tells; None while nothing is known.
        """
        value = log(max(swing_ratio, LEAST_SWING))
        self.total[0] += 1.0
        self.total[1] += value
        off = value - self.total[1] / self.total[0]
        if self.total[0] > 1.0:
            self.scatter[0] = min(self.scatter[0] + 1.0, FORGETS)
            self.scatter[1] += (off * off - self.scatter[1]) / self.scatter[0]
        if not self.model:
            return None
        over = value - self.model[0]
        widen = WIDE * max(self.scatter[1] ** 0.5, 0.5 * self.model[1])
        torn, still = max(log(TORN_RATIO), widen), max(-log(STILL_RATIO), widen)
        self.high_row = self.high_row + 1 if over > torn else 0
        self.low_row = self.low_row + 1 if over < -still else 0
        if self.high_row >= ROW:
            self.is_torn = True
        elif over < 0.5 * torn:
            self.is_torn = False
        # The minute that is looked at must have lost the rhythm, and for longer than a rest.
        if self.low_row * LOOK_S >= max(ROW * LOOK_S, rest_s + MINUTE_S):
            self.is_still = True
        elif over > -0.5 * still:
            self.is_still = False
        return TurnTold(swing_ratio, exp(self.model[0]), exp(over))

    def leave(self) -> TurnTold | None:
        """Take that the load has gone: its mean is whole."""
        looks, total = self.total
        self.total = [0.0, 0.0]
        self.high_row = self.low_row = 0
        if looks < LEAST_LOOKS:
            return None
        value = total / looks
        told = self._judged(value) if self.model else None
        quiet = max(self.up, self.down) < 0.5 * THRESHOLD
        quiet = quiet and not (self.wears or self.is_still)
        if quiet and len(self.points) < MOST_POINTS:
            self.points.append(value)
            if len(self.points) >= LEAST_POINTS:
                middle = float(np.median(self.points))
                off = np.abs(np.array(self.points) - middle)
                found = 1.4826 * float(np.median(off)) * (1.0 + FEW / len(self.points))
                self.model = [middle, max(LEAST_SPREAD, found)]
        return told

    def _judged(self, value: float) -> TurnTold:
        middle, spread = self.model
        standard = max(-CLIP, min(CLIP, (value - middle) / spread))
        self.up = summed(self.up, standard, SLACK, THRESHOLD)
        self.down = summed(self.down, -standard, SLACK, THRESHOLD)
        self.smooth += WEIGHT * (value - middle - self.smooth)
        is_large = self.smooth >= log(WORN_RATIO)
        self.is_worn = stands(self.up, THRESHOLD, was=self.is_worn, is_large=is_large)
        if self.down >= THRESHOLD and self.smooth <= log(STILL_RATIO):
            self.is_still = True
        elif self.down < OVER * THRESHOLD and self.low_row == 0:
            self.is_still = False
        return TurnTold(exp(value), exp(middle), exp(self.smooth))
