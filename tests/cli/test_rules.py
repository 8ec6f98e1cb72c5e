"""`linewatch rules --file`: where a rule watches, and why it does not elsewhere."""

import pytest

from linewatch.cli.rules import _watching
from linewatch.config.library import shipped


@pytest.fixture(scope="module")
def example():
    return _watching(shipped() / "example.toml")


@pytest.fixture(scope="module")
def works():
    return _watching(shipped() / "demo.toml")


def test_a_rule_that_watches_nowhere_always_says_why(example, works):
    for rows in (*example.values(), *works.values()):
        assert rows[0] != "watches nowhere" or len(rows) > 1


def test_a_heated_bath_is_told_why_its_own_current_is_not_watched(example):
    assert example["warms-itself"] == [
        "watches nowhere",
        "nickel-1: it watches what is not heated (target under 35 °C) and has an upper limit",
    ]


def test_what_is_missing_switched_off_or_of_another_kind_is_told_apart(example, works):
    assert "rectifier-1: no current-set, no load-present" in example["set-high"]
    assert example["soak-broken"][1] == "it is for positions of another kind: bake"
    assert example["mains-dip"][1] == "it needs 3 rectifiers, there are 1"
    assert works["mains-dip"] == ["watches works"]
    assert works["cyanide-jumps"][0] == "watches rinse-3"
