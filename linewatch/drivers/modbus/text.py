"""Text from devices, cleaned once: data, never a command to a terminal. Pure."""

from __future__ import annotations

LONGEST = 80
REPLACEMENT = "\ufffd"
_BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the direction of what follows: Unicode Standard Annex 9, table 4."""


def cleaned(raw: bytes) -> str:
    """Return the text of a register block as it may be shown.

    Cut at the first NUL, bytes that are no UTF-8 read as Latin-1 (nearly all devices that
    are not ASCII speak it), control and direction characters replaced, ends stripped, and
    no longer than `LONGEST` characters.
    """
    raw = raw.split(b"\0", 1)[0]
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    shown = "".join(REPLACEMENT if _is_control(each) else each for each in text)
    return shown.strip()[:LONGEST]


def _is_control(each: str) -> bool:
    point = ord(each)
    return point < 0x20 or 0x7F <= point < 0xA0 or each in _BIDI
