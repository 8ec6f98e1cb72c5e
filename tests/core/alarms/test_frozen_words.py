"""What is frozen says by how much it has not changed, and for how long: that is its limit."""

from dataclasses import replace

import pytest

from linewatch.core.line import Line
from tests.core.line import invented

NS = 10**9
STILL = "nickel.ph.frozen"


def told(limit, delay_s, seconds):
    """The event's text, and the alarm in the picture, of a pH that stands still."""
    frozen = replace(
        invented.condition(STILL), limit=limit, on_delay_ns=round(delay_s * NS), kind="frozen"
    )
    line = Line(invented.with_conditions(frozen))
    events = list(line.begin(invented.run_start()))
    for second in range(1, seconds):
        values = [60.0, 500.0, 1.0, 7.0, 4.2, 0.0, 1.0]
        events += line.receive(invented.block(invented.TANKS, second * NS, values, [0] * 7))
    picture = line.picture(invented.moment(seconds * NS))
    (alarm,) = picture.alarms
    (event,) = (each for each in events if each.values.get("move") == "occur")
    return event.text, alarm


@pytest.mark.parametrize(
    ("limit", "delay_s", "said"),
    [
        (0.05, 120.0, "has not changed by 0.05 pH for 2 min"),
        (0.05, 60.0, "has not changed by 0.05 pH for 1 min"),
        (0.0, 90.0, "has not changed at all for 1.5 min"),
    ],
)
def test_a_frozen_value_names_the_change_that_it_has_not_made(limit, delay_s, said):
    text, alarm = told(limit, delay_s, 200)

    assert text == f"pH frozen: 4.20 pH, {said}"
    assert alarm.evidence == said
    assert alarm.limit is None
