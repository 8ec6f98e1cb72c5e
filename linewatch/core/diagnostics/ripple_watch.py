"""Does a rectifier's ripple show a lost device? Against itself, and against theory.

Ripple rises as a phase-cut unit is turned down, so a figure says nothing without the output
that it was read at. What theory gives for a healthy bridge at that output is brought to this
unit by a factor (its choke and leakage), learned by output. A lost device breaks the pattern of
the pulses, and no choke that bridges a sixth of a turn bridges a third.

Rule 1: nothing is judged while the output moves, or below a tenth of the rating.
Rule 2: what is odd is never learned.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from math import exp, log
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from linewatch.core.diagnostics.ripple import CIRCUIT_OF_PULSES, Circuit, Fault, expected

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

HEADROOM: Final = 1.1
"""Full output over rated voltage: common practice 1.05 to 1.2."""
BINS: Final = 20
LEARNED: Final = 12.0
"""Looks at an output after which its own factor counts."""
FORGETS: Final = 200.0
LEAST_RATIO: Final = 1.35
"""Ripple over what is usual at an output, from which on it is odd where that was learned."""
UNLEARNED_RATIO: Final = 1.8
SWITCH_MODE_RATIO: Final = 3.0
SWITCH_MODE_LEAST: Final = 3.0
"""Ripple of a switch-mode unit below which no ratio matters [%]."""
BEYOND_THEORY: Final = 1.3
"""No healthy bridge ripples more than theory, but its full output is not known well."""
LOOKS: Final = 2
LEAST_FACTOR: Final = 0.02
POINTS: Final = 40
SAMPLES: Final = 720
"""Of the curves: a few milliseconds each, for a look must not hold up a scan."""
FAULTS: Final = {
    Circuit.TWO_PULSE: (Fault.DEVICE,),
    Circuit.THREE_PULSE: (Fault.DEVICE,),
    Circuit.SIX_PULSE: (Fault.DEVICE, Fault.PHASE),
    Circuit.TWELVE_PULSE: (Fault.DEVICE, Fault.PHASE),
}


@lru_cache(maxsize=32)
def _curve(
    circuit: Circuit, fault: Fault, definition: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (mean output over the healthy full one, ripple [%]), the output rising."""
    points = []
    for angle in np.linspace(0.0, 0.62 * np.pi, POINTS):
        picture = expected(circuit, fault, float(angle), SAMPLES)
        ripple = picture.rms_ratio if definition == "rms/dc" else picture.pp_ratio
        if picture.dc_ratio > 0.0 and np.isfinite(ripple):
            points.append((picture.dc_ratio, 100.0 * ripple))
    found = np.array(sorted(points))
    return found[:, 0], found[:, 1]


def theory_percent(
    pulses: int, fault: Fault, output_ratio: float, definition: str = "rms/dc"
) -> float | None:
    """Return the ripple of an unsmoothed bridge held at an output by its control.

    Args:
        pulses: Pulse number.
        fault: What is broken.
        output_ratio: Mean output over the healthy bridge's full output [1].
        definition: 'rms/dc' or 'pp/dc'.

    Returns:
        Ripple [%]; None for a circuit without such a theory (switch-mode).
    """
    circuit = CIRCUIT_OF_PULSES.get(pulses)
    if circuit is None or (fault is not Fault.NONE and fault not in FAULTS.get(circuit, ())):
        return None
    output, ripple = _curve(circuit, fault, definition)
    return float(np.interp(output_ratio, output, ripple))


@dataclass(slots=True)
class RippleTold:
    """What a look has told."""

    ripple_percent: float
    usual_percent: float
    ratio: float
    """Ripple over the usual."""
    like: str
    """Which broken bridge is nearest; '' for none in question."""
    like_percent: float
    """Its unsmoothed ripple at this output by theory."""


@dataclass(slots=True)
class RippleWatch:
    """One unit's ripple.

    Args:
        pulses: Pulse number; 0 for switch-mode.
        definition: 'rms/dc' or 'pp/dc'.
    """

    pulses: int
    definition: str = "rms/dc"
    learned: dict[int, list[float]] = field(default_factory=dict)
    """By output in twentieths: how many looks, mean logarithm of the factor on theory."""
    before: float = -1.0
    """Output at the look before."""
    row: int = 0
    is_odd: bool = False

    def look(self, ripple_percent: float, output_ratio: float) -> RippleTold | None:
        """Look at one reading.

        Args:
            ripple_percent: Ripple [%], by the unit's own definition.
            output_ratio: Voltage over rated voltage [1].

        Returns:
            What it tells; None while nothing can be told.
        """
        before, self.before = self.before, output_ratio
        if output_ratio <= 0.0 or abs(output_ratio - before) > 0.1 * output_ratio:
            return None
        at = min(1.0, output_ratio / HEADROOM)
        healthy = theory_percent(self.pulses, Fault.NONE, at, self.definition)
        base = healthy if healthy is not None else 1.0
        factor = max(LEAST_FACTOR, ripple_percent / base)
        place = round(output_ratio * BINS)
        usual, is_learned = self._usual(place)
        if usual is None:
            self._learn(place, factor, base, ripple_percent, at)
            return None
        ratio = factor / usual
        limit = self._limit(is_learned, healthy is None, ripple_percent)
        odd = ratio > limit
        self.row = self.row + 1 if odd != self.is_odd else 0
        if self.row >= LOOKS:
            self.is_odd, self.row = odd, 0
        if not odd:
            self._learn(place, factor, base, ripple_percent, at)
        like, like_percent = self._like(ripple_percent, at) if odd else ("", 0.0)
        return RippleTold(
            ripple_percent=ripple_percent,
            usual_percent=usual * base,
            ratio=ratio,
            like=like,
            like_percent=like_percent,
        )

    def _limit(self, is_learned: bool, is_switch_mode: bool, ripple_percent: float) -> float:  # noqa: FBT001
        if is_switch_mode:
            return SWITCH_MODE_RATIO if ripple_percent > SWITCH_MODE_LEAST else float("inf")
        return LEAST_RATIO if is_learned else UNLEARNED_RATIO

    def _usual(self, place: int) -> tuple[float | None, bool]:
        """Return (factor on theory, whether it was learned at this output)."""
        own = self.learned.get(place)
        if own is not None and own[0] >= LEARNED:
            return exp(own[1]), True
        known = [row for row in self.learned.values() if row[0] >= LEARNED]
        if known:
            nearest = min(
                (k for k, row in self.learned.items() if row[0] >= LEARNED),
                key=lambda k: abs(k - place),
            )
            return exp(self.learned[nearest][1]), abs(nearest - place) <= 1
        return None, False

    def _learn(
        self, place: int, factor: float, base: float, ripple_percent: float, at: float
    ) -> None:
        broken = theory_percent(self.pulses, Fault.DEVICE, at, self.definition)
        beyond = BEYOND_THEORY * base
        if broken is not None and ripple_percent > 0.7 * broken and ripple_percent > beyond:
            # It is broken from the first look on: no healthy bridge ripples more than theory.
            self.row = self.row + 1 if not self.is_odd else 0
            if self.row >= LOOKS:
                self.is_odd, self.row = True, 0
            return
        row = self.learned.setdefault(place, [0.0, log(factor)])
        row[0] = min(row[0] + 1.0, FORGETS)
        row[1] += (log(factor) - row[1]) / row[0]

    def _like(self, ripple_percent: float, at: float) -> tuple[str, float]:
        """Return the broken bridge whose ripple is nearest, and that ripple."""
        circuit = CIRCUIT_OF_PULSES.get(self.pulses)
        found = []
        for fault in FAULTS.get(circuit, ()) if circuit is not None else ():
            theory = theory_percent(self.pulses, fault, at, self.definition)
            if theory:
                found.append((abs(log(ripple_percent / theory)), fault.value, theory))
        if not found:
            return "", 0.0
        _, name, theory = min(found)
        return name, theory

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on."""
        return {
            "learned": {str(place): row for place, row in self.learned.items()},
            "before": self.before,
            "row": self.row,
            "is_odd": self.is_odd,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.learned = {int(place): list(row) for place, row in kept["learned"].items()}
        self.before, self.row, self.is_odd = kept["before"], kept["row"], kept["is_odd"]
