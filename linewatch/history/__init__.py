"""Event → disk → answer: the only package that knows SQL, paths and Parquet.

A store is one folder; each line has its own folder in it, so that lines share nothing but
the disk. In a line's folder:

    journal.sqlite      the sequence of the current hours, and the ledger of record (schema.py)
    archive/            closed hours as Parquet (archive.py)
    picture.0, .1       the present picture, not durable (snapshot.py)
    collector.lock      held by the one collector (lock.py)
    knock               touched by whoever leaves a request (knock.py)

`open_journal` is the collector's side, `open_desk` the viewers'. Everything is imported when
it is asked for, because polars takes longer to import than a screen to start.

    schema · codec · chain             rows, and what stands in them
    journal · waiting · ledger · lock  writing: one thread, one transaction
    desk · snapshot · knock            reading: news, events, requests, the present picture
    archive · archive_hour · archive_merge · parquet · manifest · sweep    closed hours
    chunk · minutes · reader           samples, summaries and the answers made of them
    sequence · feeding · rerun         the record through the same machine again
    exports · backups · zones          for other tools, other disks, other clocks
    frames                             raw frames that somebody asked for; no part of the record
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from linewatch.history.backups import Copied
    from linewatch.history.desk import StoreDesk
    from linewatch.history.exports import Wish
    from linewatch.history.feeding import PlanOf
    from linewatch.history.frames import FrameFile
    from linewatch.history.journal import StoreJournal
    from linewatch.history.rerun import Replayed, Span, Verdict

__all__ = [
    "backup",
    "export",
    "lines",
    "open_desk",
    "open_frames",
    "open_journal",
    "replay",
    "restore",
    "verify",
]


def open_journal(store: Path, line_id: str, *, raw_days: float | None = 400.0) -> StoreJournal:
    """Open the writing side of a line's record and hold the line.

    Samples older than `raw_days` are deleted, summaries never; None keeps everything.

    Raises:
        CollectorRunning: another collector holds the line.
        StoreUnusable: the store is of a newer version, damaged, foreign, not writable, or on
            a network file system.
    """
    # Here, not at the top: a viewer needs no writer, a collector no desk.
    from linewatch.history.archive import Retention
    from linewatch.history.journal import StoreJournal

    journal = StoreJournal(store, line_id)
    journal.archivist.retention = Retention(raw_days=raw_days)
    return journal


def open_desk(store: Path, line_id: str) -> StoreDesk:
    """Open the reading side of a line's record; no collector needs to run.

    Raises:
        StoreUnusable: nothing was ever recorded here, or the store cannot be read.
    """
    from linewatch.history.desk import StoreDesk

    return StoreDesk(store, line_id)


def open_frames(store: Path, line_id: str, name: str, about: str) -> FrameFile:
    """Begin a file of raw frames; see history/frames.py."""
    from linewatch.history.frames import FrameFile
    from linewatch.history.places import places

    return FrameFile(places(store, line_id).frames, name, about)


def lines(store: Path) -> tuple[str, ...]:
    """Return the ids of the lines whose record a store holds, in order of name."""
    from linewatch.history.places import recorded_lines

    return recorded_lines(store)


def replay(store: Path, line_id: str, plan_of: PlanOf, span: Span = (None, None)) -> Replayed:
    """Feed a span of wall time [ns since the Unix epoch] to a fresh line.

    `plan_of` returns the plan of a configuration by its fingerprint (`StoreDesk.configuration`
    has the text); one that always returns the same plan makes the replay a rehearsal.

    Raises:
        StoreUnusable: the store cannot be read, or entries of the span are missing.
    """
    from linewatch.history import rerun

    return rerun.replay(store, line_id, plan_of, span)


def verify(store: Path, line_id: str, plan_of: PlanOf, span: Span = (None, None)) -> Verdict:
    """Feed a span of wall time to a fresh line, and compare it with what was stored.

    Raises:
        StoreUnusable: the store cannot be read.
    """
    from linewatch.history import rerun

    return rerun.verify(store, line_id, plan_of, span)


def export(store: Path, line_id: str, target: Path, wish: Wish) -> int:
    """Write samples, series, events or actions for other tools; return the number of rows.

    Raises:
        NotExported: it cannot be made, or not be written.
        StoreUnusable: the store cannot be read.
    """
    from linewatch.history import exports

    return exports.export(store, line_id, target, wish)


def backup(store: Path, line_id: str, target: Path) -> Copied:
    """Copy a line's record into a folder; a collector may run meanwhile.

    Raises:
        StoreUnusable: the store cannot be read, or the target not be written.
    """
    from linewatch.history import backups

    return backups.backup(store, line_id, target)


def restore(
    source: Path, store: Path, line_id: str, *, who: str, why: str, utc_ns: int
) -> Copied:
    """Put a backup in place of a record that is gone; that it was done is recorded.

    Raises:
        StoreUnusable: the backup is not whole, or the store already holds the line's record.
        CollectorRunning: a collector holds the line.
    """
    from linewatch.history import backups

    return backups.restore(source, store, line_id, who=who, why=why, utc_ns=utc_ns)
