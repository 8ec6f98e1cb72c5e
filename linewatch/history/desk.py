"""The reading side of a line's record, and the tray for requests: what viewers see.

Rule 1: reads are short, and every one is over before its answer is given: a read left open
        would let the write-ahead log grow without end.
Rule 2: a request is committed when `request` returns, whether a collector runs or not.
"""

from __future__ import annotations

import contextlib
import queue
import sqlite3
import time
import weakref
from typing import TYPE_CHECKING

from linewatch.core.errors import StoreUnusable
from linewatch.core.ports import Desk, Outcome, Sealed, StoredEvent
from linewatch.history import chain, codec, configurations, manifest, schema
from linewatch.history.knock import knock
from linewatch.history.lock import LineLock
from linewatch.history.places import places, refuse_network
from linewatch.history.reader import Reader
from linewatch.history.snapshot import PictureReader

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence
    from pathlib import Path

    from linewatch.core.commands import AnyCommand
    from linewatch.core.events import EventKind
    from linewatch.core.ports import Series
    from linewatch.core.readings import Qualities, Times, Values
    from linewatch.core.view import LinePicture

NEWS_SQL = "SELECT news FROM state WHERE line_id = ?"
EVENT_SQL = (
    "SELECT events.number, coalesce(runs.run_id, ''), events.kind, events.subject,"
    " events.utc_ns, events.mono_ns, events.text, events.parts"
    " FROM events LEFT JOIN runs USING (line_id, run)"
    " WHERE line_id = ?"
)


class StoreDesk(Desk):
    """The desk of one line.

    Args:
        store: The store's folder.
        line_id: Whose record.
        wall_ns: Reads the wall clock [ns]; stamps the requests.

    Raises:
        StoreUnusable: nothing was ever recorded here, or the store cannot be read.
    """

    def __init__(
        self, store: Path, line_id: str, wall_ns: Callable[[], int] = time.time_ns
    ) -> None:
        self._line_id = line_id
        self._wall_ns = wall_ns
        self.places = places(store, line_id)
        refuse_network(store)
        if not self.places.journal.exists():
            raise StoreUnusable(
                str(store),
                f"nothing was ever recorded here for the line '{line_id}'",
                "start a collector with `linewatch run FILE`, or name another --store DIR",
            )
        self._lock = LineLock(self.places, line_id)
        self._reader = Reader(self.places, line_id)
        self._pictures = PictureReader(self.places)
        # `news` has a connection of its own: it must never wait for a long query.
        self._quick = schema.open_for_reading(self.places.journal)
        self._spare: queue.SimpleQueue[sqlite3.Connection] = queue.SimpleQueue()
        self._close = weakref.finalize(self, _close_all, self._quick, self._spare)

    def picture(self) -> LinePicture | None:
        """Return the present picture, or None if there never was one."""
        return self._pictures.picture()

    def alive(self) -> bool:
        """Say whether a collector holds the line."""
        return self._lock.is_held()

    def news(self) -> int:
        """Return a number that changes whenever an event or outcome was committed."""
        row = self._quick.execute(NEWS_SQL, (self._line_id,)).fetchone()
        return row[0] if row else 0

    def changes(self, since: int, limit: int = 1000) -> Sequence[StoredEvent]:
        """Return the events after number `since`, oldest first, at most `limit`."""
        with self._database() as database:
            rows = database.execute(
                f"{EVENT_SQL} AND events.number > ? ORDER BY events.number LIMIT ?",
                (self._line_id, since, limit),
            ).fetchall()
        return [_stored(row) for row in rows]

    def latest(self, limit: int = 200) -> Sequence[StoredEvent]:
        """Return the newest events, oldest first."""
        return self._newest("", (), limit)

    def happened(
        self,
        subjects: Collection[str],
        span: tuple[int, int],
        limit: int = 2000,
        kinds: Collection[EventKind] = (),
    ) -> Sequence[StoredEvent]:
        """Return the events about some subjects within a span of wall time, oldest first.

        Of more than `limit` the newest; of some kinds only, or of all for ().
        """
        held = ", ".join("?" for _ in subjects)
        where = f" AND events.utc_ns BETWEEN ? AND ? AND events.subject IN ({held})"
        if kinds:
            where += f" AND events.kind IN ({', '.join('?' for _ in kinds)})"
        return self._newest(where, (*span, *subjects, *map(str, kinds)), limit)

    def loads(self, span: tuple[int, int], limit: int = 2000) -> Sequence[StoredEvent]:
        """Return what was told of loads within a span of wall time, oldest first.

        Of more than `limit` the newest.
        """
        where = (
            " AND events.utc_ns BETWEEN ? AND ?"
            " AND events.kind = 'load' AND events.subject LIKE 'load/%'"
        )
        return self._newest(where, span, limit)

    def sealed(self) -> Sealed:
        """Return how many acts the people's journal holds, and what seals the last."""
        with self._database() as database:
            row = database.execute(
                "SELECT people, head FROM state WHERE line_id = ?", (self._line_id,)
            ).fetchone()
        acts, seal = row or (0, chain.BEGINNING)
        return Sealed(acts=acts, seal=seal)

    def series(self, tag: str, start_utc_ns: int, end_utc_ns: int, width: int) -> Series:
        """Return one tag over a span in at most `width` buckets.

        Raises:
            KeyError: the tag was never recorded.
        """
        with self._database() as database:
            return self._reader.series(database, tag, (start_utc_ns, end_utc_ns), width)

    def raw(
        self, tag: str, start_utc_ns: int, end_utc_ns: int
    ) -> tuple[Times, Values, Qualities]:
        """Return every sample of one tag over a span.

        Raises:
            KeyError: the tag was never recorded.
        """
        with self._database() as database:
            return self._reader.raw(database, tag, (start_utc_ns, end_utc_ns))

    def request(self, command: AnyCommand) -> int:
        """Leave a request; durable when this returns. Works while no collector runs.

        Raises:
            StoreUnusable: the disk does not take it; nothing was left.
        """
        text = codec.canonical(codec.command_parts(command))
        try:
            with contextlib.closing(schema.connect(self.places.journal)) as database:
                database.execute("PRAGMA synchronous = FULL")
                with schema.transaction(database):
                    number = self._leave(database, text)
        except sqlite3.Error as error:
            raise StoreUnusable(
                str(self.places.journal),
                f"the request was not left: {error}",
                "make room on the disk, then ask again",
            ) from error
        knock(self.places.door)
        return number

    def outcome(self, number: int) -> Outcome:
        """Return what became of a request."""
        with self._database() as database:
            row = database.execute(
                "SELECT refused FROM requests WHERE line_id = ? AND number = ?",
                (self._line_id, number),
            ).fetchone()
        refused = row[0] if row else "there is no such request"
        return Outcome(number=number, done=refused == "", refused=refused or "")

    # What the command line asks besides.

    def actions(self, after: int = 0) -> Sequence[chain.Action]:
        """Return the people's journal after row `after`, oldest first."""
        with self._database() as database:
            return chain.actions(database, self._line_id, after)

    def configuration(self, fingerprint: str) -> str:
        """Return the full text of a configuration that was in force.

        Raises:
            KeyError: no such configuration was ever recorded.
        """
        with self._database() as database:
            return configurations.configuration(database, fingerprint)

    def configurations(self) -> Sequence[configurations.InForce]:
        """Return which configuration was in force when, oldest first."""
        with self._database() as database:
            return configurations.in_force(database, self._line_id)

    def set_aside(self) -> Sequence[str]:
        """Return the names of the archive's files that could not be trusted."""
        with self._database() as database:
            known = {each.name for each in manifest.set_aside(database, self._line_id)}
        here = self.places.set_aside
        strangers = {file.name for file in here.iterdir()} if here.is_dir() else set()
        names = {name.rpartition("/")[2]: name for name in known | self._reader.left_out}
        return sorted(set(names.values()) | (strangers - set(names)))

    def ends(self) -> tuple[int, int]:
        """Return when the record begins and ends [ns since 1970], the end left out."""
        with self._database() as database:
            return self._reader.ends(database)

    def tags(self) -> Sequence[str]:
        """Return every tag that was ever recorded."""
        with self._database() as database:
            return self._reader.tags(database)

    def close(self) -> None:
        """Let go of the files."""
        self._close()

    def _leave(self, database: sqlite3.Connection, text: str) -> int:
        number: int = database.execute(
            "SELECT coalesce(max(number), 0) + 1 FROM requests WHERE line_id = ?",
            (self._line_id,),
        ).fetchone()[0]
        database.execute(
            "INSERT INTO requests VALUES (?, ?, ?, ?, NULL, NULL, NULL)",
            (self._line_id, number, text, self._wall_ns()),
        )
        return number

    def _newest(
        self, where: str, parameters: tuple[int | str, ...], limit: int
    ) -> list[StoredEvent]:
        """Return the newest events of which a clause holds, oldest first."""
        with self._database() as database:
            rows = database.execute(
                f"{EVENT_SQL}{where} ORDER BY events.number DESC LIMIT ?",
                (self._line_id, *parameters, limit),
            ).fetchall()
        return [_stored(row) for row in reversed(rows)]

    @contextlib.contextmanager
    def _database(self) -> Iterator[sqlite3.Connection]:
        """Lend a connection to one caller; several threads may ask at once."""
        try:
            database = self._spare.get_nowait()
        except queue.Empty:
            database = schema.open_for_reading(self.places.journal)
        try:
            yield database
        finally:
            self._spare.put(database)


def _stored(row: tuple[int, str, str, str, int, int, str, str]) -> StoredEvent:
    return StoredEvent(number=row[0], run_id=row[1], event=codec.event_of(row[2:]))


def _close_all(quick: sqlite3.Connection, spare: queue.SimpleQueue[sqlite3.Connection]) -> None:
    quick.close()
    with contextlib.suppress(queue.Empty):
        while True:
            spare.get_nowait().close()
