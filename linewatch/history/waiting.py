"""A batch that waits for a disk that refuses: in one piece, a fraction of its size.

Kept as they come, the batches of an hour are a million small objects. They take several times
the room, and when the disk takes them at last they leave holes all over the memory of a
process that is to run for months. One piece a batch leaves nothing behind.
"""

from __future__ import annotations

import io
import pickle
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linewatch.core.readings import Layout

if TYPE_CHECKING:
    from linewatch.core.ports import Batch

LEVEL = 1
"""Of compression: the loop packs, and must not be held up."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A packed batch. It never leaves the process that packed it."""

    layouts: tuple[Layout, ...]
    """Those of its blocks, as the very objects that they were."""
    packed: bytes

    def batch(self) -> Batch:
        """Return the batch again, equal in every part."""
        found: Batch = _Unpickler(zlib.decompress(self.packed), self.layouts).load()
        return found


def packed(batch: Batch) -> Waiting:
    """Return a batch in one piece."""
    whole = io.BytesIO()
    pickler = _Pickler(whole)
    pickler.dump(batch)
    return Waiting(tuple(pickler.places), zlib.compress(whole.getvalue(), LEVEL))


class _Pickler(pickle.Pickler):
    def __init__(self, file: io.BytesIO) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self.places: dict[Layout, int] = {}

    def persistent_id(self, obj: object) -> int | None:
        """Return a layout's place: its tags need not stand in every batch."""
        if isinstance(obj, Layout):
            return self.places.setdefault(obj, len(self.places))
        return None


class _Unpickler(pickle.Unpickler):  # noqa: S301 - only what this process has packed
    def __init__(self, whole: bytes, layouts: tuple[Layout, ...]) -> None:
        super().__init__(io.BytesIO(whole))
        self._layouts = layouts

    def persistent_load(self, pid: Any) -> Layout:  # noqa: ANN401 - what the pickler gave
        """Return the layout of a place."""
        return self._layouts[int(pid)]
