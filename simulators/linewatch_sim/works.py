"""The plant as one running thing: its parts stepped together, and what it knows to be true.

Rule 1: time goes on in whole fine steps. Late, it takes larger ones and tells its lag.
Rule 2: truth is counted here, at the fine step, from the currents that flow; no instrument's
        error is in it.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.electrics import Electrics
from linewatch_sim.services import Panel, Services
from linewatch_sim.slopes import Slopes
from linewatch_sim.solutions import Solutions
from linewatch_sim.timetable import Stations, Timetable, Visit
from linewatch_sim.utilities import Utilities
from linewatch_sim.utilities.treatment import USUAL_L_PER_MIN, Flows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linewatch_sim.parts import Part
    from linewatch_sim.rows import LineRow

FINE_S = 0.1
SLOW_EVERY = 10
"""Fine steps in a step of heat and level."""
COARSE_S = 1.0
"""Longest step while it catches up."""
AT_ONCE = 1200
"""Fine steps that one call may take before it turns to coarse ones."""


class Works:
    """All parts of a plant."""

    def __init__(self, line: LineRow, seed: int) -> None:
        self.line = line
        self.rng = np.random.default_rng(seed)
        self.loads = Timetable(line, seed)
        self.electrics = Electrics(line, self.rng)
        self.solutions = Solutions(line)
        self.services = Services(line, seed)
        self._streams = _streams(line)
        self.utilities = Utilities(seed, self._flows())
        self.parts: dict[str, Part] = {
            "loads": self.loads,
            "stations": Stations(self.loads),
            "electrics": self.electrics,
            "solutions": self.solutions,
            "services": self.services,
            "utilities": self.utilities,
            "panel": Panel(line),
        }
        n = len(line.tanks)
        self.line_s = 0.0
        """Line time that the plant has reached."""
        self.cathodic_ah = np.zeros(n)
        self.anodic_ah = np.zeros(n)
        self.metal_g = np.zeros(n)
        self.visits: deque[Visit] = deque(maxlen=500)
        """The last finished stays, oldest first."""
        self._entered_s = np.zeros(n)
        self._load_before = self.loads.load.copy()
        self._at_entry = np.zeros((3, n))
        self._joule_j = np.zeros(n)
        self._charge_ah = np.zeros(n)
        self._since_slow_s = 0.0
        self.slopes = Slopes()
        """What is on its way to going wrong."""
        self._warm_up()

    def advance_to(self, line_s: float, *, coarsely: bool = False) -> None:
        """Step up to a moment of line time, as far as whole steps go.

        `coarsely` takes large steps only, as a plant does that is far behind or very fast.
        """
        due = int((line_s - self.line_s) / FINE_S + 1e-6)
        coarse = round(COARSE_S / FINE_S)
        while due >= coarse and (coarsely or due > AT_ONCE):
            self._step(COARSE_S)
            due -= coarse
        for _ in range(0 if coarsely else due):
            self._step(FINE_S)

    def _step(self, dt_s: float) -> None:
        loads, electrics = self.loads, self.electrics
        loads.advance(dt_s)
        if loads.entered.any() or loads.left.any():
            self._note_moves()
            self.solutions.take_in(loads)
        electrics.step(dt_s, loads, self.solutions.temperature_degc)
        self._count(dt_s)
        self.slopes.step(dt_s)
        self._since_slow_s += dt_s
        if self._since_slow_s >= SLOW_EVERY * FINE_S - 1e-9:
            self._slow_step()
        # Counted in whole milliseconds, so that a day of steps does not drift.
        self.line_s = round(self.line_s + dt_s, 3)

    def _count(self, dt_s: float) -> None:
        electrics = self.electrics
        share = electrics.share
        ah = electrics.current_a * (dt_s / 3600.0)
        anodic = electrics.anodic
        forward, backward = np.maximum(ah, 0.0), np.maximum(-ah, 0.0)
        cathodic = np.where(anodic, backward, forward) @ share
        self.cathodic_ah += cathodic
        self.anodic_ah += np.where(anodic, forward, backward) @ share
        self.metal_g += (electrics.metal_g_per_s() * dt_s) @ share
        electrics.meter_ah += np.abs(ah) * electrics.wrong.shunt_factor
        electrics.meter_ah += electrics.wrong.meter_creep_a * (dt_s / 3600.0)
        self._charge_ah += cathodic
        self._joule_j += (electrics.current_a * electrics.voltage_v * dt_s) @ share

    def _slow_step(self) -> None:
        dt_s = self._since_slow_s
        self.solutions.step(dt_s, self.loads, self._joule_j / dt_s)
        self.solutions.hold_ph(dt_s, self._charge_ah)
        self.electrics.slow_step(dt_s, self.line.room_degc)
        self._serve(dt_s)
        self._joule_j[:] = 0.0
        self._charge_ah[:] = 0.0
        self._since_slow_s = 0.0

    def _serve(self, dt_s: float) -> None:
        """Let air, filters and drives, and what serves the lines, go on by a slow step."""
        self.services.step(self.solutions)
        self.electrics.moved_by(self.services.agitation(), self.services.turns_per_min)
        self.utilities.step(dt_s, self._flows())

    def _flows(self) -> Flows:
        """Return what the lines let go [L/min]; a line that has no streams: the usual."""
        cyanide, chromium, general = (self._streams @ self.solutions.flow_l_per_min).tolist()
        return (cyanide, chromium, general) if self._streams.any() else USUAL_L_PER_MIN

    def _note_moves(self) -> None:
        loads = self.loads
        counted = np.stack([self.cathodic_ah, self.anodic_ah, self.metal_g])
        for tank in np.flatnonzero(loads.left).tolist():
            cathodic, anodic, metal = (counted[:, tank] - self._at_entry[:, tank]).tolist()
            self.visits.append(
                Visit(
                    load=int(self._load_before[tank]),
                    tank=self.line.tanks[tank].id,
                    entered_s=float(self._entered_s[tank]),
                    left_s=self.line_s,
                    cathodic_ah=cathodic,
                    anodic_ah=anodic,
                    metal_g=metal,
                )
            )
        came = loads.entered
        self._entered_s[came] = self.line_s
        self._at_entry[:, came] = counted[:, came]
        self._load_before = loads.load.copy()

    def _warm_up(self) -> None:
        """Let the line settle before its time begins: currents flow, sinks are warm."""
        track_s = self.loads.track_s.copy()
        self.loads.track_s -= 60.0
        for _ in range(60):
            self._step(COARSE_S)
        self.loads.track_s[:] = track_s
        self._entered_s[:] = -self.loads.since_s
        for counted in (self.cathodic_ah, self.anodic_ah, self.metal_g, self._at_entry):
            counted[:] = 0.0
        self.electrics.begin_counting()
        self.visits.clear()
        self.line_s = 0.0

    def load_rows(self) -> list[dict[str, object]]:
        """Return the loads that hang in a tank now."""
        loads = self.loads
        counted = np.stack([self.cathodic_ah, self.anodic_ah, self.metal_g]) - self._at_entry
        return [
            {
                "load": int(loads.load[tank]),
                "tank": self.line.tanks[tank].id,
                "entered_line_s": float(self._entered_s[tank]),
                "area_dm2": float(loads.area_dm2[tank]),
                "cathodic_ah": float(counted[0, tank]),
                "anodic_ah": float(counted[1, tank]),
                "metal_g": float(counted[2, tank]),
            }
            for tank in np.flatnonzero(loads.is_in).tolist()
        ]


def _streams(line: LineRow) -> NDArray[np.float64]:
    """Return which tanks let go into which stream, shape (3, tanks)."""
    return np.array(
        [
            [float(tank.stream == stream) for tank in line.tanks]
            for stream in ("cyanide", "chromium", "general")
        ]
    )
