"""Value, status and source time travel together from the server to the block."""

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from asyncua import ua

from linewatch.core.readings import Quality
from linewatch.drivers.opcua.driver import OpcuaDriver
from linewatch.engine.clock import SystemClock
from tests.drivers.opcua.plant import WATER, settings_for, until, world_time

pytestmark = pytest.mark.wire

TEMPERATURE = {"nickel-1.temperature": {"node": "s=T"}}
BAD_SENSOR = 0x808C0000
UNCERTAIN = 0x40000000


async def test_the_first_block_holds_every_value(plant, make):
    tags = {
        "nickel-1.temperature": {"node": "s=T"},
        "nickel-1.ph": {"node": "s=pH"},
        "fan.running": {"node": "s=Run"},
        "sump.temperature": {"node": "s=T", "namespace": WATER},
    }
    plant.write("T", 48.0)
    plant.write("pH", 4.1)
    async with make(tags) as driver:
        block = await anext(driver.readings())

    assert block.layout == driver.layouts[0]
    assert block.value.tolist() == [48.0, 4.1, 1.0, 61.0]
    assert block.quality.tolist() == [Quality.GOOD] * 4


async def test_a_change_arrives_with_its_source_time(plant, make):
    async with make(TEMPERATURE) as driver:
        plant.write("T", 48.0)
        await until(driver, lambda block: block.value[0] == 48.0)
        moment = world_time() - timedelta(seconds=2)
        plant.write("T", 52.5, source=moment)

        block = await until(driver, lambda block: block.value[0] == 52.5)

    assert block.source_utc_ns is not None
    assert abs(block.source_utc_ns[0] - moment.timestamp() * 1e9) < 1e6
    assert block.utc_ns > block.source_utc_ns[0]


async def test_a_steady_value_stays_good_though_nothing_is_published(plant, make):
    plant.write("T", 48.0)
    async with make(TEMPERATURE) as driver:
        blocks = [await anext(driver.readings()) for _ in range(5)]

    assert {block.value[0] for block in blocks} == {48.0}
    assert all(block.quality[0] == Quality.GOOD for block in blocks)
    assert np.all(np.diff([block.mono_ns for block in blocks]) > 0)


async def test_a_status_alone_changes_the_reading(plant, make):
    """A server may say Bad and Good again without another value."""
    async with make(TEMPERATURE) as driver:
        plant.write("T", 1.5)
        await until(driver, lambda block: block.value[0] == 1.5)
        plant.write("T", 1.5, status=BAD_SENSOR)
        bad = await until(driver, lambda block: block.quality[0] != Quality.GOOD)
        plant.write("T", 1.5)
        good = await until(driver, lambda block: block.quality[0] == Quality.GOOD)

    assert bad.quality[0] == Quality.SENSOR_FAULT
    assert np.isnan(bad.value[0])
    assert good.value[0] == 1.5


async def test_uncertain_keeps_its_value_and_says_so_and_bad_has_none(plant, make):
    tags = {"a.temperature": {"node": "s=T"}, "a.ph": {"node": "s=pH"}}
    async with make(tags) as driver:
        plant.write("T", 42.0, status=UNCERTAIN)
        plant.write("pH", 7.0, status=0x80000000)
        block = await until(driver, lambda block: np.all(block.quality != Quality.GOOD))

    assert block.value[0] == 42.0
    assert block.quality.tolist() == [Quality.SOURCE_DOUBTFUL, Quality.SOURCE_BAD]
    assert np.isnan(block.value[1])


@pytest.mark.parametrize(
    "source",
    [None, datetime(1601, 1, 1, tzinfo=UTC), world_time() + timedelta(days=400)],
    ids=["none", "1601", "in 400 days"],
)
async def test_a_source_time_that_cannot_be_gives_way_to_our_own(plant, make, source):
    async with make(TEMPERATURE) as driver:
        plant.write("T", 47.0)
        await until(driver, lambda block: block.value[0] == 47.0)
        plant.write("T", 49.0, source=source)

        block = await until(driver, lambda block: block.value[0] == 49.0)

    assert block.source_utc_ns is not None
    assert 0 <= block.utc_ns - block.source_utc_ns[0] < 10**9


async def test_a_clock_that_is_off_is_told(plant, make):
    async with make(TEMPERATURE, source_tolerance="5 s") as driver:
        plant.write("T", 50.5, source=world_time() + timedelta(hours=1))
        await until(driver, lambda block: block.value[0] == 50.5)
        reason = driver.picture().reason

    assert re.fullmatch(r"its clock is (3600|3599) s ahead", reason)


async def test_at_another_speed_source_times_are_not_compared_with_ours(plant):
    """Line time runs ahead of the world; a server's time then says nothing to us."""
    settings = settings_for(plant.address, TEMPERATURE, period=10.0)
    plant.write("T", 48.0)
    async with OpcuaDriver(settings, SystemClock(speed=100.0)) as driver:
        blocks = [await anext(driver.readings()) for _ in range(3)]

    spans_ns = np.diff([block.mono_ns for block in blocks])
    assert np.all(spans_ns >= 9_000_000_000)
    assert driver.picture().reason == ""


@pytest.mark.parametrize(
    ("value", "quality"),
    [
        (float("nan"), Quality.MALFORMED),
        (float("inf"), Quality.MALFORMED),
        (-3276.8, Quality.OUT_OF_RANGE),
        (ua.Variant("hot", ua.VariantType.String), Quality.MALFORMED),
        (ua.Variant([48.0, 49.0], ua.VariantType.Double), Quality.MALFORMED),
        (ua.Variant(None, ua.VariantType.Null), Quality.MALFORMED),
    ],
    ids=["nan", "inf", "implausible", "text", "list", "nothing"],
)
async def test_what_is_no_plausible_number_never_leaves(plant, make, request, value, quality):
    name = f"Odd {request.node.name}"
    plant.add(name, value)
    async with make({"a.temperature": {"node": f"s={name}"}}) as driver:
        block = await anext(driver.readings())

    assert block.quality[0] == quality
    assert np.isnan(block.value[0])


async def test_a_degree_fahrenheit_arrives_as_celsius(plant, make):
    plant.write("T", 140.0)
    async with make({"a.temperature": {"node": "s=T", "unit": "degF"}}) as driver:
        block = await anext(driver.readings())

    assert block.value[0] == pytest.approx(60.0)
