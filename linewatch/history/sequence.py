"""The one sequence in order, chunk by chunk, wherever its pieces stand just now."""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import StoreUnusable
from linewatch.history import chunk as chunks
from linewatch.history import manifest, parquet

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Mapping, Sequence

    from linewatch.core.readings import Layout
    from linewatch.history.chunk import Chunk
    from linewatch.history.manifest import Section, Sectioned
    from linewatch.history.places import Places

ROWS_AT_ONCE: Final = 200_000
"""Entries of the journal that are in memory at a time."""


class Entries:
    """The entries of one line, from the archive and the journal.

    Args:
        database: Opened for reading; no transaction is left open between chunks.
        places: The line's folder.
        line_id: Whose record.
    """

    def __init__(self, database: sqlite3.Connection, places: Places, line_id: str) -> None:
        self._database = database
        self._places = places
        self._line_id = line_id
        self.layouts: dict[int, Layout] = chunks.known_layouts(database, line_id)
        """Every layout by its number."""
        self._files = _Files(manifest.sectioned(database, line_id), self.layouts)

    def chunks(self, first: int, last: int) -> Iterator[Chunk]:
        """Yield the entries from one number to another, both included, in order.

        The first chunk may begin before `first`, the last one end behind `last`.

        Raises:
            StoreUnusable: entries are missing, or their files cannot be read.
        """
        while first <= last:
            chunk = self._chunk(first, last)
            yield chunk
            first = chunk.last + 1

    def _chunk(self, first: int, last: int) -> Chunk:
        # A running collector may archive or merge what was somewhere else a moment ago.
        for is_last_try in (False, True):
            where = self._files.find(first)
            try:
                if where is not None:
                    return self._read(*where)
            except StoreUnusable:
                if is_last_try:
                    raise
            else:
                chunk = self._journalled(first, last)
                if chunk is not None and chunk.first == first:
                    return chunk
            files = manifest.sectioned(self._database, self._line_id)
            self.layouts.update(chunks.known_layouts(self._database, self._line_id))
            self._files = _Files(files, self.layouts)
        raise StoreUnusable(
            str(self._places.folder),
            f"entry {first} of the sequence is not there",
            "replay a span behind it, or restore it from a backup",
        )

    def _journalled(self, first: int, last: int) -> Chunk | None:
        return chunks.journal_chunk(
            self._database, self._line_id, (first, min(last, first + ROWS_AT_ONCE - 1))
        )

    def _read(self, entries: _Place, samples: _Place) -> Chunk:
        import polars as pl

        (file, section, row), (sample_file, _, sample_row) = entries, samples
        folder = self._places.folder
        count = sum(count * len(self.layouts[number].tags) for number, count in section.counts)
        try:
            return parquet.read_chunk(
                pl.scan_parquet(folder / file.name).slice(
                    row, section.last - section.first + 1
                ),
                pl.scan_parquet(folder / sample_file.name).slice(sample_row, count),
                section,
                self.layouts,
            )
        except (OSError, ValueError, pl.exceptions.PolarsError) as error:
            raise StoreUnusable(
                f"{file.name} and {sample_file.name}",
                f"they cannot be read: {error}",
                "restore them from a backup",
            ) from error


_Place = tuple["Sectioned", "Section", int]
"""A file, a chunk in it, and the row at which the chunk begins."""


class _Files:
    """Where each archived chunk stands."""

    def __init__(self, files: Sequence[Sectioned], layouts: Mapping[int, Layout]) -> None:
        self._blocks: dict[int, _Place] = {}
        self._readings: dict[int, _Place] = {}
        for file in files:
            if file.kind == "blocks":
                for section, row in file.entry_starts():
                    self._blocks[section.first] = (file, section, row)
            elif file.kind == "readings":
                for section, row in file.reading_starts(layouts):
                    self._readings[section.first] = (file, section, row)
        self._firsts = sorted(self._blocks.keys() & self._readings.keys())

    def find(self, number: int) -> tuple[_Place, _Place] | None:
        """Return where the entries and the samples of a number's chunk stand, if they do."""
        found = bisect_right(self._firsts, number) - 1
        if found < 0:
            return None
        first = self._firsts[found]
        if self._blocks[first][1].last < number:
            return None
        return self._blocks[first], self._readings[first]
