"""Acid, alkali and redox in rinse water, as simple as shows what a treatment plant shows.

The pH of a water follows from its charge balance: strong base less strong acid is balanced by
hydroxide, hydrogen ions and carbonate. So the curve is steep where a real one is, from about
5 to 10, and flat at both ends.
"""

from __future__ import annotations

import math

import numpy as np

WATER = 1e-14
"""Ion product at 25 degC [mol2/L2]."""
CARBONIC_1, CARBONIC_2 = 10**-6.35, 10**-10.33
"""Dissociation of carbonic acid at 25 degC (textbook values)."""
CARBONATE_MOL_PER_L = 2.5e-3
"""Carbonate of a hard town's water; common practice."""

_PH = np.linspace(0.0, 14.0, 561)


def excess_base_mol_per_l(ph: float) -> float:
    """Return strong base less strong acid in a water of this pH [mol/L]."""
    h = math.pow(10.0, -ph)
    first, second = CARBONIC_1 / h, CARBONIC_1 * CARBONIC_2 / h**2
    charge = (first + 2.0 * second) / (1.0 + first + second)
    return WATER / h - h + CARBONATE_MOL_PER_L * charge


_BASE = np.array([excess_base_mol_per_l(float(ph)) for ph in _PH])


def ph_of(excess_mol_per_l: float) -> float:
    """Return the pH of a water with so much strong base less strong acid [mol/L]."""
    return float(np.interp(excess_mol_per_l, _BASE, _PH))


def end_point(left: float, right: float, excess: float, sharpness: float) -> float:
    """Return a redox potential that steps from `left` to `right` where `excess` passes 0.

    It is flat, then moves most of its way within a few percent of the reagent.
    """
    share = 0.5 * (1.0 + math.tanh(excess / sharpness))
    return left + (right - left) * share


class Lag:
    """A quantity that follows another with a time constant: a probe, a mixing tank."""

    def __init__(self, value: float) -> None:
        self.value = value

    def follow(self, target: float, dt_s: float, constant_s: float) -> float:
        """Go on by a step; return where it has come."""
        self.value += (target - self.value) * (1.0 - math.exp(-dt_s / constant_s))
        return self.value
