"""The conditions of one layout, judged as arrays: one scan, a handful of array operations.

Rule 1: nothing is judged on a value that is not good. While it is not, a condition keeps what
        it has announced and forgets what it was about to announce ('hold'), or returns to
        normal ('clear', on a bad value; an uncertain one is held all the same).
Rule 2: a condition turns true beyond its limit, and false again only when the value has come
        back by its deadband. It is announced when it has been true for its on-delay, and
        called off when it has been false for its off-delay, without interruption.
Rule 3: as long as every value stays inside its `box`, no condition can change. That is all
        that is looked at in a quiet scan, and what lets a replay pass over quiet hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from linewatch.core.plan import ConditionKind
    from linewatch.core.readings import Qualities, Values

NEVER = np.iinfo(np.int64).max
"""Line time at which nothing is due."""

SIDES: dict[ConditionKind, float] = {
    "high-high": 1.0,
    "high": 1.0,
    "low": -1.0,
    "low-low": -1.0,
}
"""On which side of its limit a value is abnormal."""
ALIKE = 0.5
"""Two states or counts differ if they are this far apart."""
_MARGIN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One comparison: true when sign * (value - offset), or its magnitude, exceeds `on`."""

    column: int
    sign: float
    on: float
    off: float
    """It stays true while above this."""
    offset: float = 0.0
    is_distance: bool = False
    """Compare the distance from `offset`, not the value."""
    on_delay_ns: int = 0
    off_delay_ns: int = 0
    clears_on_bad: bool = False

    @staticmethod
    def side(column: int, kind: ConditionKind, limit: float, deadband: float) -> Comparison:
        """Return a comparison with one limit."""
        sign = SIDES[kind]
        return Comparison(
            column=column, sign=sign, on=sign * limit, off=sign * limit - deadband
        )

    @staticmethod
    def away(column: int, target: float, limit: float, deadband: float) -> Comparison:
        """Return a comparison with a distance from the target."""
        return Comparison(
            column=column,
            sign=1.0,
            on=limit,
            off=limit - deadband,
            offset=target,
            is_distance=True,
        )

    @staticmethod
    def near(column: int, place: float, on: float, off: float) -> Comparison:
        """Return a comparison that is true close to a place: a state, or no current."""
        return Comparison(
            column=column, sign=-1.0, on=-on, off=-off, offset=place, is_distance=True
        )


class Timers:
    """What each of many conditions is, what it was announced as, and when that is due.

    Args:
        on_delay_ns: Shape (n,).
        off_delay_ns: Shape (n,).
    """

    def __init__(self, on_delay_ns: Sequence[int], off_delay_ns: Sequence[int]) -> None:
        count = len(on_delay_ns)
        self.on_delay_ns = np.array(on_delay_ns, dtype=np.int64)
        self.off_delay_ns = np.array(off_delay_ns, dtype=np.int64)
        self.raw = np.zeros(count, dtype=np.bool_)
        """What the condition is, before any delay."""
        self.active = np.zeros(count, dtype=np.bool_)
        """What it has been announced as."""
        self.due_ns = np.full(count, NEVER, dtype=np.int64)
        self.next_ns: int = NEVER
        self.unseen_ns: int = 0
        """End of a time in which nobody looked, as long as nothing was read since; else 0."""
        self._until_ns: int = 0

    def judge(self, first: int, raw: NDArray[np.bool_], now_ns: int) -> None:
        """Take what the conditions from number `first` on are now; see `due`."""
        changed = np.flatnonzero(self.raw[first : first + len(raw)] != raw)
        if not len(changed):
            return
        which = changed + first
        is_now = raw[changed]
        self.raw[which] = is_now
        delay_ns = np.where(is_now, self.on_delay_ns[which], self.off_delay_ns[which])
        self.due_ns[which] = np.where(is_now != self.active[which], now_ns + delay_ns, NEVER)
        self.next_ns = int(self.due_ns.min())

    def due(self, now_ns: int, but_not: Sequence[int] = ()) -> list[int]:
        """Announce what is due.

        Args:
            now_ns: Line time [ns].
            but_not: Conditions that wait, and stay due.

        Returns:
            The conditions whose `active` has turned.
        """
        if self.next_ns > now_ns:
            return []
        is_due = self.due_ns <= now_ns
        is_due[list(but_not)] = False
        which = np.flatnonzero(is_due)
        self.active[which] = self.raw[which]
        self.due_ns[which] = NEVER
        self.next_ns = int(self.due_ns.min())
        found: list[int] = which.tolist()
        return found

    def put_off(self, end_ns: int, until_ns: int) -> None:
        """Announce nothing that nobody has looked at since a time in which nobody did.

        Args:
            end_ns: End of that time [ns].
            until_ns: When it is announced all the same, if nothing is read again [ns].
        """
        self.due_ns[self.due_ns < until_ns] = until_ns
        self.next_ns = int(self.due_ns.min(initial=NEVER))
        self.unseen_ns, self._until_ns = end_ns, until_ns

    def seen_again(self, now_ns: int) -> None:
        """It was read again, and judged: what was put off is due now, if it is still so."""
        self.due_ns[self.due_ns == self._until_ns] = now_ns
        self.next_ns = int(self.due_ns.min(initial=NEVER))
        self.unseen_ns = self._until_ns = 0

    def begin_again(self, which: int, now_ns: int) -> None:
        """Forget what was announced; what is true now has its whole on-delay before it."""
        self.active[which] = False
        is_true = bool(self.raw[which])
        self.due_ns[which] = now_ns + int(self.on_delay_ns[which]) if is_true else NEVER
        self.next_ns = int(self.due_ns.min())

    def remember(self) -> dict[str, NDArray[Any]]:
        """Return all that the future depends on; see `recall`."""
        parts = {"raw": self.raw, "active": self.active, "due_ns": self.due_ns}
        if self.unseen_ns:
            parts["unseen_ns"] = np.array([self.unseen_ns, self._until_ns], dtype=np.int64)
        return parts

    def recall(
        self, kept: Mapping[str, NDArray[Any]], places: Sequence[tuple[int, int]]
    ) -> None:
        """Go on from what was remembered; `places` are (earlier, present) numbers."""
        for before, after in places:
            self.raw[after] = kept["raw"][before]
            self.active[after] = kept["active"][before]
            self.due_ns[after] = kept["due_ns"][before]
        if "unseen_ns" in kept:
            self.unseen_ns, self._until_ns = kept["unseen_ns"].tolist()
        self.next_ns = int(self.due_ns.min(initial=NEVER))


class Limits:
    """All comparisons of one layout, and what it is to be bad, over one set of timers.

    Args:
        tests: The comparisons; those of distances last.
        bad: Columns that are watched for bad quality, after the comparisons.
        timers: Timers; numbers 0 to len(tests) - 1 are the comparisons, then the bad ones.
        width: Number of tags in the layout.
    """

    def __init__(
        self, tests: Sequence[Comparison], bad: Sequence[int], timers: Timers, width: int
    ) -> None:
        self._timers = timers
        self._width = width
        self._count = len(tests)
        self._near = sum(1 for test in tests if not test.is_distance)
        self._column = np.array([test.column for test in tests], dtype=np.intp)
        self._sign = np.array([test.sign for test in tests])
        self._offset = np.array([test.offset for test in tests])
        self._on = np.array([test.on for test in tests])
        self._off = np.array([test.off for test in tests])
        self._clears = np.array([test.clears_on_bad for test in tests], dtype=np.bool_)
        self._bad = np.array(bad, dtype=np.intp)

    def judge(self, value: Values, quality: Qualities, now_ns: int) -> None:
        """Judge one scan.

        Args:
            value: Shape (tags,); NaN where bad.
            quality: Shape (tags,).
            now_ns: Line time [ns].
        """
        timers, count = self._timers, self._count
        if count:
            x = value.take(self._column)
            x -= self._offset
            np.abs(x[self._near :], out=x[self._near :])
            x *= self._sign
            raw = timers.raw[:count]
            is_true = x > np.where(raw, self._off, self._on)
            of = quality.take(self._column)
            if of.max(initial=0) >= Quality.UNCERTAIN:
                held = timers.active[:count] & ~(self._clears & (of >= Quality.BAD))
                is_true = np.where(of >= Quality.UNCERTAIN, held, is_true)
            timers.judge(0, is_true, now_ns)
        if len(self._bad):
            timers.judge(count, quality.take(self._bad) >= Quality.BAD, now_ns)

    def box(
        self, value: Values, quality: Qualities, pinned: NDArray[np.intp]
    ) -> tuple[Values, Values]:
        """Return between which values no comparison changes, as things stand.

        Args:
            value: The present values, shape (tags,).
            quality: Their qualities, shape (tags,).
            pinned: Columns of which every change is news.

        Returns:
            (lowest, highest) values, each of shape (tags,); both inclusive. A NaN is neither
            below nor above, so that a bad column is quiet as long as its quality stays.
        """
        low = np.full(self._width, -np.inf)
        high = np.full(self._width, np.inf)
        raw = self._timers.raw[: self._count]
        edge = np.where(raw, self._off, self._on)
        self._sides(low, high, raw, edge)
        self._distances(value, low, high, raw, edge)
        low[pinned] = value[pinned]
        high[pinned] = value[pinned]
        doubtful = quality >= Quality.UNCERTAIN
        low[doubtful], high[doubtful] = -np.inf, np.inf
        return low, high

    def _sides(self, low: Values, high: Values, raw: NDArray[np.bool_], edge: Values) -> None:
        near = slice(0, self._near)
        column, up = self._column[near], self._sign[near] > 0
        raw, edge = raw[near], edge[near]
        top = np.where(up, edge, np.nextafter(-edge, -np.inf))
        bottom = np.where(up, np.nextafter(edge, np.inf), -edge)
        ends_above = up != raw
        np.minimum.at(high, column[ends_above], top[ends_above])
        np.maximum.at(low, column[~ends_above], bottom[~ends_above])

    def _distances(
        self, value: Values, low: Values, high: Values, raw: NDArray[np.bool_], edge: Values
    ) -> None:
        far = slice(self._near, self._count)
        column, sign, centre = self._column[far], self._sign[far], self._offset[far]
        radius = sign * edge[far]
        # Subtraction rounds; the box is drawn a little too small, never too large.
        margin = _MARGIN * (np.abs(centre) + np.abs(radius)) + 1e-300
        inside = (sign > 0) != raw[far]
        above = value.take(column) > centre
        floor = np.where(inside, centre - radius + margin, centre + radius + margin)
        ceiling = np.where(inside, centre + radius - margin, centre - radius - margin)
        has_floor, has_ceiling = inside | above, inside | ~above
        np.maximum.at(low, column[has_floor], floor[has_floor])
        np.minimum.at(high, column[has_ceiling], ceiling[has_ceiling])
