"""The tables of a line's database, and how an older one becomes a present one.

Rule 1: a version, once released, is never edited; the next one is a further entry in STEPS.
Rule 2: a step runs whole or not at all; a store of a newer version is left alone.
Rule 3: line and run stand in every key, so that many lines may share one server later. A run
        is its ordinal within its line; `runs` has its id. Numbers rise across the runs.
"""

from __future__ import annotations

import contextlib
import sqlite3
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import StoreUnusable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

APPLICATION_ID: Final = 0x6C777463
"""'lwtc': SQLite keeps it in the file's head, so that a foreign database is known as such."""
BUSY_MS: Final = 5000
PAGE_BYTES: Final = 4096
WAL_KEPT_BYTES: Final = 16 * 1024 * 1024
"""The log is cut to this length when it starts over."""

VERSION_1: Final = """
CREATE TABLE state (
  line_id TEXT PRIMARY KEY,
  number INTEGER NOT NULL,          -- of the last entry of the sequence
  utc_ns INTEGER NOT NULL,          -- of that entry
  mono_ns INTEGER NOT NULL,
  run INTEGER NOT NULL,
  event INTEGER NOT NULL,           -- number of the last event
  news INTEGER NOT NULL,            -- rises with every event and outcome
  people INTEGER NOT NULL,          -- number of the last row of the people's journal
  head TEXT NOT NULL                -- its hash: the head of the chain
) WITHOUT ROWID;
CREATE TABLE runs (
  line_id TEXT NOT NULL,
  run INTEGER NOT NULL,
  run_id TEXT NOT NULL,
  number INTEGER NOT NULL,          -- of the run's first entry
  utc_ns INTEGER NOT NULL,
  mono_ns INTEGER NOT NULL,
  fingerprint TEXT NOT NULL,
  speed REAL NOT NULL,
  who TEXT NOT NULL,
  PRIMARY KEY (line_id, run)
) WITHOUT ROWID;
CREATE TABLE layouts (
  line_id TEXT NOT NULL,
  layout INTEGER NOT NULL,
  text TEXT NOT NULL,               -- JSON: link, device, tags, period_ns
  PRIMARY KEY (line_id, layout),
  UNIQUE (line_id, text)
) WITHOUT ROWID;
CREATE TABLE sequence (
  line_id TEXT NOT NULL,
  number INTEGER NOT NULL,
  run INTEGER NOT NULL,
  kind INTEGER NOT NULL,            -- of codec.Kind
  layout INTEGER NOT NULL,          -- 0 where the entry is no block
  utc_ns INTEGER NOT NULL,
  mono_ns INTEGER NOT NULL,
  body BLOB NOT NULL,               -- see codec.py
  PRIMARY KEY (line_id, number, run)
) WITHOUT ROWID;
CREATE TABLE memory (
  line_id TEXT NOT NULL,
  name TEXT NOT NULL,
  bytes BLOB NOT NULL,
  run INTEGER NOT NULL,
  number INTEGER NOT NULL,          -- of the entry after which it was so
  PRIMARY KEY (line_id, name)
) WITHOUT ROWID;
CREATE TABLE totals (
  line_id TEXT NOT NULL,
  subject TEXT NOT NULL,
  parts TEXT NOT NULL,              -- JSON: name to number, integers exact
  run INTEGER NOT NULL,
  number INTEGER NOT NULL,
  utc_ns INTEGER NOT NULL,
  PRIMARY KEY (line_id, subject)
) WITHOUT ROWID;
CREATE TABLE checkpoints (          -- the whole memory from time to time: where replay starts
  line_id TEXT NOT NULL,
  number INTEGER NOT NULL,          -- of the last entry before it
  run INTEGER NOT NULL,
  utc_ns INTEGER NOT NULL,
  mono_ns INTEGER NOT NULL,
  event INTEGER NOT NULL,           -- number of the last event before it
  memory BLOB NOT NULL,             -- see codec.pack_memory
  totals BLOB NOT NULL,             -- JSON, compressed
  PRIMARY KEY (line_id, number, run)
) WITHOUT ROWID;
CREATE TABLE events (
  line_id TEXT NOT NULL,
  number INTEGER NOT NULL,
  run INTEGER NOT NULL,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  utc_ns INTEGER NOT NULL,
  mono_ns INTEGER NOT NULL,
  text TEXT NOT NULL,
  parts TEXT NOT NULL,              -- JSON
  PRIMARY KEY (line_id, number, run)
) WITHOUT ROWID;
CREATE INDEX events_by_time ON events (line_id, utc_ns);
CREATE TABLE requests (
  line_id TEXT NOT NULL,
  number INTEGER NOT NULL,
  command TEXT NOT NULL,            -- JSON
  utc_ns INTEGER NOT NULL,
  refused TEXT,                     -- NULL: still waits; '': carried out; else why not
  done_utc_ns INTEGER,
  run INTEGER,                      -- in which it was carried out
  PRIMARY KEY (line_id, number)
) WITHOUT ROWID;
CREATE INDEX requests_waiting ON requests (line_id, number) WHERE refused IS NULL;
CREATE TABLE people (               -- append-only, each row sealed by the hash of all before
  line_id TEXT NOT NULL,
  number INTEGER NOT NULL,
  run INTEGER NOT NULL,
  who TEXT NOT NULL,
  what TEXT NOT NULL,               -- kind of action: a command's name, 'Configure', ...
  parts TEXT NOT NULL,              -- JSON
  utc_ns INTEGER NOT NULL,
  seal TEXT NOT NULL,               -- see chain.py
  PRIMARY KEY (line_id, number, run)
) WITHOUT ROWID;
CREATE TABLE configurations (
  line_id TEXT NOT NULL,
  from_utc_ns INTEGER NOT NULL,
  number INTEGER NOT NULL,          -- rises with every change
  until_utc_ns INTEGER,             -- NULL: in force
  run INTEGER NOT NULL,             -- the last run before it
  fingerprint TEXT NOT NULL,
  who TEXT NOT NULL,
  why TEXT NOT NULL,
  PRIMARY KEY (line_id, number)
) WITHOUT ROWID;
CREATE TABLE texts (
  fingerprint TEXT PRIMARY KEY,
  text TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE files (                -- the archive's manifest: what is not here is no file
  line_id TEXT NOT NULL,
  first INTEGER NOT NULL,           -- numbers of the sequence that it holds
  last INTEGER NOT NULL,
  kind TEXT NOT NULL,               -- readings, blocks, minutes
  name TEXT NOT NULL,               -- relative to the line's folder
  bytes INTEGER NOT NULL,
  sha256 TEXT NOT NULL,
  low_utc_ns INTEGER NOT NULL,      -- earliest and latest wall time in it
  high_utc_ns INTEGER NOT NULL,
  head TEXT NOT NULL,               -- head of the people's chain when it was recorded
  state TEXT NOT NULL,              -- '', or why it is no longer read
  parts TEXT NOT NULL,              -- JSON: sections: first, last, blocks by layout
  PRIMARY KEY (line_id, name)
) WITHOUT ROWID;
"""

VERSION_2: Final = """
CREATE INDEX events_by_subject ON events (line_id, subject, kind, utc_ns);
"""
"""A load's record, a bath's analyses or a month of discharge, without the rest of the month."""

STEPS: Final[tuple[str, ...]] = (VERSION_1, VERSION_2)
"""Step i brings a store from version i to i + 1; version 0 is an empty database."""


def connect(file: Path, *, read_only: bool = False) -> sqlite3.Connection:
    """Open a line's database; transactions begin and end only where the code says so.

    Raises:
        StoreUnusable: there is no such file.
    """
    mode = "rw" if file.exists() or read_only else "rwc"
    try:
        database = sqlite3.connect(
            f"{file.absolute().as_uri()}?mode={mode}",
            uri=True,
            timeout=BUSY_MS / 1000,
            isolation_level=None,
            check_same_thread=False,
        )
    except sqlite3.Error as error:
        raise _unusable(file, error) from error
    if read_only:
        # A plain read-only opening cannot follow a write-ahead log whose files are gone.
        database.execute("PRAGMA query_only = ON")
    return database


def open_for_writing(file: Path) -> sqlite3.Connection:
    """Open or make a line's database, bring it to the present version, and check it.

    Raises:
        StoreUnusable: it is of a newer version, foreign, damaged, or cannot be written.
    """

    def prepare(database: sqlite3.Connection) -> None:
        database.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA synchronous = FULL")
        database.execute(f"PRAGMA journal_size_limit = {WAL_KEPT_BYTES}")
        migrate(database)
        _refuse_damaged(database, file)

    return _opened(file, connect(file), prepare)


def open_for_reading(file: Path) -> sqlite3.Connection:
    """Open a line's database for queries.

    Raises:
        StoreUnusable: it is of another version, foreign or damaged.
    """
    database = connect(file, read_only=True)
    return _opened(file, database, lambda each: _refuse_older(each, file))


def _opened(
    file: Path, database: sqlite3.Connection, prepare: Callable[[sqlite3.Connection], None]
) -> sqlite3.Connection:
    """Return a database that is ours and prepared, or close it."""
    try:
        _refuse_foreign(database, file)
        prepare(database)
    except sqlite3.Error as error:
        database.close()
        raise _unusable(file, error) from error
    except StoreUnusable:
        database.close()
        raise
    return database


def version(database: sqlite3.Connection) -> int:
    """Return the version of a store; 0 is an empty one."""
    found: int = database.execute("PRAGMA user_version").fetchone()[0]
    return found


def migrate(database: sqlite3.Connection) -> None:
    """Bring a store to the present version, one whole step after another."""
    for step in range(version(database), len(STEPS)):
        with transaction(database):
            # Another process may have been quicker between the look and the lock.
            if version(database) != step:
                continue
            for statement in _statements(STEPS[step]):
                database.execute(statement)
            database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            database.execute(f"PRAGMA user_version = {step + 1}")


@contextlib.contextmanager
def transaction(database: sqlite3.Connection) -> Iterator[None]:
    """Write whole or not at all; the lock is taken at once, so that nothing fails half way."""
    database.execute("BEGIN IMMEDIATE")
    try:
        yield
        database.execute("COMMIT")
    except BaseException:
        # SQLite ends the transaction itself for some errors, a full disk among them.
        if database.in_transaction:
            database.execute("ROLLBACK")
        raise


def _statements(script: str) -> Iterator[str]:
    """Split a script: `executescript` would commit by itself, and tear the step apart."""
    statement = ""
    for row in script.splitlines(keepends=True):
        statement += row
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def _refuse_foreign(database: sqlite3.Connection, file: Path) -> None:
    found = version(database)
    owner = database.execute("PRAGMA application_id").fetchone()[0]
    tables = database.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and owner != APPLICATION_ID:
        raise StoreUnusable(
            str(file), "it is the database of another program", "name another --store DIR"
        )
    if found > len(STEPS):
        raise StoreUnusable(
            str(file),
            f"it is of version {found}, newer than this program's {len(STEPS)}",
            "use the newer linewatch, or another --store DIR",
        )


def _refuse_older(database: sqlite3.Connection, file: Path) -> None:
    found = version(database)
    if found < len(STEPS):
        raise StoreUnusable(
            str(file),
            f"it is of version {found}, older than this program's {len(STEPS)}",
            "start a collector on it once: that brings it up to date",
        )


def _refuse_damaged(database: sqlite3.Connection, file: Path) -> None:
    found = database.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise StoreUnusable(
            str(file),
            f"the database is damaged ({found.splitlines()[-1]})",
            "restore the last backup, or name another --store DIR",
        )


def _unusable(file: Path, error: sqlite3.Error) -> StoreUnusable:
    remedies = {
        "SQLITE_CANTOPEN": "see that the folder exists and that this user may write there",
        "SQLITE_READONLY": "see that this user may write there",
        "SQLITE_FULL": "make room on the disk",
        "SQLITE_IOERR": "see to the disk",
    }
    name = getattr(error, "sqlite_errorname", "")
    remedy = next(
        (what for code, what in remedies.items() if name.startswith(code)),
        "restore the last backup, or name another --store DIR",
    )
    return StoreUnusable(str(file), f"the database cannot be used: {error}", remedy)
