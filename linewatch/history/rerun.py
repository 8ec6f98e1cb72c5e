"""What can be asked of the record by feeding it to the machine again.

`replay` tells totals and events of a span; with one plan for all it is a rehearsal: what
another configuration would have said, beside what was said. `verify` feeds a span and compares
it, at every checkpoint, with what was stored; it also looks at every file's hash and at the
people's journal.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.errors import StoreUnusable
from linewatch.core.events import Event, EventKind
from linewatch.core.ports import COLLECTORS_PARTS
from linewatch.history import chain, codec, manifest, schema, sweep
from linewatch.history.feeding import Hole, Replay
from linewatch.history.places import places
from linewatch.history.sequence import Entries

if TYPE_CHECKING:
    import sqlite3
    from pathlib import Path

    from linewatch.history.chunk import Chunk
    from linewatch.history.feeding import PlanOf
    from linewatch.history.places import Places

COLLECTORS: Final = frozenset(
    {
        EventKind.RUN_STOPPED,
        EventKind.REFUSED,
        EventKind.RECORDING,
        EventKind.LINK_STATE,
    }
)
"""Kinds of event that the collector tells; no line does, so no replay does."""
FIGURES_SHOWN: Final = 20

Span = tuple[int | None, int | None]
"""Wall time [ns since the Unix epoch], the end left out; None: as far as the record goes."""
Totals = Mapping[str, Mapping[str, float | int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """The line as it stood behind an entry."""

    number: int
    """Of the entry; 0 is the beginning of the record."""
    utc_ns: int = 0
    mono_ns: int = 0
    event: int = 0
    """Number of the last event before it."""
    fingerprint: str = ""
    """Of the configuration in force."""
    memory: Mapping[str, bytes] = field(default_factory=dict)
    totals: Totals = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """What a replay of a span told."""

    from_utc_ns: int
    to_utc_ns: int
    """Wall time of the last entry that was fed."""
    entries: int
    before: Totals
    """Totals at the beginning of the span."""
    totals: Totals
    """Totals at its end."""
    events: Sequence[Event]
    """What the replayed line told within the span."""
    recorded: Sequence[Event]
    """What the live line told within the span."""
    refused: Sequence[str]
    """Commands that this configuration does not carry out."""
    holes: Sequence[Hole]
    """Places where something could not be recorded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a verification found."""

    entries: int
    checkpoints: int
    """Places at which memory and totals were compared."""
    events: int
    files: int
    """Files of the archive whose content was compared with its hash."""
    people: int
    """Rows of the people's journal."""
    head: str
    """The seal of its last row."""
    holes: Sequence[Hole]
    """Places where something could not be recorded: what was counted there stands unchecked."""
    faults: Sequence[str]
    """One sentence a fault; empty if all is as it was recorded."""

    @property
    def holds(self) -> bool:
        """Say whether the record is as it was made."""
        return not self.faults


def replay(
    store: Path,
    line_id: str,
    plan_of: PlanOf,
    span: Span = (None, None),
) -> Replayed:
    """Feed a span of wall time [ns since the Unix epoch] to a fresh line.

    Raises:
        StoreUnusable: the store cannot be read, or entries of the span are missing.
    """
    there = places(store, line_id)
    with closing(schema.open_for_reading(there.journal)) as database:
        return _Rerun(database, there, line_id, plan_of).replay(*span)


def verify(
    store: Path,
    line_id: str,
    plan_of: PlanOf,
    span: Span = (None, None),
) -> Verdict:
    """Feed a span of wall time, and compare it with what was stored.

    Raises:
        StoreUnusable: the store cannot be read.
    """
    there = places(store, line_id)
    with closing(schema.open_for_reading(there.journal)) as database:
        return _Rerun(database, there, line_id, plan_of).verify(*span)


class _Rerun:
    def __init__(
        self, database: sqlite3.Connection, there: Places, line_id: str, plan_of: PlanOf
    ) -> None:
        self._database = database
        self._places = there
        self._line_id = line_id
        self._plan_of = plan_of
        # One transaction: what is compared must be of one moment, whatever is written now.
        database.execute("BEGIN")
        self._end = self._last()
        self._checkpoints = [self._first(), *self._read_checkpoints()]
        database.execute("COMMIT")
        self._entries = Entries(database, there, line_id)

    # Replay.

    def replay(self, from_utc_ns: int | None, to_utc_ns: int | None) -> Replayed:
        start = self._start(from_utc_ns)
        run = self._replay_from(start)
        before: Totals | None = None
        known = 0
        stop_ns = 0
        for chunk in self._entries.chunks(start.number + 1, self._end.number):
            place = max(0, start.number + 1 - chunk.first)
            if before is None:
                begin = _first_at(chunk, place, from_utc_ns)
                run.feed(chunk, self._entries.layouts, (place, begin))
                place = begin
                if begin == len(chunk.kind):
                    continue
                before, known = run.line.totals(), len(run.events)
            end = len(chunk.kind) if to_utc_ns is None else _first_at(chunk, place, to_utc_ns)
            run.feed(chunk, self._entries.layouts, (place, end))
            stop_ns = int(chunk.utc_ns[end - 1]) if end else stop_ns
            if end < len(chunk.kind):
                break
        events = run.events[known:]
        span = (from_utc_ns or 0, to_utc_ns or stop_ns + 1)
        return Replayed(
            from_utc_ns=span[0],
            to_utc_ns=stop_ns,
            entries=run.entries,
            before=before or run.line.totals(),
            totals=run.line.totals(),
            events=events,
            recorded=self._recorded(span, start.event),
            refused=run.refused,
            holes=run.holes,
        )

    def _recorded(self, span: tuple[int, int], after: int) -> list[Event]:
        rows = self._database.execute(
            "SELECT kind, subject, utc_ns, mono_ns, text, parts FROM events"
            " WHERE line_id = ? AND number > ? AND utc_ns >= ? AND utc_ns < ? ORDER BY number",
            (self._line_id, after, *span),
        )
        return [event for event in map(codec.event_of, rows) if event.kind not in COLLECTORS]

    # Verify.

    def verify(self, from_utc_ns: int | None, to_utc_ns: int | None) -> Verdict:
        start = self._start(from_utc_ns)
        marks = [each for each in self._checkpoints if each.number > start.number]
        if not marks or marks[-1].number < self._end.number:
            marks.append(self._end)
        if to_utc_ns is not None:
            last = next((k for k, each in enumerate(marks) if each.utc_ns >= to_utc_ns), None)
            marks = marks if last is None else marks[: last + 1]
        faults: list[str] = []
        if not self._end.number:
            marks = []
        run, entries, events, compared = self._replay_from(start), 0, 0, 0
        holes: list[Hole] = []
        for mark in marks:
            try:
                self._feed_to(run, start.number, mark.number)
            except StoreUnusable as error:
                faults.append(str(error))
            else:
                compared += 1
                events += mark.event - start.event
                faults += self._compare(run, start, mark)
            entries += run.entries
            holes += run.holes
            # From here on with what was stored: one fault must not hide the next.
            start, run = mark, self._replay_from(mark)
        files, damaged = self._check_files(marks[0].number if marks else 0, marks)
        people = self._check_people()
        return Verdict(
            entries=entries,
            checkpoints=compared,
            events=events,
            files=files,
            people=people.rows,
            head=people.head,
            holes=holes,
            faults=[*faults, *damaged, *(f"people's journal: {f}" for f in people.faults)],
        )

    def _feed_to(self, run: Replay, after: int, last: int) -> None:
        for chunk in self._entries.chunks(after + 1, last):
            place = max(0, after + 1 - chunk.first)
            end = min(len(chunk.kind), last + 1 - chunk.first)
            run.feed(chunk, self._entries.layouts, (place, end))

    def _compare(self, run: Replay, start: Checkpoint, mark: Checkpoint) -> list[str]:
        where = f"after entry {mark.number}"
        faults = []
        for subject, figures in run.line.totals().items():
            stored = mark.totals.get(subject, {})
            faults += [
                f"{where}: {subject}: {name} is stored as {stored.get(name)!r},"
                f" replayed as {figure!r}"
                for name, figure in figures.items()
                if stored.get(name) != figure
            ]
        faults += [
            f"{where}: the line's memory of '{name}' is not what a replay gives"
            for name, part in run.line.memory().items()
            if not name.startswith(COLLECTORS_PARTS) and mark.memory.get(name) != part
        ]
        if len(faults) > FIGURES_SHOWN:
            faults[FIGURES_SHOWN:] = [f"{where}: {len(faults) - FIGURES_SHOWN} more"]
        recorded = self._events_between(start.event, mark.event, run.holes)
        return faults + _differing(recorded, run.events, where)

    def _events_between(self, after: int, last: int, holes: Sequence[Hole]) -> list[Event]:
        rows = self._database.execute(
            "SELECT number, kind, subject, utc_ns, mono_ns, text, parts FROM events"
            " WHERE line_id = ? AND number > ? AND number <= ? ORDER BY number",
            (self._line_id, after, last),
        )
        lost = [range(hole.first_event, hole.last_event + 1) for hole in holes]
        return [
            event
            for number, event in ((row[0], codec.event_of(row[1:])) for row in rows)
            if event.kind not in COLLECTORS and not any(number in gap for gap in lost)
        ]

    def _check_files(self, first: int, marks: Sequence[Checkpoint]) -> tuple[int, list[str]]:
        last = marks[-1].number if marks else 0
        files = [
            each
            for each in manifest.filed(self._database, self._line_id)
            if each.last >= min(first, last) and each.first <= last
        ]
        faults = [
            f"{each.name}: its content is not what was recorded"
            for each in files
            if not sweep.is_sound(self._places, each)
        ]
        faults += [
            f"{each.name}: {each.state}"
            for each in manifest.set_aside(self._database, self._line_id)
        ]
        return len(files), faults

    def _check_people(self) -> chain.ChainVerdict:
        row = self._database.execute(
            "SELECT people, head FROM state WHERE line_id = ?", (self._line_id,)
        ).fetchone()
        count, head = row or (0, chain.BEGINNING)
        witnesses = manifest.heads(self._database, self._line_id)
        rows = chain.actions(self._database, self._line_id)
        return chain.check(rows, head, count, witnesses)

    # Where to begin.

    def _start(self, from_utc_ns: int | None) -> Checkpoint:
        """Return the checkpoint from which the span is reached, the earliest that there is."""
        usable = [each for each in self._checkpoints if each.number >= self._oldest()]
        if not usable:
            usable = self._checkpoints[:1]
        if from_utc_ns is None:
            return usable[0]
        found = usable[0]
        for each, following in zip(usable, [*usable[1:], self._end], strict=True):
            found = each
            if following.utc_ns >= from_utc_ns:
                break
        return found

    def _oldest(self) -> int:
        """Return the number before the oldest entry that is still there."""
        numbers = [
            each.first
            for each in manifest.filed(self._database, self._line_id)
            if each.kind == "blocks"
        ]
        row = self._database.execute(
            "SELECT min(number) FROM sequence WHERE line_id = ?", (self._line_id,)
        ).fetchone()
        if row[0] is not None:
            numbers.append(row[0])
        return min(numbers, default=1) - 1

    def _replay_from(self, start: Checkpoint) -> Replay:
        """Return a line as it stood at a checkpoint; before any run, any plan will do."""
        run = Replay(self._plan_of, start.memory, start.fingerprint)
        if start.number:
            run.ahead_ns = start.utc_ns - start.mono_ns
        return run

    def _first(self) -> Checkpoint:
        return Checkpoint(number=0, fingerprint=self._fingerprint(0))

    def _read_checkpoints(self) -> list[Checkpoint]:
        rows = self._database.execute(
            "SELECT number, run, utc_ns, mono_ns, event, memory, totals FROM checkpoints"
            " WHERE line_id = ? ORDER BY number",
            (self._line_id,),
        ).fetchall()
        return [
            Checkpoint(
                number=number,
                utc_ns=utc_ns,
                mono_ns=mono_ns,
                event=event,
                fingerprint=self._fingerprint(run),
                memory=codec.unpack_memory(memory),
                totals=codec.unpack_totals(totals),
            )
            for number, run, utc_ns, mono_ns, event, memory, totals in rows
        ]

    def _last(self) -> Checkpoint:
        row = self._database.execute(
            "SELECT number, run, utc_ns, mono_ns, event FROM state WHERE line_id = ?",
            (self._line_id,),
        ).fetchone()
        if row is None:
            return Checkpoint(number=0)
        number, run, utc_ns, mono_ns, event = row
        memory = self._database.execute(
            "SELECT name, bytes FROM memory WHERE line_id = ?", (self._line_id,)
        )
        totals = self._database.execute(
            "SELECT subject, parts FROM totals WHERE line_id = ?", (self._line_id,)
        )
        return Checkpoint(
            number=number,
            utc_ns=utc_ns,
            mono_ns=mono_ns,
            event=event,
            fingerprint=self._fingerprint(run),
            memory=dict(memory),
            totals={subject: json.loads(parts) for subject, parts in totals},
        )

    def _fingerprint(self, run: int) -> str:
        """Return the configuration of a run; of the first one for the beginning."""
        row = self._database.execute(
            "SELECT fingerprint FROM runs WHERE line_id = ? AND run = ?",
            (self._line_id, max(1, run)),
        ).fetchone()
        return row[0] if row else ""


def _first_at(chunk: Chunk, place: int, utc_ns: int | None) -> int:
    """Return the first place, from one on, whose wall time is not before `utc_ns`."""
    if utc_ns is None:
        return place
    there = chunk.utc_ns[place:] >= utc_ns
    return place + int(there.argmax()) if there.any() else len(chunk.kind)


def _differing(recorded: Sequence[Event], replayed: Sequence[Event], where: str) -> list[str]:
    if [_comparable(each) for each in recorded] == [_comparable(each) for each in replayed]:
        return []
    for number, (old, new) in enumerate(zip(recorded, replayed, strict=False), 1):
        if _comparable(old) != _comparable(new):
            return [
                (
                    f"{where}: event {number} was '{old.subject}: {old.text}',"
                    f" replayed it is '{new.subject}: {new.text}'"
                )
            ]
    return [f"{where}: {len(recorded)} event(s) were recorded, {len(replayed)} replayed"]


def _comparable(event: Event) -> tuple[Any, ...]:
    return (
        event.kind,
        event.subject,
        event.utc_ns,
        event.mono_ns,
        event.text,
        codec.event_parts(event),
    )
