"""What a person did is told with what they said: quantity, value, unit, words of their own."""

from __future__ import annotations

import pytest

from linewatch.core.commands import HandReading, WriteNote
from linewatch.core.errors import Refused
from linewatch.core.line import Line
from linewatch.core.ports import Order
from tests.core.line import invented

NICKEL = {"who": "NK", "subject": "nickel"}


def told(command) -> str:
    line = Line(invented.PLAN)
    line.begin(invented.run_start())
    events = line.obey(Order(request=1, command=command, at=invented.moment(10**9)))
    return events[0].text


@pytest.mark.parametrize(
    ("read", "said"),
    [
        ({"kind": "temperature", "value": 66.0, "unit": "degC"}, "temperature 66 degC by NK"),
        ({"kind": "ph", "value": 4.1, "unit": "pH"}, "pH 4.1 by NK"),
        ({"kind": "brightener", "value": 0.5, "unit": "mL/L"}, "brightener 0.5 mL/L by NK"),
        (
            {"kind": "pressure.filter", "value": 0.2, "unit": "bar", "note": "old gauge"},
            "filter pressure 0.2 bar by NK: old gauge",
        ),
    ],
)
def test_a_hand_reading_tells_what_was_read(read, said):
    assert told(HandReading(**NICKEL, **read)) == f"hand reading Bright nickel: {said}"


def test_a_note_tells_what_was_noted():
    assert told(WriteNote(**NICKEL, text="filter is dirty")).endswith("by NK: filter is dirty")


def test_a_hand_reading_that_is_refused_says_which():
    with pytest.raises(Refused, match="Bright nickel: temperature 4000 degC"):
        told(HandReading(**NICKEL, kind="temperature", value=4000.0, unit="degC"))
