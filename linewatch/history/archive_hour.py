"""Close hours of the sequence: run as a child process, so that no loop ever waits for it.

    python -m linewatch.history.archive_hour FOLDER LINE FIRST:LAST ...

Writes the three files of each range under temporary names, syncs them, and tells on standard
output, one JSON object a range, what they are. Whoever asked gives them their names and
records them. Nothing of the database is changed here.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from linewatch.history import chunk as chunks
from linewatch.history import parquet, schema
from linewatch.history.places import Places

if TYPE_CHECKING:
    import sqlite3

TEMPORARY: Final = ".part"
NICENESS: Final = 10


def main(arguments: list[str]) -> None:
    """Write the files of the ranges that were asked for."""
    folder, line_id, *ranges = arguments
    if hasattr(os, "nice"):
        # Live polling goes first.
        os.nice(NICENESS)
    places = Places(Path(folder))
    with closing(schema.open_for_reading(places.journal)) as database:
        for each in ranges:
            first, _, last = each.partition(":")
            told = write_range(database, places, line_id, (int(first), int(last)))
            sys.stdout.write(json.dumps(told) + "\n")
            sys.stdout.flush()


def write_range(
    database: sqlite3.Connection, places: Places, line_id: str, span: tuple[int, int]
) -> dict[str, Any]:
    """Write the files of one range; return what the manifest shall say of them."""
    chunk = chunks.journal_chunk(database, line_id, span)
    if chunk is None:
        return {"first": span[0], "last": span[1], "files": []}
    counts = chunk.counts()
    layouts = {
        number: layout
        for number, layout in chunks.known_layouts(database, line_id).items()
        if number in counts
    }
    about = parquet.about(line_id, layouts, _runs(database, line_id), _head(database, line_id))
    folder = f"date={datetime.fromtimestamp(int(chunk.utc_ns[0]) // 10**9, UTC):%Y-%m-%d}"
    hour = f"{datetime.fromtimestamp(int(chunk.utc_ns[0]) // 10**9, UTC):%H}"
    names = {
        "readings": places.archive / folder / f"{hour}-{chunk.first}.readings.parquet",
        "blocks": places.archive / folder / f"{hour}-{chunk.first}.blocks.parquet",
        "minutes": places.summaries / folder / f"{hour}-{chunk.first}.minutes.parquet",
    }
    for name in names.values():
        name.parent.mkdir(parents=True, exist_ok=True)
    parquet.write_readings(_temporary(names["readings"]), chunk, layouts, about)
    parquet.write_blocks(_temporary(names["blocks"]), chunk, about)
    parquet.write_minutes(_temporary(names["minutes"]), chunk, layouts, about)
    return {
        "first": chunk.first,
        "last": chunk.last,
        "low_utc_ns": int(chunk.utc_ns.min()),
        "high_utc_ns": int(chunk.utc_ns.max()),
        "head": about["linewatch.people"],
        "counts": {str(layout): count for layout, count in counts.items()},
        "files": [_seen(places, kind, name) for kind, name in names.items()],
    }


def _seen(places: Places, kind: str, name: Path) -> dict[str, Any]:
    written = _temporary(name)
    digest = sync_and_hash(written)
    return {
        "kind": kind,
        "name": name.relative_to(places.folder).as_posix(),
        "temporary": written.relative_to(places.folder).as_posix(),
        "bytes": written.stat().st_size,
        "sha256": digest,
    }


def sync_and_hash(file: Path) -> str:
    """Bring a file to the disk for good; return its SHA-256 in hex."""
    with file.open("rb+") as opened:
        digest = hashlib.file_digest(opened, "sha256").hexdigest()
        os.fsync(opened.fileno())
    return digest


def _temporary(name: Path) -> Path:
    return name.with_name(f"{name.name}.{os.getpid()}{TEMPORARY}")


def _runs(database: sqlite3.Connection, line_id: str) -> dict[int, str]:
    return dict(database.execute("SELECT run, run_id FROM runs WHERE line_id = ?", (line_id,)))


def _head(database: sqlite3.Connection, line_id: str) -> str:
    row = database.execute("SELECT head FROM state WHERE line_id = ?", (line_id,)).fetchone()
    return str(row[0]) if row else ""


if __name__ == "__main__":
    main(sys.argv[1:])
