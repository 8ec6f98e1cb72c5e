"""Charts that find a change, and how often they cry wolf."""

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.core.diagnostics.change import (
    Cusum,
    CusumChart,
    Ewma,
    false_alarms_per_1000,
    run_length,
    stands,
    summed,
)
from linewatch.core.errors import OutsideValidity


def simulated_run_length(chart: CusumChart, shift: float, runs: int) -> float:
    draw = random.Random(3)  # noqa: S311 - draws of a test
    total = 0
    for _ in range(runs):
        cusum = Cusum(chart=chart)
        while not cusum.has_risen:
            cusum = cusum.take(draw.gauss(shift, 1.0), total)
            total += 1
    return total / runs


@pytest.mark.parametrize(("threshold", "shift"), [(4.0, 0.0), (4.0, 1.0), (2.5, 0.5)])
def test_the_stated_run_length_is_the_one_that_is_lived(threshold: float, shift: float):
    """A second route: the Markov chain against plain drawing, within four standard errors."""
    chart = CusumChart(threshold=threshold)
    stated = run_length(chart, shift)
    runs = 400

    assert simulated_run_length(chart, shift, runs) == pytest.approx(
        stated, rel=4.0 / math.sqrt(runs)
    )


def test_a_shift_is_found_sooner_than_a_false_alarm_comes():
    chart = CusumChart(threshold=5.0)

    assert run_length(chart, 1.0) < 12.0
    assert run_length(chart, 0.0) > 500.0


@settings(max_examples=25)
@given(first=st.floats(1.0, 6.0), second=st.floats(1.0, 6.0))
def test_a_higher_threshold_never_cries_wolf_oftener(first: float, second: float):
    low, high = sorted((first, second))

    assert run_length(CusumChart(threshold=high)) >= run_length(CusumChart(threshold=low)) * (
        1.0 - 1e-9
    )


def test_the_rate_of_false_alarms_follows_from_the_run_length():
    chart = CusumChart(threshold=8.0)

    assert false_alarms_per_1000(chart, 6.0) == pytest.approx(12000.0 / run_length(chart))


def test_a_change_is_dated_from_when_the_sum_last_left_zero():
    cusum = Cusum(chart=CusumChart(threshold=3.0))
    for second in range(10):
        cusum = cusum.take(-1.0 if second < 5 else 2.0, second)

    assert cusum.has_risen
    assert cusum.rising_since_ns == 5


def test_a_fall_is_found_like_a_rise():
    cusum = Cusum(chart=CusumChart(threshold=3.0))
    for second in range(4):
        cusum = cusum.take(-2.0, second)

    assert cusum.has_fallen
    assert not cusum.has_risen
    assert cusum.falling_since_ns == 0


def test_a_value_that_is_none_changes_nothing():
    cusum = Cusum(chart=CusumChart()).take(2.0, 1)
    mean = Ewma(weight=0.2).take(5.0)

    assert cusum.take(math.nan, 2) == cusum
    assert mean.take(math.nan) == mean


@given(values=st.lists(st.floats(-10.0, 10.0), min_size=1, max_size=50))
def test_a_weighted_mean_lies_between_its_values(values: list[float]):
    mean = Ewma(weight=0.3)
    for value in values:
        mean = mean.take(value)

    assert min(values) - 1e-9 <= mean.mean <= max(values) + 1e-9


@pytest.mark.parametrize(
    "make",
    [
        lambda: CusumChart(slack=0.0),
        lambda: CusumChart(threshold=math.nan),
        lambda: Ewma(weight=0.0),
        lambda: Ewma(weight=1.5),
        lambda: false_alarms_per_1000(CusumChart(), 0.0),
    ],
)
def test_a_chart_that_could_not_work_is_refused(make):
    with pytest.raises(OutsideValidity):
        make()


@given(
    total=st.floats(0.0, 100.0),
    standard=st.floats(-10.0, 10.0),
    slack=st.floats(0.1, 3.0),
    threshold=st.floats(1.0, 20.0),
)
def test_a_bounded_sum_is_never_negative_and_never_far_beyond_its_threshold(
    total, standard, slack, threshold
):
    after = summed(total, standard, slack, threshold)

    assert 0.0 <= after <= 3.0 * threshold
    assert after <= max(0.0, total + standard - slack)
    assert summed(total, standard + 1.0, slack, threshold) >= after


@pytest.mark.parametrize("threshold", [6.0, 12.0])
def test_a_change_stands_from_its_threshold_until_its_sum_is_nearly_gone(threshold):
    assert not stands(0.99 * threshold, threshold, was=False, is_large=True)
    assert stands(threshold, threshold, was=False, is_large=True)
    assert not stands(threshold, threshold, was=False, is_large=False)
    assert stands(threshold, threshold, was=True, is_large=False)
    assert stands(0.2 * threshold, threshold, was=True, is_large=True)
    assert not stands(0.19 * threshold, threshold, was=True, is_large=True)
