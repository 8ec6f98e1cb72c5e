"""Input power, modules and barrels against their own past: properties before examples."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from linewatch.core.diagnostics.power_watch import PowerWatch
from linewatch.core.diagnostics.sharing_watch import SharingWatch
from linewatch.core.diagnostics.turn_watch import TurnWatch

RATED_A, RATED_V = 1000.0, 12.0


def fed(watch: PowerWatch, hours: float, chance, *, losses=1.0, shunt=1.0, step_w=1.0) -> None:
    """Let loads of ten minutes at three currents pass, a look each quarter of a minute."""
    for k in range(int(hours * 240)):
        if k % 48 >= 40:
            watch.rest()
            continue
        ratio = (0.3, 0.5, 0.7)[k // 48 % 3]
        amperes, volts = ratio * RATED_A, 2.0 + 5.0 * ratio
        lost_w = losses * (100.0 + 1.1 * amperes + 360.0 * ratio**2)
        input_w = (amperes * volts + lost_w) * (1.0 + chance.normal(0.0, 0.003))
        shown_a = amperes * shunt
        watch.look(shown_a / RATED_A, round(input_w / step_w) * step_w, shown_a * volts)


@given(st.integers(0, 200))
@settings(max_examples=10, deadline=None)
def test_a_unit_that_is_only_turned_up_and_down_never_drifts(seed):
    watch = PowerWatch()
    fed(watch, 12.0, np.random.default_rng(seed))
    assert watch.model
    assert not watch.has_drifted


@given(
    st.lists(
        st.tuples(st.floats(0.05, 1.0), st.floats(0.0, 2e4), st.floats(0.0, 12e3)),
        min_size=1,
        max_size=6,
    )
)
@example(looks=[(1.0, 1.0, 0.0), (1.0, 2.0, 3.0)])
@example(looks=[(1.0, 1.0, 0.03125), (1.0, 2.0, 3.0)])
@settings(max_examples=60, deadline=None)
def test_whatever_an_input_meter_reads_nothing_breaks_and_no_figure_is_without_a_number(looks):
    watch = PowerWatch()
    for _ in range(60):
        for load_ratio, input_w, output_w in looks:
            for _ in range(5):
                told = watch.look(load_ratio, input_w, output_w)
                assert told is None or np.isfinite(told.drift_ratio)
    assert all(np.isfinite(each) for each in watch.model)


@pytest.mark.parametrize("input_w", [0.0, 0.01, 900.0])
def test_a_meter_that_reads_less_than_half_of_what_goes_out_teaches_nothing(input_w):
    watch = PowerWatch()
    for _ in range(2000):
        watch.look(0.5, input_w, 2000.0)
    assert not watch.points


def test_losses_that_grow_by_half_are_found_and_told_as_a_fall():
    watch, chance = PowerWatch(), np.random.default_rng(1)
    fed(watch, 6.0, chance)
    fed(watch, 2.0, chance, losses=1.5)
    assert watch.has_drifted
    assert watch.drift < -0.02


def test_a_shunt_that_reads_too_much_is_found_and_told_as_a_rise():
    watch, chance = PowerWatch(), np.random.default_rng(1)
    fed(watch, 6.0, chance)
    fed(watch, 2.0, chance, shunt=1.06)
    assert watch.has_drifted
    assert watch.drift > 0.02


def test_losses_that_are_well_again_are_over():
    watch, chance = PowerWatch(), np.random.default_rng(1)
    fed(watch, 6.0, chance)
    fed(watch, 2.0, chance, losses=1.5)
    fed(watch, 4.0, chance)
    assert not watch.has_drifted


def test_an_input_meter_in_whole_kilowatts_widens_what_is_usual():
    fine, coarse = PowerWatch(), PowerWatch()
    fed(fine, 6.0, np.random.default_rng(1))
    fed(coarse, 6.0, np.random.default_rng(1), step_w=1000.0)
    assert coarse.resolution_w == 1000.0
    assert coarse.model[3] > 3.0 * fine.model[3]
    assert not coarse.has_drifted


def test_a_current_that_was_never_seen_is_learned_and_not_judged():
    watch = PowerWatch()
    fed(watch, 6.0, np.random.default_rng(1))
    watch.rest()
    told = [watch.look(1.0, 20000.0, 12000.0) for _ in range(400)]
    # Ten points of four looks and one that settles are learned before the first is judged.
    assert told[:50] == [None] * 50
    assert not watch.has_drifted


PARTS = st.lists(st.floats(0.8, 1.2), min_size=2, max_size=6)


@given(PARTS, st.lists(st.floats(50.0, 3000.0), min_size=5, max_size=10))
def test_modules_that_keep_their_shares_are_never_odd_whatever_flows(parts, totals):
    watch = SharingWatch()
    for total in totals:
        for _ in range(10):
            watch.look([total * part / sum(parts) for part in parts])
            assert not watch.is_odd


@given(PARTS, st.data())
def test_a_module_that_gives_nothing_is_found_and_it_is_that_one(parts, data):
    watch = SharingWatch()
    for _ in range(40):
        watch.look([100.0 * part for part in parts])
    dead = data.draw(st.integers(0, len(parts) - 1))
    left = [0.0 if k == dead else 100.0 * part for k, part in enumerate(parts)]
    told = [watch.look(left) for _ in range(5)]
    assert watch.is_odd
    assert told[-1].module == dead
    assert told[-1].share_ratio == 0.0


def test_a_module_that_gives_nothing_from_the_first_look_on_is_found():
    watch = SharingWatch()
    for _ in range(5):
        watch.look([300.0, 0.0, 300.0])
    assert watch.is_odd


def test_a_module_that_takes_a_third_too_much_is_found_and_ends():
    watch = SharingWatch()
    for _ in range(40):
        watch.look([100.0, 100.0, 100.0])
    for _ in range(5):
        told = watch.look([100.0, 100.0, 140.0])
    assert watch.is_odd
    assert told.module == 2
    for _ in range(5):
        watch.look([100.0, 100.0, 100.0])
    assert not watch.is_odd


def turned(watch: TurnWatch, loads: int, chance, swing=0.06, looks=100, rest_s=0.0) -> None:
    for _ in range(loads):
        level = swing * np.exp(chance.normal(0.0, 0.05))
        for _ in range(looks):
            watch.look(level * np.exp(chance.normal(0.0, 0.08)), rest_s)
        watch.leave()


@given(st.integers(0, 200), st.floats(0.005, 0.2))
@settings(max_examples=20, deadline=None)
def test_a_swing_that_only_scatters_is_neither_wear_nor_standstill(seed, swing):
    watch, chance = TurnWatch(), np.random.default_rng(seed)
    for _ in range(60):
        turned(watch, 1, chance, swing)
        assert not watch.wears
        assert not watch.is_still


@given(st.floats(1.6, 4.0))
@settings(max_examples=10, deadline=None)
def test_a_contact_that_is_worse_is_found_within_six_loads(ratio):
    watch, chance = TurnWatch(), np.random.default_rng(1)
    turned(watch, 15, chance)
    turned(watch, 6, chance, 0.06 * ratio)
    assert watch.wears


def test_a_contact_that_breaks_is_found_within_its_load():
    watch, chance = TurnWatch(), np.random.default_rng(1)
    turned(watch, 15, chance)
    for _ in range(4):
        watch.look(0.2, 0.0)
    assert watch.wears


def test_a_barrel_that_stands_is_found_within_its_load():
    watch, chance = TurnWatch(), np.random.default_rng(1)
    turned(watch, 15, chance)
    for _ in range(6):
        watch.look(0.025, 0.0)
    assert watch.is_still
    assert not watch.wears
    for _ in range(6):
        watch.look(0.06, 0.0)
    assert not watch.is_still


def test_a_barrel_that_rests_by_design_is_not_said_to_stand_until_it_rests_longer():
    watch, chance = TurnWatch(), np.random.default_rng(1)
    turned(watch, 15, chance)
    for _ in range(11):
        watch.look(0.025, 120.0)
        assert not watch.is_still
    for _ in range(2):
        watch.look(0.025, 120.0)
    assert watch.is_still


def test_a_swing_that_scatters_by_itself_widens_the_limits_within_a_load():
    watch, chance = TurnWatch(), np.random.default_rng(1)
    for _ in range(15):
        for _ in range(100):
            watch.look(0.06 * np.exp(chance.normal(0.0, 0.5)), 0.0)
        watch.leave()
    for _ in range(6):
        watch.look(0.13, 0.0)
    assert not watch.wears


@pytest.mark.parametrize("kind", [PowerWatch, SharingWatch, TurnWatch])
def test_a_watch_goes_on_from_what_it_remembered(kind):
    watch, chance = kind(), np.random.default_rng(1)
    if isinstance(watch, PowerWatch):
        fed(watch, 4.0, chance)
    elif isinstance(watch, SharingWatch):
        for _ in range(30):
            watch.look([300.0, 310.0, 290.0])
    else:
        turned(watch, 12, chance)
    again = kind()
    again.recall(json.loads(json.dumps(watch.remember())))
    assert again == watch
