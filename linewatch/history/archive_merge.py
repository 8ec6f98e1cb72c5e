"""Merge files of the archive into one: run as a child process, as closing an hour is.

    python -m linewatch.history.archive_merge FOLDER LINE KIND TARGET FIRST:LAST

Merges the recorded files of one kind whose numbers lie in the range, in the order of their
numbers, into TARGET (relative to the line's folder), and tells on standard output, as one
JSON object, what it wrote. The parts are checked against the manifest first.

A day of readings or blocks is its hours one behind the other, unchanged: sorted by tag over
a whole day, times alone would cost two bytes a sample. Summaries are sorted by tag anew, so
that one tag of a month is one short read.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Final

from linewatch.history import manifest, parquet, schema, sweep
from linewatch.history.archive_hour import NICENESS, TEMPORARY, sync_and_hash
from linewatch.history.places import Places

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import polars as pl

    from linewatch.history.manifest import Filed

TAGS_AT_ONCE: Final = 16
"""Tags of summaries that are in memory at a time: of a month, some 40 MB."""


def main(arguments: list[str]) -> None:
    """Merge what was asked for."""
    folder, line_id, kind, target, span = arguments
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    places = Places(Path(folder))
    first, _, last = span.partition(":")
    with closing(schema.open_for_reading(places.journal)) as database:
        parts = [
            each
            for each in manifest.filed(database, line_id)
            if each.kind == kind and int(first) <= each.first and each.last <= int(last)
        ]
    damaged = [each.name for each in parts if not sweep.is_sound(places, each)]
    if damaged:
        sys.stdout.write(json.dumps({"damaged": damaged}) + "\n")
        return
    whole = places.folder / target
    whole.parent.mkdir(parents=True, exist_ok=True)
    temporary = whole.with_name(f"{whole.name}.{os.getpid()}{TEMPORARY}")
    merge(places, kind, parts, temporary)
    told = {
        "digest": sync_and_hash(temporary),
        "bytes": temporary.stat().st_size,
        "temporary": temporary.relative_to(places.folder).as_posix(),
        "parts": [each.name for each in parts],
    }
    sys.stdout.write(json.dumps(told) + "\n")


def merge(places: Places, kind: str, parts: Sequence[Filed], whole: Path) -> None:
    """Write the merged file, a piece at a time: a day need not fit into memory."""
    import polars as pl
    from polars.io.plugins import register_io_source

    files = [places.folder / each.name for each in parts]
    pieces = _by_tag if kind == "minutes" else _one_by_one

    def frames(*_: object) -> Iterator[pl.DataFrame]:
        yield from pieces(files)

    register_io_source(frames, schema=pl.read_parquet_schema(files[0])).sink_parquet(
        whole,
        compression_level=parquet.LEVEL,
        row_group_size=parquet.GROUP_ROWS,
        data_page_size=parquet.PAGE_BYTES,
        metadata=_about(files),
    )


def _one_by_one(files: Sequence[Path]) -> Iterator[pl.DataFrame]:
    import polars as pl

    for file in files:
        yield pl.read_parquet(file)


def _by_tag(files: Sequence[Path]) -> Iterator[pl.DataFrame]:
    """Yield the summaries of a few tags at a time, of all files, in order of tag and time."""
    import polars as pl

    scans = [pl.scan_parquet(file) for file in files]
    tags = sorted(
        {tag for scan in scans for tag in scan.select(pl.col("tag").unique()).collect()["tag"]}
    )
    for start in range(0, len(tags), TAGS_AT_ONCE):
        some = tags[start : start + TAGS_AT_ONCE]
        here = pl.col("tag").is_between(pl.lit(some[0]), pl.lit(some[-1]))
        yield (
            pl.concat([scan.filter(here).collect() for scan in scans]).sort(
                "tag", "minute", maintain_order=True
            )
        )


def _about(files: Sequence[Path]) -> dict[str, str]:
    """Return what the newest part says of itself; layouts and runs of all parts together."""
    import polars as pl

    whole: dict[str, str] = {}
    gathered: dict[str, dict[str, object]] = {}
    for file in files:
        for key, text in pl.read_parquet_metadata(file).items():
            if key in {"linewatch.layouts", "linewatch.runs"}:
                gathered.setdefault(key, {}).update(json.loads(text))
            elif key.startswith("linewatch."):
                whole[key] = text
    return whole | {key: json.dumps(entries) for key, entries in gathered.items()}


if __name__ == "__main__":
    main(sys.argv[1:])
