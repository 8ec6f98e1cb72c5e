"""Collecting what is wrong with a configuration, so that a person reads it all at once.

Rule 1: a fault is one sentence: the key, what stands there, and what to write instead.
Rule 2: nothing stops at the first fault, and no fault is told twice.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

_LONGEST_LIST = 12
_LONGEST_VALUE = 60
_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(slots=True)
class Faults:
    """The faults found so far, in the order of the file's sections."""

    found: list[str] = field(default_factory=list)

    def add(self, key: str, happened: str, remedy: str = "") -> None:
        """Note one fault."""
        sentence = f"{key}: {happened}" + (f"; {remedy}" if remedy else "")
        if sentence not in self.found:
            self.found.append(sentence)

    def unknown(self, key: str, what: str, value: str, known: Collection[str]) -> None:
        """Note a reference to something that does not exist, with what does."""
        self.add(key, f"no {what} {shown(value)}", alternatives(value, known, what))


def shown(value: object) -> str:
    """Return a value as a person may read it on one line, whatever stands in it."""
    text = repr(value)
    if len(text) > _LONGEST_VALUE:
        text = f"{text[: _LONGEST_VALUE - 1]}…"
    return _CONTROL.sub("·", text)


def has_control_characters(text: str) -> bool:
    """Say whether a text holds characters that would move a terminal's cursor or colours."""
    return _CONTROL.search(text) is not None


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that was probably meant."""
    close = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=0.6)
    return close[0] if close else None


def alternatives(word: str, known: Collection[str], what: str) -> str:
    """Return the remedy for an unknown word: the likely one, and those that exist."""
    if not known:
        return f"there is no {what} at all"
    names = sorted(known)
    likely = nearest(word, names)
    listed = ", ".join(names[:_LONGEST_LIST])
    if len(names) > _LONGEST_LIST:
        listed += f" and {len(names) - _LONGEST_LIST} more"
    if likely is not None:
        return (
            f"did you mean {likely!r}? There are {listed}"
            if len(names) > 1
            else (f"did you mean {likely!r}?")
        )
    return f"use one of {listed}"
