"""Designations of deposits, against published classes."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from linewatch.core.errors import Refused
from linewatch.core.loads import classes

ROWS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}


@pytest.mark.parametrize("name", ["SC1", "SC2", "SC3", "SC4"])
def test_zinc_classes_are_the_published_ones(name: str) -> None:
    um, inch = ROWS[f"b633.{name}"]["value"]
    assert classes.least_um(classes.ZINC_ON_STEEL[name]) == {"Zn": um}
    assert classes.INCHES[name] == inch
    # The standard's inches are its micrometres, rounded to one figure.
    assert inch == pytest.approx(um / 25_400.0, rel=0.06)


def test_the_strongest_steel_that_is_plated_is_the_published_one():
    assert ROWS["b633.max_strength"]["value"] == classes.STRONGEST_PLATED_MPA


@pytest.mark.parametrize("name", ["SC4", "SC5"])
def test_nickel_and_chromium_classes_are_the_published_ones(name: str) -> None:
    wanted = tuple(ROWS[f"b456.{name}"]["value"].split("; "))
    assert classes.NICKEL_CHROMIUM_ON_STEEL[name] == wanted
    for code in wanted:
        found = classes.least_um(code)
        assert found["Ni"] == float(code[5:7])
        assert found["Cr"] == ROWS["b456.cr_min"]["value"]


def test_the_semi_bright_share_is_the_published_one():
    assert ROWS["b456.double_layer"]["value"] == classes.SEMI_BRIGHT_PERCENT


def test_a_copper_layer_below_and_a_written_chromium_are_read():
    assert classes.least_um("Fe/Cu20 Ni30d Cr0.3 r") == {"Cu": 20.0, "Ni": 30.0, "Cr": 0.3}


@pytest.mark.parametrize("text", ["", "Zn 8", "Fe/", "Fe/Zn", "Fe/Zn 8 thick!", "Fe/Xy 8"])
def test_what_is_no_designation_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        classes.least_um(text)
