"""What registers mean: types, orders, scales, sentinels, signals; and what may never leave."""

import struct
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.config.addresses import wire_address
from linewatch.config.links import TagRead
from linewatch.config.model import DeviceSection, Read, Signal
from linewatch.core.readings import Quality
from linewatch.drivers.modbus.decode import Decoder, spans_of
from linewatch.drivers.modbus.planner import DeviceMap, Request

CHECKS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text()
    )["check"]
}


def tag(address: int = 0, *, name: str = "t.count", low=-1e16, high=1e16, unit="", **read):
    return TagRead(
        tag=name,
        unit=unit,
        low=low,
        high=high,
        period_ns=10**9,
        read=Read(address=address, **read),
        address=address,
    )


def no_junction(_: str) -> tuple[float, int]:
    raise AssertionError("nobody asked for a cold junction")


def decoded(tags: list[TagRead], registers: bytes, *, junction=no_junction):
    """Decode tags whose registers begin at address 0."""
    decoder = Decoder(tags, DeviceMap(largest_hole=124).plan(spans_of(tags), 0.0))
    sheet = decoder.sheet()
    for request in decoder.plan.requests:
        start = 2 * request.address
        decoder.put(sheet, request, registers[start : start + 2 * request.count])
    return decoder.decoded(sheet, junction)


def one(registers: str | bytes, **options):
    """Decode one tag at address 0; return its value and quality."""
    raw = bytes.fromhex(registers) if isinstance(registers, str) else registers
    value, quality = decoded([tag(**options)], raw)
    return float(value[0]), Quality(quality[0])


@pytest.mark.parametrize(
    ("order", "wire"),
    [
        ("ABCD", "41 20 00 00"),
        ("CDAB", "00 00 41 20"),
        ("BADC", "20 41 00 00"),
        ("DCBA", "00 00 20 41"),
    ],
)
def test_ten_is_ten_in_every_order(order, wire):
    assert one(wire, type="float32", order=order) == (10.0, Quality.GOOD)


@pytest.mark.parametrize(
    ("order", "wire"),
    [
        ("ABCD", "01 02 03 04 05 06 07 08"),
        ("CDAB", "07 08 05 06 03 04 01 02"),
        ("BADC", "02 01 04 03 06 05 08 07"),
        ("DCBA", "08 07 06 05 04 03 02 01"),
    ],
)
def test_the_orders_hold_for_four_registers(order, wire):
    assert one(wire, type="uint64", order=order, high=1e18) == (
        float(0x0102030405060708),
        Quality.GOOD,
    )


@pytest.mark.parametrize("wrong", ["CDAB", "BADC", "DCBA"])
def test_a_wrong_order_is_out_of_range_where_the_range_is_told(wrong):
    value, quality = one("42 C8 F3 33", type="float32", order=wrong, low=0.1, high=1000.0)
    assert quality is Quality.OUT_OF_RANGE
    assert np.isnan(value)


def test_the_outside_checks_of_words_hold():
    words = CHECKS["modbus.float100"]["value"]
    assert one(words, type="float32") == (100.0, Quality.GOOD)
    assert one("0000 42C8", type="float32", order="CDAB") == (100.0, Quality.GOOD)
    assert one(CHECKS["modbus.int_m40"]["value"], type="int16") == (-40.0, Quality.GOOD)


def test_a_negative_temperature_is_negative():
    assert one("FF F6", type="int16", scale=0.1) == (-1.0, Quality.GOOD)
    # Read as unsigned it lies beyond what the tag can be, and is refused.
    assert one("FF F6", type="uint16", scale=0.1, high=350.0)[1] is Quality.OUT_OF_RANGE


@pytest.mark.parametrize(
    ("kind", "fmt", "value"),
    [
        ("int16", ">h", -32768),
        ("uint16", ">H", 65535),
        ("int32", ">i", -2147483648),
        ("uint32", ">I", 4294967295),
        ("int64", ">q", -(2**40)),
        ("uint64", ">Q", 2**52),
        ("float32", ">f", -0.15625),
        ("float64", ">d", 1234567.891),
    ],
)
def test_every_type_reads_what_struct_packs(kind, fmt, value):
    assert one(struct.pack(fmt, value), type=kind) == (float(value), Quality.GOOD)


@pytest.mark.parametrize(
    ("wire", "kind", "sentinels"),
    [
        ("80 00", "int16", (-32768,)),
        ("80 00", "int16", (0x8000,)),
        ("7F FF", "int16", (0x7FFF,)),
        ("FF FF", "uint16", (0xFFFF,)),
        ("FF FF", "int16", (0xFFFF,)),
        ("FF FF", "uint16", (-1,)),
        ("80 00 00 00", "int32", (0x80000000,)),
        ("FF FF FF FF FF FF FF FF", "uint64", (-1,)),
        ("C6 1C 3C 00", "float32", (-9999,)),
        ("99 99", "bcd16", (9999,)),
    ],
)
def test_a_sentinel_is_a_sensor_fault_and_no_number(wire, kind, sentinels):
    value, quality = one(wire, type=kind, sentinels=sentinels, scale=0.1)
    assert quality is Quality.SENSOR_FAULT
    assert np.isnan(value)


@pytest.mark.parametrize("wire", ["7F C0 00 00", "7F 80 00 00", "FF 80 00 00", "7F 80 00 01"])
def test_nan_and_infinity_never_leave(wire):
    value, quality = one(wire, type="float32")
    assert quality is Quality.MALFORMED
    assert np.isnan(value)


def test_a_number_that_overflows_on_its_way_never_leaves():
    value, quality = one(struct.pack(">d", 1e308), type="float64", scale=10.0)
    assert quality is Quality.MALFORMED
    assert np.isnan(value)


def test_bcd_reads_its_digits():
    assert one("12 34", type="bcd16") == (1234.0, Quality.GOOD)
    assert one("12 34 56 78", type="bcd32") == (12345678.0, Quality.GOOD)
    assert one("56 78 12 34", type="bcd32", order="CDAB") == (12345678.0, Quality.GOOD)


@pytest.mark.parametrize("wire", ["12 3A", "A2 34", "F0 00", "12 B4"])
def test_a_nibble_above_nine_is_no_digit(wire):
    value, quality = one(wire, type="bcd16")
    assert quality is Quality.MALFORMED
    assert np.isnan(value)


@pytest.mark.parametrize("bit", range(16))
def test_a_bit_of_a_register_is_one_or_nothing(bit):
    assert one(struct.pack(">H", 1 << bit), type="bit", bit=bit)[0] == 1.0
    assert one(struct.pack(">H", 0xFFFF ^ 1 << bit), type="bit", bit=bit)[0] == 0.0


@pytest.mark.parametrize("table", ["coil", "discrete"])
def test_bits_come_lowest_address_first(table):
    # MODBUS Application Protocol V1.1b3, 6.1: coils 20 to 38 answer CD 6B 05; the LSB of the
    # first byte is coil 20, and 1 means ON.
    tags = [tag(19 + n, name=f"t{n}.running", table=table, type="bit") for n in range(19)]
    decoder = Decoder(tags, DeviceMap().plan(spans_of(tags), 0.0))
    (request,) = decoder.plan.requests
    sheet = decoder.sheet()
    decoder.put(sheet, request, bytes.fromhex("CD 6B 05"))
    value, quality = decoder.decoded(sheet, no_junction)
    assert value.astype(int).tolist() == [
        1, 0, 1, 1, 0, 0, 1, 1,
        1, 1, 0, 1, 0, 1, 1, 0,
        1, 0, 1,
    ]  # fmt: skip
    assert not quality.any()


def test_a_number_sent_as_text_is_that_number():
    assert one(b"  12.5\0xx", type="text", length=4) == (12.5, Quality.GOOD)
    assert one(b"1 \0\x002.5\0 ", type="text", length=4)[0] == 1.0
    # Two characters a register, the first one in its lower byte.
    assert one(b"215.", type="text", length=2, order="BADC") == (12.5, Quality.GOOD)


@pytest.mark.parametrize(
    "raw", [b"AB\0\x1b[2J\0", b"\xb0C", b"nan\0", b"inf\0", b"1_0\0", b"\0\0"]
)
def test_a_text_that_is_no_number_never_leaves(raw):
    value, quality = one(raw.ljust(8, b"\0"), type="text", length=4)
    assert quality is Quality.MALFORMED
    assert np.isnan(value)


def test_scale_and_offset_come_before_the_unit():
    assert one("00 D4", type="int16", unit="degC", scale=1.0) == (212.0, Quality.GOOD)
    value, quality = decoded(
        [
            TagRead(
                tag="t.temperature",
                unit="degC",
                low=-30.0,
                high=350.0,
                period_ns=1,
                read=Read(address=0, type="int16", scale=0.1, offset=2.0, unit="degF"),
            )
        ],
        struct.pack(">h", 2100),
    )
    # 0.1 x 2100 + 2 = 212 degF, where water boils: 100 degC by the definition of the scale.
    assert value[0] == pytest.approx(100.0, abs=1e-9)
    assert quality[0] == Quality.GOOD


LOOP = Signal(counts_at_4ma=4000.0, counts_at_20ma=20000.0, low="0 mm", high="800 mm")


@pytest.mark.parametrize(
    ("counts", "value", "quality"),
    [
        (4000, 0.0, Quality.GOOD),
        (12000, 400.0, Quality.GOOD),
        (20000, 800.0, Quality.GOOD),
        # NAMUR NE 43: 3.8 to 20.5 mA measures, 3.6 and less or 21 and more is a failure.
        (3800, -10.0, Quality.GOOD),
        (20500, 825.0, Quality.GOOD),
        (3700, -15.0, Quality.SOURCE_DOUBTFUL),
        (20700, 835.0, Quality.SOURCE_DOUBTFUL),
        (3600, np.nan, Quality.SENSOR_FAULT),
        (21000, np.nan, Quality.SENSOR_FAULT),
        (0, np.nan, Quality.SENSOR_FAULT),
        (65535, np.nan, Quality.SENSOR_FAULT),
    ],
)
def test_a_loop_current_is_judged_by_its_fault_limits(counts, value, quality):
    found = one(struct.pack(">H", counts), type="uint16", unit="mm", signal=LOOP)
    assert found[1] is quality
    assert found[0] == pytest.approx(value, nan_ok=True)


def test_a_loop_that_ends_in_another_unit_is_converted():
    loop = Signal(counts_at_4ma=0.0, counts_at_20ma=27648.0, low="32 degF", high="212 degF")
    value, quality = one(struct.pack(">H", 27648), type="uint16", unit="degC", signal=loop)
    assert value == pytest.approx(100.0)
    assert quality is Quality.GOOD


TEMPERATURES = {
    key: float(key.removeprefix("rtd.").replace("m", "-"))
    for key in CHECKS
    if key.startswith("rtd.") and CHECKS[key]["quantity"].startswith("Pt100 at ")
}


@pytest.mark.parametrize("key", TEMPERATURES)
def test_a_platinum_thermometer_reads_the_standards_table(key):
    check = CHECKS[key]
    value, quality = one(
        struct.pack(">d", check["value"]),
        type="float64",
        unit="degC",
        low=-200.0,
        high=850.0,
        sensor="pt100-ohm",
    )
    assert quality is Quality.GOOD
    # The least slope between -200 and 400 degC is 0.344 ohm/K, at its upper end.
    assert value == pytest.approx(TEMPERATURES[key], abs=check["abs_tol"] / 0.344)


@pytest.mark.parametrize("counts", [0, 1000, 65535])
def test_an_open_or_shorted_thermometer_is_a_sensor_fault(counts):
    found = one(
        struct.pack(">H", counts), type="uint16", scale=0.01, unit="degC", sensor="pt100-ohm"
    )
    assert found[1] is Quality.SENSOR_FAULT
    assert np.isnan(found[0])


def couple(*, scale=0.001):
    return tag(
        1,
        name="t.temperature",
        unit="degC",
        type="int16",
        scale=scale,
        sensor="tc-k-mv",
        cold_junction="c.temperature",
    )


def terminal(**options):
    return tag(0, name="c.temperature", unit="degC", type="int16", scale=0.1, **options)


def test_a_thermocouple_adds_its_cold_junction_as_a_voltage():
    measured_mv, true_degc, wrong_degc = CHECKS["tc.cj.K"]["value"]
    counts = round(measured_mv * 10000)
    tags = [terminal(), couple(scale=0.0001)]
    value, quality = decoded(tags, struct.pack(">hh", 250, counts))
    assert quality.tolist() == [Quality.GOOD] * 2
    assert value[1] == pytest.approx(true_degc, abs=CHECKS["tc.cj.K"]["abs_tol"])
    assert abs(value[1] - wrong_degc) > 0.5


def test_a_thermocouple_without_its_cold_junction_is_no_temperature():
    fault = terminal(sentinels=(-32768,))
    value, quality = decoded([fault, couple()], struct.pack(">hh", -32768, 1436))
    assert quality.tolist() == [Quality.SENSOR_FAULT] * 2
    assert np.isnan(value).all()


def test_a_voltage_that_no_thermocouple_gives_is_a_sensor_fault():
    # An open one is driven to the end of the scale.
    value, quality = decoded([terminal(), couple(scale=0.01)], struct.pack(">hh", 250, 32767))
    assert quality.tolist() == [Quality.GOOD, Quality.SENSOR_FAULT]
    assert np.isnan(value[1])


def test_a_thermocouple_whose_own_reading_failed_keeps_that_reason():
    tags = [terminal(), couple()]
    decoder = Decoder(tags, DeviceMap().plan(spans_of(tags), 0.0))
    sheet = decoder.sheet()
    sheet.fail(decoder.plan.requests[0].spans, Quality.BUSY)
    _, quality = decoder.decoded(sheet, no_junction)
    assert quality.tolist() == [Quality.BUSY] * 2


def test_a_cold_junction_elsewhere_is_asked_for():
    asked = []

    def junction(name: str) -> tuple[float, int]:
        asked.append(name)
        return 25.0, Quality.GOOD

    value, _ = decoded([couple()], struct.pack(">hh", 0, 1436), junction=junction)
    assert asked == ["c.temperature"]
    # One count is a microvolt, and type K gives 41 of them a kelvin.
    assert value[0] == pytest.approx(60.0, abs=1 / 41)

    value, quality = decoded(
        [couple()], struct.pack(">hh", 0, 1436), junction=lambda _: (np.nan, Quality.STALE)
    )
    assert quality[0] == Quality.STALE
    assert np.isnan(value[0])


def test_a_range_is_judged_in_the_tags_own_unit():
    assert one("00 64", low=0.0, high=100.0) == (100.0, Quality.GOOD)
    assert one("00 65", low=0.0, high=100.0)[1] is Quality.OUT_OF_RANGE


def test_a_reason_that_stands_already_is_kept():
    tags = [tag(0, low=5.0, high=6.0), tag(1, name="u.count")]
    decoder = Decoder(tags, DeviceMap().plan(spans_of(tags), 0.0))
    sheet = decoder.sheet()
    sheet.fail(decoder.plan.requests[0].spans, Quality.NO_ANSWER)
    value, quality = decoder.decoded(sheet, no_junction)
    assert quality.tolist() == [Quality.NO_ANSWER] * 2
    assert np.isnan(value).all()


def test_parts_of_a_request_are_laid_down_at_their_place():
    tags = [tag(n, name=f"t{n}.count", type="uint16") for n in range(4)]
    decoder = Decoder(tags, DeviceMap().plan(spans_of(tags), 0.0))
    (request,) = decoder.plan.requests
    sheet = decoder.sheet()
    last = Request(function=3, address=2, count=2, spans=request.spans[2:])
    decoder.put(sheet, last, struct.pack(">HH", 7, 8))
    sheet.fail(request.spans[:2], Quality.REFUSED)
    value, quality = decoder.decoded(sheet, no_junction)
    assert value.tolist()[2:] == [7.0, 8.0]
    assert quality.tolist() == [Quality.REFUSED, Quality.REFUSED, Quality.GOOD, Quality.GOOD]


def test_a_layout_of_nothing_but_holes_is_refused():
    known = DeviceMap()
    tags = [tag(0)]
    (request,) = known.plan(spans_of(tags), 0.0).requests
    known.refused_alone(request, 0.0)
    decoder = Decoder(tags, known.plan(spans_of(tags), 0.0))
    value, quality = decoder.decoded(decoder.sheet(), no_junction)
    assert quality.tolist() == [Quality.REFUSED]
    assert np.isnan(value[0])


@pytest.mark.parametrize(
    ("base", "table", "address", "wire"),
    [
        (0, "holding", 0, "03 00 00 00 01"),
        (1, "holding", 1, "03 00 00 00 01"),
        (40001, "holding", 40001, "03 00 00 00 01"),
        (400001, "holding", 400001, "03 00 00 00 01"),
        (40001, "holding", 41235, "03 04 D2 00 01"),
        (30001, "input", 30002, "04 00 01 00 01"),
        (300001, "input", 300002, "04 00 01 00 01"),
    ],
)
def test_the_address_on_the_wire_follows_the_manuals_style(base, table, address, wire):
    device = DeviceSection(id="d", link="l", base=base)
    read = Read(table=table, address=address, type="uint16")
    on_wire = TagRead(
        tag="t.count",
        unit="",
        low=0.0,
        high=1e9,
        period_ns=1,
        read=read,
        address=wire_address(device, read),
    )
    (span,) = spans_of([on_wire])
    assert struct.pack(">BHH", span.function, span.address, span.count) == bytes.fromhex(wire)


@given(
    st.lists(
        st.floats(width=32, allow_nan=False, allow_infinity=False), min_size=1, max_size=40
    ),
    st.sampled_from(["ABCD", "CDAB", "BADC", "DCBA"]),
)
def test_a_block_of_floats_reads_as_its_values_one_by_one(numbers, order):
    swap = {
        "ABCD": (0, 1, 2, 3),
        "CDAB": (2, 3, 0, 1),
        "BADC": (1, 0, 3, 2),
        "DCBA": (3, 2, 1, 0),
    }
    wire = b"".join(
        bytes(struct.pack(">f", number)[place] for place in swap[order]) for number in numbers
    )
    tags = [
        tag(2 * n, name=f"t{n}.count", type="float32", order=order, low=-1e39, high=1e39)
        for n in range(len(numbers))
    ]
    value, quality = decoded(tags, wire)
    assert value.tolist() == numbers
    assert not quality.any()


@given(st.binary(min_size=64, max_size=64))
def test_whatever_the_bytes_only_finite_plausible_numbers_leave(wire):
    tags = [
        tag(0, name="a.count", type="float32", low=-1e6, high=1e6),
        tag(2, name="b.count", type="float64", order="DCBA", low=-1e6, high=1e6),
        tag(6, name="c.count", type="bcd32", high=1e6),
        tag(8, name="d.count", type="int64", order="CDAB", low=-1e6, high=1e6),
        tag(12, name="e.count", type="text", length=4, low=-1e6, high=1e6),
        tag(16, name="f.count", type="int16", unit="degC", scale=0.1, sensor="pt100-ohm"),
        tag(17, name="g.count", type="uint16", unit="mm", signal=LOOP),
        tag(18, name="h.count", type="bit", bit=3),
        tag(20, name="i.count", type="float32", scale=1e38, low=-1e6, high=1e6),
    ]
    value, quality = decoded(tags, wire)
    bad = quality >= Quality.BAD
    assert np.isnan(value[bad]).all()
    assert np.isfinite(value[~bad]).all()
    assert (np.abs(value[~bad]) <= 1e16).all()
