"""Water supply: a tank of treated water, its pump and its resin. Invented, common practice."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linewatch_sim.utilities.wrong import At

OPENS_MM, SHUTS_MM = 1350.0, 1500.0
"""The float valve."""


class Water:
    """A supply tank that a float valve fills from the resin."""

    def __init__(self, wrong: At) -> None:
        self._wrong = wrong
        self.told: dict[str, float] = {}
        self.level_mm = 1400.0
        self._fills = False
        self.conductivity_us = 8.0
        self.step(1.0, 30.0)

    def step(self, dt_s: float, drawn_l_per_min: float) -> None:
        """Go on by a step while the line draws so much."""
        wrong = self._wrong("water-supply")
        drawn = 0.0 if wrong.stopped else drawn_l_per_min
        if self.level_mm < OPENS_MM:
            self._fills = True
        elif self.level_mm > SHUTS_MM:
            self._fills = False
        filled = 130.0 if self._fills else 0.0
        # Two square metres: two litres stand a millimetre high.
        self.level_mm = max(self.level_mm + (filled - drawn) * dt_s / 60.0 / 2.0, 0.0)
        fresh = 8.0 + 310.0 * wrong.loaded
        share = filled * dt_s / 60.0 / max(2.0 * self.level_mm, 100.0)
        self.conductivity_us += (fresh - self.conductivity_us) * share
        self.told["water-supply.level"] = self.level_mm
        self.told["water-supply.flow"] = drawn
        self.told["water-supply.conductivity"] = self.conductivity_us
        self.told["water-supply.pressure"] = 0.0 if wrong.stopped else 3.4 - 0.004 * drawn
