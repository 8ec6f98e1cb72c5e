"""Efficiency and drag-out anew: fifty invented plants, each with its own arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from linewatch.core.errors import Refused
from linewatch.core.laboratory.estimates import Interval, estimate

NICKEL_G_PER_AH = 1.0949
VOLUME_L = 2800.0


def plant(seed: int, *, days: int = 25, together: bool = False):
    """Run a bath from day to day by its own truth; return what the line would have counted.

    Returns:
        (intervals as counted with the configured numbers, true factors on laid and carried).
    """
    chance = np.random.default_rng(seed)
    configured, true = 0.955, 0.955 * chance.uniform(0.96, 1.04)
    drag_configured, drag_true = 0.1, 0.1 * chance.uniform(0.5, 1.8)  # L/m2
    metal_g = 72.0 * VOLUME_L
    analysed_g = metal_g + chance.normal(0.0, 0.3) * VOLUME_L
    told = []
    for _ in range(days):
        charge_ah = chance.uniform(5_000.0, 25_000.0)
        # Parts of other shapes: charge and area do not go together.
        area_m2 = charge_ah / 40.0 if together else chance.uniform(100.0, 900.0)
        salts_g = chance.uniform(0.0, 4_000.0)
        dissolved_g = charge_ah * NICKEL_G_PER_AH * 0.96
        laid_g = charge_ah * NICKEL_G_PER_AH
        carried_l = area_m2 * drag_true
        carried_g = carried_l * metal_g / VOLUME_L
        counted_g = area_m2 * drag_configured * metal_g / VOLUME_L
        metal_g += dissolved_g + salts_g - true * laid_g - carried_g
        found_g = metal_g + chance.normal(0.0, 0.3) * VOLUME_L
        told.append(
            Interval(
                found_g=found_g,
                before_g=analysed_g,
                brought_g=dissolved_g + salts_g,
                laid_g=configured * laid_g,
                carried_g=counted_g,
            )
        )
        analysed_g = found_g
    return told, (true / configured, drag_true / drag_configured)


def test_the_truth_of_fifty_plants_lies_inside_the_uncertainty_as_often_as_it_says():
    inside = 0
    for seed in range(50):
        told, (laid, carried) = plant(seed)
        found = estimate(told)
        inside += abs(found.laid_factor - laid) <= found.laid_pm
        inside += abs(found.carried_factor - carried) <= found.carried_pm
    assert 0.90 <= inside / 100 <= 0.99


def test_more_analyses_make_it_surer():
    few, many = (estimate(plant(7, days=days)[0]) for days in (10, 60))
    assert many.laid_pm < few.laid_pm
    assert many.carried_pm < few.carried_pm
    assert many.spread_g == pytest.approx(0.3 * VOLUME_L, rel=0.4)


def test_what_cannot_be_told_apart_is_not_offered():
    with pytest.raises(Refused, match="always gone together"):
        estimate(plant(3, together=True)[0])


def test_too_few_analyses_are_refused():
    with pytest.raises(Refused, match="7 analyses of the metal are needed, there are 5"):
        estimate(plant(1, days=4)[0])


def test_a_bath_without_drag_out_is_refused():
    told = [
        Interval(found_g=1e5, before_g=1e5, brought_g=10.0, laid_g=10.0, carried_g=0.0)
        for _ in range(10)
    ]
    with pytest.raises(Refused, match="drag-out is not configured"):
        estimate(told)
