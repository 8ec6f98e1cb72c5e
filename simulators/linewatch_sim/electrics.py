"""Rectifiers and the cells that they feed, all at once.

A terminal shows, at a current I on an area A with i = I / A:

    E_reversible + b asinh(i / 2 i0) - c ln(1 - i / i_limit) + k (1 + a (T0 - T)) i + I R

with R of bus and contacts. The overvoltage is logarithmic above the exchange current density
and straight below it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.faraday import gram_per_ah
from linewatch_sim.parts import AtOne, AtZero, Floats, Quantity, columns, usual
from linewatch_sim.ripple import ripple_percent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from linewatch_sim.rows import LineRow
    from linewatch_sim.timetable import Timetable

SUPPLY_RATIO = 1.15
"""Voltage that a unit can give at full opening, against its rating."""
LIMITING_V = 0.1
"""Weight of the limiting current's logarithm [V]."""
CONTROL_S = 0.2
"""Time constant of the current control."""
SINK_S = 360.0
"""Time constant of a heat-sink."""
RESIDUAL_S = 12.0
"""Time constant with which a cell's own voltage dies away once the current is off."""
HUNTING_HZ = 0.7
LEAST_RATIO = 1e-3
"""Below this share of the rating a unit counts as off."""
WITHIN_V = 1e-3
IDLE_RATIO = 0.008
"""Input of a unit without load over its rated output: transformer and control."""
DEVICE_V = 1.1
"""Drop of the devices that conduct."""
COPPER_RATIO = 0.03
"""Losses of windings and bars at rated current over rated output."""
POWER_NOISE = 0.003
METERS_SEED = 20261
MODULES = 3
"""The most that a unit has."""
MODULE_SPREAD = 0.03
LEAST_DENSITY = 1e-6


@dataclass(slots=True)
class _Cells:
    """The cells' rows as arrays, one place for each rectifier."""

    reversible_v: Floats
    tafel_v: Floats
    exchange_a_per_dm2: Floats
    limiting_a_per_dm2: Floats
    solution_v_per_a_per_dm2: Floats
    usual_degc: Floats
    per_kelvin_ratio: Floats
    efficiency_ratio: Floats
    efficiency_slope: Floats
    usual_a_per_dm2: Floats


@dataclass(slots=True)
class _Units:
    """The rectifiers' rows as arrays."""

    density_a_per_dm2: Floats
    rated_a: Floats
    rated_v: Floats
    ramp_s: Floats
    off_before_s: Floats
    on_after_s: Floats
    longest_on_s: Floats
    pulses: Floats
    choke_ratio: Floats
    bus_mohm: Floats
    contact_mohm: Floats
    noise_ratio: Floats
    rhythm_ratio: Floats
    zero_offset_a: Floats
    sink_rise_k: Floats
    meter_modulus_ah: Floats
    meter_start_ah: Floats
    meter_step_ah: Floats
    modules: Floats


@dataclass(slots=True)
class ElectricsWrong:
    """What may go wrong with a rectifier, its bars and its cell."""

    enabled: AtOne
    """0: it has tripped."""
    fan: AtOne
    room_k: AtZero
    """How much warmer the air is that it draws."""
    contact_factor: AtOne
    bus_factor: AtOne
    solution_factor: AtOne
    limiting_factor: AtOne
    """Less without agitation."""
    overvoltage_v: AtZero
    """Added by anodes that are polarised or depleted."""
    short_ratio: AtZero
    """Share of the cell's voltage that a short takes away."""
    lost_devices: AtZero
    """1 is one device of a six-pulse bridge, 2 an input phase."""
    noise_factor: AtOne
    hunting_ratio: AtZero
    set_factor: AtOne
    """What its set-point is against what the recipe asks for."""
    output_factor: AtOne
    """What it gives against its own set-point."""
    shunt_factor: AtOne
    """What its own meters make of the true current."""
    meter_creep_a: AtZero
    """What its ampere-hour meter counts with no current at all."""
    stray_a: AtZero
    open_circuit: AtZero
    """1: the bar does not sit, or the output fuse is gone."""
    reversed: AtZero
    """1: its leads are swapped."""
    loss_factor: AtOne
    """What it loses inside, against a good unit."""
    dead_module: AtZero
    """Number of the module that gives nothing; the others make up for it. 0: none."""
    greedy_ratio: AtZero
    """Share by which the last module takes more than its own."""


class Electrics:
    """State of all rectifiers; arrays have one place for each, in the line's order."""

    def __init__(self, line: LineRow, rng: np.random.Generator) -> None:
        cells = {cell.id: cell for cell in line.cells}
        mine = [cells[row.cell] for row in line.rectifiers]
        n = len(mine)
        self.ids = tuple(row.id for row in line.rectifiers)
        self._rng = rng
        self._cell = columns(_Cells, mine)
        self._unit = columns(_Units, line.rectifiers)
        self.wrong = usual(ElectricsWrong, n)
        self.share = _shares(line)
        """Share of each rectifier's current that goes to each tank, shape (units, tanks)."""
        self._fed = (self.share > 0).astype(float)
        self._tank = self.share.argmax(axis=1)
        self.anodic = np.array([row.anodic for row in line.rectifiers])
        self._gram_per_ah = np.array([gram_per_ah(cell.deposit) for cell in mine])
        self.set_a = np.zeros(n)
        self.current_a = np.zeros(n)
        """As it flows; negative with swapped leads."""
        self.voltage_v = np.zeros(n)
        self.area_dm2 = np.ones(n)
        self.at_limit = np.zeros(n)
        self.ripple_percent = np.zeros(n)
        self.sink_degc = np.full(n, line.room_degc + 15.0)
        self.meter_ah = self._unit.meter_start_ah.copy()
        """What has gone through since the meter was new, without rollover."""
        self.efficiency = self._cell.efficiency_ratio.copy()
        self._residual_v = np.zeros(n)
        self._contact_noise = np.ones(n)
        self._control_a = np.zeros(n)
        self._time_s = 0.0
        self._agitation = np.ones(n)
        self._bar_mohm = np.zeros(n)
        """What the bar that now hangs there adds."""
        self._turns_per_s = np.zeros(n)
        self._turned = np.zeros(n)
        self._instruments = np.random.default_rng(METERS_SEED)
        """Of the input meters and modules: apart, so that they change nothing else's chance."""
        self._power_noise = np.ones(n)
        self.spread = 1.0 + MODULE_SPREAD * self._instruments.uniform(-1.0, 1.0, (n, MODULES))
        """By how much modules differ from one another."""

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What a rectifier's own display and registers tell."""
        return _QUANTITIES

    def begin_counting(self) -> None:
        """Put the meters where the plant's time begins."""
        self.meter_ah[:] = self._unit.meter_start_ah

    def moved_by(self, agitation: Floats, turns_per_min: Floats) -> None:
        """Let agitation and turning barrels, tank by tank, be felt in the cells."""
        self._agitation = agitation[self._tank]
        self._turns_per_s = turns_per_min[self._tank] / 60.0

    def step(self, dt_s: float, loads: Timetable, tank_degc: Floats) -> None:
        """Go on by a step: program, control, voltage limit, noise."""
        self._time_s += dt_s
        self._bar_mohm = loads.bar_mohm[self._tank]
        wrong, control = self.wrong, self._control_a
        control += (self._wanted(loads) - control) * (1.0 - np.exp(-dt_s / CONTROL_S))
        volts, slope = self._within_limit(tank_degc)
        swing = self._rng.standard_normal(len(control)) * self._unit.noise_ratio
        self._turned += self._turns_per_s * dt_s
        # The barrel's own rhythm, and that of the six sides of its wall.
        turn = 2.0 * np.pi * self._turned
        rhythm = self._unit.rhythm_ratio * (self._turns_per_s > 0)
        swing += rhythm * (0.8 * np.sin(turn) + 0.3 * np.sin(6.0 * turn))
        swing *= wrong.noise_factor
        if wrong.hunting_ratio.any():
            swing += wrong.hunting_ratio * np.sin(2.0 * np.pi * HUNTING_HZ * self._time_s)
        sign = 1.0 - 2.0 * wrong.reversed
        self.current_a[:] = sign * control * (1.0 + swing) + wrong.stray_a
        self._show_voltage(dt_s, volts, slope * control * swing, sign)

    def _wanted(self, loads: Timetable) -> Floats:
        tank, unit = self._tank, self._unit
        since = loads.since_s[tank] - unit.on_after_s
        left = loads.left_s[tank] - unit.off_before_s
        area = self._fed @ np.where(loads.is_in, loads.area_dm2, 0.0)
        is_on = (area > 0.0) & (since > 0.0) & (left > 0.0) & (since < unit.longest_on_s)
        np.copyto(self.area_dm2, area, where=area > 0.0)
        target = np.where(is_on, unit.density_a_per_dm2 * area, 0.0)
        target *= self.wrong.set_factor * self.wrong.enabled
        np.minimum(target, unit.rated_a, out=target)
        self.set_a[:] = target
        target *= self.wrong.output_factor
        ramped: Floats = target * np.clip(since / unit.ramp_s, 0.0, 1.0)
        return ramped * (1.0 - self.wrong.open_circuit)

    def _within_limit(self, tank_degc: Floats) -> tuple[Floats, Floats]:
        """Let the voltage limit lower the current; return terminal volts and their slope."""
        control = self._control_a
        left = 1.0 - self.wrong.lost_devices / 6.0
        most = self._unit.rated_v * np.minimum(1.0, SUPPLY_RATIO * left)
        volts, slope = self._terminal(tank_degc)
        over = (volts > most) & (control > 0.0)
        self.at_limit[:] = over
        for _ in range(4):
            if not over.any():
                break
            # Newton's steps towards the current that the limit allows
            control -= np.where(over, (volts - most) / slope, 0.0)
            np.maximum(control, 0.0, out=control)
            volts, slope = self._terminal(tank_degc)
            over = volts > most + WITHIN_V
        return volts, slope

    def _terminal(self, tank_degc: Floats) -> tuple[Floats, Floats]:
        """Return terminal voltage [V] and its slope against the current [V/A]."""
        cell, wrong = self._cell, self.wrong
        density = self._control_a / self.area_dm2
        cold = 1.0 + cell.per_kelvin_ratio * (cell.usual_degc - tank_degc[self._tank])
        k = cell.solution_v_per_a_per_dm2 * wrong.solution_factor * np.maximum(cold, 0.2)
        # In a barrel that stands still only the outer parts carry current.
        k = k * np.where((self._unit.rhythm_ratio > 0) & (self._turns_per_s == 0), 1.06, 1.0)
        x = density / (2.0 * cell.exchange_a_per_dm2)
        limiting = cell.limiting_a_per_dm2 * wrong.limiting_factor * self._agitation
        room = np.maximum(1.0 - density / limiting, 0.02)
        contact = self._unit.contact_mohm * wrong.contact_factor * self._contact_noise
        contact = contact + self._bar_mohm
        ohm = (self._unit.bus_mohm * wrong.bus_factor + contact) * 1e-3
        inside = cell.tafel_v * np.arcsinh(x) - LIMITING_V * np.log(room) + k * density
        back = cell.reversible_v + wrong.overvoltage_v
        inside += np.where(density > LEAST_DENSITY, back, 0.0)
        slope = cell.tafel_v / (2.0 * cell.exchange_a_per_dm2 * np.sqrt(1.0 + x * x)) + k
        slope += LIMITING_V / (limiting * room)
        whole = 1.0 - wrong.short_ratio
        volts = inside * whole + self._control_a * ohm
        return volts, slope * whole / self.area_dm2 + ohm

    def _is_on(self) -> NDArray[np.bool_]:
        is_on: NDArray[np.bool_] = self._control_a > LEAST_RATIO * self._unit.rated_a
        return is_on

    def _show_voltage(self, dt_s: float, volts: Floats, noise_v: Floats, sign: Floats) -> None:
        is_on = self._is_on()
        # A cell that was polarised keeps a voltage of its own that dies away.
        own = np.minimum(self._cell.reversible_v, 0.8 * volts)
        dying = self._residual_v * np.exp(-dt_s / RESIDUAL_S)
        self._residual_v[:] = np.where(is_on, own, dying)
        shown = np.where(is_on, volts + noise_v, self._residual_v)
        # Without a circuit the control opens up to the voltage limit.
        is_open = (self.wrong.open_circuit > 0.0) & (self.set_a > 0.0)
        self.voltage_v[:] = sign * np.where(is_open, self._unit.rated_v, shown)

    def slow_step(self, dt_s: float, room_degc: float) -> None:
        """Go on with what changes slowly: ripple, heat-sinks, contacts."""
        unit, wrong = self._unit, self.wrong
        share = np.clip(np.abs(self.voltage_v) / (unit.rated_v * SUPPLY_RATIO), 0.0, 1.0)
        ripple = ripple_percent(share, unit.pulses, unit.choke_ratio, wrong.lost_devices)
        self.ripple_percent[:] = np.where(self._is_on(), ripple, 0.0)
        rise = unit.sink_rise_k * (np.abs(self.current_a) / unit.rated_a) ** 1.2
        rise *= 1.0 + 1.6 * (1.0 - wrong.fan)
        self.sink_degc += (room_degc + wrong.room_k + rise - self.sink_degc) * (
            1.0 - np.exp(-dt_s / SINK_S)
        )
        self._power_noise[:] = 1.0 + POWER_NOISE * self._instruments.standard_normal(
            len(self._power_noise)
        )
        noise = self._contact_noise
        noise += self._rng.standard_normal(len(noise)) * 0.05 * np.sqrt(dt_s)
        noise -= (noise - 1.0) * min(0.1 * dt_s, 1.0)
        np.clip(noise, 0.5, 2.0, out=noise)

    def metal_g_per_s(self) -> Floats:
        """Return what each unit lays down; the efficiency follows the current density."""
        cell = self._cell
        density = np.abs(self.current_a) / self.area_dm2
        against_usual = np.maximum(density / cell.usual_a_per_dm2, 0.02)
        factor = 1.0 + cell.efficiency_slope * np.log(against_usual)
        self.efficiency[:] = np.clip(cell.efficiency_ratio * factor, 0.0, 1.0)
        rate = self._gram_per_ah * self.efficiency * np.maximum(self.current_a, 0.0) / 3600.0
        laid_down: Floats = np.where(self.anodic, 0.0, rate)
        return laid_down

    def input_kw(self, k: int) -> float:
        """Return what the AC meter before a unit shows.

        Out goes the mean power and that of the ripple; inside are lost what is always there,
        a device's drop, and what windings and bars make of the square of the current.
        """
        current, volts = abs(float(self.current_a[k])), abs(float(self.voltage_v[k]))
        rated_a, rated_w = self._unit.rated_a[k], self._unit.rated_a[k] * self._unit.rated_v[k]
        out_w = current * volts * (1.0 + (self.ripple_percent[k] / 100.0) ** 2)
        square_w = COPPER_RATIO * rated_w * (current / rated_a) ** 2
        lost_w = IDLE_RATIO * rated_w + DEVICE_V * current + square_w
        lost_w *= self.wrong.loss_factor[k]
        return float((out_w + lost_w) * self._power_noise[k]) / 1000.0

    def module_current_a(self, k: int, module: int) -> float:
        """Return the current of one of a unit's modules, counted from 1."""
        count = int(self._unit.modules[k])
        share = self.spread[k, :count].copy()
        share[count - 1] *= 1.0 + self.wrong.greedy_ratio[k]
        dead = int(self.wrong.dead_module[k])
        if 0 < dead <= count:
            share[dead - 1] = 0.0
        if module > count or not share.any():
            return 0.0
        return float(self.current_a[k] * share[module - 1] / share.sum())

    def shown_current_a(self, k: int) -> float:
        """Return what a unit's own meter says: shunt error and zero offset included."""
        shunt = float(self.wrong.shunt_factor[k])
        return float(self.current_a[k]) * shunt + float(self._unit.zero_offset_a[k])

    def shown_meter_ah(self, k: int) -> float:
        """Return an ampere-hour meter: in whole steps, rolled over at its modulus."""
        step_ah = self._unit.meter_step_ah[k]
        counted = np.floor(self.meter_ah[k] / step_ah) * step_ah
        return float(counted % self._unit.meter_modulus_ah[k])


def _shares(line: LineRow) -> Floats:
    tanks = [tank.id for tank in line.tanks]
    share = np.zeros((len(line.rectifiers), len(tanks)))
    for r, row in enumerate(line.rectifiers):
        for tank, ratio in row.feeds:
            share[r, tanks.index(tank)] = ratio
    return share


_QUANTITIES: dict[str, Quantity] = {
    "current": lambda e, k: e.shown_current_a(k),
    "voltage": lambda e, k: float(e.voltage_v[k]),
    "current-set": lambda e, k: float(e.set_a[k]),
    "charge-meter": lambda e, k: e.shown_meter_ah(k),
    "ripple": lambda e, k: float(e.ripple_percent[k]),
    "heat-sink": lambda e, k: float(e.sink_degc[k]),
    "power": lambda e, k: e.input_kw(k),
    "current.module-1": lambda e, k: e.module_current_a(k, 1),
    "current.module-2": lambda e, k: e.module_current_a(k, 2),
    "current.module-3": lambda e, k: e.module_current_a(k, 3),
    "running": lambda e, k: float(e.set_a[k] > 0.0),
    "fault": lambda e, k: float(e.wrong.enabled[k] < 1.0),
    "count.at-limit": lambda e, k: float(e.at_limit[k]),
    "count.work-is-anode": lambda e, k: float(e.anodic[k]),
}
