"""What an alarm says of its value."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.ui.draw.bands import alarm_words
from linewatch.ui.draw.rows import Look
from tests.ui import invented

LOOK = Look(width=120, height=40, now_ns=invented.NOON)
ALARM = replace(
    invented.troubled().alarms[0],
    tag="nickel-1.temperature",
    unit="degC",
    text="temperature",
    limit=57.0,
    state="unacknowledged",
)


@pytest.mark.parametrize(
    ("kind", "value", "state", "said"),
    [
        ("low", 56.1, "unacknowledged", "56.1 °C, limit 57.0"),
        ("low", 57.1, "unacknowledged", "57.1 °C, barely back inside limit 57.0"),
        ("high", 56.9, "acknowledged", "56.9 °C, barely back inside limit 57.0"),
        ("high-high", 57.2, "acknowledged", "57.2 °C, limit 57.0"),
        ("low", 60.0, "returned", "back at 60.0 °C, limit 57.0"),
    ],
)
def test_a_value_on_the_right_side_of_its_limit_is_not_told_as_if_it_were_beyond(
    kind, value, state, said
):
    alarm = replace(ALARM, kind=kind, value=value, state=state)

    assert alarm_words(alarm, LOOK) == f"temperature: {said}"
