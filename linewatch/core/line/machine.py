"""The machine: everything that moves the line passes here, in one sequence.

Rule 1: no clock, no file, no chance. The same sequence into a fresh line gives the same events
        and, to the bit, the same totals; so does a memory taken anywhere on the way.
Rule 2: a stack is what its blocks would be one by one. Rows in which nothing changes but
        values and charge are taken at once; every other row goes the way of a block.
Rule 3: of one entry, charge is counted first, then signals are heard (where loads are, what
        flows), then what they make expected, then alarms. What is due comes next; studies
        hear what was told by then, and look last.
Rule 4: a block that is older than the last of its layout changes nothing.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.alarms.alarm import Alarms
from linewatch.core.alarms.limits import NEVER
from linewatch.core.events import Event, EventKind
from linewatch.core.figures import with_columns
from linewatch.core.line import consequences, hearing, orders
from linewatch.core.line.counting import rectifiers
from linewatch.core.line.doubted import Doubted
from linewatch.core.line.gathering import Gathering
from linewatch.core.line.hands import Hands
from linewatch.core.line.lost_links import LostLinks
from linewatch.core.line.metal import platings
from linewatch.core.line.overdue import Overdue
from linewatch.core.line.picture import Pictures
from linewatch.core.line.positions import Positions
from linewatch.core.line.remembering import Keeping, recall
from linewatch.core.line.studies import Studies
from linewatch.core.line.unwatched import pass_over, stood_event
from linewatch.core.line.watch import UNCERTAIN, Watch
from linewatch.core.readings import Moment, Readings, Stack

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.events import Part
    from linewatch.core.figures import FigureColumns
    from linewatch.core.plan import LinePlan
    from linewatch.core.ports import Order, RunStart, Stood
    from linewatch.core.readings import Layout
    from linewatch.core.view import LinePicture

NS = 1_000_000_000
STEP_NS = 2 * NS
"""Wall time that moves by more than this against line time has been set: common practice."""
FIRST_ROWS = 64
MOST_ROWS = 1024
"""A stack is looked through in windows of so many rows; they grow while all is quiet."""


class Line:
    """One plating line: judged and counted.

    Args:
        plan: The line as it is configured.
        memory: What an earlier line of the same id remembered, so that this one goes on
            exactly where it was; what the plan no longer has is kept but not used.

    Raises:
        StoreUnusable: a newer linewatch wrote the memory.
    """

    def __init__(self, plan: LinePlan, memory: Mapping[str, bytes] | None = None) -> None:
        self.plan = plan
        self.rectifiers = rectifiers(plan)
        self.platings = platings(plan, self.rectifiers)
        self.positions = Positions(plan)
        self.alarms = Alarms(plan)
        self.alarms.begin_again = partial(consequences.begin_again, self)
        self.overdue = Overdue(plan)
        self.lost_links = LostLinks(plan)
        self.hands = Hands(plan)
        self.doubted = Doubted(plan)
        self.studies = Studies(plan)
        self.watches = {layout: self._watch(layout) for layout in plan.layouts}
        self._place = {
            tag: (watch, column)
            for watch in self.watches.values()
            for column, tag in enumerate(watch.layout.tags)
        }
        self._by_identity: dict[int, Watch] = {
            id(layout): watch for layout, watch in self.watches.items()
        }
        self.gathering = Gathering(self)
        self._pictures = Pictures(self)
        self.now_ns = 0
        """Line time of the newest entry."""
        self.utc_ns = 0
        self.ahead_ns: int | None = None
        """Wall time less line time, at the last entry."""
        self.run_id = ""
        self.started_utc_ns = 0
        self.speed = 1.0
        self.fingerprint = plan.fingerprint
        self.next_ns: int = NEVER
        """Line time at which something is due next [ns]."""
        self._keeping = Keeping(memory or {})
        recall(self, self._keeping.kept)
        self.find_next()

    # What moves the line.

    def receive(self, readings: Readings | Stack) -> list[Event]:
        """Take one block, or a stack of blocks of one layout in order of time.

        Args:
            readings: The block or stack. Its arrays must not be written to afterwards.

        Returns:
            What happened, in order.
        """
        self._keeping.has_moved = True
        if isinstance(readings, Stack):
            return self._receive_stack(readings)
        watch = self._by_identity.get(id(readings.layout))
        if watch is None or watch.layout is not readings.layout:
            watch = self._watch_for(readings.layout)
        if readings.mono_ns < watch.mono_ns:
            return []
        events: list[Event] = []
        self._arrive(readings.utc_ns, readings.mono_ns, events)
        is_quiet = watch.take(
            readings.utc_ns, readings.mono_ns, readings.value, readings.quality
        )
        self._taken(watch, events, 0, is_quiet=is_quiet)
        return events

    def tick(self, at: Moment) -> list[Event]:
        """Let time go by: delays run out, silence turns stale, shelved alarms come back.

        Args:
            at: Now, on both clocks.

        Returns:
            What happened, in order.
        """
        events: list[Event] = []
        self._arrive(at.utc_ns, at.mono_ns, events)
        for watch in self.watches.values():
            if watch.go_stale(at.mono_ns):
                self._judge(watch, at, events)
        self._dues(events)
        events += self.alarms.passed(at)
        self._study(events, 0)
        self.find_next()
        return events

    def obey(self, order: Order) -> list[Event]:
        """Carry out what a person asked.

        Args:
            order: The command at its place in the sequence.

        Returns:
            What happened, in order.

        Raises:
            Refused: it cannot be done; nothing has changed.
        """
        self._keeping.has_moved = True
        done = orders.obey(self, order)
        events: list[Event] = []
        self._arrive(order.at.utc_ns, order.at.mono_ns, events)
        events += done
        self.studies.tell(self, events, 0)
        self.find_next()
        return events

    def begin(self, start: RunStart) -> list[Event]:
        """Begin a run. Line time goes on from the last one: a restart is a long gap.

        Args:
            start: The first entry of the run.

        Returns:
            What happened, in order.
        """
        self._keeping.has_moved = True
        events: list[Event] = []
        at = start.at
        away_ns = at.mono_ns - self.now_ns if self.now_ns else 0
        self._arrive(at.utc_ns, at.mono_ns, events)
        self.run_id, self.started_utc_ns = start.run_id, at.utc_ns
        self.speed = start.speed
        for rectifier in self.rectifiers.values():
            rectifier.set_speed(start.speed)
            # Time accounts for itself from the run's first instant: until the first sample
            # it is unmetered, not left out.
            rectifier.ledger.begin(at.mono_ns)
        for watch in self.watches.values():
            watch.set_speed(start.speed)
            watch.heard_ns = max(watch.heard_ns, at.mono_ns)
        self.overdue.begin_checks(at.mono_ns)
        if away_ns > STEP_NS:
            pass_over(self, away_ns)
        self.find_next()
        events.append(
            self.event(
                EventKind.RUN_STARTED,
                at,
                f"recording started at speed {start.speed:g}",
                {"run": start.run_id, "speed": start.speed, "who": start.who},
            )
        )
        if self.fingerprint != start.fingerprint:
            values = {"from": self.fingerprint, "to": start.fingerprint, "who": start.who}
            text = "another configuration is in force"
            events.append(self.event(EventKind.CONFIGURATION, at, text, values))
            self.fingerprint = start.fingerprint
        self.studies.tell(self, events, 0)
        self.find_next()
        return events

    def stood(self, entry: Stood) -> list[Event]:
        """Go on after a time in which the collector itself did not run.

        Args:
            entry: For how long, and when it was over.

        Returns:
            What happened, in order.
        """
        self._keeping.has_moved = True
        events: list[Event] = []
        self._arrive(entry.at.utc_ns, entry.at.mono_ns, events)
        pass_over(self, entry.for_ns)
        events.append(stood_event(self, entry))
        self.studies.tell(self, events, 0)
        self.find_next()
        return events

    # What can be asked of it.

    def picture(self, at: Moment) -> LinePicture:
        """Return the line as one frozen picture; links and recording are left out.

        Args:
            at: Now, on both clocks; what has been silent for too long by then looks stale.

        Returns:
            The picture.
        """
        return with_columns(*self.bare_picture(at))

    def bare_picture(self, at: Moment) -> tuple[LinePicture, FigureColumns]:
        """Return the same without figures, and beside it the columns in which they stand.

        Args:
            at: Now, on both clocks.

        Returns:
            What `with_columns` makes whole.
        """
        return self._pictures.bare(at)

    def totals(self) -> dict[str, dict[str, float | int]]:
        """Return totals by id of rectifier and tank.

        Returns:
            Charges in whole µA s, times in whole ns: metered + recovered + unmetered =
            elapsed. Tanks also tell `metal_g` if there is a figure.
        """
        found: dict[str, dict[str, float | int]] = {}
        for name, rectifier in self.rectifiers.items():
            found[name] = {**rectifier.ledger.totals(self.now_ns)}
        for name, plating in self.platings.items():
            found[name] = {**plating.totals(self.now_ns)}
            if plating.deposit is not None and not plating.refused():
                found[name]["metal_g"] = plating.mass_g()
        return found

    def memory(self) -> dict[str, bytes]:
        """Return everything that influences the future, by name of part.

        Returns:
            `Line(plan, memory)` goes on from there bit for bit.
        """
        return self._keeping.parts(self)

    def changed_memory(self) -> dict[str, bytes]:
        """Return the parts of the memory that changed since the last call, at first all."""
        return self._keeping.changed(self)

    # How an entry is taken.

    def _watch(self, layout: Layout) -> Watch:
        return Watch(layout, self.plan, self.rectifiers)

    def _watch_for(self, layout: Layout) -> Watch:
        """Return the watch of a layout that is equal but not the same, or unknown as yet."""
        watch = self.watches.get(layout)
        if watch is None:
            watch = self.watches[layout] = self._watch(layout)
            watch.set_speed(self.speed)
            watch.recall(self._keeping.kept)
            for column, tag in enumerate(layout.tags):
                self._place[tag] = (watch, column)
        # Kept by the watch, so that its identity cannot pass to another object.
        watch.layout = layout
        self._by_identity[id(layout)] = watch
        return watch

    def _arrive(self, utc_ns: int, mono_ns: int, events: list[Event]) -> None:
        """Note an entry's time on both clocks; tell if the wall clock was set."""
        ahead_ns = utc_ns - mono_ns
        before_ns = self.ahead_ns
        if before_ns is not None and not -STEP_NS <= ahead_ns - before_ns <= STEP_NS:
            step_s = (ahead_ns - before_ns) / NS
            way = "forward" if step_s > 0 else "back"
            events.append(
                self.event(
                    EventKind.CLOCK_STEPPED,
                    Moment(utc_ns=utc_ns, mono_ns=mono_ns),
                    f"the wall clock was set {way} by {abs(step_s):.1f} s; no total changes",
                    {"step_s": step_s},
                )
            )
        self.ahead_ns = ahead_ns
        self.utc_ns = utc_ns
        self.now_ns = max(self.now_ns, mono_ns)

    def _taken(self, watch: Watch, events: list[Event], first: int, *, is_quiet: bool) -> None:
        """Go on with a block that a watch has taken; the entry's events begin at `first`."""
        found = watch.count()
        if found:
            at = Moment(utc_ns=watch.utc_ns, mono_ns=watch.mono_ns)
            for rectifier, news in found:
                events += rectifier.told(news, at)
        if not is_quiet:
            at = Moment(utc_ns=watch.utc_ns, mono_ns=watch.mono_ns)
            self._judge(watch, at, events)
        if 0 < watch.timers.unseen_ns < watch.mono_ns:
            watch.timers.seen_again(watch.mono_ns)
            self.find_next()
        if self.next_ns <= self.now_ns:
            self._dues(events)
        if len(events) > first or self.studies.next_ns <= self.now_ns:
            self._study(events, first)

    def _receive_stack(self, stack: Stack) -> list[Event]:
        watch = self._watch_for(stack.layout)
        events: list[Event] = []
        count, row, window = len(stack.mono_ns), 0, FIRST_ROWS
        while row < count:
            end = min(count, row + window)
            quiet = self._quiet_rows(watch, stack, row, end)
            if quiet:
                last = row + quiet - 1
                watch.take_rows(stack, row, row + quiet)
                self._arrive(int(stack.utc_ns[last]), int(stack.mono_ns[last]), events)
                row += quiet
            if row == end:
                window = min(MOST_ROWS, 2 * window)
                continue
            window = FIRST_ROWS
            self._take_row(watch, stack, row, events)
            row += 1
        return events

    def _quiet_rows(self, watch: Watch, stack: Stack, first: int, end: int) -> int:
        ahead_ns = stack.utc_ns[first:end] - stack.mono_ns[first:end]
        before_ns = self.ahead_ns if self.ahead_ns is not None else int(ahead_ns[0])
        odd = np.abs(np.diff(ahead_ns, prepend=before_ns)) > STEP_NS
        odd |= np.maximum(stack.mono_ns[first:end], self.now_ns) >= self.next_ns
        if odd.any():
            end = first + int(odd.argmax())
        return watch.quiet_rows(stack, first, end) if end > first else 0

    def _take_row(self, watch: Watch, stack: Stack, row: int, events: list[Event]) -> None:
        utc_ns, mono_ns = int(stack.utc_ns[row]), int(stack.mono_ns[row])
        if mono_ns < watch.mono_ns:
            return
        first = len(events)
        self._arrive(utc_ns, mono_ns, events)
        is_quiet = watch.take(
            utc_ns, mono_ns, stack.value[row].copy(), stack.quality[row].copy()
        )
        self._taken(watch, events, first, is_quiet=is_quiet)

    # What follows from it.

    def _judge(self, watch: Watch, at: Moment, events: list[Event]) -> None:
        """Judge a scan in which something may have changed."""
        events += self.lost_links.hear(self, watch, at)
        turned = watch.judge.judge(watch.value, watch.quality, at.mono_ns)
        hearing.hear(self, watch, turned, at, events)
        self._turn(watch, turned, at, events)
        watch.rebox()
        self.find_next()

    def _dues(self, events: list[Event]) -> None:
        """Let everything happen that is due by now."""
        if self.next_ns > self.now_ns:
            return
        at = Moment(utc_ns=self.utc_ns, mono_ns=self.now_ns)
        events += self.lost_links.due(self, at)
        for watch in self.watches.values():
            if watch.timers.next_ns <= self.now_ns:
                turned = watch.timers.due(self.now_ns)
                hearing.hear(self, watch, turned, at, events)
                self._turn(watch, turned, at, events)
        for timer in self.overdue.due(self):
            alarm = self.overdue.alarm[timer]
            lasted_s = self.overdue.lasted_s(timer, self.now_ns)
            active = bool(self.overdue.timers.active[timer])
            if active:
                events += consequences.ask(self, alarm, at)
            events += self.alarms.turned(alarm, at, lasted_s, active=active)
        if self.alarms.next_ns <= self.now_ns:
            events += self.alarms.passed(at)
        self.find_next()

    def find_next(self) -> None:
        """Find out when something is due next."""
        dues = [watch.timers.next_ns for watch in self.watches.values()]
        self.next_ns = min(
            *dues,
            self.overdue.timers.next_ns,
            self.lost_links.timers.next_ns,
            self.alarms.next_ns,
            self.studies.next_ns,
            NEVER,
        )

    def _study(self, events: list[Event], first: int) -> None:
        """Let the studies hear what an entry told, and look if they are due."""
        self.studies.tell(self, events, first)
        if self.studies.next_ns <= self.now_ns:
            first = len(events)
            events += self.studies.look(self, Moment(utc_ns=self.utc_ns, mono_ns=self.now_ns))
            self.studies.tell(self, events, first)
            self.find_next()

    def _turn(
        self, watch: Watch, turned: Iterable[int], at: Moment, events: list[Event]
    ) -> None:
        for timer in turned:
            alarm = watch.judge.alarm[timer]
            if alarm < 0:
                continue
            active = bool(watch.timers.active[timer])
            # What came out of suppression just now has forgotten what it was.
            if active != self.alarms.active[alarm]:
                value = watch.value_of(timer)
                if active:
                    events += consequences.ask(self, alarm, at)
                events += self.alarms.turned(alarm, at, value, active=active)

    def place(self, tag: str) -> tuple[Watch, int] | None:
        """Return the watch and column of a tag; None if no layout brings it."""
        return self._place.get(tag)

    def good(self, tag: str) -> float | None:
        """Return the newest value of a tag; None unless its quality is good.

        Args:
            tag: Id of the tag.

        Returns:
            The value in the measurement's unit.
        """
        place = self._place.get(tag)
        if place is None:
            return None
        watch, column = place
        return watch.value.item(column) if watch.quality_of(column) < UNCERTAIN else None

    def sure(self, tag: str) -> float | None:
        """Return the newest value of a tag; None unless it is good and no alarm doubts it."""
        subject, _, what = tag.partition(".")
        return None if what in self.doubted.blind(self, subject) else self.good(tag)

    def event(
        self, kind: EventKind, at: Moment, text: str, values: Mapping[str, Part]
    ) -> Event:
        """Return an event about the line as a whole."""
        return Event(
            kind=kind,
            subject=self.plan.line_id,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            text=text,
            values=dict(values),
        )
