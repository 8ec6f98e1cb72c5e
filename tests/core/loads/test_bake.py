"""The relief bake: the published rows, and what lies between and beside them."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.loads.bake import BAKE_HIGH_DEGC, BAKE_LOW_DEGC, BAKES, bake_for

ROWS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}


@pytest.mark.parametrize("row", [f"b850.ER{k}" for k in range(1, 9)])
def test_each_published_row_holds_at_both_ends_of_its_strengths(row: str) -> None:
    """ASTM B850-98(2009), as the row of check_values.toml tells it."""
    said = ROWS[row]
    low, high = (float(each) for each in said["quantity"].split()[3].split("-"))
    for strength in (low, high):
        found = bake_for(strength)
        assert found is not None
        assert (found.name, found.least_h) == (row.removeprefix("b850."), said["value"])


def test_the_temperatures_are_the_published_ones():
    assert ROWS["b850.temp"]["value"] == [BAKE_LOW_DEGC, BAKE_HIGH_DEGC]


@given(st.floats(0.0, 3000.0), st.floats(0.0, 3000.0))
def test_a_stronger_steel_never_asks_for_less(one: float, other: float) -> None:
    """A gap between the printed rows must not be a hole."""
    weak, strong = sorted((one, other))
    first, second = bake_for(weak), bake_for(strong)
    assert (first.least_h if first else 0.0) <= (second.least_h if second else 0.0)


def test_below_the_table_no_bake_is_asked_and_above_it_the_longest():
    assert bake_for(1000.0) is None
    assert bake_for(2400.0) is BAKES[0]
