"""Arrays of conditions against one condition at a time, written out plainly."""

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.core.alarms.limits import NEVER, Comparison, Limits, Timers
from linewatch.core.readings import Quality

NS = 10**9
WIDTH = 3


@dataclass
class Plain:
    """One condition, judged by the book: no arrays, no boxes."""

    test: Comparison
    is_true: bool = False
    announced: bool = False
    since_ns: int | None = None
    """When it began to differ from what is announced."""

    def judge(self, value: float, quality: int, now_ns: int) -> None:
        if quality >= Quality.UNCERTAIN:
            clears = self.test.clears_on_bad and quality >= Quality.BAD
            is_true = self.announced and not clears
        else:
            x = value - self.test.offset
            x = self.test.sign * (abs(x) if self.test.is_distance else x)
            is_true = x > (self.test.off if self.is_true else self.test.on)
        if is_true != self.is_true:
            self.is_true = is_true
            self.since_ns = now_ns if is_true != self.announced else None
        self.pass_by(now_ns)

    def pass_by(self, now_ns: int) -> None:
        if self.since_ns is None:
            return
        delay_ns = self.test.on_delay_ns if self.is_true else self.test.off_delay_ns
        if now_ns >= self.since_ns + delay_ns:
            self.announced, self.since_ns = self.is_true, None


SENSIBLE = st.integers(-20, 20).map(lambda each: each / 2.0)
SPANS_NS = st.sampled_from([0, NS, 3 * NS])
TESTS = st.builds(
    lambda kind, column, limit, width, bad: replace(
        _made(kind, column, limit, width), clears_on_bad=bad
    ),
    st.sampled_from(["high", "low", "away", "near"]),
    st.integers(0, WIDTH - 1),
    SENSIBLE,
    st.sampled_from([0.0, 0.5, 3.0]),
    st.booleans(),
)
ROWS = st.lists(
    st.tuples(
        st.sampled_from([0, NS, 2 * NS]),
        st.lists(SENSIBLE, min_size=WIDTH, max_size=WIDTH),
        st.lists(
            st.sampled_from([0, 0, 0, 0, Quality.UNCERTAIN, Quality.NO_ANSWER]),
            min_size=WIDTH,
            max_size=WIDTH,
        ),
    ),
    min_size=1,
    max_size=40,
)


def _made(kind: str, column: int, limit: float, width: float) -> Comparison:
    if kind in {"high", "low"}:
        return Comparison.side(column, kind, limit, width)
    if kind == "away":
        return Comparison.away(column, limit, 2.0 + width, width)
    return Comparison.near(column, limit, 1.0, 1.0 + width)


def arrays(tests) -> tuple[Limits, Timers, list[Comparison]]:
    in_order = sorted(tests, key=lambda test: test.is_distance)
    timers = Timers(
        [test.on_delay_ns for test in in_order] + [0] * WIDTH,
        [test.off_delay_ns for test in in_order] + [0] * WIDTH,
    )
    return Limits(in_order, range(WIDTH), timers, WIDTH), timers, in_order


@settings(deadline=None, max_examples=300)
@given(
    tests=st.lists(TESTS, min_size=1, max_size=6),
    delays=st.lists(st.tuples(SPANS_NS, SPANS_NS), min_size=6, max_size=6),
    rows=ROWS,
)
def test_arrays_judge_as_one_condition_at_a_time(tests, delays, rows):
    tests = [
        replace(test, on_delay_ns=on_ns, off_delay_ns=off_ns)
        for test, (on_ns, off_ns) in zip(tests, delays, strict=False)
    ]
    limits, timers, in_order = arrays(tests)
    plain = [Plain(test) for test in in_order]
    now_ns = 0
    for step_ns, values, qualities in rows:
        now_ns += step_ns
        value, quality = np.array(values), np.array(qualities, dtype=np.uint8)
        value[quality >= Quality.BAD] = np.nan
        limits.judge(value, quality, now_ns)
        turned = timers.due(now_ns)
        before = [each.announced for each in plain]
        for each in plain:
            column = each.test.column
            each.judge(values[column], int(quality[column]), now_ns)
        count = len(plain)
        assert timers.raw[:count].tolist() == [each.is_true for each in plain]
        assert timers.active[:count].tolist() == [each.announced for each in plain]
        changed = [k for k, each in enumerate(plain) if each.announced != before[k]]
        assert [timer for timer in turned if timer < count] == changed
        assert timers.active[count:].tolist() == (quality >= Quality.BAD).tolist()
        assert timers.next_ns == timers.due_ns.min()


@settings(deadline=None, max_examples=300)
@given(
    tests=st.lists(TESTS, min_size=1, max_size=6),
    rows=ROWS,
    probe=st.lists(st.floats(-12.0, 12.0), min_size=WIDTH, max_size=WIDTH),
)
def test_inside_the_box_no_comparison_changes(tests, rows, probe):
    limits, timers, _ = arrays(tests)
    now_ns = 0
    for step_ns, values, qualities in rows:
        now_ns += step_ns
        value, quality = np.array(values), np.array(qualities, dtype=np.uint8)
        value[quality >= Quality.BAD] = np.nan
        limits.judge(value, quality, now_ns)
        timers.due(now_ns)
        low, high = limits.box(value, quality, np.empty(0, dtype=np.intp))
        inside = np.where(quality >= Quality.BAD, np.nan, np.clip(probe, low, high))
        if (low > high).any():
            # Nothing lies inside: every scan of this tag is looked at.
            continue
        raw, due_ns = timers.raw.copy(), timers.due_ns.copy()
        limits.judge(inside, quality, now_ns)
        assert timers.raw.tolist() == raw.tolist()
        assert timers.due_ns.tolist() == due_ns.tolist()
        limits.judge(value, quality, now_ns)


def test_a_pinned_column_is_boxed_at_its_value():
    limits, _, _ = arrays([Comparison.side(0, "high", 100.0, 1.0)])
    value = np.array([5.0, 17.0, 3.0])
    low, high = limits.box(value, np.zeros(3, dtype=np.uint8), np.array([1]))

    assert (low[1], high[1]) == (17.0, 17.0)
    assert high[0] == 100.0
    assert low[0] == -np.inf


def test_a_condition_that_begins_again_has_its_whole_delay_before_it():
    timers = Timers([5 * NS], [0])
    timers.judge(0, np.array([True]), 0)
    assert timers.due(5 * NS) == [0]

    timers.begin_again(0, 7 * NS)

    assert not timers.active[0]
    assert timers.due(11 * NS) == []
    assert timers.due(12 * NS) == [0]


def test_a_condition_that_begins_again_while_false_waits_for_nothing():
    timers = Timers([5 * NS], [9 * NS])
    timers.judge(0, np.array([True]), 0)
    timers.due(5 * NS)
    timers.judge(0, np.array([False]), 6 * NS)

    timers.begin_again(0, 7 * NS)

    assert timers.next_ns == NEVER
    assert not timers.active[0]


def test_what_comes_back_in_time_is_not_called_off():
    timers = Timers([0], [5 * NS])
    timers.judge(0, np.array([True]), 0)
    timers.due(0)
    timers.judge(0, np.array([False]), NS)
    timers.judge(0, np.array([True]), 3 * NS)

    assert timers.due(100 * NS) == []
    assert timers.active[0]
