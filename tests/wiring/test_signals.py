"""A recorded signal is named as the screen names its position."""

import pytest

from linewatch.core.errors import Refused
from linewatch.wiring.meant import Thing
from linewatch.wiring.signals import signals_meant

AMONG = [
    Thing(id="nickel-1", kind="tank", number="14", name="Nickel 1"),
    Thing(id="nickel-2", kind="tank", number="15", name="Nickel 2"),
    Thing(id="rectifier-nickel-1", kind="rectifier", name="Rectifier Nickel 1"),
]
TAGS = [
    "nickel-1.pressure.air",
    "nickel-1.pressure.filter",
    "nickel-1.temperature",
    "nickel-2.temperature",
    "rectifier-nickel-1.current",
]


@pytest.mark.parametrize(
    ("said", "tags"),
    [
        ("nickel-1.temperature", ["nickel-1.temperature"]),
        ("Nickel 1", TAGS[:3]),
        ("14", TAGS[:3]),
        ("nickel-1", TAGS[:3]),
        ("Nickel 1 temperature", ["nickel-1.temperature"]),
        ("15 temperature", ["nickel-2.temperature"]),
        ("Nickel 1 pressure", TAGS[:2]),
        ("nickel 1 Pressure filter", ["nickel-1.pressure.filter"]),
        ("Rectifier Nickel 1 current", ["rectifier-nickel-1.current"]),
    ],
)
def test_a_position_means_all_its_signals_and_a_word_after_it_one(said, tags):
    assert signals_meant(TAGS, AMONG, said) == tags


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("Nickel 1 luck", "pressure.air, pressure.filter, temperature"),
        ("nickel-1.luck", "pressure.air, pressure.filter, temperature"),
        ("Nickel 9", r"14 Nickel 1 \(nickel-1\)"),
        ("", "write a tag"),
    ],
)
def test_a_refusal_lists_what_there_is(said, told):
    with pytest.raises(Refused, match=told):
        signals_meant(TAGS, AMONG, said)
