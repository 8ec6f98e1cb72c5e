"""One layout as it was read last: values, conditions and what makes the next scan quiet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.integration import many, recovery
from linewatch.core.integration.charge import LARGEST_A
from linewatch.core.integration.gaps import patience_ns
from linewatch.core.line.judging import Judge
from linewatch.core.line.memory import moved, pack, places, unpack
from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linewatch.core.integration.recovery import News
    from linewatch.core.line.counting import Rectifier
    from linewatch.core.plan import LinePlan, TagPlan
    from linewatch.core.readings import Layout, Qualities, Stack, Times, Values

PINNED = frozenset({"load-present", "load-number", "line-state"})
"""Kinds of which every change moves something else than an alarm."""
LARGEST_METER_AH = 1e12
NOTHING_CAME = bytes((Quality.NO_ANSWER, Quality.NOT_CONNECTED, Quality.STALE, Quality.NOT_YET))
"""Qualities of a value that did not come at all, whatever its sensor does."""
UNCERTAIN = int(Quality.UNCERTAIN)
"""A plain number: to compare with an enum's member costs twenty times as much."""


class Watch:
    """What is known of one layout.

    Args:
        layout: The layout; tags that the plan does not know are passed over.
        plan: The line.
        rectifiers: The line's rectifiers by id.
    """

    def __init__(
        self, layout: Layout, plan: LinePlan, rectifiers: Mapping[str, Rectifier]
    ) -> None:
        self.layout = layout
        self.name = f"layout.{layout.link}.{layout.device}.{layout.tags[0]}"
        width = len(layout.tags)
        self.tags: list[TagPlan | None] = [plan.tags.get(tag) for tag in layout.tags]
        self.value: Values = np.full(width, np.nan)
        self.quality: Qualities = np.full(width, Quality.NOT_YET, dtype=np.uint8)
        self.utc_ns = 0
        self.mono_ns = -1
        self.heard_ns = 0
        """Line time of the last block, or of the run's start if that is later."""
        self.is_settled = False
        """Staleness has been judged since the last block."""
        self._good_utc_ns = np.zeros(width, dtype=np.int64)
        self._quality = self.quality.tobytes()
        self._before = (0, -1, self._quality)
        """Times and qualities of the block before the last one."""
        self._names_part = self._good_part = b""
        self.ledgers = _ledgers(layout, rectifiers)
        """(rectifier, column of its current, of its meter); -1: not in this layout."""
        self.judge = Judge(layout, plan, [(r, column) for r, column, _ in self.ledgers])
        self.timers = self.judge.timers
        self.pinned = np.array(
            [k for k, tag in enumerate(self.tags) if tag is not None and tag.kind in PINNED],
            dtype=np.intp,
        )
        self.patience_ns = np.zeros(width, dtype=np.int64)
        self.least_patience_ns = 0
        self.set_speed(1.0)
        self._low = np.full(width, np.inf)
        self._high = np.full(width, -np.inf)

    def set_speed(self, speed: float) -> None:
        """Take the speed of a run: how long a silence may be depends on it."""
        patience = [patience_ns(tag.stale_after_ns if tag else 0, speed) for tag in self.tags]
        self.patience_ns = np.array(patience, dtype=np.int64)
        self.least_patience_ns = min(patience)

    def take(self, utc_ns: int, mono_ns: int, value: Values, quality: Qualities) -> bool:
        """Take a block; say whether it is quiet: nothing but values has changed.

        Args:
            utc_ns: Wall time [ns].
            mono_ns: Line time [ns], not before the last block.
            value: Shape (tags,).
            quality: Shape (tags,).

        Returns:
            Whether no condition, signal or quality can have changed.
        """
        of = quality.tobytes()
        self._before = (self.utc_ns, self.mono_ns, self._quality)
        is_quiet = of == self._quality
        if is_quiet:
            # NaN is neither below nor above.
            is_quiet = (
                b"\x01" not in np.less(value, self._low).tobytes()
                and b"\x01" not in np.greater(value, self._high).tobytes()
            )
        else:
            self._keep_good()
            self.quality, self._quality = quality, of
        self.value, self.utc_ns = value, utc_ns
        self.heard_ns = self.mono_ns = mono_ns
        self.is_settled = False
        if self.judge.has_movement:
            is_quiet &= not self.judge.feed(value, quality, mono_ns)
        return is_quiet

    def count(self) -> list[tuple[Rectifier, list[News]]]:
        """Let the rectifiers of this layout count its present block; return what they found."""
        found = []
        at_ns, value, of = self.mono_ns, self.value, self._quality
        for rectifier, current, meter in self.ledgers:
            ledger, longest_ns = rectifier.ledger, rectifier.longest_gap_ns
            if ledger.began_ns is None:
                ledger.begin(at_ns)
            if current >= 0 and of[current] < UNCERTAIN:
                current_a = value.item(current)
                # NaN fails the comparison: what is no number is no sample.
                if -LARGEST_A <= current_a <= LARGEST_A:
                    ledger.current(at_ns, current_a, longest_ns)
            if meter >= 0 and of[meter] < UNCERTAIN:
                reading_ah = value.item(meter)
                if 0.0 <= reading_ah <= LARGEST_METER_AH:
                    news = recovery.read_meter(ledger, at_ns, reading_ah, longest_ns)
                    if news:
                        found.append((rectifier, news))
        return found

    def quiet_rows(self, stack: Stack, first: int, end: int) -> int:
        """Return how many rows from `first` on change nothing but values and charge.

        Args:
            stack: Blocks of this layout.
            first: The first row to look at.
            end: The row to stop before.

        Returns:
            Count of rows; those are taken by `take_rows`, the next one by `take`.
        """
        if self.mono_ns < 0 or self.timers.unseen_ns:
            return 0
        rows = slice(first, end)
        value, mono_ns = stack.value[rows], stack.mono_ns[rows]
        odd = (value < self._low).any(axis=1)
        odd |= (value > self._high).any(axis=1)
        odd |= (stack.quality[rows] != self.quality).any(axis=1)
        odd |= np.diff(mono_ns, prepend=self.mono_ns) <= 0
        count = int(odd.argmax()) if odd.any() else len(odd)
        if count and self.judge.has_movement:
            count = self.judge.quiet_rows(value[:count], mono_ns[:count])
        rows = slice(first, first + count)
        for rectifier, current_a, reading_ah in self._columns(stack, rows):
            if count:
                plain = many.plain_rows(
                    rectifier.ledger,
                    mono_ns[: rows.stop - first],
                    current_a,
                    reading_ah,
                    rectifier.longest_gap_ns,
                )
                count = min(count, plain)
        return count

    def take_rows(self, stack: Stack, first: int, end: int) -> None:
        """Take quiet rows at once; the same to the bit as `take` and `count` one by one."""
        rows = slice(first, end)
        mono_ns = stack.mono_ns[rows]
        for rectifier, current_a, reading_ah in self._columns(stack, rows):
            rectifier.ledger.begin(int(mono_ns[0]))
            many.take_rows(rectifier.ledger, mono_ns, current_a, reading_ah)
        if self.judge.has_movement:
            self.judge.feed_rows(stack.value[rows], self.quality, mono_ns)
        if end - first > 1:
            self._before = (int(stack.utc_ns[end - 2]), int(mono_ns[-2]), self._quality)
        else:
            self._before = (self.utc_ns, self.mono_ns, self._quality)
        # A copy: a view would keep the whole stack alive.
        self.value = stack.value[end - 1].copy()
        self.utc_ns = int(stack.utc_ns[end - 1])
        self.heard_ns = self.mono_ns = int(mono_ns[-1])
        self.is_settled = False

    def _columns(
        self, stack: Stack, rows: slice
    ) -> Iterator[tuple[Rectifier, Values | None, Values | None]]:
        """Yield the rectifiers with the good ones of their two columns."""
        for rectifier, current, meter in self.ledgers:
            has_current = current >= 0 and self._quality[current] < UNCERTAIN
            has_meter = meter >= 0 and self._quality[meter] < UNCERTAIN
            yield (
                rectifier,
                stack.value[rows, current] if has_current else None,
                stack.value[rows, meter] if has_meter else None,
            )

    def rebox(self) -> None:
        """Draw anew between which values the next scans are quiet."""
        self._low, self._high = self.judge.limits.box(self.value, self.quality, self.pinned)

    def go_stale(self, now_ns: int) -> bool:
        """Mark as stale what has been silent for too long; say whether there is such."""
        silent_ns = now_ns - self.heard_ns
        if self.is_settled or silent_ns <= self.least_patience_ns:
            return False
        late = silent_ns > self.patience_ns
        self.is_settled = bool(late.all())
        if self.mono_ns < 0:
            # Never read: it says so already, and now it counts.
            return True
        late &= self.quality < Quality.BAD
        if not late.any():
            return False
        self._keep_good()
        self.quality = np.where(late, np.uint8(Quality.STALE), self.quality)
        self.value = np.where(late, np.nan, self.value)
        self._quality = self.quality.tobytes()
        if self.judge.frozen is not None:
            self.judge.frozen.feed(self.value, self.quality, now_ns)
        return True

    @property
    def is_mute(self) -> bool:
        """Say whether nothing at all came of this layout, the last time that it was judged."""
        return not self._quality.strip(NOTHING_CAME)

    def _keep_good(self) -> None:
        """Note when each tag was last good, before its quality changes."""
        if self.mono_ns >= 0:
            self._good_utc_ns[self.quality < UNCERTAIN] = self.utc_ns
            self._good_part = b""

    def good_utc_ns(self, column: int) -> int | None:
        """Return when a tag was last good [ns]; None if it never was."""
        if self._quality[column] < UNCERTAIN:
            return self.utc_ns
        return self._good_utc_ns.item(column) or None

    def good_utc_column(self) -> Times:
        """Return when each tag was last good [ns], shape (tags,); 0: never."""
        return np.where(self.quality < UNCERTAIN, self.utc_ns, self._good_utc_ns)

    def unseen_ns(self, column: int) -> int | None:
        """Return for how long a tag was not read before its newest value [ns].

        Between two polls that is their distance; None if it was never read before.
        """
        _, mono_ns, quality = self._before
        if mono_ns >= 0 and quality[column] < UNCERTAIN:
            return self.mono_ns - mono_ns
        good_utc_ns = self._good_utc_ns.item(column)
        return max(0, self.utc_ns - good_utc_ns) if good_utc_ns else None

    def quality_of(self, column: int) -> int:
        """Return the quality of a tag as a plain number, quickly."""
        return self._quality[column]

    def value_of(self, timer: int) -> float | None:
        """Return what a timer's condition was judged by, if it is known."""
        slope = self.judge.slope(timer)
        if slope is not None:
            return slope
        column = self.judge.column[timer]
        if self.quality[column] >= Quality.UNCERTAIN:
            return None
        return float(self.value[column])

    def remember(self) -> dict[str, bytes]:
        """Return the parts of the memory that tell about this layout."""
        said = {
            "utc_ns": self.utc_ns,
            "mono_ns": self.mono_ns,
            "heard_ns": self.heard_ns,
            "is_settled": self.is_settled,
            "before_ns": self._before[:2],
        }
        last = {
            "value": self.value.astype("<f8", copy=False),
            "quality": self.quality,
            "before": np.frombuffer(self._before[2], np.uint8),
        }
        if not self._names_part:
            # It never changes, and is the longest part of all.
            names = {"tags": self.layout.tags, "timers": self.judge.names}
            self._names_part = pack(names)
        if not self._good_part:
            self._good_part = pack({}, {"good_utc_ns": self._good_utc_ns})
        parts = {
            f"{self.name}.last": pack(said, last),
            f"{self.name}.good": self._good_part,
            f"{self.name}.timers": pack({}, self.timers.remember()),
            f"{self.name}.names": self._names_part,
        }
        if self.judge.has_movement:
            parts[f"{self.name}.movement"] = pack({}, self.judge.remember())
        return parts

    def recall(self, memory: Mapping[str, bytes]) -> None:
        """Go on from the memory, as far as it tells about this layout."""
        if f"{self.name}.names" not in memory:
            return
        names, _ = unpack(memory[f"{self.name}.names"])
        said, last = unpack(memory[f"{self.name}.last"])
        tags = places(names["tags"], self.layout.tags)
        timers = places(names["timers"], self.judge.names)
        self.value = moved(self.value, last["value"], tags)
        self.quality = moved(self.quality, last["quality"], tags)
        self._quality = self.quality.tobytes()
        self.utc_ns, self.mono_ns = said["utc_ns"], said["mono_ns"]
        self.heard_ns, self.is_settled = said["heard_ns"], said["is_settled"]
        if "before_ns" in said:
            utc_ns, mono_ns = said["before_ns"]
            quality = moved(np.full_like(self.quality, Quality.NOT_YET), last["before"], tags)
            self._before = (utc_ns, mono_ns, quality.tobytes())
        _, good = unpack(memory[f"{self.name}.good"])
        self._good_utc_ns = moved(self._good_utc_ns, good["good_utc_ns"], tags)
        self._good_part = b""
        self.timers.recall(unpack(memory[f"{self.name}.timers"])[1], timers)
        movement = memory.get(f"{self.name}.movement")
        if movement is not None and self.judge.has_movement:
            self.judge.recall(unpack(movement)[1], names["timers"])
        if self.mono_ns >= 0:
            self.rebox()


def _ledgers(
    layout: Layout, rectifiers: Mapping[str, Rectifier]
) -> list[tuple[Rectifier, int, int]]:
    columns = {tag: k for k, tag in enumerate(layout.tags)}
    found = []
    for each in rectifiers.values():
        current = columns.get(each.current.id, -1) if each.current is not None else -1
        meter = columns.get(each.meter.id, -1) if each.meter is not None else -1
        if current >= 0 or meter >= 0:
            found.append((each, current, meter))
    return found
