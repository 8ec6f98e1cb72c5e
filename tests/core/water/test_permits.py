"""Limits on what is let go, against the printed rule, and what a month has left."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.plan import Permit
from linewatch.core.water.permits import CFR_433_15, CFR_433_17, standing

ROWS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}


@pytest.mark.published
@pytest.mark.parametrize(
    ("table", "group"), [(CFR_433_15, "cfr433_15"), (CFR_433_17, "cfr433_17")]
)
def test_the_example_limits_are_the_printed_ones(table, group):
    called = {"CN_T": "CN", "CN_A": "CN amenable"}
    printed = {
        called.get(name.partition(".")[2], name.partition(".")[2]): row["value"]
        for name, row in ROWS.items()
        if name.startswith(f"{group}.")
    }
    ours = {
        each.substance: [each.daily_mg_per_l, each.monthly_mg_per_l]
        if each.monthly_mg_per_l is not None
        else each.daily_mg_per_l
        for each in table
    }
    assert ours == printed
    assert all("local permit governs" in each.source for each in table)


NICKEL = Permit(substance="Ni", daily_mg_per_l=3.98, monthly_mg_per_l=2.38)


def test_a_day_beyond_its_limit_says_so_even_if_its_mean_is_not():
    found = standing(NICKEL, {5: [0.5, 4.2]}, 5, 25)
    assert found.verdict == "beyond the daily limit"
    assert found.days_beyond == 1


def test_what_is_left_brings_the_month_exactly_to_its_limit():
    by_day = {day: [3.0] for day in range(1, 11)}
    found = standing(NICKEL, by_day, 10, 20)
    assert found.month_mg_per_l == pytest.approx(3.0)
    assert found.verdict == "the month's average is beyond its limit"
    rest = {day: [found.left_mg_per_l] for day in range(11, 31)}
    whole = standing(NICKEL, by_day | rest, 30, 0)
    assert whole.month_mg_per_l == pytest.approx(2.38)
    assert whole.left_mg_per_l is None


def test_a_month_that_cannot_be_saved_says_so():
    found = standing(NICKEL, {day: [2.3 if day < 29 else 3.9] for day in range(1, 30)}, 29, 1)
    assert found.left_mg_per_l < 3.98
    lost = standing(NICKEL, {day: [2.37] for day in range(1, 29)} | {29: [60.0]}, 29, 1)
    assert lost.left_mg_per_l < 0.0
    assert lost.verdict == ("beyond the daily limit; the month's average can no longer be kept")


@given(
    st.dictionaries(st.integers(1, 28), st.lists(st.floats(0.0, 10.0), min_size=1, max_size=4))
)
def test_the_months_average_is_the_mean_of_the_days(by_day):
    found = standing(NICKEL, by_day, 28, 2)
    means = [sum(values) / len(values) for values in by_day.values()]
    assert found.days == len(by_day)
    if means:
        assert found.month_mg_per_l == pytest.approx(sum(means) / len(means))
