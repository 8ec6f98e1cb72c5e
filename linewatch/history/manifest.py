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


@dataclass(frozen=True, slots=True, kw_only=True)
class Sectioned(Filed):
    """A file with what stands in it, as whoever reads or records it must know.

    A merged day has a section an hour, and in each a count for every layout. A collector that
    looked at them for all its files each hour would need a quarter of a megabyte more every
    day, in pieces that stay scattered over its memory.
    """

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


_FILED: Final = (
    "SELECT first, last, kind, name, bytes, sha256, low_utc_ns, high_utc_ns, head, state"
    " FROM files WHERE line_id = ?"
)
_SECTIONED: Final = (
    "SELECT first, last, kind, name, bytes, sha256, low_utc_ns, high_utc_ns, head, state,"
    " parts FROM files WHERE line_id = ?"
)
_READ: Final = " AND state = ''"
_BETWEEN: Final = f"{_READ} AND kind = ? AND high_utc_ns >= ? AND low_utc_ns < ?"
_IN_ORDER: Final = " ORDER BY first, kind"


def filed(database: sqlite3.Connection, line_id: str, *, every: bool = False) -> list[Filed]:
    """Return the files that are read, or every one that is known; in order of numbers."""
    which = "" if every else _READ
    return [_filed(row) for row in database.execute(_FILED + which + _IN_ORDER, (line_id,))]


def filed_between(
    database: sqlite3.Connection, line_id: str, kind: FileKind, span: tuple[int, int]
) -> list[Filed]:
    """Return the files of a kind that have a wall time within a span; in order of numbers."""
    rows = database.execute(_FILED + _BETWEEN + _IN_ORDER, (line_id, kind, *span))
    return [_filed(row) for row in rows]


def sectioned(database: sqlite3.Connection, line_id: str) -> list[Sectioned]:
    """Return the files that are read, with what stands in them; in order of numbers."""
    rows = database.execute(_SECTIONED + _READ + _IN_ORDER, (line_id,))
    return [_sectioned(row) for row in rows]


def sectioned_between(
    database: sqlite3.Connection, line_id: str, kind: FileKind, span: tuple[int, int]
) -> list[Sectioned]:
    """Return what `filed_between` does, with what stands in them."""
    rows = database.execute(_SECTIONED + _BETWEEN + _IN_ORDER, (line_id, kind, *span))
    return [_sectioned(row) for row in rows]


def sectioned_with(
    database: sqlite3.Connection, line_id: str, kind: FileKind, number: int
) -> list[Sectioned]:
    """Return the files of a kind that are read and tell of an entry."""
    rows = database.execute(
        f"{_SECTIONED}{_READ} AND kind = ? AND first <= ? AND last >= ?{_IN_ORDER}",
        (line_id, kind, number, number),
    )
    return [_sectioned(row) for row in rows]


def archived_to(database: sqlite3.Connection, line_id: str) -> int:
    """Return the number of the last entry that has left the journal; 0 if none has."""
    row = database.execute(
        "SELECT max(last) FROM files WHERE line_id = ? AND kind = 'blocks'", (line_id,)
    ).fetchone()
    return row[0] or 0


def set_aside(database: sqlite3.Connection, line_id: str) -> list[Filed]:
    """Return the files that could not be trusted."""
    rows = database.execute(
        f"{_FILED} AND substr(state, 1, ?) = ?{_IN_ORDER}",
        (line_id, len(SET_ASIDE), SET_ASIDE),
    )
    return [_filed(row) for row in rows]


def heads(database: sqlite3.Connection, line_id: str) -> set[str]:
    """Return every head of the people's chain that stands with a file, read or not."""
    rows = database.execute("SELECT DISTINCT head FROM files WHERE line_id = ?", (line_id,))
    return {head for (head,) in rows}


def record(draft: Draft, files: Sequence[Sectioned]) -> None:
    """Note files in the manifest."""
    for each in files:
        parts = [[part.first, part.last, dict(part.counts)] for part in each.sections]
        _insert(draft, each, json.dumps(parts))


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
    """Let one merged file stand for its parts: it holds their sections in their order."""
    inside = []
    for each in files:
        key = (draft.line_id, each.name)
        (text,) = draft.database.execute(
            "SELECT parts FROM files WHERE line_id = ? AND name = ?", key
        ).fetchone()
        # Two JSON arrays become one without being taken apart.
        inside.append(text.strip()[1:-1])
        draft.database.execute("DELETE FROM files WHERE line_id = ? AND name = ?", key)
    _insert(draft, whole, f"[{', '.join(text for text in inside if text)}]")


def _insert(draft: Draft, file: Filed, parts: str) -> None:
    draft.database.execute(
        "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            draft.line_id,
            file.first,
            file.last,
            file.kind,
            file.name,
            file.bytes,
            file.sha256,
            file.low_utc_ns,
            file.high_utc_ns,
            file.head,
            file.state,
            parts,
        ),
    )


def of_parts(told: Mapping[str, Any], file: Mapping[str, Any]) -> Sectioned:
    """Return what a child process told of one file that it wrote."""
    return Sectioned(
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
    return Filed(**_told(row))


def _sectioned(row: tuple[Any, ...]) -> Sectioned:
    sections = tuple(_section(*part) for part in json.loads(row[-1]))
    return Sectioned(**_told(row), sections=sections)


def _told(row: tuple[Any, ...]) -> dict[str, Any]:
    return {
        "first": row[0],
        "last": row[1],
        "kind": row[2],
        "name": row[3],
        "bytes": row[4],
        "sha256": row[5],
        "low_utc_ns": row[6],
        "high_utc_ns": row[7],
        "head": row[8],
        "state": row[9],
    }


def _section(first: int, last: int, counts: Mapping[str, int]) -> Section:
    return Section(
        first=first,
        last=last,
        counts=tuple((int(layout), count) for layout, count in counts.items()),
    )
