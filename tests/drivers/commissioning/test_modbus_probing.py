"""For the person who commissions a device: what it gives, and what it may mean."""

import struct
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from linewatch.config.model import DeviceSection, LinkSection, TagSection
from linewatch.core.errors import LinkLost
from linewatch.drivers.modbus.plausible import candidates, text_in
from linewatch.drivers.modbus.probing import (
    MOST_QUESTIONS,
    Stretch,
    probe,
    probed_block,
    stretch_of,
    stretches,
)
from linewatch.drivers.modbus.question import Answer, Broken, Failure, Question, Refusal
from linewatch.engine.clock import SystemClock
from linewatch.wiring import commissioning


def ways(words: list[int], type_: str) -> dict[str, float]:
    return {each.order: each.value for each in candidates(words) if each.type == type_}


@pytest.mark.parametrize(
    ("raw", "order"),
    [
        ("41 20 00 00", "ABCD"),
        ("00 00 41 20", "CDAB"),
        ("20 41 00 00", "BADC"),
        ("00 00 20 41", "DCBA"),
    ],
)
def test_ten_in_any_byte_order_is_among_the_plausible_ways(raw, order):
    """10.0 as IEEE 754 single precision is 41 20 00 00; the orders move its bytes."""
    words = list(struct.unpack(">2H", bytes.fromhex(raw)))

    found = [each for each in candidates(words) if each.type == "float32" and each.is_plausible]

    assert (order, 10.0) in [(each.order, each.value) for each in found]


def test_a_negative_temperature_shows_beside_its_unsigned_reading():
    assert ways([0xFFF6], "int16")["ABCD"] == -10
    assert ways([0xFFF6], "uint16")["ABCD"] == 65526


def test_a_nibble_above_nine_is_no_bcd():
    assert ways([0x1234], "bcd16")["ABCD"] == 1234
    assert ways([0x123A], "bcd16") == {}


@pytest.mark.parametrize("word", [0x8000, 0x7FFF, 0xFFFF])
def test_what_many_devices_send_for_no_value_is_marked(word):
    found = [
        each for each in candidates([word]) if each.type == "int16" and each.order == "ABCD"
    ]

    assert [each.is_plausible for each in found] == [False]
    assert "no value" in found[0].note


@given(st.lists(st.integers(0, 0xFFFF), min_size=1, max_size=5))
def test_every_candidate_is_finite_and_the_plausible_come_first(words):
    found = candidates(words)

    marks = [each.is_plausible for each in found]
    assert marks == sorted(marks, reverse=True)
    assert all(each.words <= len(words) for each in found)
    assert all(abs(each.value) < float("inf") for each in found)


@given(
    st.floats(width=32, allow_nan=False, allow_infinity=False),
    st.sampled_from(["ABCD", "CDAB", "BADC", "DCBA"]),
)
def test_a_float_is_found_in_the_order_in_which_it_was_sent(value, order):
    """Packed here by moving bytes; the reading goes the other way."""
    a, b, c, d = struct.pack(">f", value)
    moved = {
        "ABCD": (a, b, c, d),
        "CDAB": (c, d, a, b),
        "BADC": (b, a, d, c),
        "DCBA": (d, c, b, a),
    }
    words = struct.unpack(">2H", bytes(moved[order]))

    assert value in ways(list(words), "float32").values()


def test_text_is_shown_where_it_can_be_read():
    assert text_in(struct.unpack(">3H", b"RECT-7")) == "RECT-7"
    assert text_in(struct.unpack(">3H", b"AB\x00\x1b[2")) == "AB"
    assert text_in((0x0001, 0x0002)) == ""


START = Question(unit=1, function=3, address=0, count=100)


def unit_with(holes: set[int], *, code: int = 2):
    """A unit that refuses every block with a hole in it; its registers hold their address."""
    asked: list[Question] = []

    async def ask(question: Question):
        asked.append(question)
        wanted = range(question.address, question.address + question.count)
        if holes & set(wanted):
            return Refusal(code)
        return Answer(struct.pack(f">{question.count}H", *wanted))

    return ask, asked


async def test_a_unit_without_holes_is_read_in_its_largest_blocks():
    ask, asked = unit_with(set())

    found = await stretches(ask, START, 250)

    assert found == (Stretch(first=0, count=250, words=tuple(range(250))),)
    assert [(each.address, each.count) for each in asked] == [(0, 100), (100, 100), (200, 50)]


async def test_refused_addresses_are_found_by_halving():
    ask, asked = unit_with({37, 38, 90})

    found = await stretches(ask, START, 100)

    assert [(each.first, each.count) for each in found if each.refused] == [(37, 2), (90, 1)]
    assert found[1].refused == "illegal address (exception 2)"
    read = [word for each in found for word in each.words]
    assert read == [each for each in range(100) if each not in {37, 38, 90}]
    assert len(asked) < 60


@given(st.sets(st.integers(0, 99), max_size=6))
async def test_every_address_is_told_once(holes):
    ask, _ = unit_with(holes)

    found = await stretches(ask, START, 100)

    addresses = [each.first + n for each in found for n in range(each.count)]
    assert addresses == list(range(100))
    assert {
        a for each in found if each.refused for a in range(each.first, each.first + each.count)
    } == holes


async def test_a_unit_that_is_all_holes_is_not_asked_for_ever():
    ask, asked = unit_with(set(range(0, 1000, 2)))

    found = await stretches(ask, START, 1000)

    assert len(asked) == MOST_QUESTIONS
    assert found[-1].refused == "not asked any more"
    assert sum(each.count for each in found) == 1000


async def test_a_refused_function_is_not_halved():
    ask, asked = unit_with({5}, code=1)

    (found,) = await stretches(ask, START, 100)

    assert (found.count, found.refused) == (100, "illegal function (exception 1)")
    assert len(asked) == 1


async def test_silence_is_told_and_not_halved():
    async def ask(question: Question):
        return Broken(Failure.SILENT, "nothing within 1 s")

    (found,) = await stretches(ask, START, 100)

    assert found.refused == "no answer: nothing within 1 s"


@pytest.mark.wire
async def test_a_real_server_is_probed_over_its_socket():
    """An independent server, with registers 10 to 14 and 30 to 31 and nothing else."""
    device = SimDevice(
        1,
        simdata=[
            SimData(10, count=5, values=77, datatype=DataType.REGISTERS),
            SimData(30, count=2, values=99, datatype=DataType.REGISTERS),
        ],
    )
    server = ModbusTcpServer([device], address=("127.0.0.1", 0))
    await server.serve_forever(background=True)
    port = server.transport.sockets[0].getsockname()[1]
    link = LinkSection(id="bench", protocol="modbus-tcp", address=f"127.0.0.1:{port}")

    found = await probe(
        link, DeviceSection(id="unit", link="bench"), "holding", 8, 26, SystemClock()
    )
    await server.shutdown()

    given = [(each.first, each.words) for each in found if each.words]
    assert given == [(10, (77,) * 5), (30, (99,) * 2)]
    refused = [(each.first, each.count) for each in found if each.refused]
    assert refused == [(8, 2), (15, 15), (32, 2)]


@pytest.mark.wire
async def test_nobody_to_probe_is_a_lost_link():
    link = LinkSection(id="bench", protocol="modbus-tcp", address="127.0.0.1:1")

    with pytest.raises(LinkLost):
        await probe(
            link, DeviceSection(id="unit", link="bench"), "holding", 0, 1, SystemClock()
        )


@pytest.mark.parametrize(
    ("table", "order", "read"),
    [
        ("holding", "ABCD", {"address": 40001, "type": "float32"}),
        (
            "input",
            "CDAB",
            {"table": "input", "address": 40001, "type": "float32", "order": "CDAB"},
        ),
    ],
)
def test_the_block_that_is_printed_is_a_tag_of_a_configuration(table, order, read):
    block = probed_block(table, 40001, "float32", order)

    (tag,) = tomllib.loads("[[device]]\n" + block)["device"][0]["tag"]
    assert tag == {"measures": "tank.quantity", "read": read}
    assert TagSection.model_validate(tag).read.address == 40001


@pytest.mark.parametrize("after", [0, 59, 612, 3010, 9999])
@pytest.mark.parametrize("word", [705, 66, 4200, 9999])
def test_a_plain_number_of_up_to_four_digits_comes_before_what_swapping_makes_of_it(
    word, after
):
    first = candidates([word, after, 0, 0])[0]
    assert (first.order, first.value) == ("ABCD", word)


@pytest.mark.parametrize("value", [61.25, -8.16, 1234.5])
def test_a_float_of_the_usual_orders_still_comes_first(value):
    high, low = struct.unpack(">2H", struct.pack(">f", value))
    assert candidates([high, low])[0].type == "float32"
    assert candidates([high, low])[0].order == "ABCD"


def test_a_guess_is_called_one_and_silence_is_told_once_with_what_to_do():
    told = "\n".join(
        commissioning.stretch_rows(Stretch(first=0, count=1, words=(705,)), "holding")
    )
    assert 'type = "uint16"' in told
    assert "a guess at 0" in told
    assert "ready" not in told
    silent = stretch_of(3, 0, 4, Broken(Failure.SILENT, "no answer"))
    (row,) = commissioning.stretch_rows(silent, "holding")
    assert row.count("no answer") == 1
    assert "--unit" in row
