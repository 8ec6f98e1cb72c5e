"""Closed hours become files: what the collector's archivist does, in a thread of its own.

Rule 1: the heavy work is a child process's. The thread only starts it, gives its files their
        names, and asks the journal's writer to record them and to remove the rows.
Rule 2: a file is written, synced and renamed before it is recorded; what a crash leaves
        between is swept away at the next start.
Rule 3: nothing here is ever fatal to the recording. What fails is told, and tried again.
"""

from __future__ import annotations

import itertools
import json
import logging
import os
import subprocess
import sys
import threading
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from linewatch.history import manifest, schema, sweep

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

    from linewatch.history.ledger import Draft
    from linewatch.history.manifest import Filed, FileKind, Sectioned
    from linewatch.history.places import Places

log = logging.getLogger(__name__)

DAY_NS: Final = 86_400 * 10**9
RANGES_AT_ONCE: Final = 12
"""Hours that one child process closes."""
CHILD_S: Final = 900.0
AGAIN_S: Final = 300.0
"""When what failed is tried again, if no hour ends before."""
RECORD_S: Final = 60.0
HOURLY_DAYS: Final = 8
"""Days for which a checkpoint an hour is kept; of older days one each."""
AUDIT_BYTES: Final = 256 * 1024 * 1024
"""Whose content is compared with its hash in one round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Retention:
    """What is kept for how long; one-minute summaries are kept for good."""

    raw_days: float | None = 400.0
    """Days that every sample is kept; None: for good."""


class Archivist:
    """Keeps the archive of one line, on behalf of its collector.

    Args:
        places: The line's folder.
        line_id: Whose record.
        carry_out: Has the journal's writer change the ledger; says whether it is committed.
    """

    def __init__(
        self,
        places: Places,
        line_id: str,
        carry_out: Callable[[Callable[[Draft], None], float], bool],
    ) -> None:
        self._places = places
        self._line_id = line_id
        self._carry_out = carry_out
        self.retention = Retention()
        self.set_aside = 0
        """Files that could not be trusted, strangers among them."""
        self.trouble = ""
        """Why the last round ended early; '' if it did not."""
        self._wake = threading.Event()
        self._idle = threading.Event()
        self._looked: dict[str, int] = {}
        self._ending = False
        self._child: subprocess.Popen[str] | None = None
        self._thread = threading.Thread(target=self._work, name="archivist", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Say that an hour may be complete."""
        self._idle.clear()
        self._wake.set()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """Wait until there is nothing left to archive; say whether that is so."""
        return self._idle.wait(timeout_s) and not self.trouble

    def close(self, timeout_s: float) -> None:
        """End; a child that is at work is ended too, and its files swept away later."""
        self._ending = True
        self._wake.set()
        child = self._child
        if child is not None:
            with suppress(OSError):
                child.kill()
        self._thread.join(timeout_s)

    # The archivist's thread.

    def _work(self) -> None:
        swept = False
        while not self._ending:
            try:
                with closing(schema.open_for_reading(self._places.journal)) as database:
                    if not swept:
                        self._sweep(database)
                        swept = True
                    self._round(database)
                self.trouble = ""
            except _TryAgain as reason:
                self.trouble = str(reason)
                if not self._ending:
                    log.warning("archiving is put off: %s", reason)
            except Exception as error:
                self.trouble = repr(error)
                log.exception("archiving is put off")
            if not self._wake.is_set():
                self._idle.set()
            self._wake.wait(AGAIN_S)
            self._wake.clear()

    def _round(self, database: sqlite3.Connection) -> None:
        self._audit(database)
        self._close_hours(database)
        self._merge(database, "readings", "day")
        self._merge(database, "blocks", "day")
        self._merge(database, "minutes", "day")
        self._merge(database, "minutes", "month")
        self._thin_out(database)
        self._retain(database)

    def _sweep(self, database: sqlite3.Connection) -> None:
        files = manifest.filed(database, self._line_id)
        strangers = sweep.sweep(
            self._places, files, manifest.archived_to(database, self._line_id)
        )
        for each in strangers:
            log.warning("%s is no file of this archive; it was set aside", each.name)
        self._count_set_aside()

    def _audit(self, database: sqlite3.Connection) -> None:
        """Look at every file's length, and at the content of some, oldest look first."""
        files = manifest.filed(database, self._line_id)
        suspect = sweep.missing_or_cut(self._places, files)
        gone = {each.name for each, _ in suspect}
        looked = self._looked
        # Known names stay the same objects: new ones each hour would lie among what is let go.
        for name in looked.keys() - {each.name for each in files}:
            del looked[name]
        for each in files:
            looked.setdefault(each.name, 0)
        budget = AUDIT_BYTES
        for each in sorted(files, key=lambda file: looked[file.name]):
            if each.name in gone or self._ending:
                continue
            budget -= each.bytes
            if budget < 0:
                break
            looked[each.name] = max(looked.values()) + 1
            if not sweep.is_sound(self._places, each):
                suspect.append((each, "its content is not what was recorded"))
        for each, why in suspect:
            self._put_aside(each, why)

    def _put_aside(self, file: Filed, why: str) -> None:
        """Take a file out of the archive that is not what was recorded."""
        log.warning("%s was set aside: %s", file.name, why)

        def write(draft: Draft) -> None:
            manifest.retire(draft, [file], f"{manifest.SET_ASIDE}{why}")

        self._commit(write)
        path = self._places.folder / file.name
        if path.exists():
            sweep.put_aside(self._places, path)
        self._count_set_aside()

    def _count_set_aside(self) -> None:
        with closing(schema.open_for_reading(self._places.journal)) as database:
            known = {
                each.name.rpartition("/")[2]
                for each in manifest.set_aside(database, self._line_id)
            }
        here = self._places.set_aside
        found = {file.name for file in here.iterdir()} if here.is_dir() else set()
        self.set_aside = len(known | found)

    def _close_hours(self, database: sqlite3.Connection) -> None:
        while ranges := closed_ranges(database, self._line_id)[:RANGES_AT_ONCE]:
            told = self._run(
                "linewatch.history.archive_hour",
                [self._line_id, *(f"{first}:{last}" for first, last in ranges)],
            )
            if len(told) != len(ranges):
                raise _TryAgain(f"{len(told)} of {len(ranges)} hours were closed")
            for each in told:
                self._record_hour(each)

    def _record_hour(self, told: dict[str, Any]) -> None:
        files = [manifest.of_parts(told, file) for file in told["files"]]
        if not files:
            files = [_nothing(told["first"], told["last"])]
        self._name((file["temporary"], file["name"]) for file in told["files"])

        def write(draft: Draft) -> None:
            manifest.record(draft, files)
            manifest.forget_rows(draft, told["first"], told["last"])

        self._commit(write)

    def _merge(self, database: sqlite3.Connection, kind: FileKind, whole: str) -> None:
        for parts in mergeable(database, self._line_id, kind, whole):
            begin = datetime.fromtimestamp(parts[0].low_utc_ns // 10**9, UTC)
            folder = self._places.summaries if kind == "minutes" else self._places.archive
            shelf = f"date={begin:%Y-%m-%d}" if whole == "day" else f"month={begin:%Y-%m}"
            name = f"{folder.name}/{shelf}/{whole}-{parts[0].first}.{kind}.parquet"
            (told,) = self._run(
                "linewatch.history.archive_merge",
                [self._line_id, kind, name, f"{parts[0].first}:{parts[-1].last}"],
            )
            if "damaged" in told:
                for each in parts:
                    if each.name in told["damaged"]:
                        self._put_aside(each, "its content is not what was recorded")
                continue
            if told["parts"] != [each.name for each in parts]:
                raise _TryAgain("the manifest changed while files were merged")
            self._record_merged(parts, name, told)

    def _record_merged(self, parts: Sequence[Filed], name: str, told: dict[str, Any]) -> None:
        merged = replace(
            parts[-1],
            first=parts[0].first,
            name=name,
            bytes=told["bytes"],
            sha256=told["digest"],
            low_utc_ns=min(part.low_utc_ns for part in parts),
            high_utc_ns=max(part.high_utc_ns for part in parts),
        )
        self._name([(told["temporary"], name)])
        self._commit(lambda draft: manifest.replace(draft, parts, merged))
        for part in parts:
            sweep.remove(self._places.folder / part.name)

    def _thin_out(self, database: sqlite3.Connection) -> None:
        """Keep an old day's last checkpoint: from there any of its hours is soon replayed."""
        row = database.execute(
            "SELECT utc_ns FROM state WHERE line_id = ?", (self._line_id,)
        ).fetchone()
        if row is None:
            return
        before_ns = row[0] - HOURLY_DAYS * DAY_NS
        kept = {
            each.last
            for each in manifest.filed(database, self._line_id)
            if each.kind == "blocks" and _grain(each) == "day"
        }
        old = [
            number
            for (number,) in database.execute(
                "SELECT number FROM checkpoints WHERE line_id = ? AND utc_ns < ?",
                (self._line_id, before_ns),
            )
            if number not in kept
        ]
        # While a day is not merged, its hours are still needed to close it.
        old = [number for number in old if number <= max(kept, default=0)]
        if old:
            self._commit(lambda draft: manifest.forget_checkpoints(draft, old))

    def _retain(self, database: sqlite3.Connection) -> None:
        """Delete what has been kept for long enough; each deletion is recorded."""
        days = self.retention.raw_days
        if days is None:
            return
        row = database.execute(
            "SELECT utc_ns FROM state WHERE line_id = ?", (self._line_id,)
        ).fetchone()
        if row is None:
            return
        before_ns = row[0] - round(days * DAY_NS)
        old = [
            each
            for each in manifest.filed(database, self._line_id)
            if each.kind != "minutes" and each.high_utc_ns < before_ns
        ]
        if not old:
            return

        def write(draft: Draft) -> None:
            manifest.retire(draft, old, manifest.EXPIRED)
            draft.database.execute(
                "DELETE FROM checkpoints WHERE line_id = ? AND number < ?",
                (draft.line_id, max(each.last for each in old)),
            )
            parts = {
                "files": [each.name for each in old],
                "why": f"raw values are kept for {days:g} days",
            }
            draft.act("", "Retain", parts, row[0])

        self._commit(write)
        for each in old:
            sweep.remove(self._places.folder / each.name)

    def _commit(self, write: Callable[[Draft], None]) -> None:
        if not self._carry_out(write, RECORD_S):
            raise _TryAgain("the journal did not record the change in time")

    def _name(self, pairs: Iterable[tuple[str, str]]) -> None:
        """Give finished files their names, for good."""
        folders: set[Path] = set()
        for temporary, name in pairs:
            target = self._places.folder / name
            (self._places.folder / temporary).replace(target)
            folders.add(target.parent)
        for folder in folders:
            sync_folder(folder)

    def _run(self, module: str, arguments: Sequence[str]) -> list[dict[str, Any]]:
        """Run a child; return what it told."""
        if self._ending:
            raise _TryAgain("the collector ends")
        child = subprocess.Popen(  # noqa: S603 - our own module, our own arguments
            [sys.executable, "-m", module, str(self._places.folder), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._child = child
        try:
            told, errors = child.communicate(timeout=CHILD_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.communicate()
            raise _TryAgain(f"{module} did not end in {CHILD_S:g} s") from None
        finally:
            self._child = None
        if child.returncode:
            raise _TryAgain(f"{module} failed: {errors.strip()[-500:]}")
        return [json.loads(row) for row in told.splitlines()]


class _TryAgain(Exception):
    """A round of the archivist ends early; the next one takes it up again."""


def closed_ranges(database: sqlite3.Connection, line_id: str) -> list[tuple[int, int]]:
    """Return the ranges of numbers that are complete and still in the journal."""
    first = manifest.archived_to(database, line_id) + 1
    ranges = []
    for (last,) in database.execute(
        "SELECT number FROM checkpoints WHERE line_id = ? AND number >= ? ORDER BY number",
        (line_id, first),
    ):
        ranges.append((first, last))
        first = last + 1
    return ranges


def mergeable(
    database: sqlite3.Connection, line_id: str, kind: FileKind, whole: str
) -> list[list[Filed]]:
    """Return the runs of files that belong into one: hours of a day, days of a month.

    A day or month is over when the next file is of another one.
    """
    shelf = "%Y-%m-%d" if whole == "day" else "%Y-%m"
    runs: list[tuple[str, bool, list[Filed]]] = []
    for each in manifest.filed(database, line_id):
        if each.kind != kind:
            continue
        begin = datetime.fromtimestamp(each.low_utc_ns // 10**9, UTC).strftime(shelf)
        is_part = _grain(each) == ("hour" if whole == "day" else "day")
        if not runs or runs[-1][:2] != (begin, is_part):
            runs.append((begin, is_part, []))
        runs[-1][2].append(each)
    return [
        files
        for (begin, is_part, files), following in itertools.pairwise(runs)
        if is_part and following[0] != begin and (len(files) > 1 or whole == "day")
    ]


def _nothing(first: int, last: int) -> Sectioned:
    """Return what stands for entries that the journal should hold, and does not."""
    return manifest.Sectioned(
        first=first,
        last=last,
        kind="blocks",
        name=f"nothing-{first}",
        bytes=0,
        sha256="",
        low_utc_ns=0,
        high_utc_ns=0,
        head="",
        state=f"{manifest.SET_ASIDE}the journal held none of these entries",
    )


def _grain(file: Filed) -> str:
    stem = file.name.rpartition("/")[2].partition("-")[0]
    return stem if stem in {"day", "month"} else "hour"


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk for good, where the system can."""
    if sys.platform == "win32":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
