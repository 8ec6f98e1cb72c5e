"""What one transaction writes: a piece of the sequence and all that it changed.

Rule 1: entries, memory, totals, events and outcomes of a batch are committed together; after
        a failure nothing of it is there, and what this object knows is unchanged.
Rule 2: writing a batch twice changes nothing: after a failure the database is asked first.
Rule 3: numbers rise by one, across runs; a number once given is never given again.
"""

from __future__ import annotations

import json
import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from linewatch.core.ports import Batch, Order, RunStart
from linewatch.core.readings import Moment, Readings
from linewatch.history import chain, codec
from linewatch.history.schema import transaction

if TYPE_CHECKING:
    from linewatch.core.ports import Entry
    from linewatch.core.readings import Layout

log = logging.getLogger(__name__)

_MISTAKES: Final = (
    sqlite3.IntegrityError,
    sqlite3.ProgrammingError,
    sqlite3.InterfaceError,
    ValueError,
    TypeError,
    KeyError,
)
"""What trying again cannot cure."""
HOUR_NS: Final = 3600 * 10**9


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Where a line's record ends."""

    number: int = 0
    """Of the last entry of the sequence."""
    at: Moment = field(default_factory=lambda: Moment(utc_ns=0, mono_ns=0))
    """Of that entry."""
    run: int = 0
    event: int = 0
    news: int = 0
    people: int = 0
    head: str = chain.BEGINNING


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """Stands before a batch when entries in front of it could not be kept."""

    memory: Mapping[str, bytes]
    """What the lost batches changed; with the committed memory it is the whole."""
    totals: Mapping[str, Mapping[str, float | int]]
    outcomes: Mapping[int, str]
    events: Sequence[Any]
    at: Moment
    """Of the last lost entry."""
    batches: int


Work: TypeAlias = "Batch | Hole | Callable[[Draft], None]"
"""What can be written: a batch, a hole, or any other change of the ledger."""


class Draft:
    """The state as it will be if the transaction holds. Only `Ledger` makes one."""

    def __init__(self, database: sqlite3.Connection, line_id: str, state: State) -> None:
        self.database = database
        self.line_id = line_id
        self.state = state
        self.layouts: dict[Layout, int] = {}
        self.memory: dict[str, bytes] = {}
        self.totals: dict[str, str] = {}
        self.cuts: list[int] = []
        """Numbers after which the sequence was cut: an hour is complete there."""
        self.after: list[Callable[[], None]] = []
        """Called once all this is committed."""

    def act(self, who: str, what: str, parts: Mapping[str, Any], utc_ns: int) -> None:
        """Add a row to the people's journal."""
        row = chain.Action(
            line_id=self.line_id,
            number=self.state.people + 1,
            run=self.state.run,
            who=who,
            what=what,
            parts=parts,
            utc_ns=utc_ns,
        )
        sealed = chain.seal(self.state.head, row)
        self.database.execute(
            "INSERT INTO people VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self.line_id,
                row.number,
                row.run,
                who,
                what,
                codec.canonical(parts),
                utc_ns,
                sealed,
            ),
        )
        self.state = replace(
            self.state, people=row.number, head=sealed, news=self.state.news + 1
        )


class Ledger:
    """The writer of one line's database.

    Args:
        database: Opened for writing; this object begins and ends its transactions.
        line_id: Whose record it is.
    """

    def __init__(self, database: sqlite3.Connection, line_id: str) -> None:
        self._database = database
        self._line_id = line_id
        self.state = self._read_state()
        self.memory: dict[str, bytes] = dict(
            database.execute("SELECT name, bytes FROM memory WHERE line_id = ?", (line_id,))
        )
        """The line's memory as committed."""
        self._totals: dict[str, str] = dict(
            database.execute("SELECT subject, parts FROM totals WHERE line_id = ?", (line_id,))
        )
        self._layouts: dict[Layout, int] = {
            codec.layout_of(text): layout
            for layout, text in database.execute(
                "SELECT layout, text FROM layouts WHERE line_id = ?", (line_id,)
            )
        }
        self._checkpoint = self._last_checkpoint()

    def write(self, works: Sequence[Work]) -> list[int]:
        """Commit works in their order, all or none; return where the sequence was cut.

        Raises:
            sqlite3.Error: the database or the disk refuses; nothing has changed.
        """
        draft = Draft(self._database, self._line_id, self.state)
        checkpoint = self._checkpoint
        try:
            with transaction(self._database):
                for work in works:
                    checkpoint = self._write_one(draft, work, checkpoint)
                self._write_state(draft.state)
        except sqlite3.Error:
            # A commit whose answer was lost may have held all the same.
            if draft.state == self.state or self._read_state() != draft.state:
                raise
        self.state = draft.state
        self._checkpoint = checkpoint
        self.memory |= draft.memory
        self._totals |= draft.totals
        self._layouts |= draft.layouts
        for call in draft.after:
            call()
        return draft.cuts

    def _write_one(self, draft: Draft, work: Work, checkpoint: Moment | None) -> Moment | None:
        if isinstance(work, Batch):
            self._write_batch(draft, work)
        elif isinstance(work, Hole):
            self._write_hole(draft, work)
        else:
            self._write_other(draft, work)
            return checkpoint
        now = draft.state.at
        if checkpoint is None:
            return now
        if not _is_hour_over(checkpoint, now) and not isinstance(work, Hole):
            return checkpoint
        self._write_checkpoint(draft)
        return now

    def _write_other(self, draft: Draft, work: Callable[[Draft], None]) -> None:
        """Write another change; one that cannot be written must not hold up the batches."""
        before, after = draft.state, list(draft.after)
        self._database.execute("SAVEPOINT other")
        try:
            work(draft)
        except _MISTAKES:
            log.exception("a change of the ledger was left out")
            self._database.execute("ROLLBACK TO other")
            draft.state, draft.after = before, after
        self._database.execute("RELEASE other")

    def _write_batch(self, draft: Draft, batch: Batch) -> None:
        if batch.entries and isinstance(batch.entries[0], RunStart):
            self._begin_run(draft, batch.entries[0])
        number = draft.state.number
        rows = []
        for entry in batch.entries:
            number += 1
            rows.append(self._row(draft, number, entry))
        self._database.executemany("INSERT INTO sequence VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        if batch.entries:
            at = codec.moment_of(batch.entries[-1])
            draft.state = replace(draft.state, number=number, at=at)
        obeyed = {
            entry.request: entry.at.utc_ns
            for entry in batch.entries
            if isinstance(entry, Order)
        }
        self._write_changes(draft, batch, obeyed)

    def _write_hole(self, draft: Draft, hole: Hole) -> None:
        number = draft.state.number + 1
        first = draft.state.event + 1
        whole = {
            **self.memory,
            **draft.memory,
            **hole.memory,
            codec.HOLE_PART: codec.canonical(
                {
                    "batches": hole.batches,
                    "first_event": first,
                    "last_event": first + len(hole.events) - 1,
                }
            ).encode(),
        }
        self._database.execute(
            "INSERT INTO sequence VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self._line_id,
                number,
                draft.state.run,
                codec.Kind.HOLE,
                0,
                hole.at.utc_ns,
                hole.at.mono_ns,
                codec.pack_memory(whole),
            ),
        )
        draft.state = replace(draft.state, number=number, at=hole.at)
        self._write_changes(draft, hole, {})

    def _write_changes(self, draft: Draft, work: Batch | Hole, obeyed: dict[int, int]) -> None:
        at, run, number = draft.state.at, draft.state.run, draft.state.number
        changed = {
            name: part
            for name, part in work.memory.items()
            if draft.memory.get(name, self.memory.get(name)) != part
        }
        self._database.executemany(
            "INSERT OR REPLACE INTO memory VALUES (?, ?, ?, ?, ?)",
            [(self._line_id, name, part, run, number) for name, part in changed.items()],
        )
        draft.memory |= changed
        totals = {
            subject: text
            for subject, parts in work.totals.items()
            if (text := codec.canonical(parts))
            != draft.totals.get(subject, self._totals.get(subject))
        }
        self._database.executemany(
            "INSERT OR REPLACE INTO totals VALUES (?, ?, ?, ?, ?, ?)",
            [
                (self._line_id, subject, text, run, number, at.utc_ns)
                for subject, text in totals.items()
            ],
        )
        draft.totals |= totals
        self._write_events(draft, work)
        for request, refused in work.outcomes.items():
            self._write_outcome(draft, request, refused, obeyed.get(request, at.utc_ns))

    def _write_events(self, draft: Draft, work: Batch | Hole) -> None:
        if not work.events:
            return
        first, run = draft.state.event + 1, draft.state.run
        self._database.executemany(
            "INSERT INTO events VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (
                    self._line_id,
                    number,
                    run,
                    str(event.kind),
                    event.subject,
                    event.utc_ns,
                    event.mono_ns,
                    event.text,
                    codec.event_parts(event),
                )
                for number, event in enumerate(work.events, first)
            ],
        )
        draft.state = replace(
            draft.state,
            event=draft.state.event + len(work.events),
            news=draft.state.news + 1,
        )

    def _write_outcome(self, draft: Draft, request: int, refused: str, utc_ns: int) -> None:
        waiting = self._database.execute(
            "SELECT command, utc_ns FROM requests"
            " WHERE line_id = ? AND number = ? AND refused IS NULL",
            (self._line_id, request),
        ).fetchone()
        if waiting is None:
            # It was answered before: an answer is given once.
            return
        self._database.execute(
            "UPDATE requests SET refused = ?, done_utc_ns = ?, run = ?"
            " WHERE line_id = ? AND number = ?",
            (refused, utc_ns, draft.state.run, self._line_id, request),
        )
        command = json.loads(waiting[0])
        draft.act(
            str(command.get("who", "")),
            str(command.get("command", "")),
            {
                "command": command,
                "request": request,
                "left_utc_ns": waiting[1],
                "refused": refused,
            },
            utc_ns,
        )

    def _begin_run(self, draft: Draft, start: RunStart) -> None:
        run = draft.state.run + 1
        self._database.execute(
            "INSERT INTO runs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self._line_id,
                run,
                start.run_id,
                draft.state.number + 1,
                start.at.utc_ns,
                start.at.mono_ns,
                start.fingerprint,
                start.speed,
                start.who,
            ),
        )
        draft.state = replace(draft.state, run=run)

    def _row(self, draft: Draft, number: int, entry: Entry) -> tuple[object, ...]:
        kind, body = codec.pack_entry(entry)
        layout = self._layout(draft, entry.layout) if isinstance(entry, Readings) else 0
        at = codec.moment_of(entry)
        return (
            self._line_id,
            number,
            draft.state.run,
            kind,
            layout,
            at.utc_ns,
            at.mono_ns,
            body,
        )

    def _layout(self, draft: Draft, layout: Layout) -> int:
        known = self._layouts.get(layout) or draft.layouts.get(layout)
        if known is None:
            known = len(self._layouts) + len(draft.layouts) + 1
            self._database.execute(
                "INSERT INTO layouts VALUES (?, ?, ?)",
                (self._line_id, known, codec.layout_text(layout)),
            )
            draft.layouts[layout] = known
        return known

    def _write_checkpoint(self, draft: Draft) -> None:
        state = draft.state
        self._database.execute(
            "INSERT OR REPLACE INTO checkpoints VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self._line_id,
                state.number,
                state.run,
                state.at.utc_ns,
                state.at.mono_ns,
                state.event,
                codec.pack_memory({**self.memory, **draft.memory}),
                codec.pack_totals({**self._totals, **draft.totals}),
            ),
        )
        draft.cuts.append(state.number)

    def _last_checkpoint(self) -> Moment | None:
        row = (
            self._database.execute(
                "SELECT utc_ns, mono_ns FROM checkpoints WHERE line_id = ?"
                " ORDER BY number DESC LIMIT 1",
                (self._line_id,),
            ).fetchone()
            or self._database.execute(
                "SELECT utc_ns, mono_ns FROM sequence WHERE line_id = ?"
                " ORDER BY number LIMIT 1",
                (self._line_id,),
            ).fetchone()
        )
        return None if row is None else Moment(utc_ns=row[0], mono_ns=row[1])

    def _read_state(self) -> State:
        row = self._database.execute(
            "SELECT number, utc_ns, mono_ns, run, event, news, people, head"
            " FROM state WHERE line_id = ?",
            (self._line_id,),
        ).fetchone()
        if row is None:
            return State()
        number, utc_ns, mono_ns, run, event, news, people, head = row
        return State(
            number=number,
            at=Moment(utc_ns=utc_ns, mono_ns=mono_ns),
            run=run,
            event=event,
            news=news,
            people=people,
            head=head,
        )

    def _write_state(self, state: State) -> None:
        self._database.execute(
            "INSERT OR REPLACE INTO state VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self._line_id,
                state.number,
                state.at.utc_ns,
                state.at.mono_ns,
                state.run,
                state.event,
                state.news,
                state.people,
                state.head,
            ),
        )


def _is_hour_over(cut: Moment, now: Moment) -> bool:
    """Say whether another hour of wall time has begun, forward or back, or one has gone by."""
    return (
        cut.utc_ns // HOUR_NS != now.utc_ns // HOUR_NS or now.mono_ns - cut.mono_ns >= HOUR_NS
    )
