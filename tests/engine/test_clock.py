"""Line time and wall time."""

import time

import pytest

from linewatch.core.readings import Moment
from linewatch.engine.clock import NS, LastSeen, SystemClock


def test_line_time_runs_at_its_speed_and_wall_time_goes_with_it():
    clock = SystemClock(speed=50.0)
    wall_first = clock.wall_s()
    first = clock.now()
    while clock.wall_s() < wall_first + 0.02:
        pass
    wall_last = clock.wall_s()
    last = clock.now()

    line_s = (last.mono_ns - first.mono_ns) / NS
    assert line_s == pytest.approx(50.0 * (wall_last - wall_first), abs=0.5)
    assert (last.utc_ns - first.utc_ns) / NS == pytest.approx(line_s, abs=0.5)


def test_a_run_begins_where_the_last_one_left_off_plus_the_time_away():
    away_ns = 90 * NS
    left = Moment(utc_ns=time.time_ns() - away_ns, mono_ns=1234 * NS)
    clock = SystemClock(last=LastSeen(moment=left, system_utc_ns=left.utc_ns))

    assert clock.now().mono_ns == pytest.approx(left.mono_ns + away_ns, abs=NS)
    assert clock.now().utc_ns == pytest.approx(time.time_ns(), abs=NS)


def test_a_wall_clock_set_back_between_runs_never_turns_line_time_back():
    ahead = Moment(utc_ns=time.time_ns() + 3600 * NS, mono_ns=55 * NS)
    clock = SystemClock(last=LastSeen(moment=ahead, system_utc_ns=ahead.utc_ns))

    assert clock.now().mono_ns >= ahead.mono_ns


def test_a_fast_run_that_is_taken_up_again_keeps_its_own_calendar():
    system_ns = time.time_ns() - 2 * NS
    left = Moment(utc_ns=system_ns + 7200 * NS, mono_ns=7200 * NS)
    clock = SystemClock(speed=60.0, last=LastSeen(moment=left, system_utc_ns=system_ns))
    now = clock.now()

    assert now.mono_ns - left.mono_ns == pytest.approx(120 * NS, abs=5 * NS)
    assert now.utc_ns - left.utc_ns == pytest.approx(now.mono_ns - left.mono_ns, abs=NS)


async def test_sleeping_ends_when_line_time_is_reached():
    clock = SystemClock(speed=1000.0)
    until_ns = clock.now().mono_ns + 5 * NS
    await clock.sleep_until(until_ns)

    assert clock.now().mono_ns >= until_ns - 1_000_000
