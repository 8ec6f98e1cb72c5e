"""All that serves the lines, stepped together; its quantities by name."""

from __future__ import annotations

from collections.abc import Callable

from linewatch_sim.utilities.air import Air
from linewatch_sim.utilities.treatment import Treatment
from linewatch_sim.utilities.water import Water

Get = Callable[[], float]


class Utilities:
    """Treatment, air and water."""

    def __init__(self) -> None:
        self.treatment = Treatment()
        self.air = Air()
        self.water = Water()
        self._parts = (self.treatment, self.air, self.water)

    def step(self, dt_s: float, flows_l_per_min: tuple[float, float, float]) -> None:
        """Go on by a step; the line lets go of so much cyanide, chromium and other water."""
        self.treatment.step(dt_s, flows_l_per_min)
        self.air.step(dt_s)
        self.water.step(dt_s, sum(flows_l_per_min))

    def names(self) -> tuple[str, ...]:
        """Return every quantity: 'subject.kind', with a twin behind a second dot."""
        return tuple(name for part in self._parts for name in part.told)

    def getter(self, what: str) -> Get:
        """Return a function that tells one quantity as it is now.

        Raises:
            KeyError: there is no such quantity.
        """
        for part in self._parts:
            if what in part.told:
                told = part.told
                return lambda: told[what]
        raise KeyError(what)
