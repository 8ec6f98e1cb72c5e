"""When a lost link is tried again."""

import itertools

import pytest

from linewatch.engine.backoff import LONGEST_S, BackOff


def tries_in_first_minute(jitter: float) -> int:
    back_off = BackOff(jitter=lambda: jitter)
    waits = itertools.accumulate((back_off.failed() for _ in range(20)), initial=0.0)
    return sum(at < 60.0 for at in waits)


@pytest.mark.parametrize("jitter", [0.0, 0.3, 1.0])
def test_a_peer_that_resets_at_once_is_tried_at_most_six_times_in_the_first_minute(jitter):
    assert 4 <= tries_in_first_minute(jitter) <= 6


def test_the_wait_grows_to_its_longest_and_no_further():
    back_off = BackOff(jitter=lambda: 0.0)
    waits = [back_off.failed() for _ in range(12)]

    assert waits == sorted(waits)
    assert waits[-1] == LONGEST_S


def test_one_good_answer_does_not_bring_the_wait_back():
    back_off = BackOff(jitter=lambda: 0.0)
    for _ in range(4):
        back_off.failed()
    back_off.good(100.0)

    assert back_off.failed() == 16.0


def test_good_answers_for_longer_than_the_last_wait_bring_it_back():
    back_off = BackOff(jitter=lambda: 0.0)
    for _ in range(4):
        back_off.failed()
    back_off.good(100.0)
    back_off.good(108.5)

    assert back_off.failed() == 1.0


def test_jitter_only_lengthens_a_wait():
    assert BackOff(jitter=lambda: 1.0).failed() > BackOff(jitter=lambda: 0.0).failed()


def test_what_waiting_cannot_cure_waits_longest_at_once():
    assert BackOff(jitter=lambda: 0.0).failed(lasting=True) == LONGEST_S
