"""Do the modules of a rectifier share its current as they did?

Modules in parallel are kept alike by their own control: equal shares, or shares in fixed
proportion where they are not of one size. A module that takes nothing has tripped or lost its
output fuse, and the others carry its part, hotter; one that takes too much has lost its sharing
signal, or another's joint has become poor.

Rule 1: nothing is judged while the sum moves.
Rule 2: equal shares are taken for usual until the unit's own are learned; what is odd is never
        learned.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from linewatch.core.diagnostics.remembered import Remembered

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_OFF: Final = 0.20
"""Share over or under the usual one, from which on it is odd [1]: makers promise 5 to 10 %;
common practice."""
UNLEARNED_OFF: Final = 0.40
NOTHING: Final = 0.05
"""Share of its usual part below which a module gives nothing [1]."""
LEARNED: Final = 20.0
"""Looks after which a module's own share counts."""
FORGETS: Final = 400.0
STEADY_RATIO: Final = 0.03
LOOKS: Final = 3


@dataclass(slots=True)
class SharingTold:
    """What a look has told."""

    module: int
    """Place of the module that is farthest off."""
    share_ratio: float
    """Its part of the sum [1]."""
    usual_ratio: float
    off_ratio: float
    """Its share over the usual one, less one [1]."""


@dataclass(slots=True)
class SharingWatch(Remembered):
    """One rectifier's modules."""

    shares: list[float] = field(default_factory=list)
    """Learned mean shares [1], module by module."""
    looks: float = 0.0
    before_a: float = -1.0
    """Sum at the look before [A]."""
    row: int = 0
    is_odd: bool = False

    def look(self, currents_a: Sequence[float]) -> SharingTold | None:
        """Look at what the modules give.

        Args:
            currents_a: Current of each module [A].

        Returns:
            Which is farthest from its usual share; None while nothing can be told.
        """
        total_a = sum(abs(each) for each in currents_a)
        before_a, self.before_a = self.before_a, total_a
        if total_a <= 0.0 or abs(total_a - before_a) > STEADY_RATIO * total_a:
            return None
        count = len(currents_a)
        if len(self.shares) != count:
            self.shares, self.looks = [1.0 / count] * count, 0.0
        now = [abs(each) / total_a for each in currents_a]
        off = [share / usual - 1.0 for share, usual in zip(now, self.shares, strict=True)]
        place = _farthest(off)
        told = SharingTold(place, now[place], self.shares[place], off[place])
        limit = LEAST_OFF if self.looks >= LEARNED else UNLEARNED_OFF
        odd = abs(off[place]) > limit
        self.row = self.row + 1 if odd != self.is_odd else 0
        if self.row >= LOOKS:
            self.is_odd, self.row = odd, 0
        if not odd:
            self._learn(now)
        return told

    def rest(self) -> None:
        """Take that too little flows to be judged."""
        self.before_a = -1.0

    def _learn(self, now: list[float]) -> None:
        self.looks = min(self.looks + 1.0, FORGETS)
        self.shares = [
            usual + (share - usual) / self.looks
            for usual, share in zip(self.shares, now, strict=True)
        ]


def _farthest(off: list[float]) -> int:
    """Return which is to blame: one that gives nothing before those that make up for it."""
    dead = [place for place, each in enumerate(off) if each < NOTHING - 1.0]
    return dead[0] if dead else max(range(len(off)), key=lambda place: abs(off[place]))
