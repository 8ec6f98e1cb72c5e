"""Versions: every earlier one becomes the present one, whole step by whole step."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from linewatch.core.errors import StoreUnusable
from linewatch.history import schema


@pytest.fixture
def database(tmp_path):
    with closing(schema.connect(tmp_path / "journal.sqlite")) as database:
        yield database


def tables(database) -> set[str]:
    return {name for (name,) in database.execute("SELECT name FROM sqlite_schema")}


@pytest.mark.parametrize("version", range(len(schema.STEPS)))
def test_a_store_of_every_earlier_version_is_brought_up_to_date(tmp_path, monkeypatch, version):
    file = tmp_path / "journal.sqlite"
    with monkeypatch.context() as then:
        then.setattr(schema, "STEPS", schema.STEPS[:version])
        schema.open_for_writing(file).close()

    with closing(schema.open_for_writing(file)) as database:
        assert schema.version(database) == len(schema.STEPS)
        assert {"sequence", "state", "people", "files"} <= tables(database)


def test_a_further_step_keeps_what_is_there(tmp_path, monkeypatch):
    file = tmp_path / "journal.sqlite"
    with closing(schema.open_for_writing(file)) as database:
        database.execute("INSERT INTO texts VALUES ('f', 'the text')")
    further = "ALTER TABLE texts ADD COLUMN note TEXT NOT NULL DEFAULT 'none';"
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, further))

    with closing(schema.open_for_writing(file)) as database:
        assert database.execute("SELECT * FROM texts").fetchall() == [("f", "the text", "none")]
        assert schema.version(database) == len(schema.STEPS)


def test_a_step_that_fails_half_way_changes_nothing(tmp_path, monkeypatch):
    file = tmp_path / "journal.sqlite"
    schema.open_for_writing(file).close()
    released = len(schema.STEPS)
    broken = "CREATE TABLE half (x);\nINSERT INTO no_such_table VALUES (1);"
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, broken))

    with pytest.raises(StoreUnusable, match="no such table"):
        schema.open_for_writing(file)

    with closing(sqlite3.connect(file)) as database:
        assert schema.version(database) == released
        assert "half" not in tables(database)


def test_a_viewer_does_not_change_an_older_store(tmp_path, monkeypatch):
    file = tmp_path / "journal.sqlite"
    schema.open_for_writing(file).close()
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, "CREATE TABLE new (x);"))

    with pytest.raises(StoreUnusable, match="start a collector on it once"):
        schema.open_for_reading(file)


def test_a_transaction_that_fails_leaves_nothing(database):
    database.execute("CREATE TABLE t (x)")

    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        _write_twice(database)

    assert database.execute("SELECT count(*) FROM t").fetchone() == (0,)
    assert not database.in_transaction


def _write_twice(database) -> None:
    with schema.transaction(database):
        database.execute("INSERT INTO t VALUES (1)")
        database.execute("INSERT INTO no_such_table VALUES (1)")


def test_line_and_run_stand_in_every_key_of_the_sequence(tmp_path):
    with closing(schema.open_for_writing(tmp_path / "journal.sqlite")) as database:
        for table in ("sequence", "events", "people", "checkpoints"):
            keys = [
                name
                for _, name, _, _, _, place in database.execute(f"PRAGMA table_info({table})")
                if place
            ]

            assert keys == ["line_id", "number", "run"]


def test_the_log_is_written_through_at_every_commit(tmp_path):
    with closing(schema.open_for_writing(tmp_path / "journal.sqlite")) as database:
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        # 2 is FULL: sqlite.org/pragma.html#pragma_synchronous.
        assert database.execute("PRAGMA synchronous").fetchone() == (2,)
