"""The same sequence gives the same totals, to the bit, and the same events; and what does not
is reported."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing

import numpy as np
import pytest

from linewatch import history
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.readings import Readings
from linewatch.history import codec, feeding, rerun
from linewatch.history.chunk import Chunk
from linewatch.history.places import places
from tests.history import plated_line
from tests.history.plated_line import FIRST, NS, PLANS, SECOND, TANKS, LiveLine, Plant

LINE = "plated"


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """Return a store and the line that recorded into it."""
    store = tmp_path_factory.mktemp("plated")
    return store, plated_line.eventful_record(store)


@pytest.fixture
def store(recorded, tmp_path):
    return shutil.copytree(recorded[0], tmp_path / "store")


def open_database(store):
    return closing(sqlite3.connect(places(store, LINE).journal, isolation_level=None))


def test_the_record_holds_what_it_is_meant_to_try(recorded):
    kinds = {event.kind for event in recorded[1].events}

    assert {
        EventKind.RUN_STARTED,
        EventKind.ALARM,
        EventKind.CLOCK_STEPPED,
        EventKind.COLLECTOR_STOOD,
        EventKind.COMMAND,
        EventKind.CHARGE_RECOVERED,
        EventKind.LOAD,
        EventKind.LINE_STATE,
        EventKind.CONFIGURATION,
        EventKind.NOTE,
    } <= kinds


def test_a_replay_gives_the_same_totals_and_events(recorded):
    store, live = recorded

    replayed = rerun.replay(store, LINE, PLANS.__getitem__)

    assert replayed.totals == live.line.totals()
    assert list(replayed.events) == live.events
    assert list(replayed.recorded) == live.events
    assert replayed.refused == []
    assert replayed.holes == []


def test_a_verification_of_the_whole_record_holds(recorded):
    store, live = recorded

    verdict = rerun.verify(store, LINE, PLANS.__getitem__)

    assert verdict.faults == []
    assert verdict.holds
    assert verdict.events == len(live.events)
    assert verdict.checkpoints >= 3
    assert verdict.files >= 6
    assert verdict.people == 7
    assert verdict.head != "0" * 64


def test_what_the_collector_remembers_of_its_own_is_no_fault(recorded):
    """A replay that begins at a checkpoint is given it, and no line can make it anew."""
    begin = plated_line.BEGIN_UTC_NS + 9_500 * NS

    verdict = rerun.verify(recorded[0], LINE, PLANS.__getitem__, (begin, None))

    assert verdict.checkpoints >= 2
    assert verdict.faults == []


def test_stacks_are_used_and_give_what_single_blocks_give(recorded, monkeypatch):
    store, _ = recorded
    taken = []
    real = Line.receive

    def receive(self, readings):
        taken.append(isinstance(readings, Readings))
        return real(self, readings)

    monkeypatch.setattr(Line, "receive", receive)
    stacked = rerun.replay(store, LINE, PLANS.__getitem__)
    # What is taken as stacks is not received block by block.
    with_stacks = list(taken)
    taken.clear()
    monkeypatch.setattr(feeding, "LEAST_SCANS", 10**6)
    single = rerun.replay(store, LINE, PLANS.__getitem__)

    assert len(with_stacks) < len(taken) * 0.7
    assert single.totals == stacked.totals
    assert single.events == stacked.events


def test_a_span_is_replayed_from_the_checkpoint_before_it(recorded):
    store, live = recorded
    begin = plated_line.BEGIN_UTC_NS + 9_500 * NS
    end = plated_line.BEGIN_UTC_NS + 11_000 * NS

    replayed = rerun.replay(store, LINE, PLANS.__getitem__, (begin, end))

    whole = rerun.replay(store, LINE, PLANS.__getitem__)
    assert begin <= replayed.events[0].utc_ns
    assert list(replayed.events) == list(replayed.recorded)
    assert replayed.events == [e for e in live.events if begin <= e.utc_ns < end]
    assert replayed.before["r2"]["cathodic_uas"] > 0
    assert replayed.totals["r2"]["cathodic_uas"] < whole.totals["r2"]["cathodic_uas"]
    assert replayed.entries < whole.entries / 2


def test_a_rehearsal_tells_which_alarms_would_have_come(recorded):
    store, _ = recorded
    strict, lax = plated_line.plan(high=62.0), plated_line.plan(high=80.0)

    def highs(events):
        return [e for e in events if e.values.get("alarm") == "nickel.temperature.high"]

    with_strict = rerun.replay(store, LINE, lambda _: strict)
    with_lax = rerun.replay(store, LINE, lambda _: lax)

    recorded_first = highs(with_strict.recorded)[0]
    assert highs(with_strict.events)[0].utc_ns < recorded_first.utc_ns
    assert highs(with_lax.events) == []
    assert highs(with_lax.recorded) == highs(with_strict.recorded)
    assert with_lax.totals == with_strict.totals


@pytest.mark.parametrize("seed", range(12))
def test_windows_of_any_size_give_the_same_memory(seed, monkeypatch):
    """Windows, stacks, and where a chunk is cut change no bit of the line's memory."""
    chance = np.random.default_rng(seed)
    chunk, layouts = chunk_of(Plant(seed=seed, troubles=seed % 3 > 0), 4000)
    single = Line(plated_line.plan())
    events = []
    for place in range(len(chunk.kind)):
        events += feed_one(single, chunk, layouts, place)

    monkeypatch.setattr(feeding, "FIRST_SCANS", int(chance.integers(8, 600)))
    monkeypatch.setattr(feeding, "LEAST_SCANS", int(chance.integers(1, 60)))
    run = feeding.Replay(lambda _: plated_line.plan(), {}, "")
    place = 0
    while place < len(chunk.kind):
        end = min(len(chunk.kind), place + int(chance.integers(1, 5000)))
        run.feed(chunk, layouts, (place, end))
        place = end

    assert run.line.memory() == single.memory()
    assert run.line.totals() == single.totals()
    assert run.events == events


def chunk_of(plant, seconds):
    """Return what a plant brings as a chunk."""
    layouts = {1: TANKS, 2: FIRST, 3: SECOND}
    numbers = {each: number for number, each in layouts.items()}
    entries = []
    while plant.second < seconds:
        entries += plant.entries()
    blocks = {number: [] for number in layouts}
    for entry in entries:
        if isinstance(entry, Readings):
            blocks[numbers[entry.layout]].append(entry)
    moments = [codec.moment_of(entry) for entry in entries]
    return Chunk(
        first=1,
        run=np.ones(len(entries), dtype=np.int32),
        kind=np.array([codec.pack_entry(entry)[0] for entry in entries], dtype=np.uint8),
        layout=np.array(
            [numbers[e.layout] if isinstance(e, Readings) else 0 for e in entries],
            dtype=np.int32,
        ),
        utc_ns=np.array([at.utc_ns for at in moments]),
        mono_ns=np.array([at.mono_ns for at in moments]),
        body={},
        value={n: np.array([each.value for each in found]) for n, found in blocks.items()},
        quality={n: np.array([each.quality for each in found]) for n, found in blocks.items()},
    ), layouts


def feed_one(line, chunk, layouts, place):
    if chunk.kind[place] == codec.Kind.TICK:
        return line.tick(chunk.entry(place).at)
    number = int(chunk.layout[place])
    row = int((chunk.layout[:place] == number).sum())
    return line.receive(
        Readings(
            layout=layouts[number],
            utc_ns=int(chunk.utc_ns[place]),
            mono_ns=int(chunk.mono_ns[place]),
            value=chunk.value[number][row],
            quality=chunk.quality[number][row],
        )
    )


# What does not fit is reported.


def tampered(store, statement: str, *parts):
    with open_database(store) as database:
        assert database.execute(statement, parts).rowcount == 1
    return rerun.verify(store, LINE, PLANS.__getitem__)


def test_a_changed_total_is_reported_by_name(store):
    with open_database(store) as database:
        (parts,) = database.execute("SELECT parts FROM totals WHERE subject = 'r1'").fetchone()
    changed = parts.replace('"cathodic_uas":', '"cathodic_uas":1')

    verdict = tampered(store, "UPDATE totals SET parts = ? WHERE subject = 'r1'", changed)

    assert not verdict.holds
    assert any("r1: cathodic_uas is stored as 1" in fault for fault in verdict.faults)


def test_a_changed_event_is_reported(store):
    verdict = tampered(store, "UPDATE events SET text = 'all was well' WHERE number = 5")

    assert any("'" in fault and "all was well" in fault for fault in verdict.faults)


def test_a_removed_event_is_reported(store):
    verdict = tampered(store, "DELETE FROM events WHERE number = 5")

    assert not verdict.holds


def test_a_changed_value_in_the_journal_is_reported(store):
    with open_database(store) as database:
        number, body = database.execute(
            "SELECT number, body FROM sequence WHERE kind = 0 AND layout ="
            " (SELECT layout FROM layouts WHERE text LIKE '%r1.current%') LIMIT 1"
        ).fetchone()
    changed = bytearray(body)
    changed[2 + 6] ^= 1

    verdict = tampered(
        store, "UPDATE sequence SET body = ? WHERE number = ?", bytes(changed), number
    )

    assert any("r1" in fault for fault in verdict.faults)


def test_a_removed_entry_is_reported(store):
    with open_database(store) as database:
        (number,) = database.execute("SELECT max(number) - 50 FROM sequence").fetchone()

    verdict = tampered(store, "DELETE FROM sequence WHERE number = ?", number)

    assert any(f"entry {number} of the sequence is not there" in f for f in verdict.faults)


def test_an_altered_file_is_reported_by_name(store):
    file = sorted(places(store, LINE).archive.rglob("*.readings.parquet"))[1]
    content = bytearray(file.read_bytes())
    content[len(content) // 3] ^= 4
    file.write_bytes(content)

    verdict = rerun.verify(store, LINE, PLANS.__getitem__)

    assert any(file.name in fault for fault in verdict.faults)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE people SET who = 'zz' WHERE number = 3", "does not fit its seal"),
        ("UPDATE people SET parts = '{}' WHERE number = 3", "does not fit its seal"),
        ("DELETE FROM people WHERE number = 3", "1 row(s) are missing before row 4"),
        ("DELETE FROM people WHERE number = 7", "1 row(s) are missing at the end"),
    ],
)
def test_a_changed_missing_or_cut_off_action_is_reported(store, statement, said):
    verdict = tampered(store, statement)

    assert any(said in fault for fault in verdict.faults)


def test_rows_cut_off_together_with_the_ledger_s_head_are_missed_by_the_manifest(store):
    with open_database(store) as database:
        database.execute("DELETE FROM people WHERE number > 2")
        (seal,) = database.execute("SELECT seal FROM people WHERE number = 2").fetchone()
        database.execute("UPDATE state SET people = 2, head = ?", (seal,))

    verdict = rerun.verify(store, LINE, PLANS.__getitem__)

    assert any("kept elsewhere are not among the rows" in fault for fault in verdict.faults)


def test_one_fault_does_not_hide_the_next(store):
    files = sorted(places(store, LINE).archive.rglob("*.readings.parquet"))
    files[0].unlink()
    with open_database(store) as database:
        database.execute("UPDATE people SET who = 'zz' WHERE number = 3")

    verdict = rerun.verify(store, LINE, PLANS.__getitem__)

    assert any(files[0].name in fault for fault in verdict.faults)
    assert any("seal" in fault for fault in verdict.faults)
    assert verdict.checkpoints >= 2


def test_a_hole_is_stepped_over_and_told(tmp_path, monkeypatch):
    from linewatch.history import journal as journals

    journal = history.open_journal(tmp_path, LINE)
    live = LiveLine(journal, plated_line.plan(), Plant())
    live.begin("run-1")
    live.run(600)
    journal.settle()
    with journal._changed:
        monkeypatch.setattr(journals, "QUEUE_BYTES", -1)
        journal._queue.append((lambda _: None, 0))
        live.run(100)
        monkeypatch.undo()
    live.run(600)
    journal.settle()
    journal.close()

    verdict = rerun.verify(tmp_path, LINE, PLANS.__getitem__)

    assert [hole.batches > 0 for hole in verdict.holes] == [True]
    assert verdict.faults == []


def test_a_store_without_entries_verifies(open_journal, tmp_path):
    open_journal(LINE).close()

    verdict = rerun.verify(tmp_path, LINE, lambda _: plated_line.plan())

    assert verdict.holds
    assert verdict.entries == 0
