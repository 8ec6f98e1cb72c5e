"""The writing side of a line's record: one collector, one thread that writes.

Rule 1: `append` never waits and never raises for the disk. What waits is bounded; when it is
        full the newest batch is dropped whole and counted, so that what is kept has no holes
        but one at its end.
Rule 2: while the disk refuses, the same batches are tried again until it takes them. Nothing
        is half written: a transaction holds whole or not at all.
Rule 3: after a loss the record is honest. Either the caller begins anew from the committed
        memory (`begin_anew`), and the lost span counts as a restart's; or a hole with the
        line's whole memory is put into the sequence, so that a replay can step over it.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import logging
import sqlite3
import threading
import time
from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import StoreUnusable, file_words
from linewatch.core.ports import Batch, Journal, Request, RunStart
from linewatch.core.readings import Moment, Readings
from linewatch.history import codec
from linewatch.history.archive import Archivist
from linewatch.history.configurations import (
    Became,
    configuration,
    put_in_force,
    text_in_force,
)
from linewatch.history.knock import Listener
from linewatch.history.ledger import Draft, Hole, Ledger, Work
from linewatch.history.lock import LineLock
from linewatch.history.places import places, refuse_network
from linewatch.history.schema import connect, open_for_writing
from linewatch.history.snapshot import PictureWriter
from linewatch.history.waiting import Pile, Waiting

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from linewatch.core.commands import AnyCommand
    from linewatch.core.figures import FigureColumns
    from linewatch.core.view import LinePicture

log = logging.getLogger(__name__)

QUEUE_BYTES: Final = 48 * 1024 * 1024
"""What may wait for the disk, as it waits."""
SAMPLE_BYTES: Final = 9
ENTRY_BYTES: Final = 500
"""What an entry costs in memory besides its samples, roughly."""
TOGETHER: Final = 16
TOGETHER_BYTES: Final = 1 * 1024 * 1024
"""Batches of one transaction at most: a backlog is written in short pieces."""
LIVE_BYTES: Final = 1 * 1024 * 1024
"""Batches of so much in all wait as they are; more are packed."""
RETRY_S: Final = (0.25, 0.5, 1.0, 2.0)
STALLED_S: Final = 5.0
"""A disk that has not answered for so long is not recording, whatever it does later."""
WAL_WATCH_BYTES: Final = 64 * 1024 * 1024
"""A log of this size is said on screen. It is written back into the database every 4 MB, unless
somebody still reads what stood there before."""
CLOSE_S: Final = 2.0
LOST_EVENTS: Final = 2000
"""Events that are remembered through a loss; the oldest give way."""


class StoreJournal(Journal):
    """The journal of one line, in a folder of the store.

    Args:
        store: The store's folder; made if it is not there.
        line_id: Whose record.
        wall_ns: Reads the wall clock [ns]; for the lock and for 'not recording since'.

    Raises:
        CollectorRunning: another collector holds the line.
        StoreUnusable: the store cannot be opened, or must not be.
    """

    def __init__(
        self, store: Path, line_id: str, wall_ns: Callable[[], int] = time.time_ns
    ) -> None:
        self._wall_ns = wall_ns
        self._line_id = line_id
        self.places = places(store, line_id)
        refuse_network(store)
        try:
            self.places.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreUnusable(
                str(store),
                f"its folder cannot be made: {file_words(error)}",
                "name another folder with --store DIR",
            ) from error
        self._lock = LineLock(self.places, line_id)
        self._lock.take(wall_ns())
        try:
            self._database = open_for_writing(self.places.journal)
            self._ledger = Ledger(self._database, line_id)
            self._reading = connect(self.places.journal, read_only=True)
        except BaseException:
            self._lock.free()
            raise
        self._queue: deque[tuple[Work | Waiting, int]] = deque()
        self._queued_bytes = self._live_bytes = 0
        self._pile = Pile()
        self._dropped = 0
        self._lost: Hole | None = None
        self._running = True
        self._reason = ""
        self._since_utc_ns = wall_ns()
        self._busy_since_s: float | None = None
        self._broken = False
        self._closing = False
        self._closed = False
        self._changed = threading.Condition()
        self._unknown: set[int] = set()
        self._listener = Listener(self.places.door)
        self._pictures = PictureWriter(self.places)
        self.archivist = Archivist(self.places, line_id, self.carry_out)
        self._thread = threading.Thread(target=self._work, name="journal", daemon=True)
        self._thread.start()

    # What the collector's loop calls.

    def append(self, batch: Batch) -> None:
        """Queue a batch; never blocks the caller, never raises for a full disk."""
        live_bytes = _live_bytes(batch)
        with self._changed:
            work: Batch | Waiting = batch
            size = live_bytes
            has_room = self._queued_bytes < QUEUE_BYTES
            if has_room and self._live_bytes + live_bytes > LIVE_BYTES:
                # A disk that refuses may do so for hours.
                work = self._pile.packed(batch, live_bytes)
                size = work.bytes
            if self._queue and not (has_room and self._queued_bytes + size <= QUEUE_BYTES):
                self._dropped += 1
                self._lost = _lose(self._lost, batch)
                return
            if self._lost is not None:
                if batch.entries and isinstance(batch.entries[0], RunStart):
                    # The caller began anew: of what was lost only the events still tell.
                    self._put(_events_only(self._lost), 0)
                else:
                    self._put(self._lost, 0)
                self._lost = None
            self._put(work, size)

    def begin_anew(self) -> Mapping[str, bytes] | None:
        """Return the committed memory if batches were lost and the disk takes them again.

        A collector that asks before it hands over a batch makes a new `Line` from it, forgets
        which requests it took, and begins a run: the lost span is then unmetered, or
        recovered from the meters, as after a restart. None: there is no need.
        """
        with self._changed:
            if self._lost is None or self._queue or self._busy_since_s is not None:
                return None
            return dict(self._ledger.memory)

    def recording(self) -> tuple[bool, int, str, int]:
        """Return (is running, batches dropped, reason, wall time [ns] of the last change).

        While it runs the reason is '', or what else there is to say of the record.
        """
        with self._changed:
            busy_s = self._busy_since_s
            if self._running and busy_s is not None:
                waited_s = time.monotonic() - busy_s
                if waited_s > STALLED_S:
                    since = self._wall_ns() - int(waited_s * 1e9)
                    return False, self._dropped, "the disk does not answer", since
            return self._running, self._dropped, self._reason, self._since_utc_ns

    def memory(self) -> Mapping[str, bytes]:
        """Return the line's memory as committed last; empty for a new store."""
        with self._changed:
            return dict(self._ledger.memory)

    def last_moment(self) -> Moment | None:
        """Return the moment of the last committed entry."""
        state = self._ledger.state
        return state.at if state.number else None

    def knocked(self) -> bool:
        """Say whether requests may have been left since the last call."""
        return self._listener.hears()

    def requests(self) -> Sequence[Request]:
        """Return the requests that still wait, oldest first."""
        try:
            rows = self._reading.execute(
                "SELECT number, command, utc_ns FROM requests"
                " WHERE line_id = ? AND refused IS NULL ORDER BY number LIMIT 100",
                (self._line_id,),
            ).fetchall()
        except sqlite3.Error as error:
            # They are safe where they are; the disk's state is told by recording().
            log.warning("requests cannot be read just now: %s", error)
            return ()
        waiting = []
        for number, text, utc_ns in rows:
            command = self._command(number, text)
            if command is not None:
                waiting.append(Request(number=number, command=command, utc_ns=utc_ns))
        return waiting

    def publish(self, picture: LinePicture, columns: FigureColumns | None = None) -> None:
        """Replace the present picture; not durable."""
        if picture.recording is not None and self.archivist.set_aside:
            told = replace(picture.recording, set_aside=self.archivist.set_aside)
            picture = replace(picture, recording=told)
        self._pictures.publish(picture, columns)

    def close(self) -> None:
        """Commit all that is queued, then close. At most two seconds."""
        if self._closed:
            return
        self._closed = True
        deadline_s = time.monotonic() + CLOSE_S
        with self._changed:
            if self._lost is not None:
                self._put(self._lost, 0)
                self._lost = None
            self._closing = True
            self._changed.notify_all()
        self._pictures.close(CLOSE_S / 4)
        self.archivist.close(CLOSE_S / 4)
        self._thread.join(max(0.0, deadline_s - time.monotonic()))
        self._reading.close()
        if self._thread.is_alive():
            # A disk that hangs keeps the thread and its connection until the process ends.
            log.error("the record was not closed in time; what waited is lost")
        self._lock.free()

    # What wiring calls besides.

    def record_configuration(
        self,
        fingerprint: str,
        text: str,
        *,
        who: str,
        why: str,
        at: Moment,
        changes: Sequence[str] = (),
    ) -> None:
        """Note that a configuration is in force from now on, unless it already is."""
        became = Became(fingerprint=fingerprint, text=text, changes=tuple(changes))

        def write(draft: Draft) -> None:
            put_in_force(draft, became, who=who, why=why, utc_ns=at.utc_ns)

        self.post(write)

    def text_in_force(self) -> str | None:
        """Return the text of the configuration that was in force last, if there was one."""
        self.settle()
        return text_in_force(self._reading, self._line_id)

    def configuration(self, fingerprint: str) -> str:
        """Return the full text of a configuration that was in force.

        Raises:
            KeyError: no such configuration was ever recorded.
        """
        self.settle()
        return configuration(self._reading, fingerprint)

    def post(self, work: Callable[[Draft], None]) -> None:
        """Queue any other change of the ledger; it keeps its place among the batches."""
        with self._changed:
            self._put(work, 0)

    def carry_out(self, work: Callable[[Draft], None], timeout_s: float) -> bool:
        """Have a change of the ledger committed; say whether it is. Not for the loop."""
        done = threading.Event()

        def write(draft: Draft) -> None:
            work(draft)
            draft.after.append(done.set)

        self.post(write)
        return done.wait(timeout_s)

    def settle(self, timeout_s: float = 5.0) -> bool:
        """Wait until everything queued is committed; say whether it is. Not for the loop."""
        with self._changed:
            return self._changed.wait_for(
                lambda: not self._queue and self._busy_since_s is None, timeout_s
            )

    def wal_bytes(self) -> int:
        """Return the size of the write-ahead log [bytes]."""
        with contextlib.suppress(OSError):
            return self.places.wal.stat().st_size
        return 0

    # The writer's thread.

    def _put(self, work: Work | Waiting, size: int) -> None:
        self._queue.append((work, size))
        self._count(work, size)
        self._changed.notify_all()

    def _count(self, work: Work | Waiting, size: int) -> None:
        """Count what is queued, or with a negative size what no longer is."""
        self._queued_bytes += size
        if isinstance(work, Batch):
            self._live_bytes += size
        if not self._queue:
            self._pile.clear()

    def _next_together(self) -> list[Work | Waiting]:
        """Return what the next transaction writes."""
        found: list[Work | Waiting] = []
        left_bytes = TOGETHER_BYTES
        for work, size in itertools.islice(self._queue, TOGETHER):
            left_bytes -= work.live_bytes if isinstance(work, Waiting) else size
            if found and left_bytes < 0:
                break
            found.append(work)
        return found

    def _work(self) -> None:
        try:
            while self._write_next():
                pass
        except Exception as error:
            # A bug. It is said on screen, and the live line goes on.
            log.exception("the journal's writer stopped")
            with self._changed:
                self._broken = True
                self._note(running=False, reason=f"the writer failed: {error!r}")
        finally:
            with contextlib.suppress(sqlite3.Error):
                self._database.close()

    def _write_next(self) -> bool:
        """Write the next piece of the queue; say whether there may be more to come."""
        with self._changed:
            while not self._queue and not self._closing:
                self._changed.wait()
            if not self._queue:
                return False
            waiting = self._next_together()
            self._busy_since_s = time.monotonic()
        works = [each.batch() if isinstance(each, Waiting) else each for each in waiting]
        if not self._write(works):
            return False
        with self._changed:
            for _ in works:
                work, size = self._queue.popleft()
                self._count(work, -size)
            self._busy_since_s = None
            self._note(running=True, reason=self._log_trouble())
            self._changed.notify_all()
        return True

    def _write(self, works: Sequence[Work]) -> bool:
        """Write until the disk takes it; say whether it did before the end came."""
        tries = 0
        while True:
            try:
                cuts = self._ledger.write(works)
            except sqlite3.Error as error:
                with self._changed:
                    self._note(running=False, reason=str(error))
                    if self._closing:
                        return False
                    self._changed.wait_for(
                        lambda: self._closing, RETRY_S[min(tries, len(RETRY_S) - 1)]
                    )
                tries += 1
                continue
            if cuts:
                self.archivist.wake()
            return True

    def _log_trouble(self) -> str:
        """Say that the log grows without end, which a reader left open makes it do."""
        size = self.wal_bytes()
        if size < WAL_WATCH_BYTES:
            return ""
        return f"its log has grown to {size / 1e6:.0f} MB: something reads without end"

    def _note(self, *, running: bool, reason: str) -> None:
        if running != self._running:
            self._since_utc_ns = self._wall_ns()
        self._running, self._reason = running, reason

    def _command(self, number: int, text: str) -> AnyCommand | None:
        try:
            return codec.command_of(json.loads(text))
        except ValueError as error:
            if number not in self._unknown:
                # Left by another version of the program: answered, not ignored.
                self._unknown.add(number)
                self.append(
                    Batch(entries=(), events=(), memory={}, outcomes={number: str(error)})
                )
            return None


def _live_bytes(batch: Batch) -> int:
    """Return what a batch takes as it is, roughly."""
    size = sum(len(part) for part in batch.memory.values())
    size += ENTRY_BYTES * (len(batch.entries) + len(batch.events) + len(batch.outcomes))
    for entry in batch.entries:
        if isinstance(entry, Readings):
            size += SAMPLE_BYTES * len(entry.layout.tags)
    return size


def _lose(lost: Hole | None, batch: Batch) -> Hole:
    """Return what is known of all lost batches, one more among them."""
    at = codec.moment_of(batch.entries[-1]) if batch.entries else None
    if lost is None:
        return Hole(
            memory=dict(batch.memory),
            totals=batch.totals,
            outcomes=dict(batch.outcomes),
            events=list(batch.events)[-LOST_EVENTS:],
            at=at or Moment(utc_ns=0, mono_ns=0),
            batches=1,
        )
    return Hole(
        memory={**lost.memory, **batch.memory},
        totals={**lost.totals, **batch.totals},
        outcomes={**lost.outcomes, **batch.outcomes},
        events=[*lost.events, *batch.events][-LOST_EVENTS:],
        at=at or lost.at,
        batches=lost.batches + 1,
    )


def _events_only(lost: Hole) -> Batch:
    return Batch(entries=(), events=lost.events, memory={})
