"""Event → disk → answer: the only package that knows SQL, paths and Parquet.

A store is one folder; each line has its own folder in it, so that lines share nothing but
the disk. In a line's folder:

    journal.sqlite      the sequence of the current hours, and the ledger of record (schema.py)
    archive/            closed hours as Parquet (archive.py)
    picture.0, .1       the present picture, not durable (snapshot.py)
    collector.lock      held by the one collector (lock.py)

`open_journal` is the collector's side, `open_desk` the viewers'; the rest is asked for by
name when it is needed, because polars takes longer to import than a screen to start.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from linewatch.history.desk import StoreDesk
    from linewatch.history.journal import StoreJournal

__all__ = ["lines", "open_desk", "open_journal"]


def open_journal(store: Path, line_id: str) -> StoreJournal:
    """Open the writing side of a line's record and hold the line.

    Raises:
        CollectorRunning: another collector holds the line.
        StoreUnusable: the store is of a newer version, damaged, foreign, not writable, or on
            a network file system.
    """
    # Here, not at the top: a viewer needs no writer, a collector no desk.
    from linewatch.history.journal import StoreJournal

    return StoreJournal(store, line_id)


def open_desk(store: Path, line_id: str) -> StoreDesk:
    """Open the reading side of a line's record; no collector needs to run.

    Raises:
        StoreUnusable: nothing was ever recorded here, or the store cannot be read.
    """
    from linewatch.history.desk import StoreDesk

    return StoreDesk(store, line_id)


def lines(store: Path) -> tuple[str, ...]:
    """Return the ids of the lines whose record a store holds, in order of name."""
    from linewatch.history.places import recorded_lines

    return recorded_lines(store)
