"""Studies hear and look at the same places of line time, however the line is fed."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linewatch.core.line import Line
from linewatch.core.line.studies import Studies
from linewatch.core.line.study import Study
from tests.core.line.invented import NS, PLAN, feed, feed_all, sequences, stacked

SLOW = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])


class Diary(Study):
    """Notes all that it sees and hears."""

    NAME = "diary"
    PERIOD_NS = 3 * NS

    def __init__(self, plan):
        super().__init__(plan)
        self.pages = []

    def hear(self, line, event):  # noqa: ARG002 - its signature
        self.pages.append(["heard", str(event.kind), event.subject, event.mono_ns])
        return []

    def look(self, line, at):
        seen = {tag: line.good(tag) for tag in self.plan.tags}
        self.pages.append(["saw", at.mono_ns, seen])
        return []

    def remember(self):
        return {"pages": self.pages}

    def recall(self, kept):
        self.pages = list(kept["pages"])


class Followed(Line):
    """A line that a diary is kept of."""

    def __init__(self, plan, memory=None):
        super().__init__(plan, memory)
        self.studies = Studies(plan, (Diary(plan),))
        self.studies.recall(memory or {}, self.now_ns)
        self.find_next()

    @property
    def diary(self):
        return self.studies.every[0].pages


@SLOW
@given(entries=sequences(), largest=st.integers(1, 50))
def test_a_study_sees_the_same_in_stacks_as_in_blocks(entries, largest):
    singly, in_stacks = Followed(PLAN), Followed(PLAN)

    feed_all(singly, entries)
    feed_all(in_stacks, stacked(entries, largest))

    assert in_stacks.diary == singly.diary
    assert in_stacks.memory() == singly.memory()


@SLOW
@given(entries=sequences(), data=st.data())
def test_a_study_goes_on_from_memory_where_it_was(entries, data):
    cut = data.draw(st.integers(0, len(entries)))
    whole, first = Followed(PLAN), Followed(PLAN)

    feed_all(first, entries[:cut])
    second = Followed(PLAN, first.memory())
    feed_all(second, entries[cut:])
    feed_all(whole, entries)

    assert second.diary == whole.diary


@SLOW
@given(entries=sequences())
def test_a_study_looks_once_in_each_period_that_has_an_entry_and_never_twice(entries):
    line = Followed(PLAN)
    for entry in entries:
        feed(line, entry)
    periods = [page[1] // Diary.PERIOD_NS for page in line.diary if page[0] == "saw"]
    assert len(periods) == len(set(periods))
    assert periods == sorted(periods)


@SLOW
@given(entries=sequences())
def test_a_study_hears_every_event_once_in_order(entries):
    line = Followed(PLAN)
    events = feed_all(line, entries)
    heard = [page[1:] for page in line.diary if page[0] == "heard"]
    assert heard == [[str(each.kind), each.subject, each.mono_ns] for each in events]
