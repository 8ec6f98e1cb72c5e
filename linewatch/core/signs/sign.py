"""What a sign is: a trouble that several signals, or one over time, tell of."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from linewatch.core.plan import Priority

LOOKS = 40
"""Looks that are kept: twenty minutes of one each 30 s."""

Past: TypeAlias = Sequence[float | None]
"""Values at the last looks, the newest last; None where none was good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a sign may look at: one tank or rectifier over the last looks."""

    past: Mapping[str, Past] = field(default_factory=dict)
    """By measurement kind with its suffix; of a rectifier also 'swing': how much its current
    swung within a minute [1], and 'work': 1 with work in a tank that it feeds, 0 without."""
    target: float | None = None
    """Target of the first kind that the sign needs."""
    rated_a: float = 0.0
    rated_v: float = 0.0
    nothing_a: float = 0.0
    """Currents of smaller magnitude count as none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a look has told."""

    is_there: bool
    value: float
    """What it was told by, in the unit of `Sign.unit`."""


Look: TypeAlias = "Callable[[Seen], Found | None]"
"""Looks for a sign; None: this time the signals cannot tell, and all stays as it was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One row of the table."""

    name: str
    title: str
    """Short text of its alarm."""
    of: tuple[str, ...]
    """Kinds of position, or 'rectifier', that it may stand at; empty: any tank."""
    needs: tuple[str, ...]
    """Measurement kinds, with suffix, without which it cannot be told."""
    look: Look
    looks: int
    """How many looks in a row must tell it; as many tell that it is over."""
    also: tuple[str, ...] = ()
    """Kinds that it looks at besides, where they are read."""
    but_not: tuple[str, ...] = ()
    """Kinds of measurement whose presence means that it cannot be told here."""
    priority: Priority = "medium"
    cause: str
    consequence: str
    action: str
    respond_within_s: float
    suppress_when: tuple[str, ...] = ()
