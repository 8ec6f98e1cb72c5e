"""Does a rectifier's heat-sink run hotter than its losses explain?

Sink temperature is room temperature plus losses times thermal resistance, some minutes late.
Losses lie between the current and its square. How much the sink rises at rated current, and
how late, is learned from the unit's own loads; what the room does is told by the other units,
whose residuals move together.

Rule 1: without contrast between load and rest nothing is known, and nothing is told.
Rule 2: what is told are means of a quarter of an hour, clipped, summed up.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp
from typing import Final

import numpy as np

from linewatch.core.diagnostics.remembered import Remembered

LOSS_POWER: Final = 1.3
"""Power of the current that losses go with: diodes 1, resistances 2; common practice."""
LATE_S: Final = (120.0, 240.0, 480.0, 960.0)
"""Time constants that are tried [s]."""
SAMPLE_S: Final = 300.0
LEAST_SAMPLES: Final = 24
FIRST_SAMPLES: Final = 24
"""Samples from before the room was told of; let go of later."""
MOST_SAMPLES: Final = 288
"""Samples that are learned from: a day; then the base stands until the unit is serviced."""
LEAST_CONTRAST: Final = 0.15
LEAST_RISE_K: Final = 5.0
JUDGED_FROM: Final = 0.12
"""Share of the rated losses below which no ratio is formed."""
BLOCK_S: Final = 900.0
SPREAD_K: Final = 0.8
"""Spread of healthy quarter hours [K], at least."""
CLIP: Final = 3.0
SLACK: Final = 1.5
THRESHOLD: Final = 8.0
OVER: Final = 0.2
"""Share of the threshold at which it is over."""
LEAST_EXCESS: Final = 0.12


@dataclass(slots=True)
class HeatTold:
    """What a quarter of an hour has told."""

    sink_degc: float
    usual_degc: float
    excess_ratio: float
    """Thermal resistance over the learned one, less one [1]."""


@dataclass(slots=True)
class HeatWatch(Remembered):
    """One unit's heat-sink."""

    late: list[float] = field(default_factory=lambda: [0.0] * len(LATE_S))
    """Losses over rated ones, smoothed by each time constant."""
    samples: list[list[float]] = field(default_factory=list)
    """Learned: sink temperature, then the smoothed losses."""
    next_sample_ns: int = 0
    seen_ns: int = -1
    model: list[float] = field(default_factory=list)
    """Temperature at rest, rise at rated losses, which time constant, spread [K]; empty: not
    known."""
    block: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0, 0.0])
    """Of the quarter hour now: looks, sum of excess [K], sum of rise [K], end [ns]."""
    runs_hot: bool = False
    up: float = 0.0
    excess: float = 0.0

    def feel(
        self, sink_degc: float, load_ratio: float, room_k: float, mono_ns: int
    ) -> float | None:
        """Take a reading.

        Args:
            sink_degc: Heat-sink [degC].
            load_ratio: Current over rated current [1], without sign.
            room_k: By how much the room was warmer a moment ago than when it was learned [K].
            mono_ns: Line time [ns].

        Returns:
            What is left of the temperature when room at rest and losses are taken away [K];
            None while they are not known.
        """
        loss = min(load_ratio, 2.0) ** LOSS_POWER
        if self.seen_ns < 0:
            self.late = [loss] * len(LATE_S)
        gap_s = (mono_ns - self.seen_ns) / 1e9
        self.seen_ns = mono_ns
        for k, late_s in enumerate(LATE_S):
            self.late[k] += (loss - self.late[k]) * (1.0 - exp(-max(gap_s, 0.0) / late_s))
        left_k = self._left(sink_degc)
        is_due = mono_ns >= self.next_sample_ns and len(self.samples) < MOST_SAMPLES
        if is_due and self._is_well(left_k, room_k):
            self.next_sample_ns = mono_ns + int(SAMPLE_S * 1e9)
            self.samples.append([sink_degc - room_k, *self.late])
            count = len(self.samples)
            if count >= LEAST_SAMPLES and count % 8 == 0:
                first = FIRST_SAMPLES if count >= FIRST_SAMPLES + LEAST_SAMPLES else 0
                self.model = _learned(self.samples[first:]) or self.model
        return self._left(sink_degc)

    def _left(self, sink_degc: float) -> float | None:
        if not self.model:
            return None
        rest, rise, which, _ = self.model
        return sink_degc - rest - rise * self.late[int(which)]

    def _is_well(self, left_k: float | None, room_k: float) -> bool:
        """Say whether what it shows now may be learned: what is odd never is."""
        if self.up >= 0.5 * THRESHOLD or self.runs_hot:
            return False
        return left_k is None or abs(left_k - room_k) < 2 * CLIP * self.model[3]

    def judge(
        self, left_k: float, room_k: float, sink_degc: float, mono_ns: int
    ) -> HeatTold | None:
        """Hold what is left against what the room did.

        Args:
            left_k: What `feel` has returned [K].
            room_k: By how much the room is warmer than when it was learned [K].
            sink_degc: Heat-sink [degC].
            mono_ns: Line time [ns].

        Returns:
            What a quarter of an hour told that is over; None for none.
        """
        rest, rise, which, spread_k = self.model
        loss = self.late[int(which)]
        if self.block[3] == 0.0:
            self.block[3] = mono_ns + BLOCK_S * 1e9
        if loss >= JUDGED_FROM:
            self.block[0] += 1.0
            self.block[1] += left_k - room_k
            self.block[2] += rise * loss
        if mono_ns < self.block[3]:
            return None
        looks, more_k, rise_k, _ = self.block
        self.block = [0.0, 0.0, 0.0, mono_ns + BLOCK_S * 1e9]
        if looks < 10.0:  # noqa: PLR2004 - too little of the quarter hour under load
            return None
        excess = more_k / rise_k
        standard = max(-CLIP, min(CLIP, more_k / looks / spread_k))
        self.up = max(0.0, min(self.up + standard - SLACK, 3.0 * THRESHOLD))
        self.excess += 0.5 * (max(-1.0, min(1.0, excess)) - self.excess)
        if self.up >= THRESHOLD and self.excess >= LEAST_EXCESS:
            self.runs_hot = True
        elif self.up < OVER * THRESHOLD:
            self.runs_hot = False
        return HeatTold(
            sink_degc=sink_degc,
            usual_degc=rest + room_k + rise * loss,
            excess_ratio=self.excess,
        )


def _learned(samples: list[list[float]]) -> list[float]:
    """Return (temperature at rest, rise at rated losses, which time constant, spread)."""
    # Imported here: SciPy costs a tenth of a second at start.
    from scipy.stats import linregress

    rows = np.array(samples)
    best: tuple[float, list[float]] | None = None
    for k in range(len(LATE_S)):
        loss = rows[:, 1 + k]
        low, high = np.quantile(loss, [0.05, 0.95])
        if high - low < LEAST_CONTRAST:
            continue
        fit = linregress(loss, rows[:, 0])
        if fit.slope > LEAST_RISE_K and (best is None or fit.rvalue > best[0]):
            off = rows[:, 0] - fit.intercept - fit.slope * loss
            spread_k = max(SPREAD_K, float(np.std(off)))
            best = (fit.rvalue, [float(fit.intercept), float(fit.slope), float(k), spread_k])
    return best[1] if best is not None and best[0] > 0.8 else []  # noqa: PLR2004 - a clear line
