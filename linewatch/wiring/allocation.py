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
BYTES_A_TAG: Final = 128
"""On a line so large that its rows are longer than that, what each second brings anew has not:
to have room of its own costs a fault for every 4 KiB of it."""


def keep_large_pieces_apart(tags: int) -> None:
    """Have large pieces go back to the system whenever they are let go.

    Elsewhere than on Linux with the GNU C library nothing is done.

    Args:
        tags: How many tags the line has.
    """
    apart_bytes = max(APART_BYTES, BYTES_A_TAG * tags)
    if sys.platform != "linux":
        return
    with contextlib.suppress(AttributeError, OSError):
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(M_MMAP_THRESHOLD, apart_bytes)
        # So much free room at the end is kept.
        mallopt(M_TRIM_THRESHOLD, 2 * apart_bytes)
