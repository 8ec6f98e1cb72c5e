"""Cold junctions: looked up while they are fresh, and never longer."""

import numpy as np

from linewatch.core.readings import Layout, Quality, Readings
from linewatch.drivers.modbus.junctions import Junctions

LAYOUT = Layout(link="bench", device="box", tags=("box.temperature",), period_ns=10)


def test_a_cold_junction_is_known_for_three_of_its_periods(bench):
    couple = bench.device(
        "couple",
        [bench.tag("t.temperature", 0, sensor="tc-k-mv", cold_junction="box.temperature")],
    )
    junctions = Junctions([couple])
    assert junctions.at(0)("box.temperature")[1] == Quality.NOT_YET

    junctions.take(
        Readings(
            layout=LAYOUT,
            utc_ns=0,
            mono_ns=100,
            value=np.array([25.0]),
            quality=np.zeros(1, dtype=np.uint8),
        )
    )
    assert junctions.at(130)("box.temperature") == (25.0, Quality.GOOD)
    degc, quality = junctions.at(131)("box.temperature")
    assert quality == Quality.STALE
    assert np.isnan(degc)


def test_a_link_without_thermocouples_remembers_nothing(bench):
    junctions = Junctions([bench.device("d", [bench.tag("a.count", 0)])])
    block = Readings.silence(LAYOUT, bench.moment(100), Quality.NO_ANSWER)
    junctions.take(block)
    assert junctions._latest == {}
