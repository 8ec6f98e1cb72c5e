"""Water supply: a tank of treated water, its pump and its resin. Invented, common practice."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class WaterKnobs:
    """What may go wrong; as set here all is well."""

    pump_lost: float = 0.0
    resin_spent: float = 0.0
    """0 fresh, 1 lets the town's water through."""


OPENS_MM, SHUTS_MM = 1350.0, 1500.0
"""The float valve."""


class Water:
    """A supply tank that a float valve fills from the resin."""

    def __init__(self) -> None:
        self.knobs = WaterKnobs()
        self.told: dict[str, float] = {}
        self.level_mm = 1400.0
        self._fills = False
        self.conductivity_us = 8.0
        self.step(1.0, 30.0)

    def step(self, dt_s: float, drawn_l_per_min: float) -> None:
        """Go on by a step while the line draws so much."""
        knobs = self.knobs
        drawn = 0.0 if knobs.pump_lost else drawn_l_per_min
        if self.level_mm < OPENS_MM:
            self._fills = True
        elif self.level_mm > SHUTS_MM:
            self._fills = False
        filled = 130.0 if self._fills else 0.0
        # Two square metres: two litres stand a millimetre high.
        self.level_mm = max(self.level_mm + (filled - drawn) * dt_s / 60.0 / 2.0, 0.0)
        fresh = 8.0 + 310.0 * knobs.resin_spent
        share = filled * dt_s / 60.0 / max(2.0 * self.level_mm, 100.0)
        self.conductivity_us += (fresh - self.conductivity_us) * share
        self.told["water-supply.level"] = self.level_mm
        self.told["water-supply.flow"] = drawn
        self.told["water-supply.conductivity"] = self.conductivity_us
        self.told["water-supply.pressure"] = 0.0 if knobs.pump_lost else 3.4 - 0.004 * drawn
