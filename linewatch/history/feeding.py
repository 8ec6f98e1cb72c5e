"""The record through the same machine again: the same sequence, the same totals and events.

Rule 1: what is fed is what was recorded, in the order in which it was recorded. Where the
        line itself says that order means nothing (core/line/quiet.py), blocks of one layout
        are fed as stacks; everything else goes one by one.
Rule 2: a run begins with a new `Line` from the memory of the one before, as it did live.
Rule 3: a hole in the record is stepped over with the memory that was kept there; what the
        line counted in between is told, not replayed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from linewatch.core.errors import Refused
from linewatch.core.events import Event
from linewatch.core.line import Line
from linewatch.core.line.quiet import quiet_until_ns, take_quiet
from linewatch.core.ports import Order, RunStart, Stood
from linewatch.core.readings import Moment, Readings, Stack
from linewatch.history import chunk as chunks
from linewatch.history import codec

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Layout, Times
    from linewatch.history.chunk import Chunk

PlanOf: TypeAlias = "Callable[[str], LinePlan]"
"""Returns the plan of a configuration by its fingerprint."""

NS: Final = 10**9
FIRST_SCANS: Final = 32
"""Scans (an entry a layout) that are looked at together; a window grows while all is quiet."""
MOST_SCANS: Final = 1_024
LEAST_SCANS: Final = 8
"""Fewer are sooner taken one by one: to look at a window costs as much as some ten scans."""
WORTH_SCANS: Final = 48
"""A look that finds fewer quiet scans has cost more than it saved: the next one comes later."""
MOST_SINGLE_SCANS: Final = 64
"""Scans that are taken one by one before the next look, when one look after another fails."""
LOOK_SCANS: Final = 2
"""A window ends behind a tick; a look that ended it comes within so many scans."""
STEADY_NS: Final = NS
"""The two clocks may drift by so much within a window; more is taken one by one, so that the
line hears of a clock that was set exactly when it did."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A place where something could not be recorded."""

    batches: int
    """Batches that were lost."""
    first_event: int
    """Number of the first event that the lost batches told; it cannot be told again."""
    last_event: int


@dataclass(slots=True)
class Replay:
    """A line that is fed from the record.

    Args:
        plan_of: Which plan stands for a configuration; one plan for all is a rehearsal.
        memory: The memory to begin with.
        fingerprint: Of the configuration in force at the beginning.
    """

    plan_of: PlanOf
    memory: Mapping[str, bytes]
    fingerprint: str
    line: Line = field(init=False)
    events: list[Event] = field(default_factory=list)
    """What the line told, in order."""
    entries: int = 0
    """How many were fed."""
    refused: list[str] = field(default_factory=list)
    """Commands that this line does not carry out: another configuration may know fewer."""
    holes: list[Hole] = field(default_factory=list)
    """Where something could not be recorded."""
    ahead_ns: int | None = None
    """Wall time less line time at the last entry."""
    window: int = FIRST_SCANS
    """Scans that are looked at together next."""
    single: int = LEAST_SCANS
    """Scans that are taken one by one after the next look that fails."""

    def __post_init__(self) -> None:
        self.line = Line(self.plan_of(self.fingerprint), self.memory)

    def feed(self, chunk: Chunk, layouts: Mapping[int, Layout], span: tuple[int, int]) -> None:
        """Feed the entries of a chunk from one place to another, the second left out."""
        _Feeder(self, chunk, layouts).feed(*span)

    def begin(self, start: RunStart) -> list[Event]:
        """Begin a run as a collector does: with a new line from the memory of the last."""
        self.line = Line(self.plan_of(start.fingerprint), self.line.memory())
        return self.line.begin(start)

    def step_over(self, packed: bytes) -> None:
        """Go on behind a hole with the memory that was kept there."""
        memory = codec.unpack_memory(packed)
        said = json.loads(memory.pop(codec.HOLE_PART))
        self.holes.append(Hole(**said))
        self.line = Line(self.line.plan, memory)


class _Feeder:
    """Feeds one chunk."""

    def __init__(self, replay: Replay, chunk: Chunk, layouts: Mapping[int, Layout]) -> None:
        self._replay = replay
        self._chunk = chunk
        self._layouts = layouts
        self._places = {layout: chunks.block_places(chunk, layout) for layout in chunk.value}
        self._ordinal = np.zeros(len(chunk.kind), dtype=np.int64)
        for places in self._places.values():
            self._ordinal[places] = np.arange(len(places))
        self._scan = 1 + len(chunk.value)
        self._ahead_ns = chunk.utc_ns - chunk.mono_ns
        self._ticks = np.flatnonzero(chunk.kind == codec.Kind.TICK)
        plain = (chunk.kind == codec.Kind.BLOCK) | (chunk.kind == codec.Kind.TICK)
        self._others = np.flatnonzero(~plain)

    def feed(self, first: int, end: int) -> None:
        """Feed the entries from one place to another."""
        replay = self._replay
        place = first
        while place < end:
            stop = min(end, place + replay.window * self._scan)
            taken = self._take_quiet(place, stop)
            if taken is not None:
                replay.events += taken[1]
                replay.entries += taken[0] - place
                scans = (taken[0] - place) // self._scan
                place = taken[0]
                # What was quiet up to the window's own end may go on being quiet.
                if scans >= min(WORTH_SCANS, replay.window - 2):
                    replay.window = min(MOST_SCANS, 2 * replay.window)
                    replay.single = LEAST_SCANS
                    continue
                if scans >= LEAST_SCANS and self._is_before_look(place, end):
                    # It was quiet up to where the line looks about: that is no failure.
                    stop = min(end, place + LOOK_SCANS * self._scan)
                    self._take_each(place, stop)
                    place = stop
                    continue
            replay.window = max(FIRST_SCANS, replay.window // 4)
            stop = min(end, place + replay.single * self._scan)
            replay.single = min(MOST_SINGLE_SCANS, 2 * replay.single)
            self._take_each(place, stop)
            place = stop
        if end > first:
            replay.ahead_ns = int(self._ahead_ns[end - 1])

    def _is_before_look(self, place: int, end: int) -> bool:
        """Say whether the line looks about within the next scans."""
        last = min(place + LOOK_SCANS * self._scan, end) - 1
        return place < end and self._replay.line.studies.next_ns <= self._chunk.mono_ns[last]

    # One by one.

    def _take_each(self, first: int, end: int) -> None:
        replay, chunk = self._replay, self._chunk
        events = replay.events
        utc_ns, mono_ns = chunk.utc_ns[first:end].tolist(), chunk.mono_ns[first:end].tolist()
        kinds, layouts = chunk.kind[first:end].tolist(), chunk.layout[first:end].tolist()
        ordinals = self._ordinal[first:end].tolist()
        for k, kind in enumerate(kinds):
            if kind == codec.Kind.BLOCK:
                layout, ordinal = layouts[k], ordinals[k]
                events += replay.line.receive(
                    Readings(
                        layout=self._layouts[layout],
                        utc_ns=utc_ns[k],
                        mono_ns=mono_ns[k],
                        value=chunk.value[layout][ordinal],
                        quality=chunk.quality[layout][ordinal],
                    )
                )
            elif kind == codec.Kind.TICK:
                events += replay.line.tick(Moment(utc_ns=utc_ns[k], mono_ns=mono_ns[k]))
            else:
                self._take_other(first + k)
        replay.entries += end - first

    def _take_other(self, place: int) -> None:
        replay, chunk = self._replay, self._chunk
        if chunk.kind[place] == codec.Kind.HOLE:
            replay.step_over(chunk.body[place])
            return
        entry = chunk.entry(place)
        if isinstance(entry, RunStart):
            replay.events += replay.begin(entry)
        elif isinstance(entry, Stood):
            replay.events += replay.line.stood(entry)
        elif isinstance(entry, Order):
            try:
                replay.events += replay.line.obey(entry)
            except Refused as refused:
                replay.refused.append(str(refused))

    # As stacks.

    def _take_quiet(self, first: int, end: int) -> tuple[int, list[Event]] | None:
        """Take as many entries as are quiet; return where to go on, None if there are none."""
        end = self._before(self._others, first, end)
        end = self._while_steady(first, end)
        end = self._behind_last_tick(first, end)
        if end - first < LEAST_SCANS * self._scan:
            return None
        line, mono_ns = self._replay.line, self._chunk.mono_ns[first:end]
        until_ns = quiet_until_ns(line, list(self._stacks(first, end)), int(mono_ns.max()) + 1)
        late = mono_ns >= until_ns
        if late.any():
            end = self._behind_last_tick(first, first + int(late.argmax()))
            if end - first < LEAST_SCANS * self._scan:
                return None
        take_quiet(line, list(self._stacks(first, end)))
        last = end - 1
        at = Moment(
            utc_ns=int(self._chunk.utc_ns[last]), mono_ns=int(self._chunk.mono_ns[last])
        )
        return end, line.tick(at)

    def _stacks(self, first: int, end: int) -> Iterator[Stack]:
        chunk = self._chunk
        for layout, places in self._places.items():
            begin, stop = np.searchsorted(places, (first, end))
            if begin == stop:
                continue
            rows = places[begin:stop]
            yield Stack(
                layout=self._layouts[layout],
                utc_ns=chunk.utc_ns[rows],
                mono_ns=chunk.mono_ns[rows],
                value=chunk.value[layout][begin:stop],
                quality=chunk.quality[layout][begin:stop],
            )

    def _before(self, places: Times, first: int, end: int) -> int:
        found = np.searchsorted(places, first)
        return min(end, int(places[found])) if found < len(places) else end

    def _while_steady(self, first: int, end: int) -> int:
        """Return where the two clocks part, at the latest `end`."""
        before = self._ahead_ns[first - 1] if first else self._replay.ahead_ns
        if before is None:
            return first
        odd = np.abs(self._ahead_ns[first:end] - before) > STEADY_NS
        return first + int(odd.argmax()) if odd.any() else end

    def _behind_last_tick(self, first: int, end: int) -> int:
        found = np.searchsorted(self._ticks, end) - 1
        return (
            int(self._ticks[found]) + 1 if found >= 0 and self._ticks[found] >= first else first
        )
