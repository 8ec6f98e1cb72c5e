"""Does a rectifier's heat-sink warm and cool by more than its losses explain?

Sink temperature is room temperature plus losses times thermal resistance, some minutes late.
What is looked at is by how much the sink changes in two minutes, against by how much its late
losses do: a room that is warmer today, a probe that reads two kelvins high and the place in the
cabinet drop out. What the room does within those minutes is told by the other units, whose
changes are left over together. The resistance over the learned one is then a slope, summed up
until loads have come and gone often enough to tell it.

Losses lie between the current and its square. How much a sink rises at rated current, and how
late, is learned from the unit's own loads.

Rule 1: without contrast between load and rest nothing is known, and nothing is told: a unit
        that runs for a day without a pause is left to the plain limit of its temperature.
Rule 2: what no resistance explains (a door, a probe that jumps) is clipped.
Rule 3: what is odd is never learned.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, sqrt
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from linewatch.core.diagnostics.change import stands, summed
from linewatch.core.diagnostics.remembered import Remembered

if TYPE_CHECKING:
    from collections.abc import Mapping

LOSS_POWER: Final = 1.3
"""Power of the current that losses go with: diodes 1, resistances 2; common practice."""
LATE_S: Final = (120.0, 180.0, 260.0, 360.0, 500.0, 700.0, 960.0)
"""Time constants that are tried [s]."""
LAG_NS: Final = 135_000_000_000
"""Between two temperatures that are compared [ns]; no usual beat of loads is a multiple."""
GAP_NS: Final = 300_000_000_000
"""Longest time without a reading after which what losses did is still believed [ns]."""
SETTLES_NS: Final = 2_400_000_000_000
"""After a start or a gap [ns]: what the sink still carries of before, no loss explains."""
LEAST_SAMPLES: Final = 24
EVERY: Final = 8
MOST_SAMPLES: Final = 320
"""Changes that are learned from: half a day; then the base stands until the unit is serviced,
and what it was learned from is let go: a memory is written with every look."""
DECIMALS: Final = 4
"""Of what is remembered of a change: far below any instrument's step."""
RATED_K: Final = 35.0
"""Rise at rated losses that is taken for granted until it is learned; common practice."""
LEAST_RISE_K: Final = 5.0
CLEAR: Final = 0.7
"""Correlation from which on there is a line."""
CONTRAST_K2: Final = 30.0
"""Squares of the explained changes that a verdict needs [K2]."""
LEAST_BLOCK_S: Final = 900.0
SPREAD_K: Final = 0.12
"""Spread of a healthy change [K], at least: what a display in tenths and the room leave."""
SPREAD_RATIO: Final = 0.05
"""Spread of a healthy resistance [1], however well it agreed so far."""
WILD: Final = 4.0
"""Spreads beyond which a change is clipped."""
CLIP: Final = 3.0
SLACK: Final = 1.0
THRESHOLD: Final = 6.0
LEAST_EXCESS: Final = 0.10


@dataclass(slots=True)
class HeatTold:
    """What some changes of load have told."""

    sink_degc: float
    usual_k: float
    """Rise at rated current that was learned [K]."""
    excess_ratio: float
    """Thermal resistance over the learned one, less one [1]."""


@dataclass(slots=True)
class HeatWatch(Remembered):
    """One unit's heat-sink."""

    late: list[float] = field(default_factory=lambda: [0.0] * len(LATE_S))
    """Losses over rated ones, smoothed by each time constant."""
    samples: list[list[float]] = field(default_factory=list)
    """Learned: change of the sink, then those of the smoothed losses."""
    count: int = 0
    """How many were learned from, those that were let go among them."""
    seen_ns: int = -1
    calm_ns: int = 0
    """Line time from which on its changes count [ns]."""
    place: int = -1
    """Number of the span of time whose beginning is in `before`."""
    before: list[float] = field(default_factory=list)
    """Sink temperature and smoothed losses at that beginning."""
    change: list[float] = field(default_factory=list)
    """The same as changes since the beginning before; empty: none has just become whole."""
    model: list[float] = field(default_factory=list)
    """Rise at rated losses [K], which time constant, spread of a change [K]; empty: not
    known."""
    block: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    """So far: explained change times what is left, explained change squared, time [s]."""
    runs_hot: bool = False
    up: float = 0.0
    excess: float = 0.0

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered; what an earlier linewatch learned is learned anew."""
        if len(kept.get("late", ())) == len(LATE_S):
            Remembered.recall(self, kept)

    def feel(self, sink_degc: float, load_ratio: float, mono_ns: int) -> float | None:
        """Take a reading.

        Args:
            sink_degc: Heat-sink [degC].
            load_ratio: Current over rated current [1], without sign.
            mono_ns: Line time [ns].

        Returns:
            What losses do not explain of a change that has just become whole [K]; None for
            none, or while nothing is known.
        """
        loss = min(load_ratio, 2.0) ** LOSS_POWER
        if self.seen_ns < 0:
            self.late = [loss] * len(LATE_S)
        if self.seen_ns < 0 or mono_ns - self.seen_ns > GAP_NS:
            self.calm_ns = mono_ns + SETTLES_NS
        gap_s = (mono_ns - self.seen_ns) / 1e9
        self.seen_ns = mono_ns
        for k, late_s in enumerate(LATE_S):
            self.late[k] += (loss - self.late[k]) * (1.0 - exp(-max(gap_s, 0.0) / late_s))
        self.change = []
        place = mono_ns // LAG_NS
        if place == self.place:
            return None
        now = [sink_degc, *self.late]
        if place == self.place + 1 and self.before and mono_ns >= self.calm_ns:
            self.change = [new - old for new, old in zip(now, self.before, strict=True)]
        self.place, self.before = place, now
        if not self.change or not self.model:
            return None
        return self.change[0] - self._explained()

    def _explained(self) -> float:
        rise, which, _ = self.model
        return rise * self.change[1 + int(which)]

    def judge(self, room_k: float | None, sink_degc: float) -> HeatTold | None:
        """Hold a change that has just become whole against what the room did meanwhile.

        Args:
            room_k: By how much the room became warmer [K]; None: too few tell.
            sink_degc: Heat-sink [degC].

        Returns:
            What enough changes have told; None for none.
        """
        if not self.change:
            return None
        told = None
        left_k = self.change[0] - (room_k or 0.0)
        if self.model and room_k is not None:
            told = self._summed(left_k, sink_degc)
        self._learn(left_k)
        return told

    def _learn(self, left_k: float) -> None:
        if self.count >= MOST_SAMPLES or self.up >= 0.5 * THRESHOLD or self.runs_hot:
            return
        if self.model:
            explained = self._explained()
            usual_k = 2 * CLIP * self.model[2] + 0.3 * abs(explained)
            if abs(left_k - explained) > usual_k:
                return
        self.samples.append([round(each, DECIMALS) for each in (left_k, *self.change[1:])])
        self.count += 1
        if self.count >= LEAST_SAMPLES and self.count % EVERY == 0:
            self.model = _learned(self.samples) or self.model
        if self.count >= MOST_SAMPLES:
            self.samples = []

    def _summed(self, change_k: float, sink_degc: float) -> HeatTold | None:
        rise, _, spread_k = self.model
        explained = self._explained()
        most = WILD * spread_k + abs(explained)
        left_k = max(-most, min(most, change_k - explained))
        self.block[0] += explained * left_k
        self.block[1] += explained * explained
        self.block[2] += LAG_NS / 1e9
        if self.block[1] < CONTRAST_K2 or self.block[2] < LEAST_BLOCK_S:
            return None
        products, squares, _ = self.block
        self.block = [0.0, 0.0, 0.0]
        excess = products / squares
        spread = sqrt(SPREAD_RATIO**2 + spread_k**2 / squares)
        standard = max(-CLIP, min(CLIP, excess / spread))
        self.up = summed(self.up, standard, SLACK, THRESHOLD)
        self.excess += 0.5 * (max(-1.0, min(1.0, excess)) - self.excess)
        is_large = self.excess >= LEAST_EXCESS
        self.runs_hot = stands(self.up, THRESHOLD, was=self.runs_hot, is_large=is_large)
        return HeatTold(sink_degc=sink_degc, usual_k=rise, excess_ratio=self.excess)


def _learned(samples: list[list[float]]) -> list[float]:
    """Return (rise at rated losses, which time constant, spread of a change)."""
    # Imported here: SciPy costs a tenth of a second at start.
    from scipy.stats import linregress

    rows = np.array(samples)
    best: tuple[float, list[float]] | None = None
    for k in range(len(LATE_S)):
        losses = rows[:, 1 + k]
        if RATED_K**2 * float(losses @ losses) < CONTRAST_K2:
            continue
        fit = linregress(losses, rows[:, 0])
        if fit.slope > LEAST_RISE_K and (best is None or fit.rvalue > best[0]):
            off = np.abs(rows[:, 0] - fit.slope * losses)
            # The usual change and the tails both count: one door must not hide the rest.
            spread_k = max(
                SPREAD_K, 1.4826 * float(np.median(off)), 0.5 * sqrt(float(np.mean(off**2)))
            )
            best = (fit.rvalue, [float(fit.slope), float(k), spread_k])
    return best[1] if best is not None and best[0] > CLEAR else []
