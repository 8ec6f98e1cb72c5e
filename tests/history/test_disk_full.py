"""A full disk: live goes on, the record says so, resumes by itself, and has no half truths."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest

from linewatch.core.commands import WriteNote
from linewatch.core.errors import StoreUnusable
from linewatch.core.ports import Batch, Order
from linewatch.history import codec
from linewatch.history import journal as journals
from linewatch.history.waiting import Pile, Waiting
from tests.history.counting_line import LINE, Counting, batch_of
from tests.history.inspect_record import look
from tests.history.made_up import RECTIFIER, batch, block, event, moment, run_start, tick


@pytest.fixture
def counted(open_journal, tmp_path):
    """Return a journal of a counting line, and the line."""
    journal = open_journal(LINE)
    journal.append(batch(run_start()))
    assert journal.settle()
    return journal, Counting({})


def fill_the_disk(journal, room: int = 2) -> None:
    """Let the database grow by a few pages and no more."""

    def limit(draft) -> None:
        (pages,) = draft.database.execute("PRAGMA page_count").fetchone()
        draft.database.execute(f"PRAGMA max_page_count = {pages + room}")

    assert journal.carry_out(limit, 5.0)


def make_room(journal) -> None:
    # The writer may be waiting for room in the midst of its queue, so not through the queue.
    journal._database.execute("PRAGMA max_page_count = 1000000")


def until_full(journal, counting) -> None:
    fill_the_disk(journal)
    while journal.recording()[0]:
        journal.append(batch_of(counting, 50, ()))
        journal.settle(0.2)


def test_it_says_since_when_and_why_nothing_is_recorded(counted):
    journal, counting = counted
    began_ns = journal.recording()[3]
    until_full(journal, counting)

    running, dropped, reason, since_ns = journal.recording()

    assert not running
    assert dropped == 0
    assert "full" in reason
    assert since_ns > began_ns


def test_what_waited_for_room_is_recorded_in_order_and_once(counted, tmp_path):
    journal, counting = counted
    until_full(journal, counting)
    for _ in range(20):
        journal.append(batch_of(counting, 50, ()))

    make_room(journal)
    assert journal.settle(10.0)

    assert journal.recording()[:3] == (True, 0, "")
    found = look(tmp_path)
    assert found.faults == ()
    assert found.last == counting.last


def test_a_backlog_takes_little_room_and_is_recorded_in_order_and_once(counted, tmp_path):
    journal, counting = counted
    until_full(journal, counting)
    live = journal._live_bytes
    for _ in range(300):
        journal.append(batch_of(counting, 50, ()))
    waiting = [work for work, _ in journal._queue if isinstance(work, Waiting)]

    # Little waits as it is, however long it lasts; the rest takes a fraction of its size.
    assert live < journal._live_bytes <= journals.LIVE_BYTES
    assert len(waiting) > 100
    assert sum(each.bytes for each in waiting) < 0.25 * sum(e.live_bytes for e in waiting)
    assert journal._queued_bytes == journal._live_bytes + sum(each.bytes for each in waiting)

    make_room(journal)
    assert journal.settle(20.0)
    found = look(tmp_path)
    assert found.faults == ()
    assert found.last == counting.last


def test_a_packed_batch_comes_back_equal_in_every_part():
    blocks = [
        block(3.0, np.nan, -0.0, layout=RECTIFIER),
        replace(block(4.0), source_utc_ns=np.array([7, 8, 9], dtype=np.int64)),
    ]
    note = Order(
        request=3, command=WriteNote(who="OF", subject="nickel-1", text="dull"), at=moment(6.0)
    )
    whole = Batch(
        entries=[run_start(), *blocks, tick(5.0), note],
        events=[event(5.0)],
        memory={"part": b"\x00memory"},
        totals={"nickel-1": {"cathodic_uas": 2**70, "share": 0.1}},
        outcomes={3: "refused"},
    )

    again = Pile().packed(whole).batch()

    assert [codec.pack_entry(each) for each in again.entries] == [
        codec.pack_entry(each) for each in whole.entries
    ]
    assert [codec.moment_of(each) for each in again.entries] == [
        codec.moment_of(each) for each in whole.entries
    ]
    assert again.entries[1].layout is blocks[0].layout
    assert again.events == whole.events
    assert again.memory == whole.memory
    assert again.totals == whole.totals
    assert again.outcomes == whole.outcomes


def test_readers_and_pictures_go_on_while_the_disk_is_full(counted, open_desk):
    from tests.history.made_up import picture

    journal, counting = counted
    desk = open_desk(LINE)
    until_full(journal, counting)
    journal.publish(picture(3.0))
    journal._pictures.close(5.0)

    assert desk.picture() == picture(3.0)
    assert desk.latest()
    assert desk.alive()


def test_a_queue_that_is_full_drops_whole_batches_and_counts_them(counted, monkeypatch):
    journal, counting = counted
    until_full(journal, counting)
    monkeypatch.setattr(journals, "QUEUE_BYTES", journal._queued_bytes + 30_000)
    before = journal.recording()[1]
    for _ in range(100):
        journal.append(batch_of(counting, 50, ()))

    dropped = journal.recording()[1]

    assert before == 0
    assert 90 <= dropped < 100
    assert journal._queued_bytes <= journals.QUEUE_BYTES


def lose_some(journal, counting, monkeypatch) -> int:
    """Lose batches; return the last number that was queued before the loss."""
    until_full(journal, counting)
    monkeypatch.setattr(journals, "QUEUE_BYTES", 1)
    kept = counting.last
    for _ in range(3):
        journal.append(batch_of(counting, 50, ()))
    monkeypatch.undo()
    return kept


def test_after_a_loss_the_line_may_begin_anew_from_what_was_committed(
    counted, monkeypatch, tmp_path
):
    journal, counting = counted
    kept = lose_some(journal, counting, monkeypatch)
    assert journal.begin_anew() is None, "the disk is still full"
    make_room(journal)
    assert journal.settle(10.0)

    memory = journal.begin_anew()

    assert memory is not None
    again = Counting(memory)
    assert again.last == kept
    journal.append(batch(run_start(9.0, "run-2")))
    journal.append(batch_of(again, 50, ()))
    assert journal.begin_anew() is None
    assert journal.settle()
    found = look(tmp_path)
    assert found.faults == ()
    assert found.last == kept + 50


def test_without_a_new_beginning_a_hole_with_the_whole_memory_is_kept(
    counted, monkeypatch, open_journal
):
    journal, counting = counted
    lose_some(journal, counting, monkeypatch)
    make_room(journal)
    assert journal.settle(10.0)
    lost_to = counting.last

    journal.append(batch_of(counting, 50, ()))
    journal.close()

    from linewatch.history import codec

    with closing(sqlite3.connect(journal.places.journal)) as database:
        (body,) = database.execute(
            "SELECT body FROM sequence WHERE kind = ?", (codec.Kind.HOLE,)
        ).fetchone()
        numbers = [
            n for (n,) in database.execute("SELECT number FROM sequence ORDER BY number")
        ]
    assert Counting(codec.unpack_memory(body)).last == lost_to
    assert numbers == list(range(1, len(numbers) + 1))
    assert Counting(open_journal(LINE).memory()).last == counting.last


def test_a_request_on_a_full_disk_is_refused_in_words(counted, open_desk, monkeypatch):
    desk = open_desk(LINE)
    from linewatch.history import schema

    real = schema.connect

    def full(file, *, read_only=False):
        database = real(file, read_only=read_only)
        (pages,) = database.execute("PRAGMA page_count").fetchone()
        database.execute(f"PRAGMA max_page_count = {pages}")
        return database

    monkeypatch.setattr(schema, "connect", full)
    long_note = WriteNote(who="ab", subject="counter", text="x" * 50_000)
    with pytest.raises(StoreUnusable, match=r"the request was not left: .*full.*; make room"):
        desk.request(long_note)


def test_closing_on_a_full_disk_ends_in_time_and_keeps_what_was_committed(counted, tmp_path):
    journal, counting = counted
    until_full(journal, counting)

    journal.close()

    assert look(tmp_path).faults == ()
