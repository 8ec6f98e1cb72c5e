"""Control charts: constants by another route, limits by hand, rules one by one."""

from __future__ import annotations

import statistics
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from linewatch.core.laboratory.analyses import Analysis
from linewatch.core.laboratory.charts import (
    D2,
    D3,
    E2,
    UPPER_RANGE,
    chart_of,
    in_one_unit,
    signals,
)
from linewatch.core.laboratory.page import chart_page
from linewatch.core.pages import Shown

BATCHES = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_constants_are_the_moments_of_the_range_of_two_normal_values():
    """Worked out anew by SciPy's integration over the half-normal law of the difference.

    The tables print d2 = 1.128, d3 = 0.853 and D4 = 3.267 for two (quoted from memory: the
    integral is what is held against).
    """
    law = stats.halfnorm(scale=2.0**0.5)
    mean = quad(lambda x: x * law.pdf(x), 0.0, np.inf)[0]
    square = quad(lambda x: x * x * law.pdf(x), 0.0, np.inf)[0]
    deviation = (square - mean**2) ** 0.5
    assert pytest.approx(mean, rel=1e-9) == D2
    assert pytest.approx(deviation, rel=1e-9) == D3
    assert pytest.approx(3.0 / mean, rel=1e-9) == E2
    assert pytest.approx(1.0 + 3.0 * deviation / mean, rel=1e-9) == UPPER_RANGE


def test_limits_are_mean_and_mean_moving_range_by_hand():
    chart = chart_of(BATCHES)
    ranges = [abs(b - a) for a, b in pairwise(BATCHES)]
    mean, mean_range = statistics.mean(BATCHES), statistics.mean(ranges)
    assert chart.mean == pytest.approx(mean)
    assert chart.high == pytest.approx(mean + 3.0 * mean_range / 1.1283792, rel=1e-7)
    assert chart.low == pytest.approx(mean - 3.0 * mean_range / 1.1283792, rel=1e-7)
    assert signals(BATCHES, chart) == ()


def standard_chart():
    values = [1.0, -1.0] * 12 + [1.0]
    chart = chart_of([v * D2 / 2.0 for v in values])
    assert chart.sigma == pytest.approx(1.0)
    return chart, chart.mean


@pytest.mark.parametrize(
    ("values", "rule"),
    [
        ([0.0, 3.1], "beyond three"),
        ([0.1, 2.1, 0.2, 2.2], "two of three"),
        ([1.1, 1.2, 0.0, 1.3, 1.4], "four of five"),
        ([0.1] * 8, "eight in a row"),
        ([-1.8, 1.95], "jump"),
    ],
)
def test_each_rule_speaks_at_its_pattern_on_either_side(values, rule):
    chart, mean = standard_chart()
    for side in (1.0, -1.0):
        found = signals([mean + side * v for v in values], chart)
        assert [each.index for each in found] == [len(values) - 1]
        assert rule in found[0].rule


@pytest.mark.parametrize(
    "values",
    [[2.1, -2.1, 0.0], [1.1, 1.2, 0.0, 0.5, 1.3], [0.1] * 7 + [-0.1], [2.9, 0.5, 0.4]],
)
def test_what_is_no_pattern_says_nothing(values):
    chart, mean = standard_chart()
    assert signals([mean + v for v in values], chart)[1:] == ()


def test_too_few_values_or_equal_ones_have_no_chart():
    assert chart_of([1.0] * 7) is None
    assert chart_of([1.0] * 30) is None


@given(st.integers(0, 10_000))
def test_the_base_stands_whatever_comes_later(seed):
    chance = np.random.default_rng(seed)
    values = list(chance.normal(70.0, 2.0, 40))
    assert chart_of(values) == chart_of([*values, 500.0])


def test_steady_normal_values_are_seldom_spoken_of():
    """The four rules together speak about once in 92 values (Champ and Woodall 1987, from
    memory: no oracle; the bound here is five times that)."""
    chance = np.random.default_rng(3)
    values = list(chance.normal(0.0, 1.0, 4000))
    chart, _ = standard_chart()
    assert len(signals(values, chart)) < 4000 / 92 * 5


def analysed(*told: tuple[float, str]) -> list[Analysis]:
    return [
        Analysis(
            number=number,
            subject="nickel",
            substance="Ni",
            value=value,
            unit=unit,
            sampled_utc_ns=number,
            who="LB",
        )
        for number, (value, unit) in enumerate(told, start=1)
    ]


def test_a_chart_is_in_the_unit_in_which_most_was_told_and_the_entry_stays_as_typed():
    found = analysed((75.0, "g/L"), (10.0, "oz/gal"), (76.0, "g/L"))
    values, unit, is_one = in_one_unit(found)

    assert (unit, is_one) == ("g/L", True)
    # 1 oz/gal = 28.349523125 g / 3.785411784 L (NIST SP 811).
    assert values == pytest.approx([75.0, 74.8915, 76.0], rel=1e-5)
    page = chart_page(found, "Ni", Shown("metric", str))
    row = page.tables[0].rows[1]
    assert row[2] == "10 oz/gal"
    assert row[-1] == "= 74.89 g/L"
    assert "DIFFER" not in " ".join(page.below)


def test_units_that_cannot_be_made_one_are_told():
    page = chart_page(analysed((75.0, "g/L"), (7.0, "mL/L")), "Ni", Shown("metric", str))
    assert "UNITS DIFFER" in " ".join(page.below)
