"""Output whose encoding does not hold every sign: what it cannot carry is shown in seven bits.

The screen has its own way, see `ui/terminal.py`; this is for what commands print.
"""

from __future__ import annotations

import codecs
import io
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from typing import TextIO

STAND_IN: Final = "linewatch-seven-bits"
"""Name of what stands in, among the ways in which Python treats signs without a code."""


def carry_every_sign(*streams: TextIO | None) -> None:
    """Let no sign that a stream's encoding lacks end the program."""
    codecs.register_error(STAND_IN, _stand_in)
    for stream in streams:
        if isinstance(stream, io.TextIOWrapper) and not _holds_every_sign(stream.encoding):
            stream.reconfigure(errors=STAND_IN)


def _holds_every_sign(encoding: str) -> bool:
    return codecs.lookup(encoding).name.startswith("utf")


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """Return in seven bits what an encoding lacks, and where to go on."""
    # Most terminals never need the marks' table.
    from linewatch.ui.marks import plain

    if not isinstance(error, UnicodeEncodeError):
        raise error
    end = error.end
    if error.object[end - 1] == "±" and error.object[end : end + 1] == " ":
        # It takes the space behind it, so that columns stay where they are.
        end += 1
    text = error.object[error.start : end]
    return plain(text.replace("…", ".")), end
