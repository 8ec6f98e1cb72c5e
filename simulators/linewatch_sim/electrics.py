"""Rectifiers and the cells that they feed, all at once.

A terminal shows, at a current I on an area A with i = I / A:

    E_reversible + b asinh(i / 2 i0) - c ln(1 - i / i_limit) + k (1 + a (T0 - T)) i + I (R_bus + R_contact)

The overvoltage is logarithmic above the exchange current density and straight below it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.faraday import gram_per_ah
from linewatch_sim.ripple import ripple_percent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linewatch_sim.rows import LineRow
    from linewatch_sim.timetable import Timetable

SUPPLY_RATIO = 1.15
"""Voltage that a unit can give at full opening, against its rating."""
LIMITING_V = 0.04
"""Weight of the limiting current's logarithm [V]."""
CONTROL_S = 0.2
"""Time constant of the current control."""
SINK_S = 360.0
"""Time constant of a heat-sink."""


class Electrics:
    """State of all rectifiers; arrays have one place for each, in the line's order."""

    def __init__(self, line: LineRow, rng: np.random.Generator) -> None:
        rows, tanks = line.rectifiers, [tank.id for tank in line.tanks]
        cells = {cell.id: cell for cell in line.cells}
        mine = [cells[row.cell] for row in rows]
        n = len(rows)
        self._rng = rng
        self.rows = rows
        self.share = np.zeros((n, len(tanks)))
        """Share of each rectifier's current that goes to each tank."""
        for r, row in enumerate(rows):
            for tank, share in row.feeds:
                self.share[r, tanks.index(tank)] = share
        self._fed = (self.share > 0).astype(float)
        self._first_tank = self.share.argmax(axis=1)

        def column(values: list[float]) -> NDArray[np.float64]:
            return np.array(values, dtype=float)

        self.reversible_v = column([c.reversible_v for c in mine])
        self._tafel = column([c.tafel_v for c in mine])
        self._exchange = column([c.exchange_a_per_dm2 for c in mine])
        self._limiting = column([c.limiting_a_per_dm2 for c in mine])
        self._solution = column([c.solution_v_per_a_per_dm2 for c in mine])
        self._usual_degc = column([c.usual_degc for c in mine])
        self._per_kelvin = column([c.per_kelvin_ratio for c in mine])
        self.gram_per_ah = column([gram_per_ah(c.deposit) for c in mine])
        self._efficiency = column([c.efficiency_ratio for c in mine])
        self._slope = column([c.efficiency_slope for c in mine])
        self._usual_density = column([c.usual_a_per_dm2 for c in mine])
        self._asked = column([r.density_a_per_dm2 for r in rows])
        self.rated_a = column([r.rated_a for r in rows])
        self.rated_v = column([r.rated_v for r in rows])
        self.anodic = np.array([r.anodic for r in rows])
        self._ramp = column([r.ramp_s for r in rows])
        self._on_after = column([r.on_after_s for r in rows])
        self._off_before = column([r.off_before_s for r in rows])
        self._longest = column([r.longest_on_s for r in rows])
        self.bus_ohm = column([r.bus_mohm for r in rows]) / 1e3
        self._contact_ohm = column([r.contact_mohm for r in rows]) / 1e3
        self._noise = column([r.noise_ratio for r in rows])
        self._offset_a = column([r.zero_offset_a for r in rows])
        self._sink_rise = column([r.sink_rise_k for r in rows])
        self.choke = column([r.choke_ratio for r in rows])
        self.pulses = np.array([r.pulses for r in rows])
        self.modulus_ah = column([r.meter_modulus_ah for r in rows])

        # What may go wrong; 1 or 0 is as it should be.
        self.enabled = np.ones(n)
        self.fan = np.ones(n)
        self.contact_factor = np.ones(n)
        self.solution_factor = np.ones(n)
        self.extra_overvoltage_v = np.zeros(n)
        self.short_ratio = np.zeros(n)
        """Share of the cell's voltage that a short takes away."""
        self.lost_devices = np.zeros(n)
        """1 is one device of a six-pulse bridge, 2 an input phase."""
        self.noise_factor = np.ones(n)
        self.set_factor = np.ones(n)
        self.shunt_factor = np.ones(n)
        self.stray_a = np.zeros(n)
        self.hunting_ratio = np.zeros(n)

        self.set_a = np.zeros(n)
        self.current_a = np.zeros(n)
        self.voltage_v = np.zeros(n)
        self.area_dm2 = np.ones(n)
        self.limit_flag = np.zeros(n)
        self.ripple_percent = np.zeros(n)
        self.sink_degc = np.full(n, line.room_degc)
        self.meter_ah = column([r.meter_start_ah for r in rows])
        """What has gone through since the meter was new, without rollover."""
        self.efficiency = self._efficiency.copy()
        self._residual_v = np.zeros(n)
        self._contact_noise = np.ones(n)
        self._control_a = np.zeros(n)
        self._time_s = 0.0

    def step(self, dt_s: float, loads: Timetable, tank_degc: NDArray[np.float64]) -> None:
        """Go on by a step: program, control, voltage limit, noise, ripple, heat."""
        self._time_s += dt_s
        wanted = self._wanted(loads)
        gain = 1.0 - np.exp(-dt_s / CONTROL_S)
        control = self._control_a
        control += (wanted - control) * gain
        density = control / self.area_dm2
        volts, slope = self._terminal(density, tank_degc)
        most = np.minimum(self.rated_v, SUPPLY_RATIO * self.rated_v * self._left_ratio())
        over = (volts > most) & (control > 0.0)
        self.limit_flag[:] = over
        for _ in range(4):
            if not over.any():
                break
            # Newton's steps towards the current that the voltage limit allows
            control -= np.where(over, (volts - most) / slope, 0.0)
            np.clip(control, 0.0, None, out=control)
            volts, slope = self._terminal(control / self.area_dm2, tank_degc)
            over = volts > most + 1e-3
        swing = self._rng.standard_normal(len(control)) * self._noise * self.noise_factor
        if self.hunting_ratio.any():
            swing = swing + self.hunting_ratio * np.sin(2.0 * np.pi * 0.7 * self._time_s)
        self.current_a[:] = control * (1.0 + swing) + self.stray_a
        self._show_voltage(dt_s, volts, slope, swing)

    def _left_ratio(self) -> NDArray[np.float64]:
        """Return which share of its full output each unit can still give."""
        return 1.0 - self.lost_devices / 6.0

    def _wanted(self, loads: Timetable) -> NDArray[np.float64]:
        tank = self._first_tank
        since, left = (
            loads.since_s[tank] - self._on_after,
            loads.left_s[tank] - self._off_before,
        )
        area = self._fed @ np.where(loads.is_in, loads.area_dm2, 0.0)
        is_on = (area > 0.0) & (since > 0.0) & (left > 0.0) & (since < self._longest)
        np.copyto(self.area_dm2, area, where=area > 0.0)
        target = np.where(is_on, self._asked * area, 0.0) * self.set_factor * self.enabled
        np.minimum(target, self.rated_a, out=target)
        ramp = np.clip(since / self._ramp, 0.0, 1.0)
        self.set_a[:] = target
        return target * ramp

    def _terminal(
        self, density: NDArray[np.float64], tank_degc: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return terminal voltage [V] and its slope against the current [V/A]."""
        cold = 1.0 + self._per_kelvin * (self._usual_degc - tank_degc[self._first_tank])
        k = self._solution * self.solution_factor * np.maximum(cold, 0.2)
        x = density / (2.0 * self._exchange)
        room = np.maximum(1.0 - density / self._limiting, 0.02)
        ohm = self.bus_ohm + self._contact_ohm * self.contact_factor * self._contact_noise
        inside = self._tafel * np.arcsinh(x) - LIMITING_V * np.log(room) + k * density
        inside += np.where(density > 1e-6, self.reversible_v + self.extra_overvoltage_v, 0.0)
        volts = inside * (1.0 - self.short_ratio) + density * self.area_dm2 * ohm
        slope = self._tafel / (2.0 * self._exchange * np.sqrt(1.0 + x * x)) + k
        slope += LIMITING_V / (self._limiting * room)
        return volts, slope * (1.0 - self.short_ratio) / self.area_dm2 + ohm

    def _show_voltage(
        self,
        dt_s: float,
        volts: NDArray[np.float64],
        slope: NDArray[np.float64],
        swing: NDArray[np.float64],
    ) -> None:
        shown = volts + slope * self._control_a * swing
        is_on = self._control_a > 1e-3 * self.rated_a
        # A cell that was polarised keeps a voltage of its own that dies away.
        self._residual_v[:] = np.where(
            is_on,
            np.minimum(self.reversible_v, 0.8 * volts),
            self._residual_v * np.exp(-dt_s / 12.0),
        )
        self.voltage_v[:] = np.where(is_on, shown, self._residual_v)

    def slow_step(self, dt_s: float, room_degc: float) -> None:
        """Go on with what changes slowly: ripple, heat-sinks, contacts."""
        share = np.clip(self.voltage_v / (self.rated_v * SUPPLY_RATIO), 0.0, 1.0)
        is_on = self._control_a > 1e-3 * self.rated_a
        self.ripple_percent[:] = np.where(
            is_on, ripple_percent(share, self.pulses, self.choke, self.lost_devices), 0.0
        )
        rise = self._sink_rise * (np.abs(self.current_a) / self.rated_a) ** 1.2
        rise *= 1.0 + 1.6 * (1.0 - self.fan)
        self.sink_degc += (room_degc + rise - self.sink_degc) * (1.0 - np.exp(-dt_s / SINK_S))
        drift = self._rng.standard_normal(len(self._contact_noise)) * 0.05 * np.sqrt(dt_s)
        self._contact_noise += drift - (self._contact_noise - 1.0) * min(0.1 * dt_s, 1.0)
        np.clip(self._contact_noise, 0.5, 2.0, out=self._contact_noise)

    def density_a_per_dm2(self) -> NDArray[np.float64]:
        """Return the current density on the work."""
        return self.current_a / self.area_dm2

    def metal_g_per_s(self) -> NDArray[np.float64]:
        """Return what is laid down, for each rectifier; the efficiency follows the density."""
        density = np.maximum(self.density_a_per_dm2(), 0.02 * self._usual_density)
        relative = 1.0 + self._slope * np.log(density / self._usual_density)
        self.efficiency[:] = np.clip(self._efficiency * relative, 0.0, 1.0)
        rate = self.gram_per_ah * self.efficiency * np.maximum(self.current_a, 0.0) / 3600.0
        return np.where(self.anodic, 0.0, rate)

    def shown_current_a(self) -> NDArray[np.float64]:
        """Return what the units' own meters say: shunt error and zero offset included."""
        return np.abs(self.current_a) * self.shunt_factor + self._offset_a

    def shown_meter_ah(self) -> NDArray[np.float64]:
        """Return the ampere-hour meters, rolled over at their modulus."""
        return np.mod(np.floor(self.meter_ah), self.modulus_ah)
