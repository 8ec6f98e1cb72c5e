"""One sequence, one outcome: however it is cut, stacked, interrupted or remembered."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linewatch.core.line import Line
from tests.core.line.invented import NS, PLAN, feed, feed_all, moment, sequences, stacked

SLOW = settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
SLOWER = settings(SLOW, max_examples=30)


@SLOW
@given(entries=sequences(), largest=st.integers(1, 50))
def test_blocks_in_stacks_give_the_same_events_totals_and_memory(entries, largest):
    singly, in_stacks = Line(PLAN), Line(PLAN)

    events = feed_all(singly, entries)
    same = feed_all(in_stacks, stacked(entries, largest))

    assert same == events
    assert in_stacks.totals() == singly.totals()
    assert in_stacks.memory() == singly.memory()


@SLOW
@given(entries=sequences(), data=st.data())
def test_a_line_from_memory_goes_on_where_the_other_was(entries, data):
    cut = data.draw(st.integers(0, len(entries)))
    whole, first = Line(PLAN), Line(PLAN)

    before = feed_all(first, entries[:cut])
    second = Line(PLAN, first.memory())
    after = feed_all(second, entries[cut:])

    assert before + after == feed_all(whole, entries)
    assert second.totals() == whole.totals()
    assert second.memory() == whole.memory()


@SLOW
@given(entries=sequences())
def test_the_account_of_time_adds_up_after_every_entry(entries):
    line = Line(PLAN)
    for entry in entries:
        feed(line, entry)
        for rectifier in line.rectifiers.values():
            total = rectifier.ledger.totals(line.now_ns)
            parts = total["metered_ns"], total["recovered_ns"], total["unmetered_ns"]
            assert sum(parts) == total["elapsed_ns"]
            assert min(parts) >= 0


@SLOWER
@given(entries=sequences())
def test_no_total_ever_goes_back(entries):
    line = Line(PLAN)
    before = line.totals()
    for entry in entries:
        feed(line, entry)
        now = line.totals()
        for name, total in now.items():
            # Of two samples at one time the larger stands: it may turn a crossing round.
            for part in ("metered_ns", "recovered_ns", "elapsed_ns"):
                assert total[part] >= before[name][part]
        before = now


@SLOWER
@given(entries=sequences())
def test_changed_memory_keeps_up_with_the_whole(entries):
    line, kept = Line(PLAN), {}
    for k, entry in enumerate(entries):
        feed(line, entry)
        if k % 5:
            continue
        kept.update(line.changed_memory())
        assert kept == line.memory()
    line.changed_memory()
    assert line.changed_memory() == {}


@SLOWER
@given(entries=sequences())
def test_what_came_before_changes_nothing_when_it_comes_again(entries):
    line = Line(PLAN)
    feed_all(line, entries)
    blocks = [entry for entry in entries if hasattr(entry, "layout")]
    for late in blocks[::10]:
        last = max(each.mono_ns for each in blocks if each.layout is late.layout)
        if late.mono_ns < last:
            totals, memory = line.totals(), line.memory()
            assert line.receive(late) == []
            assert line.totals() == totals
            assert line.memory() == memory


@SLOWER
@given(entries=sequences())
def test_the_picture_can_be_drawn_at_any_time_and_changes_nothing(entries):
    line = Line(PLAN)
    for k, entry in enumerate(entries):
        feed(line, entry)
        if k % 20:
            continue
        memory = line.memory()
        picture = line.picture(moment(line.now_ns + NS))
        assert line.memory() == memory
        for tank in picture.tanks:
            for figure in tank.figures.values():
                assert (figure.value is None) == (figure.quality >= 0x80)
