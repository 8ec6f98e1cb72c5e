"""What happens in the tanks slowly: heat, level, concentration, pH. All tanks at once.

Evaporation is a published curve's form through two measured points, 0.69 L/h and 12.2 L/h for
each square metre at 26.7 and 82.2 degC (EPA 625/8-82-008): 0.643 (0.95 p_sat - 2.22)^0.762.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.parts import AtOne, AtZero, Floats, Quantity, columns, usual

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch_sim.rows import LineRow
    from linewatch_sim.timetable import Timetable

HEAT_KJ_PER_L_K = 4.18
LATENT_KWH_PER_L = 0.653
STEEL_KJ_PER_KG_K = 0.49
HYSTERESIS_K = 0.6
"""The thermostat switches so far above and below its set-point."""
TOP_UP_BELOW_MM = 8.0
"""The level valve opens so far under its set height."""
SURFACE_W_PER_K_M2 = 12.0
DOSES_ABOVE_PH, PH_PER_MIN = 0.06, 0.02
"""Acid is dosed from so far above the pH that is kept, and lowers it so fast."""
PROBE_S, PROBE_IN_AIR_S = 8.0, 150.0
"""Time constants of a temperature probe in its pocket, and hung up in the air."""


def vapour_kpa(degc: Floats) -> Floats:
    """Return the saturation pressure of water after Magnus (coefficients of Sonntag, 1990)."""
    return 0.6112 * np.exp(17.62 * degc / (243.12 + degc))


def evaporation_l_per_h_m2(degc: Floats) -> Floats:
    """Return what a still, open, water-like surface loses at 24 degC in the room."""
    drive = np.maximum(0.95 * vapour_kpa(degc) - 2.22, 0.0)
    return 0.643 * drive**0.762


@dataclass(slots=True)
class _Tanks:
    """The tanks' rows as arrays."""

    volume_l: Floats
    surface_m2: Floats
    level_mm: Floats
    set_degc: Floats
    heater_kw: Floats
    cooling_kw: Floats
    wall_w_per_k: Floats
    water_l_per_min: Floats
    water_us: Floats
    top_up_l_per_min: Floats
    ph_per_kah_m3: Floats
    ph_per_load: Floats
    part_s: Floats
    extraction_ratio: Floats
    is_air: Floats


@dataclass(slots=True)
class SolutionsWrong:
    """What may go wrong with a tank's heat, water and probes."""

    heater_share: AtOne
    heater_stuck_on: AtZero
    cooling_share: AtOne
    draught_factor: AtOne
    """How much stronger the surface loses heat and water than it should."""
    water_share: AtOne
    top_up_share: AtOne
    top_up_stuck_open: AtZero
    leak_l_per_min: AtZero
    ph_dosing: AtOne
    """0: the pump that holds the pH gives nothing."""
    cold_k: AtZero
    """How much colder than usual loads come in."""
    heavy: AtOne
    """How much more a load takes up heat than one of its mass should."""
    lag: AtOne
    """How much slower parts take the heat of the tank."""
    probe_out: AtZero
    """1: the temperature probe hangs above the liquid."""


class Solutions:
    """State of all tanks; arrays have one place for each, in the line's order."""

    def __init__(self, line: LineRow) -> None:
        rows = line.tanks
        n = len(rows)
        self.ids = tuple(row.id for row in rows)
        self._line = line
        self._row = columns(_Tanks, rows)
        self.wrong = usual(SolutionsWrong, n)
        own_us = self._row.water_us
        self._water_us = np.where(np.isnan(own_us), line.water_us, own_us)
        self._has_heater = self._row.heater_kw > 0.0
        self._is_air = self._row.is_air > 0.0
        self._below_l = self._row.volume_l - self._row.surface_m2 * self._row.level_mm
        self._fed_from = np.array(
            [self.ids.index(r.fed_from) if r.fed_from else -1 for r in rows]
        )
        self.temperature_degc = np.array([r.start_degc for r in rows])
        self.probe_degc = self.temperature_degc.copy()
        """What the controller and the register see."""
        self.liquid_l = self._row.volume_l.copy()
        self.level_mm = self._row.level_mm.copy()
        """With whatever hangs in the tank."""
        self.conductivity_us = np.array([r.conductivity_us for r in rows])
        self.ph = np.array([7.0 if r.ph is None else r.ph for r in rows])
        self._kept_ph = self.ph.copy()
        self._doses = np.zeros(n, dtype=bool)
        self.heater_on = np.zeros(n)
        self.duty_percent = np.where(self._has_heater, 50.0, 0.0)
        """Share of the last minutes in which the heater was on."""
        self.cooler_percent = np.zeros(n)
        self.top_up_open = np.zeros(n)
        self.flow_l_per_min = self._row.water_l_per_min.copy()
        self.part_degc = np.full(n, line.room_degc)
        self._evaporated_l_per_h = np.zeros(n)

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What a tank's instruments tell."""
        return _QUANTITIES

    def step(self, dt_s: float, loads: Timetable, joule_w: Floats) -> None:
        """Go on by a slow step; `joule_w` is the heat of the current in each tank."""
        self._switch()
        self._warm(dt_s, loads, joule_w)
        self._fill(dt_s, loads)
        outside = self._line.room_degc + 2.0
        is_out = self.wrong.probe_out > 0
        seen = np.where(is_out, outside, self.temperature_degc)
        constant_s = np.where(is_out, PROBE_IN_AIR_S, PROBE_S)
        self.probe_degc += (seen - self.probe_degc) * (1.0 - np.exp(-dt_s / constant_s))

    def take_in(self, loads: Timetable) -> None:
        """Let loads that have just come in bring their heat and their film."""
        where = np.flatnonzero(loads.entered)
        for tank in where.tolist():
            before = int(loads.came_from[tank])
            self.part_degc[tank] = self._arrives_at(before) - self.wrong.cold_k[tank]
            self.ph[tank] += self._row.ph_per_load[tank]
            if not self._is_air[tank]:
                self._drag_in(tank, before, float(loads.film_l[tank]))

    def _drag_in(self, tank: int, before: int, film_l: float) -> None:
        """Let a film take the place of as much liquid, which the load will carry out."""
        if before >= 0:
            step = self.conductivity_us[before] - self.conductivity_us[tank]
            self.conductivity_us[tank] += film_l * step / self.liquid_l[tank]

    def _arrives_at(self, before: int) -> float:
        """Return a load's temperature after its way through the air."""
        room = self._line.room_degc
        came = self.part_degc[before] if before >= 0 else room
        return float(came + 0.3 * (room - came))

    def _switch(self) -> None:
        below = self.probe_degc < self._row.set_degc - HYSTERESIS_K
        above = self.probe_degc > self._row.set_degc + HYSTERESIS_K
        self.heater_on[:] = np.where(below, 1.0, np.where(above, 0.0, self.heater_on))
        self.heater_on[~self._has_heater] = 0.0
        over = (self.probe_degc - self._row.set_degc - 1.0) / 1.0
        cooler = np.where(self._row.cooling_kw > 0, np.clip(over, 0.0, 1.0), 0.0)
        self.cooler_percent[:] = 100.0 * cooler
        low = self.level_mm < self._row.level_mm - TOP_UP_BELOW_MM
        full = self.level_mm >= self._row.level_mm
        self.top_up_open[:] = np.where(low, 1.0, np.where(full, 0.0, self.top_up_open))

    def _warm(self, dt_s: float, loads: Timetable, joule_w: Floats) -> None:
        t, room, water = self.temperature_degc, self._line.room_degc, self._line.water_degc
        on = np.maximum(self.heater_on * self.wrong.heater_share, self.wrong.heater_stuck_on)
        gain_w = on * self._row.heater_kw * 1e3 + joule_w
        gain_w -= self.cooler_percent * 10.0 * self._row.cooling_kw * self.wrong.cooling_share
        draught = self._row.extraction_ratio * self.wrong.draught_factor
        evaporated = evaporation_l_per_h_m2(t) * self._row.surface_m2 * draught
        self._evaporated_l_per_h = np.where(self._is_air, 0.0, evaporated)
        loss_w = self._evaporated_l_per_h * LATENT_KWH_PER_L * 1e3
        loss_w += (SURFACE_W_PER_K_M2 * self._row.surface_m2 * draught) * (t - room)
        loss_w += self._row.wall_w_per_k * (t - room)
        self.flow_l_per_min[:] = self._row.water_l_per_min * self.wrong.water_share
        cold_l_per_s = (self.flow_l_per_min + self._filling()) / 60.0
        came = np.where(self._fed_from >= 0, t[self._fed_from], water)
        loss_w += cold_l_per_s * HEAT_KJ_PER_L_K * 1e3 * (t - came)
        capacity = self.liquid_l * HEAT_KJ_PER_L_K * 1e3
        share = 1.0 - np.exp(-dt_s / (self._row.part_s * self.wrong.lag))
        taken = np.where(loads.is_in, (t - self.part_degc) * share, 0.0)
        self.part_degc += taken
        t += (gain_w - loss_w) * dt_s / capacity
        t -= taken * loads.mass_kg * self.wrong.heavy * STEEL_KJ_PER_KG_K * 1e3 / capacity
        self.duty_percent += (100.0 * on - self.duty_percent) * (1.0 - np.exp(-dt_s / 600.0))

    def _filling(self) -> Floats:
        wet = np.maximum(
            self.top_up_open * self.wrong.top_up_share, self.wrong.top_up_stuck_open
        )
        return self._row.top_up_l_per_min * wet

    def _fill(self, dt_s: float, loads: Timetable) -> None:
        filling = self._filling()
        change_l = (filling - self.wrong.leak_l_per_min) * dt_s / 60.0
        change_l -= self._evaporated_l_per_h * dt_s / 3600.0
        exchanged = self.flow_l_per_min * dt_s / 60.0
        kappa, water = self.conductivity_us, self._water_us
        came = np.where(self._fed_from >= 0, kappa[self._fed_from], water)
        kappa += (came - kappa) * exchanged / self.liquid_l
        # What evaporates leaves its salts behind; what is filled in brings few.
        salt = kappa * self.liquid_l + filling * dt_s / 60.0 * water
        salt -= self.wrong.leak_l_per_min * dt_s / 60.0 * kappa
        self.liquid_l += np.where(self._is_air, 0.0, change_l)
        np.clip(
            self.liquid_l,
            0.05 * self._row.level_mm * self._row.surface_m2 + 1.0,
            None,
            self.liquid_l,
        )
        kappa[:] = np.where(self._is_air, kappa, salt / self.liquid_l)
        # Litres are cubic decimetres: one on a square metre stands a millimetre high.
        displaced_l = np.where(loads.is_in, loads.mass_kg / 7.85 * 1.2, 0.0)
        brim_mm = self._row.level_mm + np.where(self._row.water_l_per_min > 0, 0.0, 60.0)
        shown = (self.liquid_l - self._below_l + displaced_l) / self._row.surface_m2
        self.level_mm[:] = np.minimum(
            shown, brim_mm + np.where(self._row.water_l_per_min > 0, 3.0, 0.0)
        )

    def hold_ph(self, dt_s: float, ah: Floats) -> None:
        """Let charge that has passed raise the pH, and acid bring it back."""
        self.ph += self._row.ph_per_kah_m3 * ah / np.maximum(self.liquid_l, 1.0)
        above = self.ph - self._kept_ph
        self._doses |= above > DOSES_ABOVE_PH
        self._doses &= above > 0.0
        self.ph -= np.where(self._doses, PH_PER_MIN * dt_s / 60.0, 0.0) * self.wrong.ph_dosing


_QUANTITIES: dict[str, Quantity] = {
    "temperature.load": lambda s, k: float(s.part_degc[k]),
    "temperature": lambda s, k: float(s.probe_degc[k]),
    "level": lambda s, k: float(s.level_mm[k]),
    "conductivity": lambda s, k: float(s.conductivity_us[k]),
    "ph": lambda s, k: float(s.ph[k]),
    "running": lambda s, k: float(s.heater_on[k]),
    "heater-duty": lambda s, k: float(s.duty_percent[k]),
    "cooling-duty": lambda s, k: float(s.cooler_percent[k]),
    "valve-open": lambda s, k: float(s.top_up_open[k]),
    "flow": lambda s, k: float(s.flow_l_per_min[k]),
}
