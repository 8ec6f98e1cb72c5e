"""A batch that waits for a disk that refuses: in one piece, a fraction of its size.

Kept as they come, the batches of an hour are a million small objects. They take several times
the room, and when the disk takes them at last they leave holes all over the memory of a
process that is to run for months. One piece a batch in blocks of their own leaves nothing
behind: a block goes back to the system as a whole.
"""

from __future__ import annotations

import io
import mmap
import pickle
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.readings import Layout

if TYPE_CHECKING:
    from linewatch.core.ports import Batch

LEVEL: Final = 1
"""Of compression: the loop packs, and must not be held up."""
BLOCK_BYTES: Final = 1024 * 1024
BESIDES_BYTES: Final = 400
"""What a packed batch takes besides its piece, roughly."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A packed batch. It never leaves the process that packed it."""

    layouts: tuple[Layout, ...]
    """Those of its blocks, as the very objects that they were."""
    piece: memoryview
    live_bytes: int
    """What it takes unpacked, roughly."""

    @property
    def bytes(self) -> int:
        """What it takes as it waits."""
        return len(self.piece) + BESIDES_BYTES

    def batch(self) -> Batch:
        """Return the batch again, equal in every part."""
        found: Batch = _Unpickler(zlib.decompress(self.piece), self.layouts).load()
        return found


class Pile:
    """Packs batches, one behind the other into blocks of memory."""

    def __init__(self) -> None:
        self._block: mmap.mmap | None = None
        self._used = 0

    def packed(self, batch: Batch, live_bytes: int = 0) -> Waiting:
        """Return a batch in one piece.

        Args:
            batch: The batch.
            live_bytes: What it takes as it is, roughly.
        """
        whole = io.BytesIO()
        pickler = _Pickler(whole)
        pickler.dump(batch)
        piece = self._laid_down(zlib.compress(whole.getbuffer(), LEVEL))
        return Waiting(tuple(pickler.places), piece, live_bytes)

    def clear(self) -> None:
        """Let go of the last block; it lives on as long as a piece of it waits."""
        self._block = None

    def _laid_down(self, piece: bytes) -> memoryview:
        block, first = self._block, self._used
        if block is None or first + len(piece) > len(block):
            block, first = mmap.mmap(-1, max(BLOCK_BYTES, len(piece))), 0
            self._block = block
        self._used = first + len(piece)
        block[first : self._used] = piece
        return memoryview(block)[first : self._used]


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
