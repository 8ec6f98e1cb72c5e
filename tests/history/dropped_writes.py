"""A power cut, honestly: what SQLite wrote but had not synced is lost, in part or whole.

    python tests/history/dropped_writes.py STORE IMAGES SEED COUNT

Puts itself between SQLite and the operating system (a VFS of its own round the default one, in
the same library that Python's sqlite3 uses) and writes down every write, truncation and sync
of the database and its log, in order, while a counting line records. Then it makes COUNT disk
images as a power cut at random moments could have left them: what was synced stands; of what
was written after a file's last sync each sector of 512 bytes stands or not, by chance. Beside
each image `expected.json` tells what had been shown as stored by then.

What this leaves out: a disk that says 'synced' and lies, and the folder's own entries.
"""

from __future__ import annotations

import _sqlite3
import ctypes
import json
import random
import sys
import threading
from pathlib import Path

SECTOR = 512
CHANCE_STANDS = 0.5
BATCHES = 400

# Of sqlite3.h; each pointer to a function is a plain pointer until it is needed.
_POINTERS_VFS = [
    "xDelete",
    "xAccess",
    "xFullPathname",
    "xDlOpen",
    "xDlError",
    "xDlSym",
    "xDlClose",
    "xRandomness",
    "xSleep",
    "xCurrentTime",
    "xGetLastError",
    "xCurrentTimeInt64",
    "xSetSystemCall",
    "xGetSystemCall",
    "xNextSystemCall",
]
_POINTERS_IO = [
    "xClose",
    "xRead",
    "xWrite",
    "xTruncate",
    "xSync",
    "xFileSize",
    "xLock",
    "xUnlock",
    "xCheckReservedLock",
    "xFileControl",
    "xSectorSize",
    "xDeviceCharacteristics",
    "xShmMap",
    "xShmLock",
    "xShmBarrier",
    "xShmUnmap",
    "xFetch",
    "xUnfetch",
]


class Methods(ctypes.Structure):
    """sqlite3_io_methods."""

    _fields_ = [("iVersion", ctypes.c_int), *((name, ctypes.c_void_p) for name in _POINTERS_IO)]


class File(ctypes.Structure):
    """sqlite3_file."""

    _fields_ = [("pMethods", ctypes.POINTER(Methods))]


class Vfs(ctypes.Structure):
    """sqlite3_vfs."""

    _fields_ = [
        ("iVersion", ctypes.c_int),
        ("szOsFile", ctypes.c_int),
        ("mxPathname", ctypes.c_int),
        ("pNext", ctypes.c_void_p),
        ("zName", ctypes.c_char_p),
        ("pAppData", ctypes.c_void_p),
        ("xOpen", ctypes.c_void_p),
        *((name, ctypes.c_void_p) for name in _POINTERS_VFS),
    ]


_OPEN = ctypes.CFUNCTYPE(
    ctypes.c_int,
    ctypes.POINTER(Vfs),
    # Not c_char_p: SQLite keeps the very pointer for as long as the file is open.
    ctypes.c_void_p,
    ctypes.POINTER(File),
    ctypes.c_int,
    ctypes.c_void_p,
)
_WRITE = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(File), ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
)
_TRUNCATE = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(File), ctypes.c_int64)
_SYNC = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(File), ctypes.c_int)


class Recorder:
    """Writes down what reaches the files of one database."""

    def __init__(self, database: Path) -> None:
        self._names = {str(database): "", f"{database}-wal": "-wal"}
        self.log: list[tuple] = []
        """('write', file, offset, bytes), ('truncate', file, size), ('sync', file)."""
        self.lock = threading.Lock()
        self._kept: list[object] = []
        self._file_names: dict[int, str] = {}
        library = ctypes.CDLL(_sqlite3.__file__)
        library.sqlite3_vfs_find.restype = ctypes.POINTER(Vfs)
        library.sqlite3_vfs_register.argtypes = [ctypes.POINTER(Vfs), ctypes.c_int]
        default = library.sqlite3_vfs_find(None)
        self._open = _OPEN(default.contents.xOpen)
        own = Vfs.from_buffer_copy(default.contents)
        callback = _OPEN(self._on_open)
        own.zName = b"recorded"
        own.pNext = None
        own.xOpen = ctypes.cast(callback, ctypes.c_void_p).value
        self._kept += [own, callback]
        if library.sqlite3_vfs_register(ctypes.byref(own), 1):
            raise OSError("SQLite did not take the recording VFS")

    def _on_open(self, vfs, name, file, flags, out) -> int:
        result = self._open(vfs, name, file, flags, out)
        known = self._names.get(ctypes.string_at(name).decode() if name else "")
        if result == 0 and known is not None:
            self._wrap(file, known)
        return result

    def _wrap(self, file, name: str) -> None:
        real = file.contents.pMethods.contents
        write, truncate, sync = (
            _WRITE(real.xWrite),
            _TRUNCATE(real.xTruncate),
            _SYNC(real.xSync),
        )

        def on_write(this, data, amount, offset) -> int:
            result = write(this, data, amount, offset)
            if result == 0:
                self._note(("write", name, offset, ctypes.string_at(data, amount)))
            return result

        def on_truncate(this, size) -> int:
            result = truncate(this, size)
            if result == 0:
                self._note(("truncate", name, size))
            return result

        def on_sync(this, flags) -> int:
            result = sync(this, flags)
            if result == 0:
                self._note(("sync", name))
            return result

        own = Methods.from_buffer_copy(real)
        calls = [_WRITE(on_write), _TRUNCATE(on_truncate), _SYNC(on_sync)]
        for field, call in zip(("xWrite", "xTruncate", "xSync"), calls, strict=True):
            setattr(own, field, ctypes.cast(call, ctypes.c_void_p).value)
        self._kept += [own, *calls]
        file.contents.pMethods = ctypes.pointer(own)

    def _note(self, entry: tuple) -> None:
        with self.lock:
            self.log.append(entry)


def image(log: list[tuple], end: int, chance: random.Random) -> dict[str, bytes]:
    """Return the files as a power cut after so many entries of the log could leave them."""
    files: dict[str, bytearray] = {"": bytearray(), "-wal": bytearray()}
    for name, content in files.items():
        entries = [entry for entry in log[:end] if entry[1] == name]
        synced = max((k for k, entry in enumerate(entries) if entry[0] == "sync"), default=-1)
        for k, entry in enumerate(entries):
            if entry[0] == "write":
                _write(content, entry[2], entry[3], chance if k > synced else None)
            elif entry[0] == "truncate" and (k <= synced or chance.random() < CHANCE_STANDS):
                del content[entry[2] :]
    return {name: bytes(content) for name, content in files.items()}


def _write(content: bytearray, offset: int, data: bytes, chance: random.Random | None) -> None:
    """Write data, each sector for itself; with a chance, each one stands or not."""
    for start in range(0, len(data), SECTOR):
        if chance is not None and chance.random() >= CHANCE_STANDS:
            continue
        piece = data[start : start + SECTOR]
        at = offset + start
        if len(content) < at:
            content.extend(bytes(at - len(content)))
        content[at : at + len(piece)] = piece


def main() -> None:
    store, images, seed, count = sys.argv[1:]
    chance = random.Random(int(seed))  # noqa: S311 - chance, no secret
    from linewatch.history.places import places
    from tests.history.counting_line import LINE, Counting, batch_of

    there = places(Path(store), LINE)
    recorder = Recorder(there.journal.absolute())
    from linewatch import history
    from linewatch.core.commands import WriteNote
    from linewatch.core.ports import Batch, RunStart

    journal = history.open_journal(Path(store).absolute(), LINE)
    desk = history.open_desk(Path(store).absolute(), LINE)
    counting = Counting({})
    marks = [(len(recorder.log), 0, 0)]
    journal.append(
        Batch(
            entries=[RunStart(run_id="r", at=counting.at(), fingerprint="", speed=1.0)],
            events=(),
            memory={},
        )
    )
    journal.settle()
    marks.append((len(recorder.log), 0, 0))
    for _ in range(BATCHES):
        number = desk.request(WriteNote(who="ab", subject="counter", text="x"))
        journal.append(batch_of(counting, 3, journal.requests()))
        journal.settle()
        with recorder.lock:
            marks.append((len(recorder.log), counting.last, number))
    log = list(recorder.log)
    for k in range(int(count)):
        end = chance.randrange(marks[1][0], len(log))
        folder = places(Path(images) / str(k), LINE).folder
        folder.mkdir(parents=True)
        for name, content in image(log, end, chance).items():
            (folder / f"{there.journal.name}{name}").write_bytes(content)
        _, last, notes = max(mark for mark in marks if mark[0] <= end)
        expected = {"last": last, "notes": notes, "at": end, "of": len(log)}
        (folder / "expected.json").write_text(json.dumps(expected))
    journal.close()
    desk.close()


if __name__ == "__main__":
    main()
