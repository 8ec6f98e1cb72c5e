"""The newest reading of every item: what counts, what is covered, what is missed."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from asyncua import ua
from hypothesis import given
from hypothesis import strategies as st

from linewatch.config.links import TagRead
from linewatch.config.model import Read
from linewatch.core.readings import Layout, Moment, Quality
from linewatch.drivers.opcua.items import item_of
from linewatch.drivers.opcua.newest import Newest
from linewatch.drivers.opcua.notes import Notes

START = datetime(2025, 6, 1, tzinfo=UTC)
NS = 1_000_000_000
TAGS = ("a.temperature", "b.temperature")
LAYOUT = Layout(link="ua", device="server", tags=TAGS, period_ns=NS)


def at(seconds: float) -> Moment:
    utc_ns = round(START.timestamp()) * NS + round(seconds * NS)
    return Moment(utc_ns=utc_ns, mono_ns=round(seconds * NS))


def sent(value: object, source_s: float | None = None, status: int = 0) -> ua.DataValue:
    time = None if source_s is None else START + timedelta(seconds=source_s)
    return ua.DataValue(
        ua.Variant(value), ua.StatusCode(ua.UInt32(status)), SourceTimestamp=time
    )


@pytest.fixture
def newest() -> Newest:
    reads = [
        TagRead(tag=tag, unit="degC", low=-30, high=350, period_ns=NS, read=Read(node="s=T"))
        for tag in TAGS
    ]
    return Newest([item_of(read, "urn:test") for read in reads], 60 * NS)


def values(newest: Newest) -> list[float]:
    return newest.block(LAYOUT, at(100)).value.tolist()


def qualities(newest: Newest) -> list[int]:
    return newest.block(LAYOUT, at(100)).quality.tolist()


def test_before_anything_arrived_nothing_has_a_value(newest):
    assert np.isnan(values(newest)).all()
    assert qualities(newest) == [Quality.NOT_YET] * 2


def test_a_read_that_is_older_than_a_notification_does_not_cover_it(newest):
    newest.notify(0, sent(48.0, source_s=5.0), at(5.1))
    newest.answer(0, sent(40.0, source_s=4.0), at(5.2))

    assert values(newest)[0] == 48.0


def test_a_read_that_is_younger_counts(newest):
    newest.notify(0, sent(48.0, source_s=5.0), at(5.1))
    newest.answer(0, sent(50.0, source_s=6.0), at(6.1))

    assert values(newest)[0] == 50.0


def test_without_source_times_what_arrives_last_counts(newest):
    newest.notify(0, sent(48.0), at(5.1))
    newest.answer(0, sent(50.0), at(6.1))
    newest.notify(0, sent(51.0), at(6.2))

    assert values(newest)[0] == 51.0


def test_a_source_clock_that_steps_back_holds_up_no_notification(newest):
    newest.notify(0, sent(48.0, source_s=30.0), at(30.1))
    newest.notify(0, sent(52.0, source_s=2.0), at(31.1))

    assert values(newest)[0] == 52.0


def test_a_change_that_is_read_twice_and_was_never_told_is_missed(newest):
    newest.notify(0, sent(48.0), at(1))

    assert not newest.answer(0, sent(50.0), at(60))
    assert newest.answer(0, sent(50.0), at(120))


def test_a_change_that_is_told_in_time_is_not_missed(newest):
    newest.notify(0, sent(48.0), at(1))
    newest.answer(0, sent(50.0), at(60))
    newest.notify(0, sent(50.0), at(61))

    assert not newest.answer(0, sent(50.0), at(120))


def test_a_value_that_moves_all_the_time_is_not_missed(newest):
    newest.notify(0, sent(48.0), at(1))

    assert not any(newest.answer(0, sent(50.0 + n), at(60 * n)) for n in range(1, 9))


def test_a_status_that_was_not_told_is_no_miss_but_counts(newest):
    newest.notify(0, sent(48.0), at(1))
    newest.answer(0, sent(48.0, status=0x808C0000), at(60))

    assert not newest.answer(0, sent(48.0, status=0x808C0000), at(120))
    assert qualities(newest)[0] == Quality.SENSOR_FAULT


def test_a_closed_item_has_no_value_whatever_arrives(newest):
    newest.notify(0, sent(48.0), at(1))
    newest.close(0, Quality.FOREIGN)
    newest.notify(0, sent(61.0), at(2))
    newest.answer(0, sent(62.0), at(3))

    assert np.isnan(values(newest)[0])
    assert qualities(newest)[0] == Quality.FOREIGN


def test_a_block_does_not_change_after_it_was_made(newest):
    newest.notify(0, sent(48.0), at(1))
    block = newest.block(LAYOUT, at(2))
    newest.notify(0, sent(49.0), at(3))

    assert block.value[0] == 48.0


def test_the_source_time_stands_where_it_is_believed_and_ours_elsewhere(newest):
    newest.notify(0, sent(48.0, source_s=5.0), at(6))
    newest.notify(1, sent(48.0, source_s=500.0), at(6))

    block = newest.block(LAYOUT, at(7))

    assert block.source_utc_ns is not None
    assert block.source_utc_ns.tolist() == [at(5).utc_ns, at(6).utc_ns]
    assert newest.offset_ns == 494 * NS


@given(st.lists(st.tuples(st.booleans(), st.floats(-50, 400), st.floats(0, 100)), max_size=30))
def test_every_good_value_was_sent_and_the_newest_source_time_is_kept(steps):
    item = item_of(
        TagRead(
            tag="a.temperature", unit="degC", low=-30, high=350, period_ns=NS,
            read=Read(node="s=T"),
        ),
        "urn:test",
    )  # fmt: skip
    newest = Newest([item], 1000 * NS)
    layout = Layout(link="ua", device="server", tags=("a.temperature",), period_ns=NS)
    held_s = -1.0
    for number, (is_read, value, source_s) in enumerate(steps):
        data = sent(value, source_s=source_s)
        if is_read:
            newest.answer(0, data, at(number))
        else:
            newest.notify(0, data, at(number))
        microseconds = timedelta(seconds=source_s) // timedelta(microseconds=1)
        if not is_read or microseconds >= held_s:
            held_s = microseconds
            last = value
        block = newest.block(layout, at(number))
        if -30 <= last <= 350:
            assert (block.value[0], block.quality[0]) == (last, Quality.GOOD)
        else:
            assert np.isnan(block.value[0])
            assert block.quality[0] == Quality.OUT_OF_RANGE


def test_findings_are_told_in_one_line_with_the_gravest_first():
    notes = Notes()
    notes.slower["a.ph"] = 5.0
    notes.missing.update({f"x.{n}": "BadNodeIdUnknown" for n in range(5)})
    notes.foreign["b.ph"] = "unit 'pH' became 'mV'"

    assert notes.text(-3 * NS) == (
        "1 changed: b.ph (unit 'pH' became 'mV'); "
        "5 missing: x.0 (BadNodeIdUnknown), x.1 (BadNodeIdUnknown), x.2 (BadNodeIdUnknown)"
        " and 2 more; "
        "it samples 1 only every 5 s; "
        "its clock is 3 s behind"
    )
    assert Notes().text(None) == ""
