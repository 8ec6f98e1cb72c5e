"""Floods and figures of alarm performance, against published values."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.alarms.flood import BURST_NS, WINDOW_NS, Flood, flood_intervals
from linewatch.core.alarms.performance import (
    CHATTER_COUNT,
    CHATTER_NS,
    PRIORITY_PERCENT,
    STALE_NS,
    TARGETS,
    Announcement,
    performance,
    steady_word,
    upset_word,
)
from linewatch.core.plan import LinePlan

NS = 10**9
MINUTE = 60 * NS
HOUR = 60 * MINUTE
CHECKS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}


def usual(name: str) -> float:
    return LinePlan.__dataclass_fields__[name].default


# The group 'alarm' of the outside values, all published rows of it.

TARGET_OF = {
    "alarm.rate_10min": "per 10 min",
    "alarm.rate_hour": "per hour",
    "alarm.rate_day": "per day",
    "alarm.flood.pct_time": "time in flood",
    "alarm.pct_10min_gt10": "10 min with more than 10",
    "alarm.pct_hours_gt30": "hours with more than 30",
    "alarm.max_10min": "most in 10 min",
    "alarm.top10": "share of the ten most frequent",
    "alarm.stale_count": "stale",
    "alarm.chatter_target": "chattering or fleeting",
}
ELSEWHERE = {
    "alarm.flood.start": "test_a_flood_starts_at_the_published_count_on_either_side_of_it",
    "alarm.flood.end": "test_a_flood_ends_below_the_conventional_count",
    "alarm.stale": "test_an_alarm_is_stale_after_the_published_time",
    "alarm.priority3": "test_the_split_by_priority_is_the_published_one",
    "alarm.deadband.flow": "test_conditions.py",
    "alarm.deadband.pressure": "test_conditions.py",
    "alarm.deadband.temperature": "test_conditions.py",
    "alarm.eemua_steady": "test_the_words_for_a_steady_rate_are_those_of_the_book",
    "alarm.eemua_upset": "test_the_words_for_an_upset_are_those_of_the_book",
}


def test_every_published_row_about_alarms_is_used():
    published = {
        name
        for name, row in CHECKS.items()
        if name.startswith("alarm.") and row["basis"] == "published"
    }

    assert published == set(TARGET_OF) | set(ELSEWHERE)


@pytest.mark.published
@pytest.mark.parametrize("name", TARGET_OF)
def test_a_target_is_the_published_one(name: str):
    row, target = CHECKS[name], TARGETS[TARGET_OF[name]]
    value = row["value"]
    good, most = value if isinstance(value, list) else (value, value)

    assert target.good == pytest.approx(good, rel=row.get("rel_tol", 0.0))
    assert target.most == pytest.approx(most, rel=row.get("rel_tol", 0.0))
    assert target.unit == row["unit"]


@pytest.mark.published
@pytest.mark.parametrize(("short_of", "begins"), [(1, False), (0, True)])
def test_a_flood_starts_at_the_published_count_on_either_side_of_it(short_of, begins):
    count = CHECKS["alarm.flood.start"]["value"] - short_of
    flood = Flood(usual("flood_start_per_10min"), usual("flood_end_per_10min"))
    begun = [flood.announced(alarm, alarm * NS) for alarm in range(count)]

    assert begun[-1] is begins
    assert not any(begun[:-1])
    assert flood.is_on is begins


def test_more_than_ten_is_written_as_eleven():
    """The 2016 text says 'e.g. more than 10': a setting, not a second rule."""
    flood = Flood(11, 5)
    begun = [flood.announced(alarm, alarm * NS) for alarm in range(11)]

    assert begun == [False] * 10 + [True]


@pytest.mark.published
def test_a_flood_ends_below_the_conventional_count():
    """EEMUA 191's convention."""
    end = CHECKS["alarm.flood.end"]["value"]
    assert usual("flood_end_per_10min") == end
    flood = Flood(10, end)
    for alarm in range(10):
        flood.announced(alarm, alarm * MINUTE)

    # Four minutes later four of the ten are older than ten minutes, then five, then six.
    assert not flood.passed(WINDOW_NS + 4 * MINUTE - 1)
    assert not flood.passed(WINDOW_NS + 4 * MINUTE)
    assert flood.passed(WINDOW_NS + 5 * MINUTE)
    assert not flood.passed(WINDOW_NS + 6 * MINUTE)


@pytest.mark.published
def test_intervals_in_flood_are_those_of_the_worked_example():
    row = CHECKS["alarm.flood.worked"]
    counts = [int(each) for each in row["quantity"].split()[2].split(",")]

    assert flood_intervals(counts, start=10, end=5) == row["value"]


@pytest.mark.published
@pytest.mark.parametrize(("longer_ns", "stale"), [(0, ()), (1, ("a",))])
def test_an_alarm_is_stale_after_the_published_time(longer_ns, stale):
    limit_ns = round(CHECKS["alarm.stale"]["value"] * HOUR)
    assert limit_ns == STALE_NS
    stands = Announcement(alarm="a", priority="low", at_ns=0)

    assert performance([stands], (0, limit_ns + longer_ns)).stale == stale


@pytest.mark.published
def test_the_split_by_priority_is_the_published_one():
    low, medium, high = CHECKS["alarm.priority3"]["value"]

    assert PRIORITY_PERCENT["low"] == low
    assert PRIORITY_PERCENT["medium"] == medium
    assert PRIORITY_PERCENT["high"] == high


def test_what_chatters_is_as_commonly_defined():
    """From memory: compared, and no oracle. A change of ours would be noticed here."""
    assert [CHATTER_COUNT, CHATTER_NS / NS] == [3, 60]


# Floods.


def test_the_first_of_the_burst_is_told_not_an_older_alarm():
    flood = Flood(4, 2)
    flood.announced(7, 0)
    for k, alarm in enumerate((1, 2, 3)):
        flood.announced(alarm, 5 * MINUTE + k * NS)

    assert flood.is_on
    assert flood.first_out == 1


def test_a_burst_goes_on_while_alarms_are_close():
    flood = Flood(3, 2)
    for k, alarm in enumerate((5, 6, 7)):
        flood.announced(alarm, k * BURST_NS)

    assert flood.first_out == 5


@given(
    times=st.lists(st.integers(0, 3600), max_size=80).map(sorted),
    start=st.integers(2, 12),
)
def test_a_flood_is_on_only_with_enough_alarms_and_ends_only_with_few(times, start):
    end = max(1, start // 2)
    flood = Flood(start, end)
    for k, second in enumerate(times):
        flood.passed(second * NS)
        flood.announced(k, second * NS)
        recent = [s for s in times[: k + 1] if s > second - 600]
        if len(recent) >= start:
            assert flood.is_on
        if len(recent) < end:
            assert not flood.is_on
        assert flood.is_on == (flood.first_out >= 0)


# Performance.


def alarm(minute: float, name: str = "a", lasts_s: float | None = 60.0, priority="low"):
    at_ns = round(minute * MINUTE)
    over_ns = None if lasts_s is None else at_ns + round(lasts_s * NS)
    return Announcement(alarm=name, priority=priority, at_ns=at_ns, over_ns=over_ns)


def test_a_quiet_day_is_all_zeros():
    found = performance([], (0, 24 * HOUR))

    assert set(found.figures().values()) == {0.0}
    assert set(found.figures()) == set(TARGETS)


def test_rates_are_over_the_span():
    found = performance([alarm(10.0 * k, f"a{k}") for k in range(12)], (0, 2 * HOUR))

    assert (found.per_10min, found.per_hour, found.per_day) == (1.0, 6.0, 144.0)
    assert found.most_in_10min == 1


def test_busy_stretches_are_told():
    burst = [alarm(61 + k / 10, f"a{k}") for k in range(35)]
    found = performance(burst, (0, 4 * HOUR))

    # It begins with the tenth, at 61.9 min, and is over when the 31st is ten minutes old.
    assert found.most_in_10min == 35
    assert found.busy_10min_percent == pytest.approx(100 / 24)
    assert found.busy_hour_percent == 25.0
    assert found.flood_percent == pytest.approx(100 * (74.0 - 61.9) / 240.0)


def test_the_most_frequent_come_first_with_their_share():
    many = [alarm(k * 5.0, "often") for k in range(8)]
    few = [alarm(k * 5.0 + 1.0, f"seldom-{k}") for k in range(12)]
    found = performance(sorted(many + few, key=lambda each: each.at_ns), (0, 2 * HOUR))

    assert found.top[0] == ("often", 8)
    assert len(found.top) == 10
    assert found.top_percent == pytest.approx(100 * 17 / 20)


def test_chattering_and_fleeting_alarms_are_named():
    rattling = [alarm(k / 3, "rattles", 5.0) for k in range(3)]
    calm = [alarm(k, "calm", 30.0) for k in range(10)]
    found = performance([*rattling, *calm, alarm(20.0, "blinks", 1.0)], (0, HOUR))

    assert found.chattering == ("rattles",)
    assert found.fleeting == ("blinks",)
    assert found.figures()["chattering or fleeting"] == 2.0


def test_priorities_share_the_announcements():
    low = [alarm(k, "a", priority="low") for k in range(3)]
    found = performance([*low, alarm(4, "b", priority="highest")], (0, HOUR))

    assert found.priority_percent == {"low": 75.0, "medium": 0.0, "high": 0.0, "highest": 25.0}


def test_a_burst_on_the_edge_of_two_intervals_is_the_flood_that_the_line_told():
    burst = [alarm(9.0 + k / 6, f"a{k}") for k in range(14)]
    live = Flood(10.0, 5.0)
    begun = [each.at_ns for each in burst if live.announced(0, each.at_ns)]
    found = performance(burst, (0, 60 * MINUTE))

    assert len(begun) == 1
    assert found.most_in_10min == 14
    over = 9.0 + 9 / 6 + 10.0
    assert found.flood_percent == pytest.approx(100 * (over - begun[0] / MINUTE) / 60.0)
    assert found.busy_10min_percent == 0.0


def test_the_last_interval_counts_for_as_long_as_it_lasted():
    burst = [alarm(12.0 + k / 20, f"a{k}") for k in range(12)]
    found = performance(burst, (0, 15 * MINUTE))

    assert (found.announced, found.most_in_10min) == (12, 12)
    assert found.flood_percent == pytest.approx(100 * (15.0 - 12.45) / 15.0)
    assert found.busy_10min_percent == pytest.approx(100 / 3)


def test_a_record_shorter_than_any_interval_does_not_contradict_itself():
    burst = [alarm(k / 15, f"a{k}") for k in range(87)]
    found = performance(burst, (0, 7 * MINUTE))

    assert found.most_in_10min == found.announced == 87
    assert found.flood_percent == pytest.approx(100 * (7.0 - 9 / 15) / 7.0)
    assert found.busy_10min_percent == 100.0
    assert found.busy_hour_percent == 100.0
    assert upset_word(found.most_in_10min) == "difficult"
    calm = performance([alarm(1.0), alarm(7.0)], (0, 7 * MINUTE))
    assert (calm.most_in_10min, calm.flood_percent, calm.busy_10min_percent) == (2, 0.0, 0.0)


@pytest.mark.published
def test_the_words_for_a_steady_rate_are_those_of_the_book():
    # EEMUA 191, 3rd edition, page 96: acceptable/manageable/over-demanding/unacceptable.
    row = CHECKS["alarm.eemua_steady"]
    words = row["quantity"].rpartition(": ")[2].split("/")
    first, *steps, last = row["value"].split("; ")
    assert first == "<1 per 10 min"
    assert last == ">1 per 1 min"

    rates = [10.0 / float(step.split()[2]) for step in steps]  # '1 per 5 min'
    assert steady_word(0.99) == words[0]
    assert [steady_word(rate) for rate in rates] == words[1:3]
    assert steady_word(10.1) == words[3]


@pytest.mark.published
def test_the_words_for_an_upset_are_those_of_the_book():
    # EEMUA 191, 3rd edition, page 97: manageable/difficult/excessive.
    row = CHECKS["alarm.eemua_upset"]
    words = row["quantity"].rpartition(": ")[2].split("/")
    few, some, many = row["value"].split("; ")
    assert few.startswith("<")
    assert many.startswith(">")

    low, high = (int(each) for each in some.split("-"))
    assert upset_word(int(few[1:]) - 1) == words[0]
    assert [upset_word(low), upset_word(high)] == [words[1]] * 2
    assert upset_word(int(many[1:]) + 1) == words[2]
