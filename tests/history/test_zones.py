"""Days as people count them: 23, 24 and 25 hours."""

from __future__ import annotations

from datetime import UTC, date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.history import zones

HOUR_NS = 3600 * 10**9
BERLIN = zones.zone("Europe/Berlin")
ZONES = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "UTC"]


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        # Directive 2000/84/EC: the last Sundays of March and October, at 01:00 UTC.
        (date(2026, 3, 28), 24),
        (date(2026, 3, 29), 23),
        (date(2026, 10, 25), 25),
        (date(2026, 10, 26), 24),
    ],
)
def test_days_in_which_clocks_are_set_have_23_and_25_hours(day, hours):
    begin, end = zones.day_span(day, BERLIN)

    assert end - begin == hours * HOUR_NS


@given(st.dates(date(1975, 1, 1), date(2036, 12, 31)), st.sampled_from(ZONES))
def test_days_follow_each_other_without_a_gap(day, name):
    where = zones.zone(name)
    _, end = zones.day_span(day, where)

    following = zones.days_between((end, end + 1), where)[0]

    assert zones.day_span(following, where)[0] == end


@given(st.integers(0, 2 * 10**18), st.sampled_from(ZONES))
def test_a_time_is_the_same_in_every_zone(moment_ns, name):
    moment_ns -= moment_ns % 1000

    assert zones.utc_ns(zones.at(moment_ns, zones.zone(name))) == moment_ns


def test_a_span_over_both_hours_is_25_hours_of_utc():
    begin = zones.read("2026-10-25", BERLIN)
    end = zones.read("2026-10-26", BERLIN)

    assert end - begin == 25 * HOUR_NS
    assert zones.days_between((begin, end), BERLIN) == [date(2026, 10, 25)]


def test_of_two_equal_times_the_first_is_meant_unless_an_offset_is_written():
    first = zones.read("2026-10-25T02:30", BERLIN)

    assert first == zones.read("2026-10-25T02:30+02:00", BERLIN)
    assert zones.read("2026-10-25T02:30+01:00", BERLIN) == first + HOUR_NS
    assert zones.read("2026-10-25T00:30Z", BERLIN) == first


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2026-03-29T02:30", "left out when clocks were put forward"),
        ("yesterday", "write it as"),
        ("2026-13-01", "write it as"),
    ],
)
def test_what_no_clock_ever_showed_is_refused(text, said):
    with pytest.raises(ValueError, match=said):
        zones.read(text, BERLIN)


def test_a_zone_that_is_not_known_is_refused_with_an_example():
    with pytest.raises(ValueError, match="no time zone 'Berlin' is known; write it as"):
        zones.zone("Berlin")


def test_utc_is_known_without_any_files():
    assert zones.zone("UTC") is UTC


def test_the_machine_s_own_zone_gives_days_too(monkeypatch):
    monkeypatch.setenv("TZ", "America/New_York")
    begin, end = zones.day_span(date(2026, 3, 8), zones.zone(""))

    # Energy Policy Act of 2005, section 110: the second Sunday of March.
    assert end - begin == 23 * HOUR_NS


def test_an_hour_alone_is_the_last_one_before_a_moment_by_the_zones_clock():
    noon = zones.read("2026-10-25T12:00", BERLIN)
    assert zones.before("06:00", noon, BERLIN) == zones.read("2026-10-25T06:00", BERLIN)
    # The hour put back lies between: the evening before is 19 hours ago, not 18.
    assert noon - zones.before("18:00", noon, BERLIN) == 19 * HOUR_NS
    assert zones.before("6:00", noon, BERLIN) == zones.before("06:00", noon, BERLIN)
    assert not zones.is_time_of_day("2026-10-25T06:00")


@pytest.mark.parametrize("text", ["0001-01-01", "9999-12-31", "2300-01-01T00:00Z"])
def test_a_year_that_no_record_can_have_is_refused(text):
    with pytest.raises(ValueError, match="years from"):
        zones.read(text, BERLIN)
