"""What the instruments see: every quantity of the plant by its name, with sensor faults on top.

A name is 'subject.kind' or 'subject.kind.twin'. Adding a quantity is adding a row to a table.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linewatch_sim.parts import Part
    from linewatch_sim.works import Works

Get = Callable[[], float]


@dataclass(slots=True, kw_only=True)
class SensorFault:
    """What is wrong with one sensor."""

    kind: str
    """open, stuck, drift, swing, offset, or scale."""
    size: float = 0.0
    """Offset, swing, or drift an hour, in the quantity's unit; or factor of a wrong scale."""
    since_s: float = 0.0
    held: float = 0.0


SWING_S = 720.0
OPEN = float("nan")
"""What an open sensor gives; registers turn it into their sentinel or a broken loop."""


class Values:
    """All quantities of a running plant."""

    def __init__(self, works: Works) -> None:
        self._works = works
        self.faults: dict[str, SensorFault] = {}
        self._places: dict[str, list[tuple[Part, int]]] = {}
        for part in works.parts.values():
            for k, subject in enumerate(part.ids):
                self._places.setdefault(subject, []).append((part, k))

    def getter(self, what: str) -> Get:
        """Return a function that tells one quantity, as its sensor sees it now.

        Raises:
            KeyError: the plant has no such quantity.
        """
        plain = self._plain(what)
        faults = self.faults

        def get() -> float:
            return self._faulty(faults[what], plain()) if what in faults else plain()

        return get

    def _plain(self, what: str) -> Get:
        subject, _, kind = what.partition(".")
        for part, k in self._places.get(subject, ()):
            if kind in part.quantities:
                return functools.partial(part.quantities[kind], part, k)
        raise KeyError(what)

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
        if fault.kind == "swing":
            # Cold and warm streaks pass it in turn.
            return value + fault.size * math.sin(2.0 * math.pi * self._works.line_s / SWING_S)
        if fault.kind == "scale":
            return value * fault.size
        return value + fault.size


def is_open(value: float) -> bool:
    """Tell whether a sensor gives nothing at all."""
    return math.isnan(value)
