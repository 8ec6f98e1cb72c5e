"""What registers may mean, for the electrician who has no map of the device. Pure.

Every type in every byte order is tried on the words that stand there; what comes out is
shown with a mark where a measured quantity could look like that. The person decides: the
same words are several plausible things, and only a look at the device tells which.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from linewatch.config.model import Read
from linewatch.drivers.modbus.decode import byte_places
from linewatch.drivers.text import text_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Type = Literal[
    "uint16",
    "int16",
    "bcd16",
    "uint32",
    "int32",
    "bcd32",
    "float32",
    "uint64",
    "int64",
    "float64",
]
Order = Literal["ABCD", "CDAB", "BADC", "DCBA"]

_FORMATS: dict[Type, str] = {
    "uint16": ">H",
    "int16": ">h",
    "uint32": ">I",
    "int32": ">i",
    "float32": ">f",
    "uint64": ">Q",
    "int64": ">q",
    "float64": ">d",
}
_WORDS: dict[int, tuple[Type, ...]] = {
    1: ("uint16", "int16", "bcd16"),
    2: ("float32", "uint32", "int32", "bcd32"),
    4: ("float64", "uint64", "int64"),
}
_ORDERS: dict[int, tuple[Order, ...]] = {
    1: ("ABCD", "BADC"),
    2: ("ABCD", "CDAB", "BADC", "DCBA"),
    4: ("ABCD", "CDAB", "BADC", "DCBA"),
}
_NO_VALUE = {0x8000: "-32768", 0x7FFF: "32767", 0xFFFF: "65535"}
_SMALLEST, _LARGEST = 1e-4, 1e7
"""A measured quantity in the units of the trade lies between; common practice."""
_LARGEST_COUNT = 10**9
_NINE = 9
_SWAPPED = frozenset({"BADC", "DCBA"})
_FEW_DIGITS = 9999
"""Scaled readings of instruments mostly have up to four digits; common practice."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way to read some words."""

    type: str
    order: str
    words: int
    value: float
    is_plausible: bool
    note: str = ""


def candidates(words: Sequence[int]) -> tuple[Candidate, ...]:
    """Return every way to read the words that begin with the first of some.

    Args:
        words: 16-bit registers as they came, at least one.

    Returns:
        The ways, plausible ones first, those that say most before the others.
    """
    found = [
        each
        for count, types in _WORDS.items()
        if count <= len(words)
        for type_ in types
        for each in _in_orders(type_, words[:count])
    ]
    return tuple(sorted(found, key=lambda way: _place(way, words)))


def _place(way: Candidate, words: Sequence[int]) -> tuple[bool, int, bool]:
    """Return where a way belongs: few words that are no float look like one of this size.

    But for a float of swapped bytes: a plain number of few digits, read so, looks like one.
    """
    is_swapped = way.order in _SWAPPED
    high = words[0] if way.order == "BADC" else words[way.words - 1]
    is_telling = way.type in {"float32", "float64"} and way.value != 0.0
    if is_swapped and high <= _FEW_DIGITS:
        is_telling = False
    return (not way.is_plausible, 0 if is_telling else way.words, is_swapped)


def _in_orders(type_: Type, words: Sequence[int]) -> Iterator[Candidate]:
    seen: set[float] = set()
    for order in _ORDERS[len(words)]:
        raw = struct.pack(f">{len(words)}H", *words)
        places = byte_places(Read(type=type_, order=order), 0)
        value = _value(type_, bytes(raw[place] for place in places))
        # A word of two equal halves reads the same in every order: once is enough.
        if value is None or value in seen:
            continue
        seen.add(value)
        note = _note(type_, words)
        plausible = not note and _is_plausible(type_, value)
        yield Candidate(type_, order, len(words), value, plausible, note)


def _value(type_: Type, raw: bytes) -> float | None:
    """Return a value; None where the bytes are none of that type."""
    if type_ in {"bcd16", "bcd32"}:
        digits = [digit for byte in raw for digit in (byte >> 4, byte & 0xF)]
        if max(digits) > _NINE:
            return None
        return float(int("".join(map(str, digits))))
    (value,) = struct.unpack(_FORMATS[type_], raw)
    return float(value) if math.isfinite(value) else None


def _note(type_: Type, words: Sequence[int]) -> str:
    if len(words) == 1 and words[0] in _NO_VALUE and type_ != "bcd16":
        return "many devices mean 'no value' by this"
    return ""


def _is_plausible(type_: Type, value: float) -> bool:
    if type_ in {"float32", "float64"}:
        return value == 0.0 or _SMALLEST <= abs(value) <= _LARGEST
    if type_ in {"uint16", "int16"}:
        return True
    return abs(value) <= _LARGEST_COUNT


def text_in(words: Sequence[int]) -> str:
    """Return the text in some words, '' if there is none that a person could read."""
    raw = struct.pack(f">{len(words)}H", *words)
    text = text_of(raw)
    readable = sum(character.isalnum() or character in " -_.:/" for character in text)
    return text if text and readable == len(text) else ""
