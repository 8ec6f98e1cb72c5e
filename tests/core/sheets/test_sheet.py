"""The check sheet: what is not read is a blank, what was signed is read back as it was."""

from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.events import Event, EventKind
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.pages import Shown
from linewatch.core.plan import TANK_KINDS, Window
from linewatch.core.readings import Quality
from linewatch.core.sheets.items import BY_HAND, WANTED, item_of
from linewatch.core.sheets.page import BLANK, Heading, sheet_page
from linewatch.core.sheets.seen import CheckPicture
from linewatch.core.sheets.sheet import (
    READ_WHOLE,
    Place,
    Read,
    blanks,
    checks_in,
    judged,
    parts_of,
    read_of,
    reads_in,
    sheet,
)
from linewatch.core.sheets.shifts import shift_of

HOUR = 3600 * 10**9
NICKEL = Place(id="nickel-1", name="14 Nickel 1", kind="plate")
SHOWN = Shown("metric", str)


@dataclass
class Figure:
    value: float | None
    quality: int
    low: float | None = 55.0
    high: float | None = 65.0
    side: str = ""


def found(item: str, words: str, *, bad: bool = False, at: int = 5) -> CheckPicture:
    return CheckPicture(
        subject="nickel-1", item=item, found=words, is_bad=bad, who="AB", utc_ns=at
    )


def test_what_is_asked_for_is_a_blank_where_nothing_reads_it():
    (position,) = sheet([NICKEL], {"nickel-1": {"temperature": Read(value=60.0)}}, [])
    read = dict(position.reads)
    assert read["temperature"].value == 60.0
    assert {name for name, each in read.items() if each.value is None} == {
        "level",
        "ph",
        "pressure.filter",
    }
    assert all(check.found is None for check in position.checks)
    assert blanks([position]) == 3 + len(position.checks)
    assert not position.is_whole


def test_a_value_that_is_not_good_is_a_blank_and_one_by_hand_is_said_to_be():
    bad = read_of(Figure(61.0, int(Quality.STALE), side="high"))
    assert (bad.value, bad.side, bad.low) == (None, "", 55.0)
    hand = read_of(Figure(61.0, int(Quality.BY_HAND)))
    assert (hand.value, hand.is_by_hand) == (61.0, True)
    assert read_of(Figure(None, int(Quality.GOOD))).value is None


def test_signals_that_are_no_quantity_are_left_out():
    reads = {"nickel-1": {"load-present": Read(value=1.0), "load-number": Read(value=7.0)}}
    (position,) = sheet([NICKEL], reads, [])
    assert not {name for name, _ in position.reads} & {"load-present", "load-number"}


def test_of_one_item_the_last_that_was_found_counts():
    told = [found("bags", "two torn", bad=True), found("bags", "good", at=9)]
    (position,) = sheet([NICKEL], {}, told)
    bags = next(check for check in position.checks if check.item == "bags")
    assert bags.found is not None
    assert (bags.found.found, bags.found.utc_ns) == ("good", 9)


@given(
    st.dictionaries(
        st.sampled_from(["temperature", "ph", "level", "pressure.filter"]),
        st.tuples(
            st.one_of(st.none(), st.floats(-1e6, 1e6)),
            st.one_of(st.none(), st.floats(-1e6, 0.0)),
            st.one_of(st.none(), st.floats(0.0, 1e6)),
        ),
    )
)
def test_what_was_signed_is_read_back_as_it_was(rows):
    reads = {
        name: judged(value, Window(low=low, high=high))
        for name, (value, low, high) in rows.items()
    }
    event = Event(
        kind=EventKind.NOTE,
        subject="nickel-1",
        utc_ns=1,
        mono_ns=1,
        text="",
        values={"what": READ_WHOLE, **parts_of("nickel-1", reads), **parts_of("zinc", reads)},
    )
    kept = {name: read for name, read in reads.items() if read.value is not None}
    assert reads_in(event) == ({"nickel-1": kept, "zinc": kept} if kept else {})


def test_a_signature_of_an_event_a_position_as_it_was_before_is_still_read():
    event = Event(
        kind=EventKind.NOTE,
        subject="nickel-1",
        utc_ns=1,
        mono_ns=1,
        text="sheet: 2 read",
        values={
            "what": "sheet",
            "by": "AB",
            "read pressure.filter": 1.5,
            "low pressure.filter": 0.0,
            "high pressure.filter": None,
            "side pressure.filter": "",
            "by-hand pressure.filter": False,
        },
    )
    assert reads_in(event) == {"nickel-1": {"pressure.filter": Read(value=1.5, low=0.0)}}


def test_the_page_shows_dots_where_nothing_is_known_and_nothing_else_there():
    reads = {"nickel-1": {"temperature": judged(70.0, Window(low=55.0, high=65.0))}}
    heading = Heading(line="Works", span=(0, 8 * HOUR), utc_ns=5)
    page = sheet_page(
        heading, sheet([NICKEL], reads, [found("bags", "two torn", bad=True)]), SHOWN
    )
    (table,) = page.tables
    rows = {row[1]: row for row in table.rows}
    assert rows["temp"][2:6] == ("70.0 °C", "55 to 65", "HIGH", "")
    assert rows["level"][2] == BLANK
    assert rows["level"][4] == ""
    bags = next(row for text, row in rows.items() if "bags" in text)
    assert bags[4:] == ("BAD", "two torn", "AB 5")
    assert "not signed yet" in page.below


def test_only_what_tells_of_a_check_is_one():
    event = Event(kind=EventKind.NOTE, subject="x", utc_ns=1, mono_ns=1, text="", values={})
    assert checks_in(event) == ()
    assert reads_in(event) == {}


def test_every_kind_of_position_and_quantity_that_is_named_exists():
    kinds = {*TANK_KINDS, "rectifier", "line"}
    assert set(BY_HAND) == kinds
    assert set(WANTED) <= kinds
    for wanted in WANTED.values():
        assert all(each.partition(".")[0] in MEASUREMENTS for each in wanted)
    for kind, items in BY_HAND.items():
        assert len({each.id for each in items}) == len(items)
        assert all(item_of(kind, each.id) is each for each in items)


@given(st.integers(0, 72 * HOUR), st.sampled_from([4.0, 6.0, 8.0, 12.0]))
def test_every_moment_lies_in_one_shift_and_shifts_join(offset, hours):
    base = 20_000 * 24 * HOUR
    now = base + offset
    midnight = now // (24 * HOUR) * 24 * HOUR
    days = (midnight, midnight - 24 * HOUR, midnight + 24 * HOUR)
    begin, end = shift_of(now, days, hours * 3600.0)
    assert begin <= now < end
    assert end - begin == hours * HOUR
    assert (begin - 6 * HOUR) % round(hours * HOUR) == base % round(hours * HOUR)


def test_the_last_shift_of_a_day_on_which_clocks_are_set_is_an_hour_longer():
    today = 20_000 * 24 * HOUR
    tomorrow = today + 25 * HOUR
    begin, end = shift_of(today + 23 * HOUR, (today, today - 24 * HOUR, tomorrow), 8 * 3600.0)
    assert (begin, end) == (today + 22 * HOUR, tomorrow + 6 * HOUR)


def test_a_signal_that_cannot_be_read_says_why_with_its_window_and_leaves_a_blank():
    broken = read_of(Figure(None, int(Quality.SENSOR_FAULT)))
    assert broken.why == "sensor fault"
    positions = sheet([NICKEL], {"nickel-1": {"temperature": broken}}, [])
    page = sheet_page(Heading(line="Line", span=(0, 8 * HOUR), utc_ns=HOUR), positions, SHOWN)
    row = next(each for each in page.tables[0].rows if each[1] == "temp")
    assert row[2:6] == ("sensor fault", "55 to 65", "", BLANK)
    assert not positions[0].is_whole


def test_an_acidity_is_called_as_people_write_it_and_only_once():
    reads = {"nickel-1": {"ph": Read(value=4.2, low=3.9, high=4.5)}}
    page = sheet_page(
        Heading(line="Line", span=(0, 8 * HOUR), utc_ns=HOUR), sheet([NICKEL], reads, []), SHOWN
    )
    row = next(each for each in page.tables[0].rows if each[1] == "pH")
    assert row[2] == "4.20"
    assert not [each for each in page.tables[0].rows if each[1] == "ph"]
