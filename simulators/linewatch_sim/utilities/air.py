"""Extraction and scrubber: fans, ducts, a mesh pad and a washer. Invented, common practice."""

from __future__ import annotations

from dataclasses import dataclass

from linewatch_sim.utilities.chemistry import Lag


@dataclass(slots=True)
class AirKnobs:
    """What may go wrong; as set here all is well."""

    fan_stopped: float = 0.0
    belt_slip: float = 0.0
    """Share of its speed that the chromium fan loses."""
    pad_loading: float = 0.0
    """0 as tested, 1 twice the pressure drop."""
    pad_torn: float = 0.0
    spray_lost: float = 0.0
    scrubber_dose_lost: float = 0.0
    make_up_lost: float = 0.0


WASHER_LOW_MM, WASHER_HIGH_MM = 480.0, 540.0
"""The washer is topped up from the one to the other."""


class Air:
    """Two fans: over the chromium and over everything else, with its scrubber."""

    def __init__(self) -> None:
        self.knobs = AirKnobs()
        self.told: dict[str, float] = {}
        self._speed = Lag(1.0)
        self._ph = Lag(8.6)
        self._level_mm = 520.0
        self.step(1.0)

    def step(self, dt_s: float) -> None:
        """Go on by a step."""
        knobs, told = self.knobs, self.told
        turning = 0.0 if knobs.fan_stopped else 1.0 - knobs.belt_slip
        # A fan runs down slowly, and draws against what stands in its way.
        speed = self._speed.follow(turning, dt_s, 4.0)
        resistance = 1.0 + 0.5 * knobs.pad_loading - 0.25 * knobs.pad_torn
        flow = speed / resistance**0.5 * (1.0 - 0.2 * knobs.make_up_lost)
        told["extract-chromium.running"] = 0.0 if knobs.fan_stopped else 1.0
        told["extract-chromium.motor-current"] = (
            0.0 if knobs.fan_stopped else 3.0 + 11.0 * speed**2 * (0.4 + 0.6 * flow)
        )
        told["extract-chromium.draught"] = 620.0 * flow**2
        told["extract-chromium.draught.pad"] = 480.0 * resistance * flow**2
        others = 1.0 - 0.2 * knobs.make_up_lost
        told["extract-line.running"] = 1.0
        told["extract-line.motor-current"] = 18.5 * (0.6 + 0.4 * others)
        told["extract-line.draught"] = 410.0 * others**2
        self._wash(dt_s, others)

    def _wash(self, dt_s: float, flow: float) -> None:
        knobs, told = self.knobs, self.told
        # Acid mist pulls the liquid down; the dose and fresh water bring it back.
        target = 6.2 if knobs.scrubber_dose_lost else 8.6
        told["scrubber.ph"] = self._ph.follow(target, dt_s, 900.0)
        told["scrubber.flow"] = 0.0 if knobs.spray_lost else 145.0
        told["scrubber.draught"] = (300.0 if knobs.spray_lost else 520.0) * flow**2
        told["scrubber.motor-current"] = 2.1 if knobs.spray_lost else 6.4
        self._level_mm -= dt_s * 0.008
        if self._level_mm < WASHER_LOW_MM:
            self._level_mm = WASHER_HIGH_MM
        told["scrubber.level"] = self._level_mm
