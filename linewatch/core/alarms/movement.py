"""Conditions that need a memory of values: a value that stands still, one that runs away.

Rule 1: a value is frozen when it has stayed within `limit` of one place for its whole on-delay.
        Each value that leaves the place is the next place. What is not good is no place.
Rule 2: a rate is judged on medians of fixed spans of line time, and is the median of the slopes
        between any two of them (Theil and Sen): neither a spike nor noise is a rate. Spans are
        cut at whole multiples of their length, wherever the readings are cut.

References:
    P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau",
    J. Am. Stat. Assoc. 63 (1968) 1379-1389.
"""

from __future__ import annotations

from collections import deque
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from linewatch.core.alarms.limits import Timers
    from linewatch.core.readings import Qualities, Times, Values

UNCERTAIN = 0x40
NS = 1_000_000_000
NEVER = np.iinfo(np.int64).max
SPAN_NS = 10 * NS
"""A median is taken over this long, or over one poll if that is longer."""
SPANS = 6
"""A rate is judged over this many spans."""
FEWEST_SPANS = 3
MINUTE_NS = 60 * NS


class Frozen:
    """Values of one layout that are watched for standing still.

    Args:
        column: Columns of the layout, shape (n,).
        limit: Least change that counts as alive, in the tags' units.
        delay_ns: How long a value must have stood still.
        clears: Whether it counts as normal while its value is not good.
        first: Number of the first of their timers.
    """

    def __init__(
        self,
        column: Sequence[int],
        limit: Sequence[float],
        delay_ns: Sequence[int],
        clears: Sequence[bool],
        first: int,
    ) -> None:
        self._column = np.array(column, dtype=np.intp)
        self._limit = np.array(limit)
        self._clears = np.array(clears, dtype=np.bool_)
        self._delay_ns = np.array(delay_ns, dtype=np.int64)
        self._any_change = not self._limit.any()
        self._first = first
        self.place: Values = np.full(len(self._column), np.nan)
        self.since_ns: Times = np.zeros(len(self._column), dtype=np.int64)
        self._check_ns = 0

    def feed(self, value: Values, quality: Qualities, now_ns: int) -> None:
        """Take one scan; judge nothing yet.

        Args:
            value: Shape (tags,).
            quality: Shape (tags,).
            now_ns: Line time [ns].
        """
        here = self._good(value, quality)
        # A NaN, then or now, is always a move.
        moved = ~(np.abs(here - self.place) <= self._limit)
        self.place[moved] = here[moved]
        self.since_ns[moved] = now_ns

    def _good(self, value: Values, quality: Qualities) -> Values:
        here = value.take(self._column)
        here[quality.take(self._column) >= UNCERTAIN] = np.nan
        return here

    def stood(self, for_ns: int) -> None:
        """Leave out a time [ns] in which nobody looked: nothing stood still in it."""
        self.since_ns = self.since_ns + for_ns
        self._check_ns = min(self._check_ns, NEVER - for_ns) + for_ns

    def is_due(self, timers: Timers, now_ns: int) -> bool:
        """Say whether the scan just fed must be judged."""
        if now_ns >= self._check_ns:
            return True
        raw = timers.raw[self._first : self._first + len(self._column)]
        has_moved = (self.since_ns == now_ns) & ~np.isnan(self.place)
        return bool((raw & has_moved).any())

    def judge(self, timers: Timers, now_ns: int) -> None:
        """Judge what has been fed. A value that is not good keeps what it is."""
        raw = timers.raw[self._first : self._first + len(self._column)]
        stood_ns = now_ns - self.since_ns
        kept = raw & ~self._clears
        is_now = np.where(np.isnan(self.place), kept, stood_ns >= self._delay_ns)
        timers.judge(self._first, is_now, now_ns)
        due_ns = (self.since_ns + self._delay_ns)[~is_now]
        self._check_ns = int(due_ns.min(initial=NEVER))

    def quiet_rows(self, timers: Timers, value: Values, mono_ns: Times) -> int:
        """Return how many coming rows of unchanged quality need not be judged.

        Args:
            timers: The layout's timers.
            value: Shape (rows, tags).
            mono_ns: Line times [ns], shape (rows,).

        Returns:
            Count of rows.
        """
        odd = mono_ns >= self._check_ns
        raw = timers.raw[self._first : self._first + len(self._column)] & ~np.isnan(self.place)
        if raw.any():
            here = value[:, self._column[raw]]
            odd |= (~(np.abs(here - self.place[raw]) <= self._limit[raw])).any(axis=1)
        return int(odd.argmax()) if odd.any() else len(odd)

    def feed_rows(self, value: Values, quality: Qualities, mono_ns: Times) -> None:
        """Take quiet rows; the same as `feed` one by one."""
        if not self._any_change:
            for row, now_ns in zip(value, mono_ns.tolist(), strict=True):
                self.feed(row, quality, now_ns)
            return
        here = value[:, self._column].copy()
        here[:, quality.take(self._column) >= UNCERTAIN] = np.nan
        # Without a limit each value is its own place: only neighbours need comparing.
        moved = np.vstack((self.place, here[:-1])) != here
        last = len(moved) - 1 - moved[::-1].argmax(axis=0)
        has_moved = moved.any(axis=0)
        self.since_ns[has_moved] = mono_ns[last[has_moved]]
        self.place = here[-1].copy()

    def remember(self) -> dict[str, NDArray[Any]]:
        """Return all that the future depends on; see `recall`."""
        return {
            "frozen_place": self.place,
            "frozen_since_ns": self.since_ns,
            "frozen_check_ns": np.array([self._check_ns], dtype=np.int64),
        }

    def recall(
        self, kept: Mapping[str, NDArray[Any]], places: Sequence[tuple[int, int]]
    ) -> None:
        """Go on from what was remembered; `places` are (earlier, present) numbers."""
        if len(places) == len(self.place):
            # Otherwise there are others than before: look at once.
            self._check_ns = int(kept["frozen_check_ns"][0])
        for before, after in places:
            self.place[after] = kept["frozen_place"][before]
            self.since_ns[after] = kept["frozen_since_ns"][before]


class Rates:
    """Values of one layout that are watched for how fast they change.

    Args:
        column: Columns of the layout, shape (n,).
        on: Limits, in the tags' units a minute.
        off: Where a rate counts as ended.
        clears: Whether it counts as normal while it cannot be told.
        period_ns: Polling period of the layout [ns].
        first: Number of the first of their timers.
    """

    def __init__(
        self,
        column: Sequence[int],
        on: Sequence[float],
        off: Sequence[float],
        clears: Sequence[bool],
        period_ns: int,
        first: int,
    ) -> None:
        self._column = np.array(column, dtype=np.intp)
        self._clears = np.array(clears, dtype=np.bool_)
        self._on, self._off = np.array(on), np.array(off)
        self._first = first
        self._span_ns = max(SPAN_NS, period_ns)
        self._samples: list[Values] = []
        """Of the present span, each of shape (rows, n)."""
        self._span = -1
        self._medians: deque[tuple[int, Values]] = deque(maxlen=SPANS)
        """(number of the span, medians), oldest first."""
        self.slope: Values = np.full(len(self._column), np.nan)
        """The last rates judged [units a minute]."""

    @property
    def end_ns(self) -> int:
        """Return the line time at which the present span ends [ns]."""
        return (self._span + 1) * self._span_ns

    def feed(self, timers: Timers, value: Values, quality: Qualities, now_ns: int) -> bool:
        """Take one scan; say whether a span has ended, and rates were judged.

        Args:
            timers: The layout's timers.
            value: Shape (tags,).
            quality: Shape (tags,).
            now_ns: Line time [ns].

        Returns:
            Whether anything was judged.
        """
        has_ended = now_ns >= self.end_ns and bool(self._samples)
        if has_ended:
            self._end_span()
            self._judge(timers, now_ns)
        here = value.take(self._column)
        here[quality.take(self._column) >= UNCERTAIN] = np.nan
        self._span = now_ns // self._span_ns
        self._samples.append(here[None, :])
        return has_ended

    def feed_rows(self, value: Values, quality: Qualities, mono_ns: Times) -> None:
        """Take rows that all lie in the present span; the same as `feed` one by one."""
        here = value[:, self._column].copy()
        here[:, quality.take(self._column) >= UNCERTAIN] = np.nan
        self._span = int(mono_ns[0]) // self._span_ns
        self._samples.append(here)

    def quiet_rows(self, mono_ns: Times) -> int:
        """Return how many coming rows lie in the present span."""
        return int(np.searchsorted(mono_ns, self.end_ns)) if self._samples else 0

    def _end_span(self) -> None:
        self._medians.append((self._span, median(np.concatenate(self._samples))))
        self._samples = []

    def _judge(self, timers: Timers, now_ns: int) -> None:
        newest = self._medians[-1][0]
        recent = [each for each in self._medians if each[0] > newest - SPANS]
        minutes = self._span_ns / MINUTE_NS
        slopes = [
            (later[1] - earlier[1]) / ((later[0] - earlier[0]) * minutes)
            for earlier, later in combinations(recent, 2)
        ]
        count = len(self._column)
        self.slope = median(np.array(slopes).reshape(-1, count))
        known = np.sum([~np.isnan(each[1]) for each in recent], axis=0) >= FEWEST_SPANS
        raw = timers.raw[self._first : self._first + count]
        # A rate that cannot be told keeps what it was announced as.
        held = timers.active[self._first : self._first + count] & ~self._clears
        is_fast = np.abs(self.slope) > np.where(raw, self._off, self._on)
        timers.judge(self._first, np.where(known, is_fast, held), now_ns)

    def remember(self) -> dict[str, NDArray[Any]]:
        """Return all that the future depends on; see `recall`."""
        count = len(self._column)
        samples = np.concatenate(self._samples) if self._samples else np.empty((0, count))
        medians = np.array([each for _, each in self._medians]).reshape(-1, count)
        return {
            "rate_span": np.array([self._span], dtype=np.int64),
            "rate_samples": samples.ravel(),
            "rate_spans": np.array([span for span, _ in self._medians], dtype=np.int64),
            "rate_medians": medians.ravel(),
            "rate_slope": self.slope,
        }

    def recall(
        self, kept: Mapping[str, NDArray[Any]], places: Sequence[tuple[int, int]]
    ) -> None:
        """Go on from what was remembered; `places` are (earlier, present) numbers."""
        earlier = len(kept["rate_slope"])
        if not earlier:
            return
        self._span = int(kept["rate_span"][0])
        samples = self._in_place(kept["rate_samples"].reshape(-1, earlier), places)
        self._samples = [samples] if len(samples) else []
        medians = self._in_place(kept["rate_medians"].reshape(-1, earlier), places)
        self._medians.extend(zip(kept["rate_spans"].tolist(), medians, strict=True))
        self.slope = self._in_place(kept["rate_slope"].reshape(1, earlier), places)[0]

    def _in_place(self, rows: Values, places: Sequence[tuple[int, int]]) -> Values:
        found = np.full((len(rows), len(self._column)), np.nan)
        for before, after in places:
            found[:, after] = rows[:, before]
        return found


def median(rows: Values) -> Values:
    """Return the median of each column, NaN left out.

    Args:
        rows: Shape (rows, n).

    Returns:
        Shape (n,); NaN where a column has no number at all.
    """
    count = np.sum(~np.isnan(rows), axis=0)
    # A column without a number has a NaN in its first row too.
    padded = np.vstack((rows, np.full((1, rows.shape[1]), np.nan)))
    in_order = np.sort(padded, axis=0)
    low = np.maximum(count - 1, 0) // 2
    each = np.arange(rows.shape[1])
    found: Values = (in_order[low, each] + in_order[count // 2, each]) / 2.0
    return found
