"""What a person should know of a link that is connected: what is missing, foreign, slower."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

_NAMED = 3


@dataclass(slots=True)
class Notes:
    """Findings of one session, by tag."""

    missing: dict[str, str] = field(default_factory=dict)
    """Items that the server does not have or does not give, and why."""
    foreign: dict[str, str] = field(default_factory=dict)
    """Items that are not what they were, and how they differ."""
    slower: dict[str, float] = field(default_factory=dict)
    """Items that the server samples less often than asked, and how often [s]."""
    kept: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Items of which the server keeps fewer changes than asked: kept, asked for."""
    bunched: dict[str, float] = field(default_factory=dict)
    """Items whose changes come together, so that only the newest counts, and how often [s]."""
    lost: Counter[str] = field(default_factory=Counter)
    """How often the server said of an item that it had dropped changes."""
    polled: list[str] = field(default_factory=list)
    """Items whose changes the subscription misses, so that they are read instead."""

    def text(self, offset_ns: int | None) -> str:
        """Return all in one line, the gravest first; '' if there is nothing to tell.

        Args:
            offset_ns: How far the server's clock is off, if too far to be believed [ns].
        """
        parts = []
        if self.foreign:
            parts.append(f"{len(self.foreign)} changed: {_named(self.foreign)}")
        if self.missing:
            parts.append(f"{len(self.missing)} missing: {_named(self.missing)}")
        if self.polled:
            parts.append(f"its subscription misses {len(self.polled)}: {_few(self.polled)}")
        if self.slower:
            slowest = max(self.slower.values())
            parts.append(f"it samples {len(self.slower)} only every {slowest:g} s")
        parts += self._losses()
        if offset_ns is not None:
            ahead = "ahead" if offset_ns > 0 else "behind"
            parts.append(f"its clock is {abs(offset_ns) / 1e9:.0f} s {ahead}")
        return "; ".join(parts)

    def _losses(self) -> list[str]:
        """Return which changes never reach the line."""
        parts = []
        if self.lost:
            times = sum(self.lost.values())
            parts.append(f"it dropped changes {times} times: {_few(list(self.lost))}")
        if self.kept:
            kept, asked = max(self.kept.values(), key=lambda each: each[1] - each[0])
            parts.append(
                f"it keeps {kept} of {asked} changes of {len(self.kept)}: "
                f"{_few(list(self.kept))}; the others are lost"
            )
        if self.bunched:
            slowest = max(self.bunched.values())
            parts.append(
                f"it publishes {len(self.bunched)} only every {slowest:g} s; of the changes "
                "between, the newest counts"
            )
        return parts


def _named(found: dict[str, str]) -> str:
    return _few([f"{tag} ({why})" for tag, why in found.items()])


def _few(names: list[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
