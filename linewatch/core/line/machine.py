"""The machine: everything that moves the line passes here, in one sequence.

Rule 1: no clock, no file, no chance. The same sequence into a fresh line gives the same events
        and, to the bit, the same totals; so does a memory taken anywhere on the way.
Rule 2: a stack is what its blocks would be one by one. Rows in which nothing changes but values
        and charge are taken at once; every other row goes the way of a single block.
Rule 3: of one entry, charge is counted first, then signals are heard (who is where, what flows),
        then what they make expected, then alarms. What is due by then comes last.
Rule 4: a block that is older than the last of its layout changes nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.alarms.alarm import Alarms
from linewatch.core.alarms.limits import NEVER
from linewatch.core.events import Event, EventKind
from linewatch.core.line import orders, picture
from linewatch.core.line.counting import rectifiers
from linewatch.core.line.memory import pack, unpack
from linewatch.core.line.metal import platings
from linewatch.core.line.positions import STATE_OF_CODE, Positions, Visit, load_number
from linewatch.core.line.watch import Watch
from linewatch.core.readings import Moment, Quality, Readings, Stack

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.plan import LinePlan, TagPlan
    from linewatch.core.ports import Order, RunStart
    from linewatch.core.readings import Layout
    from linewatch.core.view import LinePicture

NS = 1_000_000_000
STEP_NS = 2 * NS
"""Wall time that moves by more than this against line time has been set: common practice."""
FIRST_ROWS = 8
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
        self.watches = {layout: self._watch(layout) for layout in plan.layouts}
        self.watch_of_tag = {
            tag: (watch, column)
            for watch in self.watches.values()
            for column, tag in enumerate(watch.layout.tags)
        }
        self._by_identity: dict[int, Watch] = {
            id(layout): watch for layout, watch in self.watches.items()
        }
        self.now_ns = 0
        """Line time of the newest entry."""
        self.utc_ns = 0
        self._ahead_ns: int | None = None
        """Wall time less line time, at the last entry."""
        self.run_id = ""
        self.speed = 1.0
        self.fingerprint = plan.fingerprint
        self._next_ns: int = NEVER
        self._kept = dict(memory or {})
        self._told: dict[str, bytes] = {}
        for each in self.rectifiers.values():
            each.set_speed(1.0)
        if memory:
            self._recall(memory)

    # What moves the line.

    def receive(self, readings: Readings | Stack) -> list[Event]:
        """Take one block, or a stack of blocks of one layout in order of time.

        Args:
            readings: The block or stack. Its arrays must not be written to afterwards.

        Returns:
            What happened, in order.
        """
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
        self._taken(watch, events, is_quiet=is_quiet)
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
        done = orders.obey(self, order)
        events: list[Event] = []
        self._arrive(order.at.utc_ns, order.at.mono_ns, events)
        events += done
        self._find_next()
        return events

    def begin(self, start: RunStart) -> list[Event]:
        """Begin a run. Line time goes on from the last one: a restart is a long gap.

        Args:
            start: The first entry of the run.

        Returns:
            What happened, in order.
        """
        events: list[Event] = []
        at = start.at
        self._arrive(at.utc_ns, at.mono_ns, events)
        self.run_id, self.speed = start.run_id, start.speed
        for rectifier in self.rectifiers.values():
            rectifier.set_speed(start.speed)
        for watch in self.watches.values():
            watch.set_speed(start.speed)
            watch.heard_ns = max(watch.heard_ns, at.mono_ns)
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
        return events

    # What can be asked of it.

    def picture(self, at: Moment) -> LinePicture:
        """Return the line as one frozen picture; links and recording are left out.

        Args:
            at: Now, on both clocks; what has been silent for too long by then looks stale.

        Returns:
            The picture.
        """
        return picture.line_picture(self, at)

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
            time = self.rectifiers[plating.worst(self.now_ns)].ledger.totals(self.now_ns)
            time["cathodic_uas"] = plating.cathodic_uas()
            time["anodic_uas"] = plating.anodic_uas()
            time.pop("recovered_uas")
            found[name] = {**time}
            if plating.deposit is not None and not plating.refused():
                found[name]["metal_g"] = plating.mass_g()
        return found

    def memory(self) -> dict[str, bytes]:
        """Return everything that influences the future, by name of part.

        Returns:
            `Line(plan, memory)` goes on from there bit for bit.
        """
        parts = dict(self._kept)
        for name, rectifier in self.rectifiers.items():
            parts[f"rectifier.{name}"] = pack(rectifier.ledger.state())
        for watch in self.watches.values():
            parts.update(watch.remember())
        parts["positions"] = pack(self.positions.remember())
        parts["alarms"] = pack(self.alarms.remember())
        parts["line"] = pack(
            {
                "now_ns": self.now_ns,
                "utc_ns": self.utc_ns,
                "ahead_ns": self._ahead_ns,
                "run_id": self.run_id,
                "speed": self.speed,
                "fingerprint": self.fingerprint,
            }
        )
        return parts

    def changed_memory(self) -> dict[str, bytes]:
        """Return the parts of the memory that changed since the last call, at first all."""
        parts = self.memory()
        changed = {name: part for name, part in parts.items() if self._told.get(name) != part}
        self._told = parts
        return changed

    def _recall(self, memory: Mapping[str, bytes]) -> None:
        for name, rectifier in self.rectifiers.items():
            if f"rectifier.{name}" in memory:
                rectifier.ledger.recall(unpack(memory[f"rectifier.{name}"])[0])
        if "line" in memory:
            said, _ = unpack(memory["line"])
            self.now_ns, self.utc_ns = said["now_ns"], said["utc_ns"]
            self._ahead_ns, self.run_id = said["ahead_ns"], said["run_id"]
            self.speed, self.fingerprint = said["speed"], said["fingerprint"]
        for rectifier in self.rectifiers.values():
            rectifier.set_speed(self.speed)
        for watch in self.watches.values():
            watch.set_speed(self.speed)
            watch.recall(memory)
        if "positions" in memory:
            self.positions.recall(unpack(memory["positions"])[0])
        if "alarms" in memory:
            self.alarms.recall(unpack(memory["alarms"])[0])
        self._find_next()

    # How an entry is taken.

    def _watch(self, layout: Layout) -> Watch:
        return Watch(layout, self.plan, self.rectifiers)

    def _watch_for(self, layout: Layout) -> Watch:
        """Return the watch of a layout that is equal but not the same, or unknown as yet."""
        watch = self.watches.get(layout)
        if watch is None:
            watch = self.watches[layout] = self._watch(layout)
            watch.set_speed(self.speed)
            watch.recall(self._kept)
            for column, tag in enumerate(layout.tags):
                self.watch_of_tag[tag] = (watch, column)
        # Kept by the watch, so that its identity cannot pass to another object.
        watch.layout = layout
        self._by_identity[id(layout)] = watch
        return watch

    def _arrive(self, utc_ns: int, mono_ns: int, events: list[Event]) -> None:
        """Note an entry's time on both clocks; tell if the wall clock was set."""
        ahead_ns = utc_ns - mono_ns
        before_ns = self._ahead_ns
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
        self._ahead_ns = ahead_ns
        self.utc_ns = utc_ns
        self.now_ns = max(self.now_ns, mono_ns)

    def _taken(self, watch: Watch, events: list[Event], *, is_quiet: bool) -> None:
        """Go on with a block that a watch has taken."""
        found = watch.count()
        if found:
            at = Moment(utc_ns=watch.utc_ns, mono_ns=watch.mono_ns)
            for rectifier, news in found:
                events += rectifier.told(news, at)
        if not is_quiet:
            at = Moment(utc_ns=watch.utc_ns, mono_ns=watch.mono_ns)
            self._judge(watch, at, events)
        if self._next_ns <= self.now_ns:
            self._dues(events)

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
        before_ns = self._ahead_ns if self._ahead_ns is not None else int(ahead_ns[0])
        odd = np.abs(np.diff(ahead_ns, prepend=before_ns)) > STEP_NS
        odd |= np.maximum(stack.mono_ns[first:end], self.now_ns) >= self._next_ns
        if odd.any():
            end = first + int(odd.argmax())
        return watch.quiet_rows(stack, first, end) if end > first else 0

    def _take_row(self, watch: Watch, stack: Stack, row: int, events: list[Event]) -> None:
        utc_ns, mono_ns = int(stack.utc_ns[row]), int(stack.mono_ns[row])
        if mono_ns < watch.mono_ns:
            return
        self._arrive(utc_ns, mono_ns, events)
        is_quiet = watch.take(
            utc_ns, mono_ns, stack.value[row].copy(), stack.quality[row].copy()
        )
        self._taken(watch, events, is_quiet=is_quiet)

    # What follows from it.

    def _judge(self, watch: Watch, at: Moment, events: list[Event]) -> None:
        """Judge a scan in which something may have changed."""
        watch.limits.judge(watch.value, watch.quality, at.mono_ns)
        turned = watch.timers.due(at.mono_ns)
        moved = self._hear_currents(watch, turned)
        moved |= self._hear_signals(watch, at, events)
        self.expect(moved, at, events)
        self._turn(watch, turned, at, events)
        watch.rebox()
        self._find_next()

    def _dues(self, events: list[Event]) -> None:
        """Let everything happen that is due by now."""
        at = Moment(utc_ns=self.utc_ns, mono_ns=self.now_ns)
        if self._next_ns > self.now_ns:
            return
        for watch in self.watches.values():
            if watch.timers.next_ns <= self.now_ns:
                turned = watch.timers.due(self.now_ns)
                self.expect(self._hear_currents(watch, turned), at, events)
                self._turn(watch, turned, at, events)
        if self.alarms.next_ns <= self.now_ns:
            events += self.alarms.passed(at)
        self._find_next()

    def _find_next(self) -> None:
        self._next_ns = min(
            (watch.timers.next_ns for watch in self.watches.values()), default=NEVER
        )
        self._next_ns = min(self._next_ns, self.alarms.next_ns)

    def _turn(
        self, watch: Watch, turned: Iterable[int], at: Moment, events: list[Event]
    ) -> None:
        for timer in turned:
            alarm = watch.alarm[timer]
            if alarm >= 0:
                active = bool(watch.timers.active[timer])
                # What suppression ended just now may have been forgotten on the way.
                if active != self.alarms.active[alarm]:
                    value = watch.value_of(self.plan.conditions[alarm].tag)
                    events += self.alarms.turned(alarm, at, value, active=active)

    def _hear_currents(self, watch: Watch, turned: Iterable[int]) -> set[str]:
        """Note which rectifiers have begun or ceased to deliver current."""
        moved = set()
        for timer in turned:
            if watch.alarm[timer] < 0:
                name = watch.ledgers[-1 - watch.alarm[timer]][0].plan.id
                self.positions.has_no_current[name] = bool(watch.timers.active[timer])
                moved.add(name)
        return moved

    def _hear_signals(self, watch: Watch, at: Moment, events: list[Event]) -> set[str]:
        """Hear what the line tells of loads and of itself."""
        moved: set[str] = set()
        for column in watch.pinned.tolist():
            tag = watch.tags[column]
            if tag is None or watch.quality[column] >= Quality.UNCERTAIN:
                continue
            value = float(watch.value[column])
            if tag.kind == "load-number":
                self._hear_number(tag, value, at, events)
            elif tag.kind == "load-present":
                if self._hear_presence(tag.subject, value > 0.0, at, events):
                    moved.add(tag.subject)
            else:
                moved |= self._hear_state(tag, value, at, events)
        return moved

    def _hear_number(self, tag: TagPlan, value: float, at: Moment, events: list[Event]) -> None:
        number = load_number(tag, value)
        positions, tank = self.positions, tag.subject
        if positions.number.get(tank, "") == number:
            return
        positions.number[tank] = number
        visit = positions.visit.get(tank)
        if visit is not None and number and not visit.number:
            visit.number = number
            events.append(
                self._about_load(tank, at, f"the load is number {number}", number, "named")
            )

    def _hear_presence(
        self,
        tank: str,
        here: bool,
        at: Moment,
        events: list[Event],  # noqa: FBT001
    ) -> bool:
        positions = self.positions
        before = positions.present.get(tank)
        if before == here:
            return False
        positions.present[tank] = here
        if here:
            positions.changed_ns[tank] = at.mono_ns
            number = positions.number.get(tank, "")
            positions.visit[tank] = self._visit(tank, number, at)
            events.append(self._about_load(tank, at, "a load came in", number, "in"))
        elif before is not None:
            positions.changed_ns[tank] = at.mono_ns
            visit = positions.visit.pop(tank)
            dwell_s = (at.mono_ns - visit.since_ns) / NS
            event = self._about_load(
                tank, at, f"the load left after {dwell_s:.0f} s", visit.number, "out", dwell_s
            )
            events.append(event)
        return True

    def _visit(self, tank: str, number: str, at: Moment) -> Visit:
        plating = self.platings.get(tank)
        if plating is None:
            return Visit(number, at.utc_ns, at.mono_ns)
        ledgers = {f.rectifier.plan.id: f.rectifier.ledger for f in plating.feeds}
        return Visit(
            number,
            at.utc_ns,
            at.mono_ns,
            cathodic={name: ledger.cathodic for name, ledger in ledgers.items()},
            deposits=plating.deposits(),
            unmetered_ns={
                name: ledger.unmetered_ns(at.mono_ns) for name, ledger in ledgers.items()
            },
        )

    def _about_load(
        self,
        tank: str,
        at: Moment,
        text: str,
        number: str,
        what: str,
        dwell_s: float | None = None,
    ) -> Event:
        return Event(
            kind=EventKind.LOAD,
            subject=tank,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            text=text,
            values={"what": what, "load": number, "tank": tank, "dwell_s": dwell_s},
        )

    def _hear_state(
        self, tag: TagPlan, value: float, at: Moment, events: list[Event]
    ) -> set[str]:
        state = STATE_OF_CODE.get(round(value), "")
        tracks = {tank.track for tank in self.plan.tanks}
        track = tag.subject if tag.subject in tracks else ""
        if not state:
            return set()
        return self.set_state(state, track, {"by": tag.id}, at, events)

    def set_state(
        self,
        state: str,
        track: str,
        said: Mapping[str, str],
        at: Moment,
        events: list[Event],
    ) -> set[str]:
        """Set what the line or a track is doing; return the subjects that it concerns."""
        if not self.positions.set_state(state, track):
            return set()
        values = {"state": state, "track": track, **said}
        text = f"{track + ': ' if track else ''}{state}"
        events.append(self.event(EventKind.LINE_STATE, at, text, values))
        return set(self.alarms.by_subject)

    def expect(self, moved: set[str], at: Moment, events: list[Event]) -> None:
        """Work out anew which alarms are expected, for subjects whose state has moved."""
        if not moved:
            return
        self.positions.changed = True
        concerned = set().union(*(self.positions.affected(subject) for subject in moved))
        for subject in sorted(concerned):
            for alarm in self.alarms.by_subject.get(subject, ()):
                names = self.plan.conditions[alarm].suppress_when
                if names:
                    reason = self.positions.expected(subject, names)
                    self._expect(alarm, reason, at, events)

    def _expect(self, alarm: int, reason: str, at: Moment, events: list[Event]) -> None:
        before = self.alarms.suppressed_by.get(alarm, "")
        if reason == before:
            return
        if not reason:
            # What comes out of suppression has its whole on-delay before it again.
            self.alarms.active[alarm] = False
            place = self.watch_of_tag.get(self.plan.conditions[alarm].tag)
            if place is not None and alarm in place[0].timer_of:
                place[0].timers.begin_again(place[0].timer_of[alarm], at.mono_ns)
        events += self.alarms.suppress(alarm, reason, at)

    def event(
        self, kind: EventKind, at: Moment, text: str, values: Mapping[str, str | float]
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
