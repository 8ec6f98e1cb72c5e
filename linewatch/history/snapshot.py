"""The present picture: two slots that are written in turn, never both.

A full disk must not freeze the live screen, and Windows does not replace a file that is
being read. So no file is made anew: each picture overwrites the older of two slots in
place, and a reader takes the newer one whose checksum holds. Nothing is synced: after a
power cut the picture is whatever was left, and the ledger is in the database.
"""

from __future__ import annotations

import contextlib
import struct
import threading
import zlib
from typing import TYPE_CHECKING, Final

from linewatch.core.view import LinePicture

if TYPE_CHECKING:
    from pathlib import Path
    from typing import IO

    from pydantic import TypeAdapter

    from linewatch.history.places import Places

_HEAD: Final = struct.Struct("<4sQII")
"""Mark, number, length, CRC-32."""
_MARK: Final = b"lwp1"
_ROOM: Final = 64 * 1024
"""A slot grows in steps of this many bytes, so that it seldom needs new room on the disk."""


def _shape() -> TypeAdapter[LinePicture]:
    # Inside, because it takes a tenth of a second.
    from pydantic import TypeAdapter

    return TypeAdapter(LinePicture)


class PictureWriter:
    """Writes pictures in a thread of its own; the newest one wins.

    Args:
        places: The line's folder.
    """

    def __init__(self, places: Places) -> None:
        self._slots = [places.picture(0), places.picture(1)]
        self._number = max((head[0] for head in map(_head_at, self._slots) if head), default=0)
        self._next: LinePicture | None = None
        self._ending = False
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._work, name="picture", daemon=True)
        self._thread.start()

    def publish(self, picture: LinePicture) -> None:
        """Show a picture to viewers soon; never waits for the disk."""
        with self._changed:
            self._next = picture
            self._changed.notify()

    def close(self, timeout_s: float) -> None:
        """Write the last picture and end."""
        with self._changed:
            self._ending = True
            self._changed.notify()
        self._thread.join(timeout_s)

    def _work(self) -> None:
        shape = _shape()
        while True:
            with self._changed:
                while self._next is None and not self._ending:
                    self._changed.wait()
                picture, self._next = self._next, None
            if picture is None:
                return
            # No disk is worth a word here: recording() speaks of the disk.
            with contextlib.suppress(OSError):
                self._write(shape.dump_json(picture))

    def _write(self, text: bytes) -> None:
        number = self._number + 1
        file = self._slots[number % 2]
        mode = "r+b" if file.exists() else "w+b"
        with file.open(mode, buffering=0) as slot:
            _make_room(slot, _HEAD.size + len(text))
            slot.seek(0)
            slot.write(_HEAD.pack(_MARK, number, len(text), zlib.crc32(text)) + text)
        self._number = number


class PictureReader:
    """Reads the newest whole picture, and parses each one only once.

    Args:
        places: The line's folder.
    """

    def __init__(self, places: Places) -> None:
        self._slots = [places.picture(0), places.picture(1)]
        self._shape = _shape()
        self._number = -1
        self._picture: LinePicture | None = None

    def picture(self) -> LinePicture | None:
        """Return the present picture, or None if there never was one."""
        heads = [_head_at(slot) for slot in self._slots]
        newest_first = sorted(
            ((head, slot) for head, slot in zip(heads, self._slots, strict=True) if head),
            key=lambda pair: -pair[0][0],
        )
        for head, slot in newest_first:
            if head[0] == self._number:
                return self._picture
            text = _text_at(slot)
            if text is None:
                # Torn: it is being written at this instant, or was when somebody was killed.
                continue
            number, whole = text
            try:
                self._picture = self._shape.validate_json(whole)
            except ValueError:
                # Written by another version of the program, whose pictures look otherwise.
                continue
            self._number = number
            return self._picture
        return self._picture


def _make_room(slot: IO[bytes], size: int) -> None:
    end = slot.seek(0, 2)
    if end < size:
        slot.write(bytes(-size % _ROOM + size - end))


def _head_at(file: Path) -> tuple[int, int, int] | None:
    try:
        with file.open("rb", buffering=0) as slot:
            return _head_of(slot.read(_HEAD.size))
    except OSError:
        return None


def _head_of(raw: bytes) -> tuple[int, int, int] | None:
    if len(raw) < _HEAD.size:
        return None
    mark, number, length, checksum = _HEAD.unpack(raw[: _HEAD.size])
    return (number, length, checksum) if mark == _MARK else None


def _text_at(file: Path) -> tuple[int, bytes] | None:
    try:
        raw = file.read_bytes()
    except OSError:
        return None
    head = _head_of(raw)
    if head is None:
        return None
    number, length, checksum = head
    text = raw[_HEAD.size : _HEAD.size + length]
    return (number, text) if zlib.crc32(text) == checksum else None
