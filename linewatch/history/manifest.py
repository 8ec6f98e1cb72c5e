"""The archive's manifest: a file that does not stand here is no file of the archive.

Rule 1: a file is recorded, and the rows that it holds are removed, in one transaction.
Rule 2: `state` is '' while a file is read. The row of a file that was set aside or whose time
        had come stays and tells why; only hours that were merged into a day leave the list.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Mapping, Sequence

    from linewatch.core.readings import Layout
    from linewatch.history.ledger import Draft

FileKind: TypeAlias = Literal["readings", "blocks", "minutes"]
SET_ASIDE: Final = "set aside: "
EXPIRED: Final = "expired"


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A chunk as it stands in a file."""

    first: int
    """Number of its first entry."""
    last: int
    counts: tuple[tuple[int, int], ...]
    """(layout, blocks of it)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """One file of the archive, as the manifest knows it."""

    first: int
    """Number of the first entry that it tells of."""
    last: int
    kind: FileKind
    name: str
    """Relative to the line's folder, with slashes."""
    bytes: int
    sha256: str
    low_utc_ns: int
    high_utc_ns: int
    head: str
    """Head of the people's chain when it was recorded."""
    state: str = ""
    sections: tuple[Section, ...] = ()
    """What stands in it one behind the other: an hour has one, a merged day many."""

    def reading_starts(self, layouts: Mapping[int, Layout]) -> Iterator[tuple[Section, int]]:
        """Yield each section with the row at which it begins in a file of readings."""
        row = 0
        for section in self.sections:
            yield section, row
            row += sum(count * len(layouts[number].tags) for number, count in section.counts)

    def entry_starts(self) -> Iterator[tuple[Section, int]]:
        """Yield each section with the row at which it begins in a file of blocks."""
        row = 0
        for section in self.sections:
            yield section, row
            row += section.last - section.first + 1


_EVERY: Final = (
    "SELECT first, last, kind, name, bytes, sha256, low_utc_ns, high_utc_ns, head, state, parts"
    " FROM files WHERE line_id = ? ORDER BY first, kind"
)
_BETWEEN: Final = (
    "SELECT first, last, kind, name, bytes, sha256, low_utc_ns, high_utc_ns, head, state, parts"
    " FROM files WHERE line_id = ? AND state = '' AND kind = ?"
    " AND high_utc_ns >= ? AND low_utc_ns < ? ORDER BY first"
)


def filed(database: sqlite3.Connection, line_id: str, *, every: bool = False) -> list[Filed]:
    """Return the files that are read, or every one that is known; in order of numbers."""
    found = [_filed(row) for row in database.execute(_EVERY, (line_id,))]
    return [each for each in found if every or not each.state]


def filed_between(
    database: sqlite3.Connection, line_id: str, kind: FileKind, span: tuple[int, int]
) -> list[Filed]:
    """Return the files of a kind that have a wall time within a span; in order of numbers."""
    return [_filed(row) for row in database.execute(_BETWEEN, (line_id, kind, *span))]


def archived_to(database: sqlite3.Connection, line_id: str) -> int:
    """Return the number of the last entry that has left the journal; 0 if none has."""
    row = database.execute(
        "SELECT max(last) FROM files WHERE line_id = ? AND kind = 'blocks'", (line_id,)
    ).fetchone()
    return row[0] or 0


def set_aside(database: sqlite3.Connection, line_id: str) -> list[Filed]:
    """Return the files that could not be trusted."""
    return [
        each
        for each in filed(database, line_id, every=True)
        if each.state.startswith(SET_ASIDE)
    ]


def record(draft: Draft, files: Sequence[Filed]) -> None:
    """Note files in the manifest."""
    draft.database.executemany(
        "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                draft.line_id,
                each.first,
                each.last,
                each.kind,
                each.name,
                each.bytes,
                each.sha256,
                each.low_utc_ns,
                each.high_utc_ns,
                each.head,
                each.state,
                json.dumps(
                    [[part.first, part.last, dict(part.counts)] for part in each.sections]
                ),
            )
            for each in files
        ],
    )


def forget_rows(draft: Draft, first: int, last: int) -> None:
    """Remove entries from the journal's sequence: they stand in the archive now."""
    draft.database.execute(
        "DELETE FROM sequence WHERE line_id = ? AND number BETWEEN ? AND ?",
        (draft.line_id, first, last),
    )


def forget_checkpoints(draft: Draft, numbers: Sequence[int]) -> None:
    """Remove checkpoints that are no longer needed."""
    draft.database.executemany(
        "DELETE FROM checkpoints WHERE line_id = ? AND number = ?",
        [(draft.line_id, number) for number in numbers],
    )


def retire(draft: Draft, files: Sequence[Filed], state: str) -> None:
    """Note why files are no longer read; they may be deleted after that."""
    draft.database.executemany(
        "UPDATE files SET state = ? WHERE line_id = ? AND name = ?",
        [(state, draft.line_id, each.name) for each in files],
    )


def replace(draft: Draft, files: Sequence[Filed], whole: Filed) -> None:
    """Let one merged file stand for its parts."""
    draft.database.executemany(
        "DELETE FROM files WHERE line_id = ? AND name = ?",
        [(draft.line_id, each.name) for each in files],
    )
    record(draft, [whole])


def of_parts(told: Mapping[str, Any], file: Mapping[str, Any]) -> Filed:
    """Return what a child process told of one file that it wrote."""
    return Filed(
        first=told["first"],
        last=told["last"],
        kind=file["kind"],
        name=file["name"],
        bytes=file["bytes"],
        sha256=file["sha256"],
        low_utc_ns=told["low_utc_ns"],
        high_utc_ns=told["high_utc_ns"],
        head=told["head"],
        sections=(_section(told["first"], told["last"], told["counts"]),),
    )


def _filed(row: tuple[Any, ...]) -> Filed:
    return Filed(
        first=row[0],
        last=row[1],
        kind=row[2],
        name=row[3],
        bytes=row[4],
        sha256=row[5],
        low_utc_ns=row[6],
        high_utc_ns=row[7],
        head=row[8],
        state=row[9],
        sections=tuple(_section(*part) for part in json.loads(row[10])),
    )


def _section(first: int, last: int, counts: Mapping[str, int]) -> Section:
    return Section(
        first=first,
        last=last,
        counts=tuple((int(layout), count) for layout, count in counts.items()),
    )
