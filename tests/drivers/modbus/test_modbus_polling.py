"""A link that polls: registers become readings, silence becomes bad blocks."""

import numpy as np
import pytest

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality


async def counting(connection):
    """Answer each register with its own address."""
    while True:
        asked = await connection.asked()
        values = range(asked.address, asked.address + asked.count)
        await connection.send(asked.registers(*values))


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_registers_become_readings(bench, rtu):
    tags = [bench.tag("a.count", 10), bench.tag("b.count", 11), bench.tag("c.count", 200)]
    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    async with (
        bench.serving(counting, rtu=rtu) as peer,
        bench.watching(
            bench.link(peer.address, bench.device("d", tags), protocol=protocol)
        ) as watched,
    ):
        readings = await watched.poll(3)

    assert readings.value.tolist() == [10.0, 11.0, 200.0]
    assert readings.quality.tolist() == [Quality.GOOD] * 3
    assert len(peer.asked) == 6


async def test_a_silent_unit_is_a_bad_block_and_its_neighbour_is_well(bench):
    async def one_is_silent(connection):
        while True:
            asked = await connection.asked()
            if asked.unit == 1:
                await connection.send(asked.registers(7))

    async with (
        bench.serving(one_is_silent, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("one", [bench.tag("one.count", 0)], unit=1),
                bench.device("two", [bench.tag("two.count", 0)], unit=2),
                protocol="modbus-rtu-over-tcp",
                timeout_s=0.1,
            )
        ) as watched,
    ):
        await watched.poll(20)
        picture = watched.driver.picture()

    ones = [block for block in watched.blocks if block.layout.device == "one"]
    twos = [block for block in watched.blocks if block.layout.device == "two"]
    assert {block.quality[0] for block in ones} == {Quality.GOOD}
    assert {block.quality[0] for block in twos} == {Quality.NO_ANSWER}
    assert all(np.isnan(block.value[0]) for block in twos)
    assert picture.units_silent == ("two",)
    assert picture.failures["no answer"] >= 1


async def test_a_closed_link_is_lost(bench):
    async def once(connection):
        await connection.asked()
        connection.reset()

    async with (
        bench.serving(once) as peer,
        bench.watching(
            bench.link(peer.address, bench.device("d", [bench.tag("a.count", 0)]))
        ) as watched,
    ):
        with pytest.raises(LinkLost, match="another master may be connected"):
            await watched.poll()


async def test_nobody_listening_is_a_lost_link(bench):
    async with bench.serving(counting) as peer:
        address = peer.address
    with pytest.raises(LinkLost, match="nobody listens on"):
        async with bench.watching(
            bench.link(address, bench.device("d", [bench.tag("a.count", 0)]))
        ):
            raise AssertionError("it connected")
