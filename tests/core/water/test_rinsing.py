"""Rinses: every figure against a stirred tank that is stepped here, by its own arithmetic."""

from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.straight import straight
from linewatch.core.water.rinsing import (
    CONDUCTS_MORE,
    DILUTE,
    WASHES_OFF,
    Ranged,
    Source,
    Tank,
    Work,
    at_leaving_us,
    decayed,
    film_ml,
    flow_by_decay,
    flow_needed_l_per_min,
    per_m2,
    stage_ratio,
    staged_l_per_min,
)

VOLUMES = st.floats(100.0, 5000.0)
FLOWS = st.floats(1.0, 60.0)
FEED_US = 300.0


def bath(low: float, high: float, *, is_dilute: bool = False) -> Source:
    middle = (low + high) / 2.0
    return Source(
        tank="bath",
        name="Bath",
        range_us=(middle, low, high),
        is_dilute=is_dilute,
        told_by="measured",
    )


def stepped(work: Work, flow: float, volume_l: float, loads: int) -> float:
    """Return a stirred rinse when the last of many loads leaves, second by second."""
    us, left = FEED_US, FEED_US
    share = exp(-flow / 60.0 / volume_l)
    for _ in range(loads):
        us += work.step_us
        for second in range(round(work.interval_s)):
            if second == round(work.dwell_s):
                left = us
            us = FEED_US + (us - FEED_US) * share
    return left


@given(VOLUMES, FLOWS, st.floats(2.0, 300.0))
def test_a_stirred_tank_leaves_its_loads_where_the_formula_says(volume, flow, step):
    work = Work(step_us=step, interval_s=600.0, dwell_s=280.0)
    loads = 5 + round(20.0 * volume / flow / 10.0)
    if loads > 400:
        return
    told = at_leaving_us(work, flow, FEED_US, volume)
    assert stepped(work, flow, volume, loads) == pytest.approx(told, rel=0.02, abs=0.1)


@given(VOLUMES, st.floats(5.0, 300.0), st.floats(50.0, 3000.0))
def test_the_water_that_is_needed_just_holds_the_limit(volume, step, above):
    work = Work(step_us=step, interval_s=300.0, dwell_s=120.0)
    limit = FEED_US + above
    needed = flow_needed_l_per_min(work, limit, FEED_US, volume)
    assert needed is not None
    assert at_leaving_us(work, needed, FEED_US, volume) <= limit * (1.0 + 1e-6)
    if needed > 1e-3 * volume / 60.0:
        assert at_leaving_us(work, 0.98 * needed, FEED_US, volume) > limit


def test_no_water_brings_a_rinse_under_the_water_that_runs_in():
    work = Work(step_us=10.0, interval_s=300.0, dwell_s=120.0)
    assert flow_needed_l_per_min(work, FEED_US, FEED_US, 1000.0) is None
    assert flow_needed_l_per_min(work, 200.0, FEED_US, 1000.0) is None


@given(
    film=st.floats(20.0, 3000.0),
    volume=VOLUMES,
    strong=st.floats(20_000.0, 600_000.0),
    more=st.floats(*CONDUCTS_MORE),
    washed=st.floats(*WASHES_OFF),
    is_dilute=st.booleans(),
)
def test_a_film_lies_in_its_own_range_whatever_is_assumed(
    film, volume, strong, more, washed, is_dilute
):
    rinse_us = 500.0
    if is_dilute:
        more = min(more, DILUTE[1])
    step = film / 1000.0 * (strong - rinse_us) * more * washed / volume
    told = film_ml(
        Ranged(step, 0.01 * step),
        rinse_us,
        bath(0.97 * strong, 1.03 * strong, is_dilute=is_dilute),
        Tank(volume_l=volume, feed_us=FEED_US, response_us=None),
    )
    assert told is not None
    assert abs(told.value - film) <= told.pm


@given(st.floats(20.0, 3000.0), VOLUMES, st.floats(10.0, 400.0), st.floats(*WASHES_OFF))
def test_a_poured_litre_makes_a_film_surer(film, volume, response, washed):
    step = film / volume * response * washed
    tank = Tank(volume_l=volume, feed_us=None, response_us=response)
    told = film_ml(Ranged(step, 0.0), 500.0, bath(50_000.0, 60_000.0), tank)
    assert told is not None
    assert abs(told.value - film) <= told.pm
    assert told.pm / told.value < 0.31


def test_without_knowing_what_the_bath_conducts_no_film_is_told():
    tank = Tank(volume_l=1000.0, feed_us=None, response_us=None)
    unknown = Source(tank="b", name="B", range_us=None, is_dilute=False, told_by="")
    assert film_ml(Ranged(30.0, 1.0), 500.0, unknown, tank) is None
    # What is carried over would be cleaner than the rinse.
    assert film_ml(Ranged(30.0, 1.0), 500.0, bath(300.0, 320.0), tank) is None


@given(st.floats(10.0, 900.0), st.floats(0.05, 5.0), st.floats(0.01, 0.3))
def test_a_film_by_area_covers_the_limit_of_error_of_the_area(film, area_m2, tolerance):
    told = per_m2(Ranged(film, 0.0), 100.0 * area_m2, tolerance)
    for share in (1.0 - tolerance, 1.0, 1.0 + tolerance):
        assert abs(told.value - film / (area_m2 * share)) <= told.pm * (1.0 + 1e-9)


@given(VOLUMES, FLOWS, st.floats(5.0, 3000.0))
def test_a_decay_tells_the_water_and_where_the_rinse_was(volume, flow, above):
    rate = flow / 60.0 / volume
    looks = [(t, FEED_US + above * exp(-rate * t)) for t in range(60, 300, 30)]
    if looks[-1][1] - FEED_US < 1e-6 * above:
        return
    found = decayed(looks, 0.0, FEED_US)
    assert found is not None
    assert found.value == pytest.approx(FEED_US + above, rel=1e-6)
    told = flow_by_decay(found, found.value, FEED_US, volume)
    assert told is not None
    assert told.value == pytest.approx(flow, rel=1e-5)


def test_where_nobody_says_what_the_water_conducts_a_straight_line_has_to_do():
    looks = [(float(t), 700.0 - 0.05 * t) for t in range(60, 300, 30)]
    found = decayed(looks, 0.0, None)
    assert found is not None
    assert found.value == pytest.approx(700.0)
    assert flow_by_decay(found, 700.0, None, 1000.0) is None


def test_two_looks_are_no_line():
    assert straight([(0.0, 1.0), (30.0, 2.0)], 0.0) is None
    assert straight([(0.0, 1.0)] * 5, 0.0) is None


@given(st.floats(2.0, 100.0), st.integers(2, 4))
def test_stages_that_are_stepped_keep_the_ratio_of_theory(water_over_film, stages):
    """Counterflow by its balance, solved from the last stage on."""
    # Over a unit of film: what the last stage holds, then each stage before it.
    held = [1.0]
    before = held[-1] * (1.0 + water_over_film)
    while len(held) < stages:
        held.append(before)
        # film in + water in = film out + water out, of the stage just added
        before = held[-1] * (1.0 + water_over_film) - held[-2] * water_over_film
    source = before
    conducts = (FEED_US + source, FEED_US + held[0], FEED_US)
    needed = staged_l_per_min(0.2, conducts, stages)
    assert needed == pytest.approx(0.2 * water_over_film, rel=1e-6)
    ratio = stage_ratio(FEED_US + held[1], FEED_US + held[0], FEED_US)
    assert ratio == pytest.approx(1.0 + water_over_film)


def test_a_step_that_is_not_told_beyond_its_doubt_gives_no_volume():
    source = Source(
        tank="bath", name="Bath", range_us=(6e4, 6e4, 6e4), is_dilute=False, told_by="measured"
    )
    tank = Tank(volume_l=1200.0, feed_us=300.0, response_us=None)
    for value, doubt in ((-1262.0, 0.0), (-7028.0, 14705.0), (285.0, 285.0), (0.0, 0.0)):
        assert film_ml(Ranged(value, doubt), 500.0, source, tank) is None
    told = film_ml(Ranged(10.0, 1.0), 500.0, source, tank)
    assert told is not None
    assert 0.0 < told.pm < told.value
