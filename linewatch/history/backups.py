"""A copy of a line's record that is whole, taken while it is being written; and the way back.

A backup is a store: it can be opened with `--store DIR` as it is. The database is copied as
it was at one instant, then the files that it names; `backup.json` tells the hash of each. A
second backup into the same folder copies only what is new.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import StoreUnusable, file_words
from linewatch.history import manifest, schema, sweep
from linewatch.history.archive import sync_folder
from linewatch.history.ledger import Ledger
from linewatch.history.lock import LineLock
from linewatch.history.places import Places, places, refuse_network

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewatch.history.ledger import Draft

LIST: Final = "backup.json"
TRIES: Final = 5
"""A collector that merges files meanwhile makes a copy begin anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """What a backup or restore holds."""

    folder: Path
    files: int
    bytes: int
    left_out: tuple[str, ...]
    """Recorded files that are not what was recorded; they were left behind."""
    head: str
    """Head of the people's journal."""


def backup(store: Path, line_id: str, target: Path) -> Copied:
    """Copy a line's record into a folder; a collector may run meanwhile.

    Raises:
        StoreUnusable: the store cannot be read, the target not be written, or it holds
            something else.
    """
    source, there = places(store, line_id), places(target, line_id)
    if not source.journal.exists():
        raise StoreUnusable(
            str(store), f"nothing was ever recorded here for '{line_id}'", "name its store"
        )
    if there.journal.exists() and not (there.folder / LIST).exists():
        raise StoreUnusable(
            str(target), "it holds a record that is no backup", "name another folder"
        )
    try:
        there.folder.mkdir(parents=True, exist_ok=True)
        for _ in range(TRIES):
            copied = _copy(source, there, line_id)
            if copied is not None:
                return copied
    except (OSError, sqlite3.Error) as error:
        raise StoreUnusable(
            str(target),
            f"the backup was not written: {_why(error)}",
            "make room, or name another",
        ) from error
    raise StoreUnusable(
        str(store), "its files changed again and again while they were copied", "try again"
    )


def restore(
    source: Path, store: Path, line_id: str, *, who: str, why: str, utc_ns: int
) -> Copied:
    """Put a backup in place of a record that is gone. That it was done is recorded.

    Raises:
        StoreUnusable: the backup is not whole, or the store already holds the line's record.
        CollectorRunning: a collector holds the line.
    """
    refuse_network(store)
    old, new = places(source, line_id), places(store, line_id)
    if new.journal.exists():
        raise StoreUnusable(
            str(store),
            f"it already holds a record of '{line_id}'",
            "move that away first, or name another --store DIR",
        )
    _refuse_partial(old, line_id)
    new.folder.mkdir(parents=True, exist_ok=True)
    lock = LineLock(new, line_id)
    lock.take(utc_ns)
    try:
        copied = _copy(old, new, line_id)
        if copied is None or copied.left_out:
            raise _damaged(old, copied.left_out if copied else ())
        (new.folder / LIST).unlink()
        with closing(schema.open_for_writing(new.journal)) as database:
            Ledger(database, line_id).write([_told(source, who, why, utc_ns)])
    finally:
        lock.free()
    return copied


def _told(source: Path, who: str, why: str, utc_ns: int) -> Callable[[Draft], None]:
    def write(draft: Draft) -> None:
        draft.act(who, "Restore", {"from": str(source), "why": why}, utc_ns)

    return write


def _copy(source: Places, target: Places, line_id: str) -> Copied | None:
    """Copy the database, then what it names; None if a file vanished meanwhile."""
    _copy_database(source.journal, target.journal)
    with closing(schema.open_for_reading(target.journal)) as database:
        files = manifest.filed(database, line_id)
        row = database.execute(
            "SELECT head FROM state WHERE line_id = ?", (line_id,)
        ).fetchone()
    told: dict[str, str] = {}
    left_out: list[str] = []
    size = target.journal.stat().st_size
    for each in files:
        if not sweep.is_sound(target, each):
            try:
                _copy_file(source.folder / each.name, target.folder / each.name)
            except FileNotFoundError:
                if _is_still_named(source, line_id, each.name):
                    left_out.append(each.name)
                    continue
                return None
            if not sweep.is_sound(target, each):
                (target.folder / each.name).unlink()
                left_out.append(each.name)
                continue
        told[each.name] = each.sha256
        size += each.bytes
    _forget_others(target, set(told))
    told[target.journal.name] = _digest(target.journal)
    head = row[0] if row else ""
    _write_list(target, {"line": line_id, "head": head, "files": told})
    return Copied(
        folder=target.folder,
        files=len(told),
        bytes=size,
        left_out=tuple(left_out),
        head=head,
    )


def _copy_database(source: Path, target: Path) -> None:
    temporary = target.with_name(f"{target.name}.part")
    temporary.unlink(missing_ok=True)
    with (
        closing(schema.connect(source, read_only=True)) as old,
        closing(sqlite3.connect(temporary)) as new,
    ):
        # In one go: the copy is of one instant, and begins only once.
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE")
    _sync(temporary)
    for left in ("-wal", "-shm"):
        target.with_name(f"{target.name}{left}").unlink(missing_ok=True)
    temporary.replace(target)
    sync_folder(target.parent)


def _copy_file(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    temporary = target.with_name(f"{target.name}.part")
    shutil.copyfile(source, temporary)
    _sync(temporary)
    temporary.replace(target)
    sync_folder(target.parent)


def _is_still_named(source: Places, line_id: str, name: str) -> bool:
    with closing(schema.open_for_reading(source.journal)) as database:
        return any(each.name == name for each in manifest.filed(database, line_id))


def _forget_others(target: Places, named: set[str]) -> None:
    """Remove what an earlier backup into this folder held and the record no longer names."""
    for folder in (target.archive, target.summaries):
        for file in folder.rglob("*.parquet*") if folder.is_dir() else ():
            if file.relative_to(target.folder).as_posix() not in named:
                file.unlink()


def _why(error: Exception) -> str:
    if isinstance(error, OSError):
        return file_words(error)
    return str(error) if isinstance(error, sqlite3.Error) else f"its list {LIST} is damaged"


def _refuse_partial(source: Places, line_id: str) -> None:
    """Refuse a backup that is not what its list says."""
    try:
        told = json.loads((source.folder / LIST).read_text(encoding="utf-8"))
        files: dict[str, str] = told["files"]
    except (OSError, ValueError, KeyError) as error:
        raise StoreUnusable(
            str(source.folder),
            f"there is no backup of '{line_id}' here: {_why(error)}",
            "name the folder that `linewatch backup` was given",
        ) from error
    wrong = tuple(name for name, digest in files.items() if not _is(source, name, digest))
    if wrong:
        raise _damaged(source, wrong)


def _is(source: Places, name: str, digest: str) -> bool:
    try:
        return _digest(source.folder / name) == digest
    except OSError:
        return False


def _damaged(source: Places, names: tuple[str, ...]) -> StoreUnusable:
    return StoreUnusable(
        str(source.folder),
        f"{len(names)} of its files are not what was copied: {', '.join(names[:5])}",
        "use another backup",
    )


def _digest(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _write_list(target: Places, told: dict[str, object]) -> None:
    temporary = target.folder / f"{LIST}.part"
    temporary.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    _sync(temporary)
    temporary.replace(target.folder / LIST)


def _sync(file: Path) -> None:
    with file.open("rb+") as opened:
        os.fsync(opened.fileno())
