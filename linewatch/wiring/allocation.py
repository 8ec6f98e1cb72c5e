"""How a process that runs for months takes memory from the system.

The GNU C library gives a large piece room of its own, which goes back to the system when it is
let go. But each such piece that is let go raises the size from which on that is so, up to
32 MB: then pictures, rows and files lie among small objects that stay, and leave holes.

References:
    mallopt(3), Linux manual pages, `M_MMAP_THRESHOLD`: the dynamic threshold, and that setting
    it or `M_TRIM_THRESHOLD` switches it off. The numbers are those of glibc's malloc.h.
"""

from __future__ import annotations

import contextlib
import ctypes
import sys
from typing import Final

M_TRIM_THRESHOLD: Final = -1
M_MMAP_THRESHOLD: Final = -3
APART_BYTES: Final = 64 * 1024
"""A piece of this size has room of its own."""
TOP_BYTES: Final = 128 * 1024
"""So much free room at the end is kept."""


def keep_large_pieces_apart() -> None:
    """Have large pieces go back to the system whenever they are let go.

    Elsewhere than on Linux with the GNU C library nothing is done.
    """
    if sys.platform != "linux":
        return
    with contextlib.suppress(AttributeError, OSError):
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(M_MMAP_THRESHOLD, APART_BYTES)
        mallopt(M_TRIM_THRESHOLD, TOP_BYTES)
