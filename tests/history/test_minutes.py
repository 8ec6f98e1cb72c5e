"""Buckets of time: nothing that was measured vanishes, nothing that was not appears."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.history import minutes

NS = 10**9


@st.composite
def samples(draw):
    """Return times, values, qualities and the polling period."""
    period_ns = draw(st.sampled_from([NS // 4, NS, 30 * NS, 90 * NS]))
    count = draw(st.integers(1, 60))
    steps = draw(
        st.lists(
            st.sampled_from([0, 1, period_ns // 2, period_ns, 2 * period_ns, 50 * period_ns]),
            min_size=count,
            max_size=count,
        )
    )
    utc_ns = np.cumsum(np.array(steps, dtype=np.int64)) + draw(st.integers(0, 200 * NS))
    value = np.array(draw(st.lists(st.floats(-1e6, 1e6), min_size=count, max_size=count)))
    quality = np.array(
        draw(st.lists(st.sampled_from([0, 1, 0x40, 0x81]), min_size=count, max_size=count)),
        dtype=np.uint8,
    )
    return utc_ns, value, quality, period_ns


@given(samples(), st.integers(1, 40))
def test_every_good_value_stands_between_low_and_high(given_samples, count):
    utc_ns, value, quality, period_ns = given_samples
    edges = np.linspace(int(utc_ns[0]), int(utc_ns[-1]) + NS, count + 1).astype(np.int64)
    hold = minutes.held_ns(utc_ns, period_ns)

    found = minutes.into_buckets(edges, utc_ns, value, quality, hold)

    for at, figure, doubt in zip(utc_ns, value, quality, strict=True):
        bucket = int(np.searchsorted(edges, at, side="right")) - 1
        if doubt < 0x40 and 0 <= bucket < count:
            assert found.low[bucket] <= figure <= found.high[bucket]
    good = value[quality < 0x40]
    if not len(good):
        assert np.isnan(found.low).all()
        assert not found.good_s.any()
    else:
        assert np.nanmin(found.low) == good.min()
        assert np.nanmax(found.high) == good.max()
    some = ~np.isnan(found.low)
    assert (found.low[some] <= found.mean[some]).all()
    assert (found.mean[some] <= found.high[some]).all()


@given(samples())
def test_good_time_is_what_good_samples_held_however_it_is_cut(given_samples):
    utc_ns, value, quality, period_ns = given_samples
    hold = minutes.held_ns(utc_ns, period_ns)
    expected_s = hold[quality < 0x40].sum() / NS
    end = int((utc_ns + hold).max()) + 1
    for count in (1, 7):
        edges = np.linspace(int(utc_ns[0]), end, count + 1).astype(np.int64)

        found = minutes.into_buckets(edges, utc_ns, value, quality, hold)

        assert found.good_s.sum() == pytest.approx(expected_s, rel=1e-9, abs=1e-9)


@given(samples())
def test_minutes_are_whole_minutes_and_none_of_them_is_empty(given_samples):
    utc_ns, value, quality, period_ns = given_samples

    minute_ns, found = minutes.by_minute(utc_ns, value, quality, period_ns)

    assert (minute_ns % minutes.MINUTE_NS == 0).all()
    assert (np.diff(minute_ns) > 0).all()
    assert not np.isnan(found.low).any()
    assert (found.good_s <= 60.0 + 1e-9).all()


def test_a_value_holds_for_three_periods_at_most():
    utc_ns = np.array([0, NS, 4 * NS, 8 * NS], dtype=np.int64)

    # Three periods of silence are held over, four are a gap of which one period was good.
    assert minutes.held_ns(utc_ns, NS).tolist() == [NS, 3 * NS, NS, NS]


def test_the_mean_is_over_time_not_over_samples():
    utc_ns = np.array([0, 10, 20, 30 * NS], dtype=np.int64)
    value = np.array([100.0, 100.0, 10.0, 20.0])
    good = np.zeros(4, dtype=np.uint8)

    _, found = minutes.by_minute(utc_ns, value, good, 30 * NS)

    assert found.mean[0] == pytest.approx(15.0, abs=1e-6)
    assert found.high[0] == 100.0
    assert found.good_s[0] == pytest.approx(60.0)


def test_a_clock_that_was_set_by_a_month_makes_no_month_of_minutes():
    month_ns = 30 * 86_400 * NS
    utc_ns = np.array([0, NS, month_ns, month_ns + NS], dtype=np.int64)

    minute_ns, _ = minutes.by_minute(utc_ns, np.arange(4.0), np.zeros(4, np.uint8), NS)

    assert minute_ns.tolist() == [0, month_ns]
