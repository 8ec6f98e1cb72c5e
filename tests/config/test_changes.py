"""What one configuration changes against another."""

import pytest

from linewatch.config import read_text
from linewatch.config.changes import changes


@pytest.fixture
def told(changed):
    def tell(change):
        before = read_text(changed(), "before.toml").plan
        after = read_text(changed(change), "after.toml").plan
        return [str(each) for each in changes(before, after)]

    return tell


def test_nothing_changed_is_nothing_told(told):
    assert told(lambda _: None) == []


def test_a_limit_is_told_with_what_it_was_and_what_it_is(told):
    def warmer(document):
        document["tank"][0]["window"]["temperature"]["high_high"] = "70 degC"

    assert told(warmer) == [
        "nickel-1.temperature.high-high limit: 68 degC -> 70 degC",
    ]


def test_an_alarm_that_is_switched_off_is_told(told):
    def silent(document):
        document["tank"][0]["alarm"] = [{"when": "high", "of": "temperature", "off": True}]

    found = told(silent)

    assert "nickel-1.temperature.high limit: 65 degC -> none" in found


def test_a_new_alarm_and_another_delay_and_priority_are_told(told):
    def other(document):
        document["tank"][0]["alarm"] = [
            {"when": "low", "of": "temperature", "on_delay": "90 s", "priority": "highest"},
            {"when": "rate", "of": "temperature", "limit": "2 K"},
        ]

    found = told(other)

    assert "nickel-1.temperature.low on-delay: 600 s -> 90 s" in found
    assert any(each.startswith("nickel-1.temperature.low priority: ") for each in found)
    assert "nickel-1.temperature.rate limit: none -> 2 degC/min" in found
