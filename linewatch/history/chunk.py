"""A closed piece of the sequence in memory: what one hour of the archive holds.

Rule 1: a chunk is a range of numbers without a gap. The sequence is cut when another hour of
        wall time has begun, so a clock that is set back makes a further chunk, and what was
        archived before is never touched.
Rule 2: the tags of a chunk stand in the order of their names, and within a tag layout by
        layout, block by block. Where a tag stands follows from the counts alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewatch.core.readings import Moment, Qualities, Times, Values
from linewatch.history import codec

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator

    from linewatch.core.ports import Entry
    from linewatch.core.readings import Layout

SLOT_NS: Final = 10**9
LEAST_SLOT_NS: Final = 10**6


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """A range of the sequence, its blocks gathered by layout."""

    first: int
    """Number of its first entry; the others follow without a gap."""
    run: NDArray[np.int32]
    """Ordinal of the run of each entry, shape (entries,)."""
    kind: NDArray[np.uint8]
    """Of `codec.Kind`, shape (entries,)."""
    layout: NDArray[np.int32]
    """Shape (entries,); 0 where the entry is no block."""
    utc_ns: Times
    """Shape (entries,)."""
    mono_ns: Times
    """Shape (entries,)."""
    body: Mapping[int, bytes]
    """Of the entries that are no blocks and have one, by place in the chunk."""
    value: Mapping[int, Values]
    """By layout, shape (blocks, tags)."""
    quality: Mapping[int, Qualities]
    """By layout, shape (blocks, tags)."""
    source: Mapping[int, Times] = field(default_factory=dict)
    """By layout, shape (blocks, tags): times of the values' sources [ns since the Unix epoch],
    `codec.NO_SOURCE` where none was told. A layout that never told any has no entry."""

    @property
    def last(self) -> int:
        """Number of its last entry."""
        return self.first + len(self.kind) - 1

    def counts(self) -> dict[int, int]:
        """Return how many blocks there are of each layout."""
        return {layout: len(value) for layout, value in self.value.items()}

    def entry(self, place: int) -> Entry:
        """Return an entry that is no block.

        Raises:
            ValueError: it is a block, or a hole.
        """
        at = Moment(utc_ns=int(self.utc_ns[place]), mono_ns=int(self.mono_ns[place]))
        return codec.unpack_entry(int(self.kind[place]), None, at, self.body.get(place, b""))


@dataclass(frozen=True, slots=True)
class Stretch:
    """Where the samples of one tag and layout stand in a file of readings."""

    tag: str
    layout: int
    column: int
    """Of the tag in the layout."""
    start: int
    """First row."""
    count: int


class Order:
    """The order in which the tags of some layouts stand in a file of readings.

    Args:
        layouts: The layouts by number.
    """

    def __init__(self, layouts: Mapping[int, Layout]) -> None:
        self._keys = sorted(
            (tag, number, column)
            for number, layout in layouts.items()
            for column, tag in enumerate(layout.tags)
        )
        self._layout = np.array([number for _, number, _ in self._keys], dtype=np.int64)
        self._places: dict[str, list[int]] = {}
        for place, (tag, _, _) in enumerate(self._keys):
            self._places.setdefault(tag, []).append(place)

    def stretches(self, counts: Mapping[int, int], tag: str | None = None) -> list[Stretch]:
        """Return where one tag, or each, stands among so many blocks of each layout."""
        by_number = np.zeros(int(self._layout.max(initial=0)) + 1, dtype=np.int64)
        by_number[list(counts)] = list(counts.values())
        ends = np.cumsum(by_number[self._layout])
        places = range(len(self._keys)) if tag is None else self._places.get(tag, [])
        found = []
        for place in places:
            name, number, column = self._keys[place]
            count = counts.get(number, 0)
            if count:
                found.append(Stretch(name, number, column, int(ends[place]) - count, count))
        return found


def stretches(layouts: Mapping[int, Layout], counts: Mapping[int, int]) -> list[Stretch]:
    """Return where each tag stands in a file that holds so many blocks of each layout."""
    return Order({number: layouts[number] for number in counts}).stretches(counts)


def slot_ms(utc_ns: Times, period_ns: int) -> Times:
    """Return the polling slot of each time [ms since the Unix epoch].

    Readings in the archive carry the time rounded down to their polling period, a second at
    most: that is how fresh a polled value can be known to be, and it keeps a file small. The
    exact times stand with the blocks.
    """
    slot_ns = min(SLOT_NS, max(LEAST_SLOT_NS, period_ns))
    slot_ns -= slot_ns % LEAST_SLOT_NS
    return (utc_ns // slot_ns) * (slot_ns // LEAST_SLOT_NS)


def known_layouts(database: sqlite3.Connection, line_id: str) -> dict[int, Layout]:
    """Return every layout that the line ever had, by its number."""
    return {
        layout: codec.layout_of(text)
        for layout, text in database.execute(
            "SELECT layout, text FROM layouts WHERE line_id = ? ORDER BY layout", (line_id,)
        )
    }


def journal_chunk(
    database: sqlite3.Connection, line_id: str, span: tuple[int, int]
) -> Chunk | None:
    """Return the entries from one number to another, both included; None if there are none.

    Where an entry is missing the chunk ends before it.
    """
    rows = database.execute(
        "SELECT number, run, kind, layout, utc_ns, mono_ns, body FROM sequence"
        " WHERE line_id = ? AND number BETWEEN ? AND ? ORDER BY number",
        (line_id, *span),
    ).fetchall()
    if not rows:
        return None
    rows = rows[: _unbroken([row[0] for row in rows])]
    layouts = known_layouts(database, line_id)
    bodies: dict[int, list[bytes]] = {}
    other: dict[int, bytes] = {}
    for place, (_, _, kind, layout, _, _, body) in enumerate(rows):
        if kind == codec.Kind.BLOCK:
            bodies.setdefault(layout, []).append(body)
        elif body:
            other[place] = body
    blocks = {
        layout: codec.unpack_blocks(parts, len(layouts[layout].tags))
        for layout, parts in bodies.items()
    }
    return Chunk(
        first=rows[0][0],
        run=np.array([row[1] for row in rows], dtype=np.int32),
        kind=np.array([row[2] for row in rows], dtype=np.uint8),
        layout=np.array([row[3] for row in rows], dtype=np.int32),
        utc_ns=np.array([row[4] for row in rows], dtype=np.int64),
        mono_ns=np.array([row[5] for row in rows], dtype=np.int64),
        body=other,
        value={layout: value for layout, (value, _) in blocks.items()},
        quality={layout: quality for layout, (_, quality) in blocks.items()},
        source={
            layout: source
            for layout, parts in bodies.items()
            if (source := codec.unpack_sources(parts, len(layouts[layout].tags))) is not None
        },
    )


def _unbroken(numbers: list[int]) -> int:
    """Return how many numbers follow each other without a gap."""
    steps = np.diff(np.array(numbers, dtype=np.int64)) != 1
    return int(steps.argmax()) + 1 if steps.any() else len(numbers)


def block_places(chunk: Chunk, layout: int) -> NDArray[np.int64]:
    """Return where the blocks of a layout stand among the entries."""
    return np.flatnonzero(chunk.layout == layout)


def columns(
    chunk: Chunk, layouts: Mapping[int, Layout]
) -> Iterator[tuple[Stretch, Layout, Times, Values, Qualities]]:
    """Yield each tag's samples with their times, in the order of a file of readings."""
    times = {layout: chunk.utc_ns[block_places(chunk, layout)] for layout in chunk.value}
    for stretch in stretches(layouts, chunk.counts()):
        layout, column = stretch.layout, stretch.column
        yield (
            stretch,
            layouts[layout],
            times[layout],
            chunk.value[layout][:, column],
            chunk.quality[layout][:, column],
        )
