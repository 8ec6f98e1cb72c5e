"""Devices that answer late, twice, for another, or in pieces: no value is ever another's."""

import asyncio
import random

import numpy as np
import pytest

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality
from linewatch.drivers.modbus.question import Answer, Question


def good(watched) -> dict[str, set[float]]:
    """Every good value that was delivered, by tag."""
    found: dict[str, set[float]] = {}
    for block in watched.blocks:
        for tag, value, quality in zip(
            block.layout.tags, block.value, block.quality, strict=True
        ):
            if quality < Quality.BAD:
                found.setdefault(tag, set()).add(float(value))
            else:
                assert np.isnan(value)
    return found


def qualities(watched, column: int = 0) -> list[Quality]:
    return [Quality(block.quality[column]) for block in watched.blocks]


async def until(watched, condition, most: int = 400):
    """Poll until a condition holds for the last block."""
    for _ in range(most):
        block = await watched.poll()
        if condition(block):
            return block
    raise AssertionError(f"not in {most} polls: {watched.driver.picture()}")


TWO_BLOCKS = [("a.count", 0), ("b.count", 100)]


@pytest.mark.parametrize("style", ["zero", "rtu"])
async def test_an_answer_that_comes_after_its_limit_is_not_the_next_ones(bench, style):
    # The unit's first answer comes 0.1 s too late; all blocks have one register.
    async def late_once(connection):
        first = True
        while True:
            asked = await connection.asked()
            if first:
                await asyncio.sleep(0.3)
            header = {} if asked.is_rtu else {"transaction": 0}
            value = 4369 if asked.address == 0 else 8738
            await connection.send(asked.registers(value, **header))
            first = False

    rtu = style == "rtu"
    unit = bench.device(
        "d", [bench.tag(*place) for place in TWO_BLOCKS], zero_transaction=not rtu
    )
    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    async with (
        bench.serving(late_once, rtu=rtu) as peer,
        bench.watching(
            bench.link(peer.address, unit, protocol=protocol, timeout_s=0.2)
        ) as watched,
    ):
        await until(watched, lambda block: (block.quality == Quality.GOOD).all())
        await watched.poll(3)
        picture = watched.driver.picture()

    assert good(watched) == {"a.count": {4369.0}, "b.count": {8738.0}}
    assert picture.failures["late answer"] == 1
    assert len(peer.connections) == 1


@pytest.mark.parametrize("style", ["exact", "zero", "rtu"])
@pytest.mark.parametrize("seed", range(2))
async def test_whatever_the_delays_no_value_is_another_registers(bench, style, seed):
    # An in-order gateway, like most: a late answer is late for all that follow.
    rand = random.Random(seed)  # noqa: S311 - to be repeated

    async def dawdling(connection):
        while True:
            asked = await connection.asked()
            await asyncio.sleep(rand.choice((0, 0, 0, 0, 0.01, 0.06, 0.12, 0.2)))
            if rand.random() < 0.1:
                continue
            header = {"transaction": 0} if style == "zero" else {}
            values = range(asked.address, asked.address + asked.count)
            reply = asked.registers(*values, **header)
            await connection.send(reply * rand.choice((1, 1, 1, 2)))

    tags = [bench.tag(f"t{n}.count", 100 * n) for n in range(4)]
    tags += [bench.tag(f"w{n}.count", 1000 + 100 * n, type="uint32") for n in range(2)]
    rtu = style == "rtu"
    unit = bench.device("d", tags, period_s=0.02, zero_transaction=style == "zero")
    other = bench.device("e", [bench.tag("e.count", 7000)], period_s=0.02, unit=2)
    link = bench.link("", unit, other, protocol="modbus-rtu-over-tcp" if rtu else "modbus-tcp")
    async with bench.serving(dawdling, rtu=rtu) as peer:
        section = link.link.model_copy(update={"address": peer.address, "timeout": 0.05})
        for _ in range(4):
            settings = type(link)(link=section, devices=link.devices)
            try:
                async with bench.watching(settings) as watched:
                    await watched.poll(60)
            except LinkLost:
                pass
            values = good(watched)
            for n in range(4):
                assert values.get(f"t{n}.count", set()) <= {100.0 * n}
            for n in range(2):
                address = 1000 + 100 * n
                assert values.get(f"w{n}.count", set()) <= {address * 65536.0 + address + 1}
            assert values.get("e.count", set()) <= {7000.0}


async def test_a_device_slower_than_the_limit_is_slow_and_not_dead(bench):
    async def slow(connection):
        while True:
            asked = await connection.asked()
            await asyncio.sleep(0.12)
            await connection.send(asked.registers(7))

    async with (
        bench.serving(slow) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)], period_s=0.2),
                timeout_s=0.1,
            )
        ) as watched,
    ):
        await watched.poll(8)
        picture = watched.driver.picture()

    assert qualities(watched) == [Quality.NO_ANSWER] + [Quality.GOOD] * 7
    assert picture.state == "slow"
    assert picture.reason == "unit 1 answers after more than 0.1 s"
    assert picture.failures == {"no answer": 1, "late answer": 1}
    assert len(peer.connections) == 1
    assert len(peer.asked) == 8


async def test_a_device_at_two_and_a_half_limits_is_found_to_be_slow(bench):
    async def very_slow(connection):
        while True:
            asked = await connection.asked()
            await asyncio.sleep(0.25)
            await connection.send(asked.registers(7))

    async with (
        bench.serving(very_slow) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)], period_s=0.4),
                timeout_s=0.1,
            )
        ) as watched,
    ):
        await until(watched, lambda block: block.quality[0] == Quality.GOOD, most=8)
        await watched.poll(2)
        assert watched.driver.picture().state == "slow"

    assert qualities(watched)[-2:] == [Quality.GOOD] * 2
    assert len(peer.connections) == 1


FOREIGN = [
    ({"transaction": 0}, "it is always 0; see `zero_transaction`", "foreign id"),
    ({"unit": 0}, "unit 17 was asked, unit 0 answers", "foreign unit"),
    ({"unit": 255}, "unit 17 was asked, unit 255 answers", "foreign unit"),
]


@pytest.mark.parametrize(("header", "words", "kind"), FOREIGN)
async def test_a_foreign_header_is_never_a_value_and_is_told_on_screen(
    bench, header, words, kind
):
    async def foreign(connection):
        while True:
            asked = await connection.asked()
            wrong = header if asked.unit == 17 else {}
            await connection.send(asked.registers(7, **wrong))

    async with (
        bench.serving(foreign) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)], unit=17),
                bench.device("e", [bench.tag("b.count", 0)], unit=2),
                timeout_s=0.1,
            )
        ) as watched,
    ):
        await watched.poll(12)
        picture = watched.driver.picture()

    assert good(watched) == {"b.count": {7.0}}
    bad = [block for block in watched.blocks if block.layout.device == "d"]
    assert bad[0].quality[0] == Quality.FOREIGN
    assert words in picture.reason
    assert picture.failures[kind] >= 1
    assert picture.last_bytes.startswith("00 ")


async def test_a_device_that_swaps_ids_is_read_where_that_is_configured(bench):
    async def swaps(connection):
        while True:
            asked = await connection.asked()
            number = (asked.transaction & 0xFF) << 8 | asked.transaction >> 8
            await connection.send(asked.registers(77, transaction=number))

    unit = bench.device("d", [bench.tag("a.count", 0)], swapped_transaction=True)
    async with (
        bench.serving(swaps) as peer,
        bench.watching(bench.link(peer.address, unit)) as watched,
    ):
        await watched.poll(3)
    assert qualities(watched) == [Quality.GOOD] * 3


async def test_a_device_that_answers_as_another_is_read_where_that_is_configured(bench):
    async def as_one(connection):
        while True:
            asked = await connection.asked()
            await connection.send(asked.registers(77, unit=1))

    unit = bench.device("d", [bench.tag("a.count", 0)], unit=17, answers_as_unit=1)
    async with (
        bench.serving(as_one, rtu=True) as peer,
        bench.watching(
            bench.link(peer.address, unit, protocol="modbus-rtu-over-tcp")
        ) as watched,
    ):
        await watched.poll(3)
    assert qualities(watched) == [Quality.GOOD] * 3
    assert {asked.unit for asked in peer.asked} == {17}


@pytest.mark.parametrize(
    "reply",
    ["00 01 00 00 00 05 01 03 02 00 2A", "00 01 00 00 00 03 01 03 00"],
)
async def test_fewer_registers_than_asked_for_are_none(bench, reply):
    async def short(connection):
        await connection.asked()
        await connection.send(bytes.fromhex(reply))
        await connection.asked()

    tags = [bench.tag(f"t{n}.count", n) for n in range(4)]
    async with (
        bench.serving(short) as peer,
        bench.watching(bench.link(peer.address, bench.device("d", tags))) as watched,
    ):
        block = await watched.poll()
        picture = watched.driver.picture()
    assert block.quality.tolist() == [Quality.MALFORMED] * 4
    assert picture.failures == {"wrong count": 1}
    assert picture.last_bytes == reply


async def test_ten_questions_at_once_are_asked_one_after_the_other(bench):
    # The server needs 0.1 s each and cannot pipeline; the limit is 0.35 s, from the writing.
    async def one_by_one(connection):
        while True:
            asked = await connection.asked()
            await asyncio.sleep(0.1)
            await connection.send(asked.registers(asked.address))

    async with (
        bench.serving(one_by_one) as peer,
        bench.watching(
            bench.link(peer.address, bench.device("d", [bench.tag("a.count", 0)]))
        ) as watched,
    ):
        questions = [Question(unit=1, function=3, address=n, count=1) for n in range(10)]
        verdicts = await asyncio.gather(
            *(watched.driver._conversation.ask(question, 0.35) for question in questions)
        )
    assert verdicts == [Answer(n.to_bytes(2, "big")) for n in range(10)]


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_a_caller_who_gives_up_does_not_confuse_the_next(bench, rtu):
    async def steady(connection):
        while True:
            asked = await connection.asked()
            await asyncio.sleep(0.03)
            await connection.send(asked.registers(asked.address))

    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    async with (
        bench.serving(steady, rtu=rtu) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)]),
                protocol=protocol,
            )
        ) as watched,
    ):
        for n in range(1, 12):
            question = Question(unit=1, function=3, address=n, count=1)
            impatient = asyncio.create_task(watched.driver.ask(question))
            await asyncio.sleep(0.005 * (n % 5))
            impatient.cancel()
            after = Question(unit=1, function=3, address=1000 + n, count=1)
            assert await watched.driver.ask(after) == Answer((1000 + n).to_bytes(2, "big"))
        await asyncio.gather(impatient, return_exceptions=True)


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_an_answer_in_single_bytes_is_read(bench, rtu):
    async def dripping(connection):
        while True:
            asked = await connection.asked()
            for byte in asked.registers(7, 8):
                await connection.send(bytes([byte]))
                await asyncio.sleep(0.01)

    tags = [bench.tag("a.count", 0), bench.tag("b.count", 1)]
    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    async with (
        bench.serving(dripping, rtu=rtu) as peer,
        bench.watching(
            bench.link(peer.address, bench.device("d", tags), protocol=protocol, timeout_s=1.0)
        ) as watched,
    ):
        await watched.poll(2)
    assert good(watched) == {"a.count": {7.0}, "b.count": {8.0}}


@pytest.mark.parametrize("told", [True, False])
async def test_an_echo_is_stripped_and_suggested_where_it_is_not_configured(bench, told):
    async def echoing(connection):
        while True:
            asked = await connection.asked()
            await connection.send(asked.raw + asked.registers(1234))

    async with (
        bench.serving(echoing, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0x10)]),
                protocol="modbus-rtu-over-tcp",
                echo=told,
            )
        ) as watched,
    ):
        await watched.poll(3)
        picture = watched.driver.picture()
    assert good(watched) == {"a.count": {1234.0}}
    assert picture.reason == ("" if told else "the adapter echoes each request; see `echo`")
    assert picture.failures == ({} if told else {"echo": 3})


@pytest.mark.parametrize("noise", [b"\0", b"\xff", b"\0\0", b"\xff\x00\xaa\x55"])
async def test_glitches_before_each_answer_are_survived_and_counted(bench, noise):
    async def glitching(connection):
        while True:
            asked = await connection.asked()
            await connection.send(noise + asked.registers(0x0141))

    async with (
        bench.serving(glitching, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)]),
                protocol="modbus-rtu-over-tcp",
            )
        ) as watched,
    ):
        await watched.poll(3)
        picture = watched.driver.picture()
    assert good(watched) == {"a.count": {321.0}}
    assert qualities(watched) == [Quality.GOOD] * 3
    assert picture.failures == {"noise": 3}
    assert picture.last_bytes == noise.hex(" ").upper()


@pytest.mark.parametrize(
    "babble",
    [
        "00 01 00 01 00 05 01 03 02 00 01",
        "00 01 00 00 FF FF 01 03",
        b"HTTP/1.0 400 Bad".hex(" "),
    ],
)
async def test_a_port_that_speaks_something_else_is_told_and_left_alone_for_long(bench, babble):
    async def other(connection):
        await connection.asked()
        await connection.send(bytes.fromhex(babble))
        await connection.asked()

    async with (
        bench.serving(other) as peer,
        bench.watching(
            bench.link(peer.address, bench.device("d", [bench.tag("a.count", 0)]))
        ) as watched,
    ):
        with pytest.raises(LinkLost, match="what answers is not Modbus TCP") as lost:
            await watched.poll()
    assert lost.value.lasting
    assert bytes.fromhex(babble)[:8].hex(" ").upper() in lost.value.happened
    assert watched.driver.picture().failures == {"not Modbus": 1}


async def test_a_banner_on_a_serial_gateway_is_told(bench):
    async def banner(connection):
        while True:
            await connection.asked()
            await connection.send(b"Username: \r\nPassword: \r\n")

    async with (
        bench.serving(banner, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address,
                bench.device("d", [bench.tag("a.count", 0)]),
                protocol="modbus-rtu-over-tcp",
                timeout_s=0.05,
            )
        ) as watched,
    ):
        with pytest.raises(LinkLost, match="what answers is not Modbus RTU") as lost:
            await watched.poll(20)
    assert lost.value.lasting
