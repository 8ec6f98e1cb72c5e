"""What the writing side promises, on a real disk."""

from __future__ import annotations

import sqlite3

import pytest

from linewatch import history
from linewatch.core.commands import Acknowledge, WriteNote
from linewatch.core.errors import CollectorRunning, StoreUnusable
from linewatch.core.events import EventKind
from linewatch.core.ports import Order
from linewatch.history import chain
from tests.history.made_up import (
    LINE,
    RECTIFIER,
    batch,
    block,
    event,
    moment,
    run_start,
    tick,
)


def test_a_new_store_knows_nothing(open_journal):
    journal = open_journal()

    assert journal.memory() == {}
    assert journal.last_moment() is None
    assert journal.requests() == []
    assert journal.recording()[:3] == (True, 0, "")


def test_what_was_appended_is_there_after_closing(open_journal):
    first = open_journal()
    first.append(batch(run_start(), block(1.0), memory={"a": b"1", "b": b"2"}))
    first.append(batch(block(2.0), tick(2.5), memory={"a": b"3"}))
    first.close()

    second = open_journal()

    assert second.memory() == {"a": b"3", "b": b"2"}
    assert second.last_moment() == moment(2.5)


def test_a_second_collector_is_told_who_holds_the_line(open_journal, tmp_path):
    open_journal()

    with pytest.raises(CollectorRunning, match=r"process \d+ since 20\d\d-"):
        history.open_journal(tmp_path, LINE)


def test_two_lines_share_one_store(open_journal, open_desk):
    nickel, zinc = open_journal("nickel"), open_journal("zinc")
    nickel.append(batch(run_start(run_id="n"), events=[event(0.0, "of nickel")]))
    zinc.append(batch(run_start(run_id="z"), events=[event(0.0, "of zinc")]))
    nickel.settle()
    zinc.settle()

    texts = {
        line: [e.event.text for e in open_desk(line).latest()] for line in ("nickel", "zinc")
    }

    assert texts == {"nickel": ["of nickel"], "zinc": ["of zinc"]}


def test_events_come_in_order_with_their_run(open_journal, open_desk):
    journal = open_journal()
    journal.append(batch(run_start(run_id="first"), events=[event(0.0, "one")]))
    journal.append(batch(tick(1.0), events=[event(1.0, "two"), event(1.0, "three", limit=0.1)]))
    journal.append(batch(run_start(2.0, "second"), events=[event(2.0, "four")]))
    journal.settle()
    desk = open_desk()

    assert [e.event.text for e in desk.changes(0)] == ["one", "two", "three", "four"]
    assert [e.event.text for e in desk.changes(2)] == ["three", "four"]
    assert [e.event.text for e in desk.latest(2)] == ["three", "four"]
    assert [e.run_id for e in desk.latest()] == ["first", "first", "first", "second"]
    assert desk.latest()[2].event == event(1.0, "three", limit=0.1)


def test_what_happened_in_a_span_is_found_by_subject(open_journal, open_desk):
    journal = open_journal()
    journal.append(batch(run_start(), events=[event(0.0, "zero")]))
    told = [event(float(second), f"at {second}") for second in range(1, 9)]
    journal.append(batch(tick(9.0), events=told))
    journal.settle()
    desk = open_desk()
    subject = told[0].subject
    span = (told[1].utc_ns, told[5].utc_ns)

    found = desk.happened([subject, "nobody"], span)

    assert [each.event for each in found] == told[1:6]
    assert [each.event for each in desk.happened([subject], span, 2)] == told[4:6]
    assert desk.happened(["nobody"], span) == []
    assert desk.happened([], span) == []
    assert desk.happened([subject], span, kinds=[EventKind.ANALYSIS]) == []
    assert desk.happened([subject], span, kinds=[told[0].kind, EventKind.ANALYSIS]) == found


def test_news_changes_with_events_and_outcomes_but_not_with_blocks(open_journal, open_desk):
    journal = open_journal()
    journal.append(batch(run_start(), events=[event(0.0)]))
    journal.settle()
    desk = open_desk()
    first = desk.news()
    journal.append(batch(block(1.0), memory={"a": b"1"}))
    journal.settle()
    assert desk.news() == first

    number = desk.request(Acknowledge(who="ab", alarm="*"))
    journal.append(batch(outcomes={number: ""}))
    journal.settle()
    second = desk.news()
    assert second != first

    journal.append(batch(events=[event(2.0)]))
    journal.settle()
    assert desk.news() != second


def test_a_request_waits_for_its_collector_and_is_answered_once(open_journal, open_desk):
    open_journal().close()
    desk = open_desk()
    seen = desk.request(Acknowledge(who="ab", alarm="x"))
    noted = desk.request(WriteNote(who="cd", subject="nickel-1", text="[red]foam"))
    assert not desk.alive()
    assert not desk.outcome(seen).done

    journal = open_journal()
    waiting = journal.requests()
    assert [request.number for request in waiting] == [seen, noted]
    assert waiting[1].command == WriteNote(who="cd", subject="nickel-1", text="[red]foam")
    order = Order(request=seen, command=waiting[0].command, at=moment(5.0))
    journal.append(batch(run_start(4.0), order, outcomes={seen: "", noted: "no such tank"}))
    journal.append(batch(outcomes={seen: "", noted: "again"}))
    journal.settle()

    assert journal.requests() == []
    assert desk.alive()
    assert desk.outcome(seen).done
    assert desk.outcome(noted).refused == "no such tank"
    rows = desk.actions()
    assert [(row.who, row.what, row.parts["refused"]) for row in rows] == [
        ("ab", "Acknowledge", ""),
        ("cd", "WriteNote", "no such tank"),
    ]
    assert rows[0].utc_ns == moment(5.0).utc_ns


def test_a_request_of_an_unknown_kind_is_refused_in_words(open_journal, open_desk):
    journal = open_journal()
    database = sqlite3.connect(journal.places.journal, isolation_level=None)
    database.execute(
        "INSERT INTO requests VALUES (?, 1, ?, 0, NULL, NULL, NULL)",
        (LINE, '{"command": "Levitate", "who": "ab"}'),
    )
    database.close()

    assert journal.requests() == []
    journal.settle()

    assert "no command 'Levitate' is known" in open_desk().outcome(1).refused


def test_a_configuration_is_noted_once_with_its_span(open_journal, open_desk):
    journal = open_journal()
    for second, fingerprint in ((0.0, "a" * 64), (5.0, "a" * 64), (9.0, "b" * 64)):
        journal.record_configuration(
            fingerprint, f"text {fingerprint[0]}", who="ab", why="start", at=moment(second)
        )
    assert journal.configuration("a" * 64) == "text a"
    desk = open_desk()

    spans = [(s.fingerprint[0], s.from_utc_ns, s.until_utc_ns) for s in desk.configurations()]
    assert spans == [
        ("a", moment(0.0).utc_ns, moment(9.0).utc_ns),
        ("b", moment(9.0).utc_ns, None),
    ]
    assert desk.configuration("b" * 64) == "text b"
    assert [row.what for row in desk.actions()] == ["Configure", "Configure"]
    with pytest.raises(KeyError):
        desk.configuration("c" * 64)


def test_totals_stand_in_the_ledger_exactly(open_journal):
    journal = open_journal()
    huge = 2**70 + 1
    journal.append(batch(run_start(), totals={"nickel-1": {"charge_uas": huge, "mass_g": 0.1}}))
    journal.settle()

    database = sqlite3.connect(journal.places.journal)
    row = database.execute("SELECT subject, parts FROM totals").fetchone()
    database.close()

    assert row == ("nickel-1", f'{{"charge_uas":{huge},"mass_g":0.1}}')


def test_a_desk_without_a_store_says_so(open_desk):
    with pytest.raises(StoreUnusable, match="nothing was ever recorded here for the line"):
        open_desk()


def test_the_people_s_chain_is_whole(open_journal, open_desk):
    journal = open_journal()
    desk = open_desk()
    for number in range(1, 6):
        desk.request(WriteNote(who="ab", subject="nickel-1", text=str(number)))
        journal.append(batch(outcomes={number: ""}))
    journal.settle()

    rows = desk.actions()
    verdict = chain.check(rows, rows[-1].seal, 5)

    assert verdict.faults == ()
    assert verdict.rows == 5


def test_samples_are_read_back_with_their_quality(open_journal, open_desk):
    journal = open_journal()
    nan = float("nan")
    journal.append(batch(run_start(), block(1.0, 61.0, 5.0, 50.0), block(2.0, nan, 6.0, 51.0)))
    journal.append(batch(block(2.0, 100.0, 3.0, layout=RECTIFIER), block(3.0, 63.0, 7.0, 52.0)))
    journal.settle()

    times, values, qualities = open_desk().raw(
        "nickel-1.temperature", moment(0.0).utc_ns, moment(10.0).utc_ns
    )

    assert times.tolist() == [moment(s).utc_ns for s in (1.0, 2.0, 3.0)]
    assert str(values.tolist()) == "[61.0, nan, 63.0]"
    assert qualities.tolist() == [0x00, 0x81, 0x00]
