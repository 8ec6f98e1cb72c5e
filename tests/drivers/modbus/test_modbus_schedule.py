"""Due polls, fair turns, and rare, short questions to a unit that does not answer."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.drivers.modbus.schedule import (
    CALM_AFTER,
    LEAST_WALL_S,
    NS,
    PROBE_FIRST_S,
    PROBE_LONGEST_S,
    Timetable,
    UnitPace,
)

MS = NS // 1000


def drive(periods_ns, took_ns, until_ns, *, speed=1.0):
    """Serve turns in order; return when each layout was polled."""
    table = Timetable(periods_ns, 0, speed)
    now_ns = 0
    polled = [[] for _ in periods_ns]
    while True:
        place, due_ns = table.next()
        now_ns = max(now_ns, due_ns)
        if now_ns > until_ns:
            return polled, table
        polled[place].append(now_ns)
        now_ns += took_ns(place, now_ns)
        table.served(now_ns)


def test_everything_is_polled_in_time_while_there_is_time():
    polled, table = drive([NS, NS, 5 * NS], lambda *_: 10 * MS, 20 * NS + NS // 2)
    assert [len(each) for each in polled] == [21, 21, 5]
    assert table.reached_s() == pytest.approx(1.0, abs=0.03)


def test_a_late_poll_is_skipped_to_the_next_due_instant():
    def took(place, now_ns):
        return 3500 * MS if now_ns == 2 * NS else 10 * MS

    (polled,), _ = drive([NS], took, 10 * NS)
    assert polled == [0, NS, 2 * NS, 6 * NS, 7 * NS, 8 * NS, 9 * NS, 10 * NS]


def test_polls_are_never_bunched():
    # It ends 5 ms before the next one is due: that one would follow at once.
    (polled,), _ = drive([NS], lambda *_: 995 * MS, 10 * NS)
    assert polled == [0, 2 * NS, 4 * NS, 6 * NS, 8 * NS, 10 * NS]


def test_when_there_is_not_time_for_all_each_gets_its_share():
    polled, table = drive([NS] * 16, lambda *_: 200 * MS, 100 * NS)
    counts = [len(each) for each in polled]
    assert max(counts) - min(counts) <= 1
    # Sixteen turns of 0.2 s: one round takes 3.2 s, and the next due instant is the fourth.
    assert table.reached_s() == pytest.approx(3.2, abs=0.2)


@pytest.mark.parametrize("speed", [1.0, 10.0, 60.0, 3600.0])
def test_no_layout_is_polled_oftener_than_every_20_ms_of_wall_time(speed):
    (polled,), table = drive(
        [NS], lambda *_: round(0.001 * NS * speed), 300 * NS * 10, speed=speed
    )
    gaps_s = [(after - before) / NS / speed for before, after in pairwise(polled)]
    assert min(gaps_s) >= LEAST_WALL_S * 0.999
    expected_s = max(1.0, LEAST_WALL_S * speed)
    assert table.reached_s() == pytest.approx(expected_s, rel=0.1)


@given(
    st.lists(st.integers(50, 3000), min_size=1, max_size=8),
    st.lists(st.integers(1, 900), min_size=1, max_size=20),
)
def test_due_times_lie_on_each_layouts_own_grid_and_never_behind(periods_ms, takes_ms):
    table = Timetable([each * MS for each in periods_ms], 0, 1.0)
    now_ns = 0
    for take_ms in takes_ms * 3:
        place, due_ns = table.next()
        assert due_ns % (periods_ms[place] * MS) == 0
        now_ns = max(now_ns, due_ns) + take_ms * MS
        table.served(now_ns)
        # All others may be late; whoever was served is due again in the future.
        (turn,) = [turn for turn in table._queue if turn.place == place]
        assert turn.due_ns > now_ns


def test_whoever_stands_back_is_served_after_all_that_are_due():
    table = Timetable([NS, NS, NS], 0, 1.0)
    assert table.stand_back(0)
    order = []
    for _ in range(3):
        place, due_ns = table.next()
        assert due_ns == 0
        assert not (place == 0 and table.stand_back(0))
        order.append(place)
        table.served(10 * MS * len(order))
    assert order == [1, 2, 0]


def test_nobody_stands_back_for_those_who_are_not_due_yet():
    table = Timetable([NS, 2 * NS], 0, 1.0)
    for _ in range(2):
        table.served(10 * MS)
    assert table.next() == (0, NS)
    assert not table.stand_back(NS)


def test_standing_back_for_ever_is_impossible():
    # Far more is due than can be served, and the first layout stands back whenever it can.
    table = Timetable([100 * MS] * 5, 0, 1.0)
    now_ns, polled = 0, []
    for _ in range(200):
        place, due_ns = table.next()
        now_ns = max(now_ns, due_ns)
        if place == 0 and table.stand_back(now_ns):
            continue
        polled.append(place)
        now_ns += 60 * MS
        table.served(now_ns)
    turns = [at for at, place in enumerate(polled) if place == 0]
    # At most one round of all others goes before it, and one more in which it is not due.
    assert max(after - before for before, after in pairwise(turns)) <= 2 * 5


def test_a_unit_in_good_health_is_waited_for_as_configured():
    pace = UnitPace(configured_s=1.0)
    assert pace.limit_s() == 1.0
    assert pace.may_ask(0.0)
    pace.answered(0.01)
    assert pace.limit_s() == 1.0


def test_one_lost_answer_does_not_make_a_unit_silent():
    pace = UnitPace(configured_s=1.0)
    pace.answered(0.01)
    pace.silent(10.0)
    assert not pace.is_silent
    assert pace.may_ask(10.1)
    # It is not waited for as long again: it usually answers in 10 ms.
    assert pace.limit_s() == pytest.approx(0.1)


def test_a_silent_unit_is_asked_ever_more_rarely_and_shortly():
    pace = UnitPace(configured_s=1.0)
    now_s, waits_s = 0.0, []
    pace.silent(now_s)
    assert pace.limit_s() == 1.0
    for _ in range(7):
        pace.silent(now_s)
        asked_s = now_s
        while not pace.may_ask(now_s):
            now_s += 0.5
        waits_s.append(now_s - asked_s)
        assert pace.limit_s() == pytest.approx(0.1)
    assert waits_s[0] == PROBE_FIRST_S
    assert waits_s == sorted(waits_s)
    assert waits_s[-1] == PROBE_LONGEST_S


def test_a_unit_that_answers_again_is_asked_at_once():
    pace = UnitPace(configured_s=1.0)
    for _ in range(5):
        pace.silent(0.0)
    pace.answered(0.02)
    assert pace.may_ask(0.1)
    assert not pace.is_silent
    assert pace.limit_s() == 1.0


def test_a_late_answer_makes_a_unit_slow_not_dead():
    pace = UnitPace(configured_s=1.0)
    pace.silent(0.0)
    pace.late(1.2)
    assert pace.is_slow
    assert not pace.is_silent
    assert pace.limit_s() == pytest.approx(1.8)


def test_a_slow_unit_is_waited_for_within_bounds():
    pace = UnitPace(configured_s=1.0)
    pace.late(40.0)
    assert pace.limit_s() == 3.0


def test_a_slow_unit_that_has_become_quick_is_quick():
    pace = UnitPace(configured_s=1.0)
    pace.late(1.2)
    for _ in range(CALM_AFTER):
        assert pace.is_slow
        pace.answered(0.02)
    assert not pace.is_slow
    assert pace.limit_s() == 1.0


def test_if_another_unit_was_silent_just_now_the_known_ones_are_asked_shortly():
    pace = UnitPace(configured_s=1.0)
    assert pace.limit_s(is_suspect=True) == 1.0
    pace.answered(0.03)
    assert pace.limit_s(is_suspect=True) == pytest.approx(0.15)


def test_a_unit_that_never_answered_is_measured_by_its_neighbours_once_it_was_silent():
    pace = UnitPace(configured_s=1.0)
    assert pace.limit_s(usual_s=0.01) == 1.0
    assert pace.limit_s(is_suspect=True, usual_s=0.01) == 1.0
    pace.silent(0.0)
    assert pace.limit_s(usual_s=0.01) == pytest.approx(0.1)
    assert pace.limit_s(usual_s=0.15) == pytest.approx(0.75)
    # With no neighbour to measure it by, it has its full time once more.
    assert pace.limit_s() == 1.0


def test_a_busy_unit_is_left_alone_ever_longer():
    pace = UnitPace(configured_s=1.0)
    waits_s = []
    now_s = 0.0
    for _ in range(8):
        pace.busy(now_s)
        start_s = now_s
        assert pace.is_busy(now_s)
        while not pace.may_ask(now_s):
            now_s += 0.05
        waits_s.append(now_s - start_s)
    assert waits_s[0] == pytest.approx(0.2, abs=0.06)
    assert waits_s[-1] == pytest.approx(10.0, abs=0.06)
    pace.answered(0.01)
    pace.busy(now_s)
    assert pace.may_ask(now_s + 0.21)
