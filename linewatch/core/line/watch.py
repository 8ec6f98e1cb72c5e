"""One layout as it was read last: values, conditions and what makes the next scan quiet."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from linewatch.core.alarms.limits import ALIKE, Limits, Test, Timers
from linewatch.core.integration.charge import LARGEST_A
from linewatch.core.integration.gaps import patience_ns
from linewatch.core.line.memory import pack, unpack
from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from linewatch.core.integration.ledger import News
    from linewatch.core.line.counting import Rectifier
    from linewatch.core.plan import ConditionPlan, LinePlan, TagPlan
    from linewatch.core.readings import Layout, Qualities, Stack, Values

PINNED = frozenset({"load-present", "load-number", "line-state"})
"""Kinds of which every change moves something else than an alarm."""
NO_CURRENT_RATIO = 0.02
"""Below this share of the rated current a position has no current: common practice."""
LARGEST_METER_AH = 1e12
AGAIN_RATIO = 1.5
"""... and has it again above this many times as much."""


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
        columns = {tag: k for k, tag in enumerate(layout.tags)}
        self.ledgers = _ledgers(columns, rectifiers)
        self.pinned = np.array(
            [k for k, tag in enumerate(self.tags) if tag is not None and tag.kind in PINNED],
            dtype=np.intp,
        )
        self.alarm: list[int] = []
        """By timer: the number of its alarm; -1 - k for 'no current' of the k-th rectifier."""
        self._build(plan, columns)
        self.patience_ns = np.zeros(width, dtype=np.int64)
        self.least_patience_ns = 0
        self.set_speed(1.0)
        self.low = np.full(width, np.inf)
        self.high = np.full(width, -np.inf)

    def _build(
        self,
        plan: LinePlan,
        columns: Mapping[str, int],
    ) -> None:
        tests: list[tuple[int, Test]] = []
        bad: list[tuple[int, int, ConditionPlan]] = []
        for number, condition in enumerate(plan.conditions):
            column = columns.get(condition.tag)
            if column is None:
                continue
            test = _test(column, condition, self.tags[column])
            if test is not None:
                tests.append((number, test))
            elif condition.kind == "bad-quality":
                bad.append((number, column, condition))
        for k, (rectifier, column, _) in enumerate(self.ledgers):
            if column >= 0:
                tests.append((-1 - k, _no_current(rectifier, column)))
        tests.sort(key=lambda pair: pair[1].is_distance)
        self.alarm = [number for number, _ in tests] + [number for number, _, _ in bad]
        self._names = [
            plan.conditions[number].id
            if number >= 0
            else f"no-current.{self.ledgers[-1 - number][0].plan.id}"
            for number in self.alarm
        ]
        self.timers = Timers(
            [t.on_delay_ns for _, t in tests] + [c.on_delay_ns for _, _, c in bad],
            [t.off_delay_ns for _, t in tests] + [c.off_delay_ns for _, _, c in bad],
        )
        self.limits = Limits(
            [test for _, test in tests],
            [column for _, column, _ in bad],
            self.timers,
            len(columns),
        )
        self.timer_of = {number: k for k, number in enumerate(self.alarm)}

    def set_speed(self, speed: float) -> None:
        """Take the speed of a run: how long a silence may be depends on it."""
        self.patience_ns = np.array(
            [
                patience_ns(tag.stale_after_ns if tag is not None else 0, speed)
                for tag in self.tags
            ],
            dtype=np.int64,
        )
        self.least_patience_ns = int(self.patience_ns.min())

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
        self.heard_ns = self.mono_ns = mono_ns
        self.is_settled = False
        of = quality.tobytes()
        if of == self._quality:
            self.value = value
            self.utc_ns = utc_ns
            # NaN is neither below nor above.
            return (
                b"\x01" not in np.less(value, self.low).tobytes()
                and b"\x01" not in np.greater(value, self.high).tobytes()
            )
        self._keep_good()
        self.value, self.quality, self._quality, self.utc_ns = value, quality, of, utc_ns
        return False

    def _keep_good(self) -> None:
        """Note when each tag was last good, before its quality changes."""
        if self.mono_ns >= 0:
            self._good_utc_ns[self.quality < Quality.UNCERTAIN] = self.utc_ns

    def good_utc_ns(self, column: int) -> int | None:
        """Return when a tag was last good [ns]; None if it never was."""
        if self.quality[column] < Quality.UNCERTAIN:
            return self.utc_ns
        return int(self._good_utc_ns[column]) or None

    def value_of(self, tag: str) -> float | None:
        """Return a tag's value if it is good."""
        column = self.layout.tags.index(tag)
        if self.quality[column] >= Quality.UNCERTAIN:
            return None
        return float(self.value[column])

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
        return True

    def rebox(self) -> None:
        """Draw anew between which values the next scans are quiet."""
        self.low, self.high = self.limits.box(self.value, self.quality, self.pinned)

    def count(self) -> list[tuple[Rectifier, list[News]]]:
        """Let the rectifiers of this layout count its present block; return what they found."""
        found = []
        at_ns, value, of = self.mono_ns, self.value, self._quality
        for rectifier, current, meter in self.ledgers:
            ledger = rectifier.ledger
            if ledger.began_ns is None:
                ledger.begin(at_ns)
            if current >= 0 and of[current] < Quality.UNCERTAIN:
                current_a = value.item(current)
                # NaN fails the comparison: what is no number is no sample.
                if -LARGEST_A <= current_a <= LARGEST_A:
                    ledger.current(at_ns, current_a, rectifier.longest_gap_ns)
            if meter >= 0 and of[meter] < Quality.UNCERTAIN:
                reading_ah = value.item(meter)
                if 0.0 <= reading_ah < LARGEST_METER_AH:
                    news = ledger.meter(at_ns, reading_ah, rectifier.longest_gap_ns)
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
        if self.mono_ns < 0:
            return 0
        rows = slice(first, end)
        value = stack.value[rows]
        odd = (value < self.low).any(axis=1)
        odd |= (value > self.high).any(axis=1)
        odd |= (stack.quality[rows] != self.quality).any(axis=1)
        odd |= np.diff(stack.mono_ns[rows], prepend=self.mono_ns) <= 0
        count = int(odd.argmax()) if odd.any() else len(odd)
        rows = slice(first, first + count)
        for rectifier, current_a, reading_ah in self._columns(stack, rows):
            if not count:
                break
            count = min(
                count,
                rectifier.ledger.plain(
                    stack.mono_ns[rows], current_a, reading_ah, rectifier.longest_gap_ns
                ),
            )
        return count

    def take_rows(self, stack: Stack, first: int, end: int) -> None:
        """Take quiet rows at once; the same to the bit as `take` and `count` one by one."""
        rows = slice(first, end)
        for rectifier, current_a, reading_ah in self._columns(stack, rows):
            rectifier.ledger.begin(int(stack.mono_ns[first]))
            rectifier.ledger.take_plain(stack.mono_ns[rows], current_a, reading_ah)
        # A copy: a view would keep the whole stack alive.
        self.value = stack.value[end - 1].copy()
        self.utc_ns = int(stack.utc_ns[end - 1])
        self.heard_ns = self.mono_ns = int(stack.mono_ns[end - 1])
        self.is_settled = False

    def _columns(
        self, stack: Stack, rows: slice
    ) -> Iterator[tuple[Rectifier, Values | None, Values | None]]:
        """Yield the rectifiers with the good ones of their two columns."""
        for rectifier, current, meter in self.ledgers:
            has_current = current >= 0 and self._quality[current] < Quality.UNCERTAIN
            has_meter = meter >= 0 and self._quality[meter] < Quality.UNCERTAIN
            yield (
                rectifier,
                stack.value[rows, current] if has_current else None,
                stack.value[rows, meter] if has_meter else None,
            )

    def remember(self) -> dict[str, bytes]:
        """Return the parts of the memory that tell about this layout."""
        timers = self.timers
        said = {
            "utc_ns": self.utc_ns,
            "mono_ns": self.mono_ns,
            "heard_ns": self.heard_ns,
            "is_settled": self.is_settled,
        }
        last = {
            "value": self.value.astype("<f8", copy=False),
            "quality": self.quality,
        }
        rarely = {
            "good_utc_ns": self._good_utc_ns,
            "raw": timers.raw,
            "active": timers.active,
            "due_ns": timers.due_ns,
        }
        return {
            f"{self.name}.last": pack(said, last),
            f"{self.name}.conditions": pack({}, rarely),
            f"{self.name}.names": pack({"tags": self.layout.tags, "timers": self._names}),
        }

    def recall(self, memory: Mapping[str, bytes]) -> None:
        """Go on from the memory, as far as it tells about this layout."""
        part = memory.get(f"{self.name}.names")
        if part is None:
            return
        names, _ = unpack(part)
        said, last = unpack(memory[f"{self.name}.last"])
        _, rarely = unpack(memory[f"{self.name}.conditions"])
        tags = _places(names["tags"], self.layout.tags)
        timers = _places(names["timers"], self._names)
        self.value = _moved(self.value, last["value"], tags)
        self.quality = _moved(self.quality, last["quality"], tags)
        self._quality = self.quality.tobytes()
        self.utc_ns, self.mono_ns = said["utc_ns"], said["mono_ns"]
        self.heard_ns, self.is_settled = said["heard_ns"], said["is_settled"]
        self._good_utc_ns = _moved(self._good_utc_ns, rarely["good_utc_ns"], tags)
        self.timers.raw = _moved(self.timers.raw, rarely["raw"], timers)
        self.timers.active = _moved(self.timers.active, rarely["active"], timers)
        self.timers.due_ns = _moved(self.timers.due_ns, rarely["due_ns"], timers)
        self.timers.next_ns = int(self.timers.due_ns.min(initial=self.timers.next_ns))
        if self.mono_ns >= 0:
            self.rebox()


def _ledgers(
    columns: Mapping[str, int], rectifiers: Mapping[str, Rectifier]
) -> list[tuple[Rectifier, int, int]]:
    """Return (rectifier, column of its current, of its meter); -1: not in this layout."""
    found = []
    for each in rectifiers.values():
        current = columns.get(each.current.id, -1) if each.current is not None else -1
        meter = columns.get(each.meter.id, -1) if each.meter is not None else -1
        if current >= 0 or meter >= 0:
            found.append((each, current, meter))
    return found


def _test(column: int, condition: ConditionPlan, tag: TagPlan | None) -> Test | None:
    """Return the comparison that a condition makes, if it compares values one by one."""
    match condition.kind:
        case "high-high" | "high" | "low" | "low-low":
            test = Test.side(column, condition.kind, condition.limit, condition.deadband)
        case "deviation":
            target = condition.target
            if target is None and tag is not None:
                target = tag.window.target
            if target is None:
                return None
            test = Test.away(column, target, condition.limit, condition.deadband)
        case "discrete":
            test = Test.near(column, condition.limit, ALIKE, ALIKE)
        case _:
            return None
    return replace(
        test,
        on_delay_ns=condition.on_delay_ns,
        off_delay_ns=condition.off_delay_ns,
        clears_on_bad=condition.on_bad == "clear",
    )


def _no_current(rectifier: Rectifier, column: int) -> Test:
    cutoff_a = max(
        rectifier.plan.zero_cutoff_a, NO_CURRENT_RATIO * rectifier.plan.rated_current_a
    )
    return Test.near(column, 0.0, cutoff_a, AGAIN_RATIO * cutoff_a)


def _places(before: Sequence[str], after: Sequence[str]) -> list[tuple[int, int]]:
    """Return (earlier place, present place) of every name that is in both."""
    place = {name: k for k, name in enumerate(before)}
    return [(place[name], k) for k, name in enumerate(after) if name in place]


def _moved(
    fresh: NDArray[Any], kept: NDArray[Any], places: Sequence[tuple[int, int]]
) -> NDArray[Any]:
    """Return `fresh` with what was kept, each in its present place."""
    for before, after in places:
        fresh[after] = kept[before]
    return fresh
