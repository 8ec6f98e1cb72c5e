"""Text from devices, cleaned once: it is data, never a command to a terminal. Pure."""

from __future__ import annotations

import unicodedata

LONGEST = 80
REPLACEMENT = "\ufffd"
_NEVER_SHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories: control (C0 and C1), format (direction marks and joiners among them),
surrogate, private, unassigned, and the two separators that end a line."""


def cleaned(text: str) -> str:
    """Return a text as it may be shown: on one line, nothing in it that steers a terminal.

    What is never shown is replaced, ends are stripped, and `LONGEST` characters remain.
    """
    shown = "".join(
        REPLACEMENT if unicodedata.category(each) in _NEVER_SHOWN else each for each in text
    )
    return shown.strip()[:LONGEST]


def text_of(raw: bytes) -> str:
    """Return the text in a block of bytes, cleaned: up to the first NUL.

    Bytes that are no UTF-8 read as Latin-1, which nearly every device speaks that does not
    speak plain ASCII.
    """
    raw = raw.split(b"\0", 1)[0]
    try:
        return cleaned(raw.decode("utf-8"))
    except UnicodeDecodeError:
        return cleaned(raw.decode("latin-1"))
