"""Whatever is written is read back bit by bit."""

from __future__ import annotations

import struct

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from linewatch.core.commands import COMMANDS, Acknowledge, Shelve
from linewatch.core.ports import Order, Stood
from linewatch.core.readings import Layout
from linewatch.history import codec
from tests.history.made_up import TANKS, moment, run_start, tick

ANY_BITS = st.integers(0, 2**64 - 1).map(
    lambda bits: struct.unpack("<d", struct.pack("<Q", bits))[0]
)
SINGLES = st.floats(width=32)
COUNTS = st.integers(-(2**31), 2**31 - 1).map(float)


@st.composite
def blocks(draw):
    tags = draw(st.integers(0, 40))
    value = draw(hnp.arrays(np.float64, tags, elements=st.just(0.0)))
    for column in range(tags):
        value[column] = draw(ANY_BITS | SINGLES | COUNTS | st.just(-0.0))
    quality = draw(
        hnp.arrays(np.uint8, tags, elements=st.integers(0, 255))
        | st.integers(0, 255).map(lambda one: np.full(tags, one, dtype=np.uint8))
    )
    return value, quality


@given(blocks())
def test_a_block_comes_back_bit_by_bit(block):
    value, quality = block

    back_value, back_quality = codec.unpack_block(codec.pack_block(value, quality), len(value))

    assert back_value.tobytes() == value.tobytes()
    assert back_quality.tobytes() == quality.tobytes()
    assert back_value.dtype == np.float64
    assert back_quality.dtype == np.uint8


@given(blocks(), st.data())
def test_the_sources_times_come_back_with_the_block(block, data):
    value, quality = block
    times = st.integers(-(2**62), 2**62)
    source = data.draw(hnp.arrays(np.int64, len(value), elements=times))
    body = codec.pack_block(value, quality, source)
    plain = codec.pack_block(value, quality)

    (first, none) = codec.unpack_sources([body, plain], len(value))

    assert first.tolist() == source.tolist()
    assert set(none.tolist()) <= {codec.NO_SOURCE}
    assert codec.unpack_sources([plain], len(value)) is None
    back_value, back_quality = codec.unpack_blocks([body, plain], len(value))
    assert back_value.tobytes() == value.tobytes() * 2
    assert back_quality.tobytes() == quality.tobytes() * 2
    for column in range(len(value)):
        one, doubt = codec.unpack_column([body, plain], len(value), column)
        assert one.tobytes() == value[column : column + 1].tobytes() * 2
        assert doubt.tolist() == [quality[column]] * 2


def test_equal_qualities_cost_one_byte():
    value, quality = np.zeros(100), np.full(100, 0x81, dtype=np.uint8)

    assert len(codec.pack_block(value, quality)) == 2 + 8 * 100


@given(st.text(), st.text(), st.lists(st.text(), max_size=5), st.integers(1, 2**62))
def test_a_layout_is_known_by_its_content(link, device, tags, period_ns):
    layout = Layout(link=link, device=device, tags=tuple(tags), period_ns=period_ns)

    assert codec.layout_of(codec.layout_text(layout)) == layout


@given(st.dictionaries(st.text(), st.binary()))
def test_a_memory_comes_back_whole_whatever_its_order(memory):
    packed = codec.pack_memory(memory)

    assert codec.unpack_memory(packed) == memory
    assert codec.pack_memory(dict(reversed(memory.items()))) == packed


def test_ticks_orders_run_starts_and_standing_still_come_back():
    entries = [
        tick(1.0),
        run_start(2.0),
        Stood(at=moment(2.5), for_ns=12_000_000_007),
        Order(request=7, command=Acknowledge(who="ab", alarm="*"), at=moment(3.0)),
        Order(
            request=8, command=Shelve(who="ä", alarm="x", for_s=0.1, why="[b]"), at=moment(4.0)
        ),
    ]
    for entry in entries:
        kind, body = codec.pack_entry(entry)

        assert codec.unpack_entry(kind, None, codec.moment_of(entry), body) == entry


def test_every_command_comes_back():
    samples = {str: "x", float: 1.5, int: 3}
    for kind in COMMANDS.values():
        parts = {
            name: samples.get({"str": str, "float": float}.get(annotation, int), 3)
            for name, annotation in _fields(kind).items()
        }
        command = kind(**parts)

        assert codec.command_of(codec.command_parts(command)) == command


def _fields(kind):
    import dataclasses

    return {field.name: field.type for field in dataclasses.fields(kind)}


def test_layout_of_the_made_up_line_is_plain_text():
    assert codec.layout_text(TANKS).startswith('{"device":"tank-io","link":"tanks"')
