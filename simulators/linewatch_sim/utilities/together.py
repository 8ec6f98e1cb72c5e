"""All that serves the lines, as one part of a plant: stepped together, read by name."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from linewatch_sim.parts import Quantity, usual
from linewatch_sim.utilities.air import Air
from linewatch_sim.utilities.treatment import USUAL_L_PER_MIN, Flows, Treatment
from linewatch_sim.utilities.water import Water
from linewatch_sim.utilities.wrong import NOTHING, OneWrong, UtilityWrong, all_of

if TYPE_CHECKING:
    from collections.abc import Mapping

GRAIN: dict[str, tuple[float, float]] = {
    "ph": (0.008, 0.0),
    "orp": (1.5, 0.0),
    "flow": (0.05, 0.01),
    "pressure": (0.005, 0.008),
    "turbidity": (0.05, 0.015),
    "level": (0.6, 0.0),
    "draught": (1.0, 0.012),
    "motor-current": (0.02, 0.008),
    "conductivity": (0.1, 0.004),
}
"""Noise of a reading by its kind: in its unit, and as a share of it. A state has none."""


class Utilities:
    """Treatment, air and water."""

    def __init__(self, seed: int = 1, usual_l_per_min: Flows = USUAL_L_PER_MIN) -> None:
        self._now: dict[str, OneWrong] = {}
        self._stamp = b""
        self.treatment = Treatment(self._at, usual_l_per_min)
        self.air = Air(self._at)
        self.water = Water(self._at)
        self._rng = np.random.default_rng((seed, 0x7175))
        names = list(self._told())
        self.ids: tuple[str, ...] = tuple(dict.fromkeys(name.split(".")[0] for name in names))
        self.wrong: UtilityWrong = usual(UtilityWrong, len(self.ids))
        self.quantities: Mapping[str, Quantity] = {
            kind: _told(kind) for kind in dict.fromkeys(name.split(".", 1)[1] for name in names)
        }
        grain = np.array([GRAIN.get(name.split(".")[1], (0.0, 0.0)) for name in names])
        self._fixed, self._share = grain[:, 0], grain[:, 1]
        self.shown: dict[str, float] = {}
        """What the instruments see, by 'subject.kind'."""
        self._show()

    def step(self, dt_s: float, flows_l_per_min: Flows) -> None:
        """Go on by a step; the lines let go of so much cyanide, chromium and other water."""
        self._look_what_is_wrong()
        self.treatment.step(dt_s, flows_l_per_min)
        self.air.step(dt_s)
        self.water.step(dt_s, sum(flows_l_per_min))
        self._show()

    def _look_what_is_wrong(self) -> None:
        stamp = b"".join(
            getattr(self.wrong, field.name).tobytes() for field in fields(self.wrong)
        )
        if stamp != self._stamp:
            self._stamp = stamp
            self._now.update(all_of(self.wrong, self.ids))

    def _at(self, subject: str) -> OneWrong:
        return self._now.get(subject, NOTHING)

    def _told(self) -> dict[str, float]:
        return self.treatment.told | self.air.told | self.water.told

    def _show(self) -> None:
        told = self._told()
        true = np.array(list(told.values()))
        grain = self._rng.standard_normal(len(true))
        # What stands still has no noise: a fan that is off shows a clean zero.
        fixed = np.where(true == 0.0, 0.0, self._fixed)
        seen = true + grain * (fixed + np.abs(true) * self._share)
        # Only a redox potential may be negative; a flow near nothing does not run back.
        seen = np.where(true >= 0.0, np.maximum(seen, 0.0), seen)
        self.shown.update(zip(told, seen.tolist(), strict=True))


def _told(kind: str) -> Quantity:
    def read(part: Utilities, place: int) -> float:
        return part.shown[f"{part.ids[place]}.{kind}"]

    return read
