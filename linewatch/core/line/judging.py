"""The conditions of one layout: from the plan to arrays, in one order of timers.

The timers stand in this order: comparisons of values (those of distances last), bad quality,
frozen values, rates. Comparisons also tell which rectifiers deliver no current: no alarm, but
what makes alarms expected.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms.limits import ALIKE, Comparison, Limits, Timers
from linewatch.core.alarms.movement import Frozen, Rates
from linewatch.core.line.memory import places
from linewatch.core.plan import ConditionPlan

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from linewatch.core.line.counting import Rectifier
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Layout, Qualities, Times, Values

NO_CURRENT_RATIO = 0.02
"""Below this share of the rated current a position has no current: common practice."""
AGAIN_RATIO = 1.5
"""... and has it again above this many times as much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Watched:
    """One condition at its column."""

    alarm: int
    column: int
    condition: ConditionPlan
    test: Comparison | None = None


class Judge:
    """Judges the scans of one layout.

    Args:
        layout: The layout.
        plan: The line.
        currents: The rectifiers of the layout, each with the column of its current or -1.
    """

    def __init__(
        self, layout: Layout, plan: LinePlan, currents: Sequence[tuple[Rectifier, int]]
    ) -> None:
        watched = list(_watched(layout, plan))
        tests = [(each.alarm, each.test) for each in watched if each.test is not None]
        tests += [
            (-1 - k, _no_current(rectifier, column))
            for k, (rectifier, column) in enumerate(currents)
            if column >= 0
        ]
        tests.sort(key=lambda pair: pair[1].is_distance)
        bad, frozen, rates = (
            [each for each in watched if each.condition.kind == kind]
            for kind in ("bad-quality", "frozen", "rate")
        )
        others = (*bad, *frozen, *rates)
        self.alarm = [alarm for alarm, _ in tests] + [each.alarm for each in others]
        """By timer: the number of its alarm; -1 - k for 'no current' of the k-th rectifier."""
        self.column = [test.column for _, test in tests] + [each.column for each in others]
        """By timer: the column of its tag."""
        self.names = [
            plan.conditions[alarm].id
            if alarm >= 0
            else f"no-current.{currents[-1 - alarm][0].plan.id}"
            for alarm in self.alarm
        ]
        self.timer_of = {alarm: k for k, alarm in enumerate(self.alarm)}
        # How long a value must stand still is counted by `Frozen`.
        on_ns = [test.on_delay_ns for _, test in tests]
        on_ns += [e.condition.on_delay_ns if e not in frozen else 0 for e in others]
        off_ns = [test.off_delay_ns for _, test in tests]
        off_ns += [each.condition.off_delay_ns for each in others]
        self.timers = Timers(on_ns, off_ns)
        self.limits = Limits(
            [test for _, test in tests],
            [each.column for each in bad],
            self.timers,
            len(layout.tags),
        )
        first = len(tests) + len(bad)
        self._first_rate = first + len(frozen)
        self.frozen = _frozen(frozen, first)
        self._rates = _rates(rates, layout.period_ns, self._first_rate)
        self.has_movement = self.frozen is not None or self._rates is not None
        self._moving = [each.condition.id for each in (*frozen, *rates)]
        self._frozen_count = len(frozen)

    def judge(self, value: Values, quality: Qualities, now_ns: int) -> list[int]:
        """Judge one scan; return the timers whose announcement has turned.

        Args:
            value: Shape (tags,).
            quality: Shape (tags,).
            now_ns: Line time [ns].

        Returns:
            Numbers of timers, in order.
        """
        self.limits.judge(value, quality, now_ns)
        if self.frozen is not None:
            self.frozen.judge(self.timers, now_ns)
        return self.timers.due(now_ns)

    def feed(self, value: Values, quality: Qualities, now_ns: int) -> bool:
        """Show a scan to what watches movement; say whether it must be judged."""
        must_judge = False
        if self.frozen is not None:
            self.frozen.feed(value, quality, now_ns)
            must_judge = self.frozen.is_due(self.timers, now_ns)
        if self._rates is not None:
            must_judge |= self._rates.feed(self.timers, value, quality, now_ns)
        return must_judge

    def quiet_rows(self, value: Values, mono_ns: Times) -> int:
        """Return how many coming rows of unchanged quality need not be judged for movement."""
        count = len(mono_ns)
        if self.frozen is not None:
            count = self.frozen.quiet_rows(self.timers, value, mono_ns)
        if self._rates is not None:
            count = min(count, self._rates.quiet_rows(mono_ns))
        return count

    def feed_rows(self, value: Values, quality: Qualities, mono_ns: Times) -> None:
        """Show quiet rows to what watches movement; the same as `feed` one by one."""
        if self.frozen is not None:
            self.frozen.feed_rows(value, quality, mono_ns)
        if self._rates is not None:
            self._rates.feed_rows(value, quality, mono_ns)

    def slope(self, timer: int) -> float | None:
        """Return the rate that a timer was judged by [units a minute]; None for other kinds."""
        if self._rates is None or timer < self._first_rate:
            return None
        slope = float(self._rates.slope[timer - self._first_rate])
        return None if slope != slope else slope  # noqa: PLR0124 - NaN is not itself

    def remember(self) -> dict[str, NDArray[Any]]:
        """Return the memory of what watches movement; see `recall`."""
        found: dict[str, NDArray[Any]] = {}
        if self.frozen is not None:
            found |= self.frozen.remember()
        if self._rates is not None:
            found |= self._rates.remember()
        return found

    def recall(self, kept: Mapping[str, NDArray[Any]], timers: Sequence[str]) -> None:
        """Go on from what was remembered; `timers` are the earlier names of all timers."""
        frozen, rates = len(kept.get("frozen_place", ())), len(kept.get("rate_slope", ()))
        first = len(timers) - frozen - rates
        moving = self._moving
        if self.frozen is not None and frozen:
            earlier = timers[first : first + frozen]
            self.frozen.recall(kept, places(earlier, moving[: self._frozen_count]))
        if self._rates is not None and rates:
            earlier = timers[first + frozen :]
            self._rates.recall(kept, places(earlier, moving[self._frozen_count :]))


def _watched(layout: Layout, plan: LinePlan) -> Iterator[_Watched]:
    columns = {tag: k for k, tag in enumerate(layout.tags)}
    for alarm, condition in enumerate(plan.conditions):
        column = columns.get(condition.tag)
        if column is not None:
            yield _Watched(
                alarm=alarm,
                column=column,
                condition=condition,
                test=_test(column, condition, plan),
            )


def _test(column: int, condition: ConditionPlan, plan: LinePlan) -> Comparison | None:
    """Return the comparison that a condition makes, if it compares values one by one."""
    match condition.kind:
        case "high-high" | "high" | "low" | "low-low":
            test = Comparison.side(column, condition.kind, condition.limit, condition.deadband)
        case "deviation":
            tag = plan.tags.get(condition.tag)
            target = condition.target
            if target is None and tag is not None:
                target = tag.window.target
            if target is None:
                return None
            test = Comparison.away(column, target, condition.limit, condition.deadband)
        case "discrete":
            test = Comparison.near(column, condition.limit, ALIKE, ALIKE)
        case _:
            return None
    return replace(
        test,
        on_delay_ns=condition.on_delay_ns,
        off_delay_ns=condition.off_delay_ns,
        clears_on_bad=condition.on_bad == "clear",
    )


def _no_current(rectifier: Rectifier, column: int) -> Comparison:
    rated_a, cutoff_a = rectifier.plan.rated_current_a, rectifier.plan.zero_cutoff_a
    nothing_a = max(cutoff_a, NO_CURRENT_RATIO * rated_a)
    return Comparison.near(column, 0.0, nothing_a, AGAIN_RATIO * nothing_a)


def _frozen(watched: Sequence[_Watched], first: int) -> Frozen | None:
    if not watched:
        return None
    return Frozen(
        [each.column for each in watched],
        [each.condition.limit for each in watched],
        [each.condition.on_delay_ns for each in watched],
        [each.condition.on_bad == "clear" for each in watched],
        first,
    )


def _rates(watched: Sequence[_Watched], period_ns: int, first: int) -> Rates | None:
    if not watched:
        return None
    on = [each.condition.limit for each in watched]
    return Rates(
        [each.column for each in watched],
        on,
        [max(0.0, each.condition.limit - each.condition.deadband) for each in watched],
        [each.condition.on_bad == "clear" for each in watched],
        period_ns,
        first,
    )
