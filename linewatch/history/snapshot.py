"""The present picture: two slots that are written in turn, never both.

A full disk must not freeze the live screen, and Windows does not replace a file that is
being read. So no file is made anew: each picture overwrites the older of two slots in
place, and a reader takes the newer one whose checksums hold. Nothing is synced: after a
power cut the picture is whatever was left, and the ledger is in the database.

A slot is a head, the table of figures, then the picture itself and the figures' columns.
The table is by far the longest part and seldom changes: it is written and parsed only then.
"""

from __future__ import annotations

import contextlib
import struct
import threading
import zlib
from typing import TYPE_CHECKING, Final, NamedTuple

import msgspec
import numpy as np

from linewatch.core.figures import (
    NO_COLUMNS,
    FigureColumns,
    FigureRow,
    Figures,
    columns_of,
    figure_table,
    with_columns,
)
from linewatch.core.view import Figure, LinePicture

if TYPE_CHECKING:
    from pathlib import Path
    from typing import IO

    from linewatch.core.figures import FigureTable
    from linewatch.history.places import Places

_HEAD: Final = struct.Struct("<4sQIIII")
"""Mark, number, length and CRC-32 of the table, the same of what follows it."""
_MARK: Final = b"lwp2"
_LENGTHS: Final = struct.Struct("<III")
"""Bytes of the picture, bytes of what was typed in, rows of each column."""
_COLUMNS: Final = (
    ("value", "<f8"),
    ("utc_ns", "<i8"),
    ("good_utc_ns", "<i8"),
    ("quality", "u1"),
)
"""In the order in which they stand."""
_NO_ROWS: Final = msgspec.msgpack.encode(())
_ROOM: Final = 64 * 1024
"""A slot grows in steps of this many bytes, so that it seldom needs new room on the disk."""


class _Head(NamedTuple):
    number: int
    table_length: int
    table_crc: int
    length: int
    crc: int


def _left_out(part: object) -> object:
    """Leave out figures that stand in columns."""
    if isinstance(part, Figures):
        return {}
    raise NotImplementedError(type(part))


class _Shapes:
    """How the parts of a slot stand as bytes."""

    def __init__(self) -> None:
        self._encoder = msgspec.msgpack.Encoder(enc_hook=_left_out)
        self._picture = msgspec.msgpack.Decoder(LinePicture)
        self._rows = msgspec.msgpack.Decoder(tuple[FigureRow, ...])
        self._by_hand = msgspec.msgpack.Decoder(dict[str, dict[str, Figure]])

    def table(self, rows: tuple[FigureRow, ...]) -> bytes:
        """Return the rows of a table as bytes."""
        return self._encoder.encode(rows)

    def rows(self, text: bytes) -> tuple[FigureRow, ...]:
        """Return what `table` returned.

        Raises:
            ValueError: another version of the program wrote it.
        """
        return self._rows.decode(text)

    def body(self, picture: LinePicture, columns: FigureColumns | None) -> bytes:
        """Return a picture with the columns of its figures as bytes."""
        parts = [self._encoder.encode(picture)]
        if columns is None:
            return b"".join((_LENGTHS.pack(len(parts[0]), 0, 0), *parts))
        parts.append(self._encoder.encode(columns.by_hand))
        lengths = _LENGTHS.pack(len(parts[0]), len(parts[1]), len(columns.value))
        for name, kind in _COLUMNS:
            parts.append(getattr(columns, name).astype(kind, copy=False).tobytes())
        return b"".join((lengths, *parts))

    def whole(self, body: bytes, table: FigureTable) -> LinePicture:
        """Return what `body` returned.

        Raises:
            ValueError: another version of the program wrote it.
        """
        text, hand, rows = _LENGTHS.unpack_from(body)
        if rows != len(table.rows):
            raise ValueError(f"{rows} rows of a table of {len(table.rows)}")
        start = _LENGTHS.size
        picture = self._picture.decode(body[start : start + text])
        if not rows:
            return picture
        start += text
        by_hand = self._by_hand.decode(body[start : start + hand])
        start += hand
        arrays = {}
        for name, kind in _COLUMNS:
            arrays[name] = np.frombuffer(body, kind, rows, start)
            start += arrays[name].nbytes
        return with_columns(picture, FigureColumns(table, by_hand=by_hand, **arrays))


class PictureWriter:
    """Writes pictures in a thread of its own; the newest one wins.

    Args:
        places: The line's folder.
    """

    def __init__(self, places: Places) -> None:
        self._slots = [places.picture(0), places.picture(1)]
        self._number = max((head[0] for head in map(_head_at, self._slots) if head), default=0)
        self._table: FigureTable | None = None
        self._table_text = _NO_ROWS
        self._table_crc = zlib.crc32(self._table_text)
        self._held: list[int | None] = [None, None]
        """Checksum of the table that each slot holds, as far as this writer knows."""
        self._next: tuple[LinePicture, FigureColumns | None] | None = None
        self._ending = False
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._work, name="picture", daemon=True)
        self._thread.start()

    def publish(self, picture: LinePicture, columns: FigureColumns | None = None) -> None:
        """Show a picture to viewers soon; never waits for the disk.

        Args:
            picture: The picture.
            columns: Where its figures stand, if the picture itself has none.
        """
        with self._changed:
            self._next = picture, columns or columns_of(picture)
            self._changed.notify()

    def close(self, timeout_s: float) -> None:
        """Write the last picture and end."""
        with self._changed:
            self._ending = True
            self._changed.notify()
        self._thread.join(timeout_s)

    def _work(self) -> None:
        shapes = _Shapes()
        while True:
            with self._changed:
                while self._next is None and not self._ending:
                    self._changed.wait()
                following, self._next = self._next, None
            if following is None:
                return
            picture, columns = following
            self._take_table(shapes, columns)
            # No disk is worth a word here: recording() speaks of the disk.
            with contextlib.suppress(OSError):
                self._write(shapes.body(picture, columns))

    def _take_table(self, shapes: _Shapes, columns: FigureColumns | None) -> None:
        table = None if columns is None else columns.table
        if table is self._table:
            return
        self._table = table
        self._table_text = _NO_ROWS if table is None else shapes.table(table.rows)
        self._table_crc = zlib.crc32(self._table_text)

    def _write(self, body: bytes) -> None:
        number = self._number + 1
        which = number % 2
        file = self._slots[which]
        mode = "r+b" if file.exists() else "w+b"
        table, crc = self._table_text, self._table_crc
        head = _HEAD.pack(_MARK, number, len(table), crc, len(body), zlib.crc32(body))
        is_held = mode == "r+b" and self._held[which] == crc
        self._held[which] = None
        with file.open(mode, buffering=0) as slot:
            _make_room(slot, _HEAD.size + len(table) + len(body))
            if is_held:
                # Whoever reads in between finds that the old head's checksum does not hold.
                slot.seek(_HEAD.size + len(table))
                slot.write(body)
                slot.seek(0)
                slot.write(head)
            else:
                slot.seek(0)
                slot.write(head + table + body)
        self._held[which] = crc
        self._number = number


class PictureReader:
    """Reads the newest whole picture, and parses each one only once.

    Args:
        places: The line's folder.
    """

    def __init__(self, places: Places) -> None:
        self._slots = [places.picture(0), places.picture(1)]
        self._shapes = _Shapes()
        self._number = -1
        self._picture: LinePicture | None = None
        self._table = NO_COLUMNS.table
        self._table_crc = -1

    def picture(self) -> LinePicture | None:
        """Return the present picture, or None if there never was one."""
        heads = [_head_at(slot) for slot in self._slots]
        newest_first = sorted(
            ((head, slot) for head, slot in zip(heads, self._slots, strict=True) if head),
            key=lambda pair: -pair[0].number,
        )
        for head, slot in newest_first:
            if head.number == self._number:
                return self._picture
            try:
                found = self._read(slot)
            except (OSError, ValueError):
                # Written by another version of the program, whose pictures look otherwise.
                continue
            if found is None:
                # Torn: it is being written at this instant, or was when somebody was killed.
                continue
            self._number, self._picture = found
            return self._picture
        return self._picture

    def _read(self, file: Path) -> tuple[int, LinePicture] | None:
        """Return number and picture of a slot; None if it is torn."""
        with file.open("rb", buffering=0) as slot:
            head = _head_of(slot.read(_HEAD.size))
            if head is None:
                return None
            if head.table_crc != self._table_crc:
                text = slot.read(head.table_length)
                if zlib.crc32(text) != head.table_crc:
                    return None
                self._table = figure_table(self._shapes.rows(text))
                self._table_crc = head.table_crc
            slot.seek(_HEAD.size + head.table_length)
            body = slot.read(head.length)
        if zlib.crc32(body) != head.crc:
            return None
        return head.number, self._shapes.whole(body, self._table)


def _make_room(slot: IO[bytes], size: int) -> None:
    end = slot.seek(0, 2)
    if end < size:
        slot.write(bytes(-size % _ROOM + size - end))


def _head_at(file: Path) -> _Head | None:
    try:
        with file.open("rb", buffering=0) as slot:
            return _head_of(slot.read(_HEAD.size))
    except OSError:
        return None


def _head_of(raw: bytes) -> _Head | None:
    if len(raw) < _HEAD.size:
        return None
    mark, *parts = _HEAD.unpack(raw[: _HEAD.size])
    return _Head(*parts) if mark == _MARK else None
