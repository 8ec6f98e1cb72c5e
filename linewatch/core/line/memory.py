"""How the line's memory stands in bytes: plain numbers as JSON, arrays as they are.

A part is one line of JSON, then the arrays one after another, little-endian. What is packed
is read back bit for bit: integers of any size, every float, every NaN.
"""

from __future__ import annotations

import json
import marshal
from typing import TYPE_CHECKING, Any

import numpy as np

from linewatch.core.errors import StoreUnusable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

VERSION = 1
_text = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def pack(values: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]] | None = None) -> bytes:
    """Return one part of the memory.

    Args:
        values: Anything that JSON knows.
        arrays: Arrays of one dimension.

    Returns:
        The part.
    """
    arrays = arrays or {}
    head = {
        "version": VERSION,
        "values": values,
        "arrays": [[name, each.dtype.str, len(each)] for name, each in arrays.items()],
    }
    return b"\n".join(
        (_text(head).encode(), b"".join(each.tobytes() for each in arrays.values()))
    )


class Packing:
    """Packs parts of the memory, each anew only where it has changed.

    Most of a line is at rest from one batch to the next. What is to be packed is compared as
    bytes, since the objects themselves may be written to in between.
    """

    def __init__(self) -> None:
        self._kept: dict[str, tuple[bytes, bytes]] = {}

    def part(self, name: str, values: dict[str, Any]) -> bytes:
        """Return what `pack` returns.

        Args:
            name: Of the part; the next one of this name is compared with it.
            values: Anything that JSON knows.
        """
        try:
            seen = marshal.dumps(values, _NO_REFERENCES)
        except ValueError:
            # Numbers of NumPy and members of enums are no plain values.
            return pack(values)
        kept = self._kept.get(name)
        if kept is None or kept[0] != seen:
            kept = self._kept[name] = seen, pack(values)
        return kept[1]


_NO_REFERENCES = 2
"""The version of `marshal` whose bytes do not depend on how often an object is referred to."""


def unpack(part: bytes) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    """Return what was packed.

    Args:
        part: As `pack` returned it.

    Returns:
        (values, arrays); the arrays are copies that may be written to.

    Raises:
        StoreUnusable: a newer version of linewatch wrote it.
    """
    text, _, body = part.partition(b"\n")
    head = json.loads(text)
    if head["version"] > VERSION:
        raise StoreUnusable(
            "the line's memory",
            f"a newer linewatch wrote it (version {head['version']}, known: {VERSION})",
            "use that version, or another store",
        )
    arrays: dict[str, NDArray[Any]] = {}
    start = 0
    for name, kind, length in head["arrays"]:
        dtype = np.dtype(kind)
        arrays[name] = np.frombuffer(body, dtype, length, start).copy()
        start += dtype.itemsize * length
    values: dict[str, Any] = head["values"]
    return values, arrays


def places(before: Sequence[str], after: Sequence[str]) -> list[tuple[int, int]]:
    """Return where what had a name stands now.

    Args:
        before: Names in their earlier order.
        after: Names in their present order.

    Returns:
        (earlier place, present place) of every name that is in both.
    """
    place = {name: k for k, name in enumerate(before)}
    return [(place[name], k) for k, name in enumerate(after) if name in place]


def moved(
    fresh: NDArray[Any], kept: NDArray[Any], to: Sequence[tuple[int, int]]
) -> NDArray[Any]:
    """Return what was kept, each in its present place.

    Args:
        fresh: What stands where nothing was kept; written to.
        kept: What was kept, in its earlier order.
        to: (earlier place, present place), as `places` returns them.

    Returns:
        `fresh`.
    """
    for before, after in to:
        fresh[after] = kept[before]
    return fresh
