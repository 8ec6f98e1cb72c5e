"""Refusals, limits, silence of one unit: what each costs, and whom."""

import asyncio

import numpy as np
import pytest

from linewatch.core.readings import Quality


def of(watched, device: str):
    return [block for block in watched.blocks if block.layout.device == device]


def refusing(refuses, code=2):
    """A device that answers each register with its address, or refuses."""

    async def script(connection):
        while True:
            asked = await connection.asked()
            if refuses(asked):
                await connection.send(asked.exception(code))
            else:
                values = (n % 65536 for n in range(asked.address, asked.address + asked.count))
                await connection.send(asked.registers(*values))

    return script


async def test_a_busy_device_is_left_alone_for_a_while_and_then_asked_again(bench):
    async def busy(connection):
        for _ in range(3):
            asked = await connection.asked()
            await connection.send(asked.exception(6))
        while True:
            asked = await connection.asked()
            await connection.send(asked.registers(5))

    async with (
        bench.serving(busy) as peer,
        bench.watching(
            bench.link(
                peer.address, bench.device("d", [bench.tag("a.count", 0)], period_s=0.02)
            )
        ) as watched,
    ):
        while not watched.blocks or watched.blocks[-1].quality[0] == Quality.BUSY:
            await watched.poll()
        picture = watched.driver.picture()

    assert watched.blocks[-1].value[0] == 5.0
    assert all(np.isnan(block.value[0]) for block in watched.blocks[:-1])
    # Asked four times, although far more polls were due meanwhile.
    assert len(peer.asked) == 4
    assert len(watched.blocks) > 20
    assert picture.failures == {"busy": 3}
    assert "unit 1 refuses: busy (06)" in picture.last_failure
    assert len(peer.connections) == 1


async def test_a_busy_unit_on_a_serial_gateway_is_busy(bench):
    async def busy(connection):
        while True:
            await connection.asked()
            await connection.send(bytes.fromhex("01 83 06 C1 32"))

    async with (
        bench.serving(busy, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)]),
                protocol="modbus-rtu-over-tcp",
            )
        ) as watched,
    ):
        assert (await watched.poll()).quality[0] == Quality.BUSY


@pytest.mark.parametrize("code", [0x0A, 0x0B])
async def test_a_unit_behind_a_gateway_that_is_off_is_marked_alone_and_asked_rarely(
    bench, code
):
    units = [bench.device(f"d{n}", [bench.tag(f"t{n}.count", 9)], unit=n) for n in (1, 2, 3)]
    async with (
        bench.serving(refusing(lambda asked: asked.unit == 2, code)) as peer,
        bench.watching(bench.link(peer.address, *units)) as watched,
    ):
        await watched.poll(60)
        picture = watched.driver.picture()

    assert {block.quality[0] for block in of(watched, "d2")} == {Quality.NO_ANSWER}
    for name in ("d1", "d3"):
        assert {block.quality[0] for block in of(watched, name)} == {Quality.GOOD}
    assert sum(asked.unit == 2 for asked in peer.asked) == 2
    assert picture.units_silent == ("d2",)
    assert picture.state == "connected"
    assert len(peer.connections) == 1


async def test_one_silent_unit_of_sixteen_costs_its_neighbours_next_to_nothing(bench):
    async def one_is_silent(connection):
        while True:
            asked = await connection.asked()
            if asked.unit != 7:
                await connection.send(asked.registers(asked.unit))

    units = [
        bench.device(f"d{n}", [bench.tag(f"t{n}.count", 9)], unit=n, period_s=0.2)
        for n in range(1, 17)
    ]
    async with (
        bench.serving(one_is_silent, rtu=True) as peer,
        bench.watching(
            bench.link(peer.address, *units, protocol="modbus-rtu-over-tcp", timeout_s=0.2)
        ) as watched,
    ):
        start = await watched.poll()
        last = start
        while last.mono_ns - start.mono_ns < 5_000_000_000:
            last = await watched.poll()
        due = (last.mono_ns - start.mono_ns) // start.layout.period_ns

    for n in range(1, 17):
        blocks = of(watched, f"d{n}")
        if n == 7:
            assert {block.quality[0] for block in blocks} == {Quality.NO_ANSWER}
            # Silence is reported at every due poll, although it is asked for rarely.
            assert len(blocks) >= 0.95 * due
        else:
            good = [block for block in blocks if block.value[0] == n]
            assert len(good) >= 0.95 * due
            assert len(good) == len(blocks)
    assert sum(asked.unit == 7 for asked in peer.asked) <= 5


async def test_a_unit_that_comes_back_is_read_again(bench):
    is_off = True

    async def one_is_off(connection):
        while True:
            asked = await connection.asked()
            if asked.unit == 1 or not is_off:
                await connection.send(asked.registers(asked.unit))

    units = [bench.device(f"d{n}", [bench.tag(f"t{n}.count", 9)], unit=n) for n in (1, 2)]
    async with (
        bench.serving(one_is_off, rtu=True) as peer,
        bench.watching(
            bench.link(peer.address, *units, protocol="modbus-rtu-over-tcp", timeout_s=0.1)
        ) as watched,
    ):
        while watched.driver.picture().units_silent != ("d2",):
            await watched.poll()
        is_off = False
        while watched.driver.picture().units_silent:
            await watched.poll()
        await watched.poll(4)

    assert of(watched, "d2")[-1].value[0] == 2.0


async def test_a_hole_in_the_map_costs_the_hole_alone(bench):
    def hole(asked):
        return asked.address <= 11175 < asked.address + asked.count

    tags = [bench.tag(f"t{n}.count", n) for n in range(11174, 11178)]
    async with (
        bench.serving(refusing(hole)) as peer,
        bench.watching(bench.link(peer.address, bench.device("d", tags))) as watched,
    ):
        await watched.poll(3)

    for block in watched.blocks:
        assert block.quality.tolist() == [
            Quality.GOOD, Quality.REFUSED, Quality.GOOD, Quality.GOOD,
        ]  # fmt: skip
        assert block.value[[0, 2, 3]].tolist() == [11174.0, 11176.0, 11177.0]
    # The first poll finds the hole; the others ask on both sides of it and nothing else.
    later = [(asked.address, asked.count) for asked in peer.asked[-4:]]
    assert later == [(11174, 1), (11176, 2)] * 2


@pytest.mark.parametrize(("limit", "code"), [(50, 3), (50, 2), (64, 3), (96, 2)])
async def test_a_device_that_gives_fewer_registers_at_once_is_read_in_smaller_blocks(
    bench, limit, code
):
    tags = [bench.tag(f"t{n}.count", n) for n in range(125)]
    async with (
        bench.serving(refusing(lambda asked: asked.count > limit, code)) as peer,
        bench.watching(bench.link(peer.address, bench.device("d", tags))) as watched,
    ):
        await watched.poll(6)
        before = len(peer.asked)
        await watched.poll()

    for block in watched.blocks:
        assert block.value.tolist() == [float(n) for n in range(125)]
    last = peer.asked[before:]
    assert max(asked.count for asked in last) <= limit
    assert len(last) == -(-125 // limit)


async def test_a_device_that_refuses_everything_is_not_pestered(bench):
    tags = [bench.tag(f"t{n}.count", n) for n in range(60)]
    async with (
        bench.serving(refusing(lambda _: True)) as peer,
        bench.watching(bench.link(peer.address, bench.device("d", tags))) as watched,
    ):
        await watched.poll(5)

    assert {int(each) for block in watched.blocks for each in block.quality} == {
        Quality.REFUSED
    }
    # It is taken apart once, and then asked whole.
    assert len(peer.asked) <= 2 * 60 + 4


async def test_requests_stay_within_readable_ranges_of_the_manuals_style(bench):
    def outside(asked):
        last = asked.address + asked.count - 1
        return not (last <= 9 or (asked.address >= 20 and last <= 29))

    tags = [bench.tag(f"t{n}.count", n) for n in (8, 9, 20, 21)]
    unit = bench.device("d", tags, base=40001, readable=((40001, 40010), (40021, 40030)))
    async with (
        bench.serving(refusing(outside)) as peer,
        bench.watching(bench.link(peer.address, unit)) as watched,
    ):
        block = await watched.poll()

    assert block.value.tolist() == [8.0, 9.0, 20.0, 21.0]
    assert [(asked.address, asked.count) for asked in peer.asked] == [(8, 2), (20, 2)]


async def test_the_stated_gap_is_kept_between_all_units(bench):
    heard = []

    async def needs_quiet(connection):
        loop = asyncio.get_running_loop()
        spoke = -1.0
        while True:
            asked = await connection.asked()
            heard.append(loop.time() - spoke)
            if heard[-1] >= 0.02:
                await connection.send(asked.registers(7))
                spoke = loop.time()

    units = [
        bench.device(f"d{n}", [bench.tag(f"t{n}.count", 9)], unit=n, period_s=0.02)
        for n in (1, 2, 3)
    ]
    async with (
        bench.serving(needs_quiet, rtu=True) as peer,
        bench.watching(
            bench.link(peer.address, *units, protocol="modbus-rtu-over-tcp", gap_s=0.025)
        ) as watched,
    ):
        await watched.poll(15)

    assert {block.quality[0] for block in watched.blocks} == {Quality.GOOD}
    assert min(heard) >= 0.02


async def test_each_tag_has_its_own_period(bench):
    tags = [
        bench.tag("quick.count", 0),
        bench.tag("slow.count", 1, period_s=0.2),
        bench.tag("also.count", 2),
    ]
    async with (
        bench.serving(refusing(lambda _: False)) as peer,
        bench.watching(bench.link(peer.address, bench.device("d", tags))) as watched,
    ):
        await watched.poll(11)

    counts = {}
    for block in watched.blocks:
        counts[block.layout.tags] = counts.get(block.layout.tags, 0) + 1
    assert counts[("quick.count", "also.count")] in {8, 9}
    assert counts[("slow.count",)] in {2, 3}
    assert {(asked.address, asked.count) for asked in peer.asked} == {(0, 3), (1, 1)}


async def test_all_four_tables_and_every_type_come_through(bench):
    import struct

    def packed(asked):
        if asked.function in {1, 2}:
            return asked.bits(bytes([0b101]))
        base = 0x4120 if asked.function == 3 else 0x4248
        return asked.registers(*[base, 0x0000][: asked.count])

    async def device(connection):
        while True:
            asked = await connection.asked()
            await connection.send(packed(asked))

    tags = [
        bench.tag("a.running", 0, table="coil"),
        bench.tag("b.running", 1, table="coil"),
        bench.tag("c.running", 2, table="coil"),
        bench.tag("d.running", 0, table="discrete"),
        bench.tag("e.current", 0, type="float32"),
        bench.tag("f.current", 0, type="float32", table="input"),
        bench.tag("g.fault", 0, type="bit", bit=14),
    ]
    async with (
        bench.serving(device) as peer,
        bench.watching(bench.link(peer.address, bench.device("d", tags))) as watched,
    ):
        block = await watched.poll()

    assert block.value.tolist() == [1.0, 0.0, 1.0, 1.0, 10.0, 50.0, 1.0]
    assert sorted(asked.function for asked in peer.asked) == [1, 2, 3, 4]
    assert struct.pack(">f", 10.0) == bytes.fromhex("41200000")


async def test_a_thermocouple_finds_its_cold_junction_on_another_device(bench):
    async def device(connection):
        while True:
            asked = await connection.asked()
            await connection.send(asked.registers(250 if asked.unit == 1 else 1436))

    terminals = bench.device(
        "terminals", [bench.tag("box.temperature", 0, type="int16", scale=0.1)], unit=1
    )
    couple = bench.device(
        "couple",
        [
            bench.tag(
                "bath.temperature",
                0,
                type="int16",
                scale=0.001,
                wanted="degC",
                sensor="tc-k-mv",
                cold_junction="box.temperature",
            )
        ],
        unit=2,
    )
    async with (
        bench.serving(device) as peer,
        bench.watching(bench.link(peer.address, couple, terminals)) as watched,
    ):
        await watched.poll(4)

    baths = of(watched, "couple")
    # Polled first, before its cold junction was ever read: no guess.
    assert baths[0].quality[0] == Quality.NOT_YET
    assert baths[1].value[0] == pytest.approx(60.0, abs=1 / 41)
