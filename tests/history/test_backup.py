"""A copy taken while a collector writes is whole; a restored record goes on where it was."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from linewatch import history
from linewatch.core.errors import CollectorRunning, StoreUnusable
from linewatch.history.backups import LIST, backup, restore
from linewatch.history.places import places
from tests.history.counting_line import LINE as COUNTING
from tests.history.inspect_record import look
from tests.history.made_up import LINE, batch, recorded_hours, run_start

SCRIPT = Path(__file__).with_name("counting_line.py")


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    store = tmp_path_factory.mktemp("recorded")
    recorded_hours(store, 3)
    return store


def test_a_backup_of_a_running_collector_is_of_one_instant(tmp_path):
    store = tmp_path / "store"
    child = subprocess.Popen(
        [sys.executable, str(SCRIPT), str(store), "900"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    shown = 0
    for k in range(4):
        for _ in range(20):
            row = child.stdout.readline().split()
            shown = int(row[1]) if row[0] == "stored" else shown

        copied = backup(store, COUNTING, tmp_path / str(k))

        found = look(tmp_path / str(k))
        assert copied.left_out == ()
        assert found.faults == ()
        assert found.last >= shown
    child.stdin.close()
    child.stdout.read()
    child.wait()
    child.stdout.close()


def test_a_backup_can_be_opened_as_a_store(recorded, tmp_path, open_desk):
    original = open_desk(store=recorded)
    span = (0, 2 * 10**18)
    expected = original.raw("nickel-1.temperature", *span)

    backup(recorded, LINE, tmp_path)

    found = open_desk(store=tmp_path).raw("nickel-1.temperature", *span)
    assert [each.tolist() for each in found] == [each.tolist() for each in expected]


def test_a_second_backup_copies_only_what_is_new(recorded, tmp_path):
    backup(recorded, LINE, tmp_path)
    folder = places(tmp_path, LINE).folder
    before = {file: file.stat().st_mtime_ns for file in folder.rglob("*.parquet")}

    backup(recorded, LINE, tmp_path)

    assert before
    assert {file: file.stat().st_mtime_ns for file in folder.rglob("*.parquet")} == before


def test_a_damaged_file_is_left_behind_and_named(recorded, tmp_path):
    store = shutil.copytree(recorded, tmp_path / "store")
    victim = min(places(store, LINE).archive.rglob("*.parquet"))
    victim.write_bytes(b"damaged")

    copied = backup(store, LINE, tmp_path / "backup")

    assert copied.left_out == (victim.relative_to(places(store, LINE).folder).as_posix(),)


def test_a_restored_record_goes_on_where_it_was_and_says_so(
    recorded, tmp_path, open_journal, open_desk
):
    backup(recorded, LINE, tmp_path / "backup")

    restore(tmp_path / "backup", tmp_path / "new", LINE, who="ab", why="disk died", utc_ns=5)

    journal = open_journal(store=tmp_path / "new")
    assert journal.memory() == {"minute": b"180"}
    journal.append(batch(run_start(99999.0, "run-2")))
    assert journal.settle()
    (row,) = open_desk(store=tmp_path / "new").actions()
    assert (row.who, row.what, row.parts["why"], row.utc_ns) == (
        "ab",
        "Restore",
        "disk died",
        5,
    )


@pytest.fixture
def kept(recorded, tmp_path):
    """Return a backup."""
    backup(recorded, LINE, tmp_path / "backup")
    return tmp_path / "backup"


def give_back(source, store):
    return restore(source, store, LINE, who="ab", why="test", utc_ns=5)


def test_a_backup_that_was_changed_is_refused(kept, tmp_path):
    victim = min(places(kept, LINE).archive.rglob("*.parquet"))
    victim.write_bytes(victim.read_bytes() + b"x")

    with pytest.raises(StoreUnusable, match="1 of its files are not what was copied"):
        give_back(kept, tmp_path / "new")

    assert not places(tmp_path / "new", LINE).journal.exists()


def test_a_backup_that_was_not_finished_is_refused(kept, tmp_path):
    (places(kept, LINE).folder / LIST).unlink()

    with pytest.raises(StoreUnusable, match="there is no backup of 'made-up' here"):
        give_back(kept, tmp_path / "new")


def test_a_record_is_never_overwritten(kept, recorded, tmp_path):
    store = shutil.copytree(recorded, tmp_path / "store")

    with pytest.raises(StoreUnusable, match="it already holds a record"):
        give_back(kept, store)
    with pytest.raises(StoreUnusable, match="it holds a record that is no backup"):
        backup(kept, LINE, store)


def test_a_line_that_is_held_is_not_restored(kept, tmp_path):
    from linewatch.history.lock import LineLock

    there = places(tmp_path / "new", LINE)
    there.folder.mkdir(parents=True)
    lock = LineLock(there, LINE)
    lock.take(0)
    try:
        with pytest.raises(CollectorRunning):
            give_back(kept, tmp_path / "new")
    finally:
        lock.free()


def test_nothing_recorded_is_nothing_to_copy(tmp_path):
    with pytest.raises(StoreUnusable, match="nothing was ever recorded here for 'made-up'"):
        backup(tmp_path, LINE, tmp_path / "backup")


def test_the_list_tells_the_head_of_the_people_s_journal(kept):
    told = json.loads((places(kept, LINE).folder / LIST).read_text())
    desk = history.open_desk(kept, LINE)

    assert told["line"] == LINE
    assert told["head"] == "0" * 64
    assert desk.actions() == []
    desk.close()
