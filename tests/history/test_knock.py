"""A request is heard at once where somebody knocked, and soon where nobody did."""

from __future__ import annotations

import os

import pytest

from linewatch.core.commands import WriteNote
from linewatch.history.knock import WITHOUT_S, Listener, knock


class Steady:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.s = 100.0

    def __call__(self) -> float:
        return self.s


@pytest.fixture
def steady() -> Steady:
    return Steady()


@pytest.fixture
def listener(tmp_path, steady) -> Listener:
    """One that has looked already."""
    listener = Listener(tmp_path / "knock", steady)
    assert listener.hears()
    return listener


def test_silence_is_not_heard_until_it_is_time_to_look_anyway(listener, steady):
    assert not listener.hears()

    steady.s += 0.99 * WITHOUT_S
    assert not listener.hears()
    steady.s += 0.02 * WITHOUT_S
    assert listener.hears()
    assert not listener.hears()


def test_each_knock_is_heard_once(listener, tmp_path):
    for _ in range(200):
        knock(tmp_path / "knock")
        assert listener.hears()
        assert not listener.hears()


def test_a_knock_is_heard_though_the_wall_clock_was_set_back(listener, tmp_path):
    door = tmp_path / "knock"
    knock(door)
    assert listener.hears()

    os.utime(door, ns=(5, 5))

    assert listener.hears()


def test_where_nothing_can_be_touched_a_request_is_found_without(steady, tmp_path):
    door = tmp_path / "gone" / "knock"
    listener = Listener(door, steady)
    assert listener.hears()

    knock(door)

    assert not listener.hears()
    steady.s += WITHOUT_S
    assert listener.hears()


def test_a_journal_hears_a_request_of_another_process_at_once(open_journal, open_desk):
    journal = open_journal()
    journal.knocked()
    desk = open_desk()

    desk.request(WriteNote(who="ab", subject="nickel-1", text="foam"))

    assert journal.knocked()
    assert [each.command.text for each in journal.requests()] == ["foam"]
