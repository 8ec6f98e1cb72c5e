"""What moves and cleans the solutions: air, filters with their pumps, barrels, heater phases.

Figures are common practice. A filter's pressure and flow share one pump: what the cake takes
from the one, the other loses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.parts import AtOne, AtZero, Floats, Quantity, columns, usual

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch_sim.rows import LineRow
    from linewatch_sim.solutions import Solutions

STILL_RATIO = 0.28
"""Share of its limiting current that a cell keeps in a still solution."""
PHASE_A_PER_KW = 1000.0 / (400.0 * 3.0**0.5)
"""Current of each phase of a balanced heater on 400 V."""
FULL_CAKE_BAR = 1.4
PUMP_A_PER_L_MIN = 0.012


@dataclass(slots=True)
class _Served:
    """The tanks' rows as arrays."""

    air_mbar: Floats
    filter_bar: Floats
    filter_l_per_min: Floats
    turns_per_min: Floats
    heater_kw: Floats


@dataclass(slots=True)
class ServicesWrong:
    """What may go wrong; one place for each tank."""

    blower: AtOne
    sparger_plugged: AtZero
    """0 clean, 1 as plugged as they get before somebody flushes them."""
    filter_clogged: AtZero
    """0 clean, 1 full of cake."""
    filter_bypassed: AtZero
    pump: AtOne
    """0: it turns, and moves nothing."""
    air_drawn: AtZero
    """1: the pump draws air in."""
    turning: AtOne
    """0: the barrel stands still."""


class Services:
    """Air, filters, pumps and drives, tank by tank."""

    def __init__(self, line: LineRow, seed: int) -> None:
        n = len(line.tanks)
        self.ids = tuple(row.id for row in line.tanks)
        self._row = columns(_Served, line.tanks)
        self._rng = np.random.default_rng((seed, 0x5E41))
        self.wrong = usual(ServicesWrong, n)
        self.air_bar = np.zeros(n)
        self.filter_bar = np.zeros(n)
        self.filter_l_per_min = np.zeros(n)
        self.pump_a = np.zeros(n)
        self.turns_per_min = np.zeros(n)
        self.heater_a = np.zeros(n)

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What the instruments of blowers, filters and drives tell."""
        return _QUANTITIES

    def step(self, solutions: Solutions) -> None:
        """Go on by a slow step."""
        row, wrong = self._row, self.wrong
        noise = self._rng.standard_normal((3, len(self.ids)))
        self.air_bar[:] = (
            row.air_mbar / 1e3 * wrong.blower * (1.0 + 0.25 * wrong.sparger_plugged)
        )
        self.air_bar *= 1.0 + 0.012 * noise[0]
        # A pump that moves nothing builds no pressure; air in it makes both tremble.
        runs, tremble = wrong.pump, 1.0 + (0.008 + 0.15 * wrong.air_drawn) * noise[1]
        cake = row.filter_bar + (FULL_CAKE_BAR - row.filter_bar) * wrong.filter_clogged
        through = np.where(wrong.filter_bypassed > 0, 0.06, cake)
        self.filter_bar[:] = np.where(row.filter_bar > 0, through, 0.0) * runs * tremble
        flow = row.filter_l_per_min * (1.0 - 0.45 * wrong.filter_clogged)
        self.filter_l_per_min[:] = flow * runs * tremble
        loaded = 1.0 - 0.4 * (1.0 - runs)
        self.pump_a[:] = PUMP_A_PER_L_MIN * row.filter_l_per_min * loaded
        self.turns_per_min[:] = row.turns_per_min * wrong.turning * (1.0 + 0.01 * noise[2])
        on = np.maximum(solutions.heater_on * solutions.wrong.heater_share, 0.0)
        on = np.maximum(on, solutions.wrong.heater_stuck_on)
        self.heater_a[:] = row.heater_kw * PHASE_A_PER_KW * on

    def agitation(self) -> Floats:
        """Return the share of its limiting current that each tank's cell keeps."""
        lost = (self._row.air_mbar > 0) * (1.0 - self.wrong.blower)
        kept: Floats = 1.0 - (1.0 - STILL_RATIO) * lost
        return kept


_QUANTITIES: dict[str, Quantity] = {
    "pressure.air": lambda s, k: float(s.air_bar[k]),
    "pressure.filter": lambda s, k: float(s.filter_bar[k]),
    "flow.filter": lambda s, k: float(s.filter_l_per_min[k]),
    "motor-current.pump": lambda s, k: float(s.pump_a[k]),
    "speed": lambda s, k: float(s.turns_per_min[k]),
    "heater-current": lambda s, k: float(s.heater_a[k]),
}


@dataclass(slots=True)
class PanelWrong:
    """What people do at the panel."""

    state: AtOne
    """0 planned stop, 1 producing, 2 heating up, 3 out of service."""


class Panel:
    """The switch at the line's end with which people say what it does."""

    def __init__(self, line: LineRow) -> None:
        self.ids = (line.id,)
        self.wrong = usual(PanelWrong, 1)

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What the panel tells."""
        return _AT_PANEL


_AT_PANEL: dict[str, Quantity] = {"line-state": lambda p, k: float(p.wrong.state[k])}
