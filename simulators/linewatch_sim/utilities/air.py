"""Extraction and scrubber: fans, ducts, a mesh pad and a washer. Invented, common practice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch_sim.utilities.chemistry import Lag

if TYPE_CHECKING:
    from linewatch_sim.utilities.wrong import At

PAD = 0.4
"""What a clean mesh pad resists against everything else in the duct."""
DUCT_PA = 600.0
"""Draught at the chromium hood with all well."""
WASHER_LOW_MM, WASHER_HIGH_MM = 480.0, 540.0
"""The washer is topped up from the one to the other."""


class Air:
    """Two fans: over the chromium and over everything else, with its scrubber."""

    def __init__(self, wrong: At) -> None:
        self._wrong = wrong
        self.told: dict[str, float] = {}
        self._speed = Lag(1.0)
        self._ph = Lag(8.6)
        self._level_mm = 520.0
        self.step(1.0)

    def step(self, dt_s: float) -> None:
        """Go on by a step."""
        fan, told = self._wrong("extract-chromium"), self.told
        make_up = 1.0 - 0.2 * self._wrong("extract-line").starved
        turning = 0.0 if fan.stopped else 1.0 - fan.slip
        # A fan runs down slowly, and draws against what stands in its way.
        speed = self._speed.follow(turning, dt_s, 4.0)
        pad = PAD * (1.0 + 1.5 * fan.loaded) * (1.0 - 0.75 * fan.torn)
        flow = speed * make_up * ((1.0 + PAD) / (1.0 + pad)) ** 0.5
        told["extract-chromium.running"] = 0.0 if fan.stopped else 1.0
        told["extract-chromium.motor-current"] = (
            0.0 if fan.stopped else 3.0 + 11.0 * speed**2 * (0.4 + 0.6 * flow)
        )
        told["extract-chromium.draught"] = DUCT_PA * flow**2
        told["extract-chromium.draught.pad"] = 2.0 * DUCT_PA * pad * flow**2
        told["extract-line.running"] = 1.0
        told["extract-line.motor-current"] = 18.5 * (0.6 + 0.4 * make_up)
        told["extract-line.draught"] = 410.0 * make_up**2
        self._wash(dt_s, make_up)

    def _wash(self, dt_s: float, flow: float) -> None:
        washer, told = self._wrong("scrubber"), self.told
        # Acid mist pulls the liquid down; the dose and fresh water bring it back.
        target = 6.2 if washer.empty else 8.6
        told["scrubber.ph"] = self._ph.follow(target, dt_s, 900.0)
        told["scrubber.flow"] = 0.0 if washer.stopped else 145.0
        told["scrubber.draught"] = (300.0 if washer.stopped else 520.0) * flow**2
        told["scrubber.motor-current"] = 2.1 if washer.stopped else 6.4
        self._level_mm -= dt_s * 0.008
        if self._level_mm < WASHER_LOW_MM:
            self._level_mm = WASHER_HIGH_MM
        told["scrubber.level"] = self._level_mm
