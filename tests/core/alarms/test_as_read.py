"""A limit whose value cannot be read stays told, and says that it is no fact of now."""

from dataclasses import replace

import pytest

from linewatch.core.line import Line
from linewatch.core.readings import Quality
from tests.core.line import invented

NS = 10**9
COLD = "nickel.temperature.low"
LINE = invented.with_conditions(
    replace(invented.condition(COLD), limit=55.0, on_delay_ns=3 * NS),
    replace(invented.condition("pump.fault.discrete"), limit=1.0),
)


def told(*spans):
    """Texts of all alarms by id after spans of (seconds, temperature, its quality)."""
    line = Line(LINE)
    line.begin(invented.run_start())
    second = 0
    for seconds, degc, quality in spans:
        for _ in range(seconds):
            second += 1
            values = [degc, 500.0, 1.0, 7.0, 4.2, 1.0, 1.0]
            qualities = [quality, 0, 0, 0, 0, 0, Quality.NOT_YET]
            line.receive(invented.block(invented.TANKS, second * NS, values, qualities))
    picture = line.picture(invented.moment(second * NS))
    return {each.id: (each.text, each.state) for each in picture.alarms}


@pytest.mark.parametrize("quality", [Quality.SENSOR_FAULT, Quality.NOT_CONNECTED])
def test_a_limit_told_before_its_value_was_lost_says_that_it_was_read_last(quality):
    text, state = told((10, 50.0, Quality.GOOD), (10, float("nan"), quality))[COLD]
    assert (text, state) == ("temperature low (as last read)", "unacknowledged")


def test_a_limit_that_is_read_and_one_that_is_read_again_say_nothing_of_it():
    assert told((10, 50.0, Quality.GOOD))[COLD][0] == "temperature low"
    again = (10, 50.0, Quality.GOOD), (5, float("nan"), Quality.STALE), (2, 50.0, Quality.GOOD)
    assert told(*again)[COLD][0] == "temperature low"


def test_what_is_read_beside_it_is_a_fact_of_now():
    seen = told((10, 50.0, Quality.GOOD), (10, float("nan"), Quality.SENSOR_FAULT))
    assert "(as last read)" not in seen["pump.fault.discrete"][0]
