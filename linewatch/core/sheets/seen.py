"""What people found at positions, as a picture holds it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckPicture:
    """What a person found at a position."""

    subject: str
    item: str
    found: str
    is_bad: bool
    who: str
    utc_ns: int
