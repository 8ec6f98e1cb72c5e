"""Frozen values and rates of change."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.alarms.limits import Timers
from linewatch.core.alarms.movement import SPAN_NS, Frozen, Rates, median
from linewatch.core.readings import Quality

NS = 10**9
GOOD = np.zeros(1, dtype=np.uint8)
BAD = np.array([Quality.NO_ANSWER], dtype=np.uint8)


class FrozenBench:
    def __init__(self, limit=0.0, delay_s=10, *, clears=False) -> None:
        self.timers = Timers([0], [0])
        self.frozen = Frozen([0], [limit], [delay_s * NS], [clears], 0)
        self.second = -1

    def at(self, *values: float | None) -> bool:
        """Show a value a second, None for a bad one; return whether it counts as frozen."""
        for value in values:
            self.second += 1
            now_ns = self.second * NS
            here = np.array([np.nan if value is None else value])
            quality = BAD if value is None else GOOD
            self.frozen.feed(here, quality, now_ns)
            if value is None or self.frozen.is_due(self.timers, now_ns):
                self.frozen.judge(self.timers, now_ns)
                self.timers.due(now_ns)
        return bool(self.timers.active[0])


def test_a_value_that_stands_still_is_frozen_after_its_delay():
    bench = FrozenBench()

    assert not bench.at(*[60.0] * 10)
    assert bench.at(60.0)
    assert not bench.at(60.1)


def test_a_value_that_wanders_within_the_limit_is_frozen():
    bench = FrozenBench(limit=0.05)

    assert bench.at(*[60.0, 60.02, 59.98] * 4)
    assert not bench.at(60.06)


def test_a_slow_ramp_is_alive_though_each_step_is_small():
    bench = FrozenBench(limit=0.05)

    assert not bench.at(*[60.0 + 0.02 * k for k in range(200)])


def test_silence_is_not_standing_still():
    bench = FrozenBench()

    assert not bench.at(*[60.0] * 9, *[None] * 20, 60.0)
    assert not bench.at(*[60.0] * 9)
    assert bench.at(60.0)


@pytest.mark.parametrize(("clears", "after"), [(False, True), (True, False)])
def test_a_frozen_value_that_turns_bad_keeps_its_alarm_unless_told_otherwise(clears, after):
    bench = FrozenBench(clears=clears)
    assert bench.at(*[60.0] * 11)

    assert bench.at(None) is after


class RateBench:
    def __init__(self, limit=2.0, deadband=0.5, *, clears=False, period_ns=NS) -> None:
        self.timers = Timers([0], [0])
        self.rates = Rates([0], [limit], [limit - deadband], [clears], period_ns, 0)
        self.second = -1
        self.period_s = period_ns // NS

    def at(self, *values: float | None) -> bool:
        for value in values:
            self.second += self.period_s
            here = np.array([np.nan if value is None else value])
            self.rates.feed(self.timers, here, BAD if value is None else GOOD, self.second * NS)
            self.timers.due(self.second * NS)
        return bool(self.timers.active[0])

    @property
    def slope(self) -> float:
        return float(self.rates.slope[0])


def ramp(per_minute: float, seconds: int) -> list[float]:
    return [60.0 + per_minute * second / 60.0 for second in range(seconds)]


def test_a_ramp_has_its_own_slope():
    bench = RateBench()

    assert bench.at(*ramp(3.0, 80))
    assert bench.slope == pytest.approx(3.0)


def test_a_falling_value_is_as_fast_as_a_rising_one():
    bench = RateBench()

    assert bench.at(*ramp(-3.0, 80))
    assert bench.slope == pytest.approx(-3.0)


def test_a_slope_below_the_limit_is_no_alarm():
    assert not RateBench().at(*ramp(1.9, 200))


def test_two_spans_tell_no_rate():
    bench = RateBench()

    assert not bench.at(*ramp(30.0, 30))
    assert bench.at(60.0 + 15.0)


def test_spikes_are_no_rate():
    values = ramp(0.0, 200)
    values[::7] = [500.0] * len(values[::7])

    assert not RateBench().at(*values)


def test_noise_is_no_rate():
    noise = np.random.default_rng(3).normal(0.0, 0.3, 600)

    assert not RateBench().at(*(60.0 + noise).tolist())


def test_the_alarm_ends_below_the_limit_by_the_deadband():
    bench = RateBench()
    bench.at(*ramp(3.0, 80))
    last = 60.0 + 3.0 * 79 / 60
    slower = [last + 1.7 * second / 60.0 for second in range(1, 120)]

    assert bench.at(*slower)
    still = slower[-1]
    assert not bench.at(*[still] * 80)


@pytest.mark.parametrize(("clears", "after"), [(False, True), (True, False)])
def test_a_rate_that_cannot_be_told_keeps_its_alarm_unless_told_otherwise(clears, after):
    bench = RateBench(clears=clears)
    assert bench.at(*ramp(3.0, 80))

    assert bench.at(*[None] * 80) is after


def test_a_slow_poll_is_judged_from_poll_to_poll():
    bench = RateBench(period_ns=30 * NS)
    values = [60.0 + 1.5 * k for k in range(8)]

    assert bench.at(*values)
    assert bench.slope == pytest.approx(3.0)


@given(st.lists(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=2), max_size=12))
def test_the_median_is_that_of_numpy(rows):
    found = median(np.array(rows).reshape(-1, 2))

    if not rows:
        assert np.isnan(found).all()
    else:
        assert found.tolist() == pytest.approx(np.median(np.array(rows), axis=0).tolist())


def test_the_median_leaves_out_what_is_no_number():
    rows = np.array([[1.0, np.nan], [np.nan, np.nan], [3.0, np.nan], [8.0, np.nan]])
    found = median(rows)

    assert found[0] == 3.0
    assert np.isnan(found[1])


def test_a_span_ends_at_whole_multiples_of_its_length():
    bench = RateBench()
    bench.at(*[60.0] * 5)

    assert bench.rates.end_ns == SPAN_NS
    assert bench.rates.quiet_rows(np.arange(5, 20) * NS) == 5
