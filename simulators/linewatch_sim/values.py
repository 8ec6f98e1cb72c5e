"""What the instruments see: every quantity of the plant by its name, with sensor faults on top.

A name is 'subject.kind' or 'subject.kind.twin'. Adding a quantity is adding a row to a table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from linewatch_sim.works import Works

Get = Callable[[], float]

_OF_TANKS: dict[str, Callable[[Works, int], Get]] = {
    "temperature": lambda w, k: lambda: float(w.solutions.probe_degc[k]),
    "level": lambda w, k: lambda: float(w.solutions.level_mm[k]),
    "conductivity": lambda w, k: lambda: float(w.solutions.conductivity_us[k]),
    "ph": lambda w, k: lambda: float(w.solutions.ph[k]),
    "running": lambda w, k: lambda: float(w.solutions.heater_on[k]),
    "heater-duty": lambda w, k: lambda: float(w.solutions.duty_percent[k]),
    "cooling-duty": lambda w, k: lambda: float(w.solutions.cooler_percent[k]),
    "valve-open": lambda w, k: lambda: float(w.solutions.top_up_open[k]),
    "flow": lambda w, k: lambda: float(w.solutions.flow_l_per_min[k]),
    "load-present": lambda w, k: lambda: float(w.loads.is_in[k]),
    "load-number": lambda w, k: lambda: float(w.loads.load[k] if w.loads.is_in[k] else 0),
}
_OF_RECTIFIERS: dict[str, Callable[[Works, int], Get]] = {
    "current": lambda w, k: lambda: float(w.electrics.shown_current_a()[k]),
    "voltage": lambda w, k: lambda: float(w.electrics.voltage_v[k]),
    "current-set": lambda w, k: lambda: float(w.electrics.set_a[k]),
    "charge-meter": lambda w, k: lambda: float(w.electrics.shown_meter_ah()[k]),
    "ripple": lambda w, k: lambda: float(w.electrics.ripple_percent[k]),
    "heat-sink": lambda w, k: lambda: float(w.electrics.sink_degc[k]),
    "running": lambda w, k: lambda: float(w.electrics.set_a[k] > 0.0),
    "fault": lambda w, k: lambda: float(w.electrics.enabled[k] < 1.0),
    "count.at-limit": lambda w, k: lambda: float(w.electrics.limit_flag[k]),
    "count.work-is-anode": lambda w, k: lambda: float(w.electrics.anodic[k]),
}


@dataclass(slots=True, kw_only=True)
class SensorFault:
    """What is wrong with one sensor."""

    kind: str
    """open, stuck, drift, or offset."""
    size: float = 0.0
    """Offset, or drift for each hour, in the quantity's unit."""
    since_s: float = 0.0
    held: float = 0.0


OPEN = float("nan")
"""What an open sensor gives; registers turn it into their sentinel or a broken loop."""


class Values:
    """All quantities of a running plant."""

    def __init__(self, works: Works) -> None:
        self._works = works
        self.faults: dict[str, SensorFault] = {}
        self._subjects: dict[str, tuple[dict[str, Callable[[Works, int], Get]], int]] = {}
        for k, tank in enumerate(works.line.tanks):
            self._subjects[tank.id] = (_OF_TANKS, k)
        for k, rectifier in enumerate(works.line.rectifiers):
            self._subjects[rectifier.id] = (_OF_RECTIFIERS, k)

    def getter(self, what: str) -> Get:
        """Return a function that tells one quantity, as its sensor sees it now.

        Raises:
            KeyError: the plant has no such quantity.
        """
        subject, _, kind = what.partition(".")
        table, k = self._subjects[subject]
        plain = table[kind](self._works, k)
        faults = self.faults

        def get() -> float:
            return self._faulty(faults[what], plain()) if what in faults else plain()

        return get

    def break_sensor(self, what: str, kind: str, size: float = 0.0) -> None:
        """Let one sensor be wrong from now on."""
        held = self.getter(what)()
        self.faults[what] = SensorFault(
            kind=kind, size=size, since_s=self._works.line_s, held=held
        )

    def _faulty(self, fault: SensorFault, value: float) -> float:
        if fault.kind == "open":
            return OPEN
        if fault.kind == "stuck":
            return fault.held
        if fault.kind == "drift":
            return value + fault.size * (self._works.line_s - fault.since_s) / 3600.0
        return value + fault.size


def is_open(value: float) -> bool:
    """Tell whether a sensor gives nothing at all."""
    return bool(np.isnan(value))
