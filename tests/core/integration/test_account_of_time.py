"""Metered, recovered, unmetered: where every nanosecond goes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.integration.charge import NS
from linewatch.core.integration.gaps import HELD_UP_NS, late_ns, longest_gap_ns, patience_ns
from linewatch.core.integration.ledger import ChargeLedger, Source
from linewatch.core.integration.steadiness import Steadiness

GAP_NS = longest_gap_ns(NS, 1.0)


def ledger_of(*seconds: float) -> ChargeLedger:
    ledger = ChargeLedger(Source(sign=1))
    for second in seconds:
        ledger.begin(round(second * NS))
        ledger.current(round(second * NS), 100.0, GAP_NS)
    return ledger


def parts(ledger: ChargeLedger, now_s: float) -> tuple[float, float, float, float]:
    total = ledger.totals(round(now_s * NS))
    return tuple(
        total[name] / NS
        for name in ("metered_ns", "recovered_ns", "unmetered_ns", "elapsed_ns")
    )


def test_before_the_first_block_there_is_no_time():
    assert parts(ChargeLedger(Source(sign=1)), 100.0) == (0, 0, 0, 0)


def test_a_bad_first_block_begins_the_account():
    ledger = ChargeLedger(Source(sign=1))
    ledger.begin(5 * NS)

    assert parts(ledger, 8.0) == (0, 0, 3, 3)


def test_a_gap_still_open_is_unmetered_and_becomes_metered_when_it_closes():
    ledger = ledger_of(0, 1, 2)

    assert parts(ledger, 2.5) == (2, 0, 0.5, 2.5)

    ledger.current(3 * NS, 100.0, GAP_NS)

    assert parts(ledger, 3.0) == (3, 0, 0, 3)


def test_two_lost_polls_are_bridged_and_three_are_a_gap():
    assert parts(ledger_of(0, 1, 4), 4.0) == (4, 0, 0, 4)
    assert parts(ledger_of(0, 1, 5), 5.0) == (1, 0, 4, 5)


def test_a_poll_that_comes_a_little_late_is_no_gap():
    assert parts(ledger_of(0, 1, 4.2), 4.2) == (4.2, 0, 0, 4.2)


def test_what_is_stated_holds_to_the_nanosecond():
    stated = longest_gap_ns(NS, 1.0, 5 * NS)
    ledger = ChargeLedger(Source(sign=1))
    for at_ns in (0, 5 * NS, 10 * NS + 1):
        ledger.begin(at_ns)
        ledger.current(at_ns, 100.0, stated)

    assert ledger.metered_ns == 5 * NS


def test_under_a_fast_clock_a_gap_is_what_no_poll_could_have_kept():
    # At 60 times, 20 ms of wall time between polls are 1.2 s of line time.
    assert longest_gap_ns(NS, 60.0) == 3 * 1_200_000_000 + 60 * HELD_UP_NS
    assert longest_gap_ns(10 * NS, 60.0) == 30 * NS + 60 * HELD_UP_NS
    assert longest_gap_ns(NS, 60.0, 2 * NS) == longest_gap_ns(NS, 60.0)
    assert longest_gap_ns(NS, 60.0, 3600 * NS) == 3600 * NS


def test_patience_with_silence_grows_with_the_clock_too():
    assert patience_ns(3 * NS, 1.0) == 3 * NS
    assert patience_ns(3 * NS, 60.0) == longest_gap_ns(0, 60.0) + late_ns(60.0)


def test_a_machine_that_is_late_by_a_second_makes_nothing_stale_under_a_fast_clock():
    for speed in (8.0, 60.0, 200.0):
        assert patience_ns(3 * NS, speed) > speed * NS


@given(st.lists(st.integers(1, 10 * NS), min_size=1, max_size=50), st.integers(0, 10 * NS))
def test_the_parts_add_up_to_what_has_gone_by(steps, later_ns):
    ledger, at_ns = ChargeLedger(Source(sign=1)), 0
    for step in steps:
        at_ns += step
        ledger.begin(at_ns)
        ledger.current(at_ns, 1.0, GAP_NS)
    total = ledger.totals(at_ns + later_ns)

    assert total["elapsed_ns"] == sum(steps[1:]) + later_ns
    assert total["elapsed_ns"] == (
        total["metered_ns"] + total["recovered_ns"] + total["unmetered_ns"]
    )
    assert total["metered_ns"] == sum(step for step in steps[1:] if step <= GAP_NS)


def test_a_current_is_steady_by_its_last_minute():
    steady = Steadiness()
    assert steady.spread_ratio(0) == float("inf")

    for second in range(61):
        steady.add(second * NS, 100 if second > 20 else 150)

    assert steady.spread_ratio(60 * NS) == 50 / 125

    for second in range(61, 100):
        steady.add(second * NS, 100)

    assert steady.spread_ratio(99 * NS) == 0.0
    assert steady.spread_ratio(200 * NS) == float("inf")


def test_no_current_is_not_steady():
    steady = Steadiness()
    steady.add(0, 0)

    assert steady.spread_ratio(0) == float("inf")


def swing(each_s: int, current) -> float:
    """Return the swing after two minutes of a current that is read every so many seconds."""
    steady = Steadiness()
    for second in range(0, 121, each_s):
        steady.add(second * NS, round(current(second)))
    return steady.swing_ratio(120 * NS)


@pytest.mark.parametrize("each_s", [1, 2, 5, 10])
@pytest.mark.parametrize("turn_s", [4.0, 25.0, 50.0])
def test_a_current_that_swings_is_told_by_both_halves_of_a_minute(each_s, turn_s):
    found = swing(each_s, lambda s: 1000.0 + 100.0 * math.sin(2 * math.pi * (s + 0.7) / turn_s))

    assert 0.06 < found <= 0.2


@pytest.mark.parametrize("each_s", [1, 2, 5, 10])
@pytest.mark.parametrize("at_s", range(60, 121, 7))
def test_one_step_or_ramp_is_no_swing_wherever_it_lies(each_s, at_s):
    assert swing(each_s, lambda s: 900.0 if s < at_s else 500.0) == 0.0
    assert swing(each_s, lambda s: 500.0 + min(400.0, max(0.0, 10.0 * (s - at_s)))) == 0.0


@pytest.mark.parametrize("each_s", [30, 40, 60])
def test_readings_that_are_too_rare_tell_no_swing(each_s):
    assert swing(each_s, lambda s: 900.0 if s % 120 else 100.0) == float("inf")


def test_a_minute_with_a_hole_in_it_tells_no_swing():
    steady = Steadiness()
    for second in (*range(30), *range(80, 121)):
        steady.add(second * NS, 900 + 100 * (second % 2))

    assert steady.swing_ratio(120 * NS) == pytest.approx(0.1, rel=0.2)
    assert steady.swing_ratio(90 * NS) == float("inf")
