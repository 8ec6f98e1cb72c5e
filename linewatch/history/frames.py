"""Files of raw frames: what a link sent and heard, for a person who suspects a device.

One file a capture, in the folder `frames` of the line; no part of the record. A row a piece of
bytes: time (UTC), `>` sent or `<` arrived, the unit that was asked, the bytes in hex.

Rule 1: whoever hears frames never waits: rows are handed to a thread, which alone knows the
        disk; what the thread cannot take in time is dropped and counted.
Rule 2: a file ends at its size, and only the newest few are kept.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pathlib import Path
    from typing import IO

MOST_BYTES: Final = 32 * 1024 * 1024
"""Of one file; a bus of 16 units read each second writes about a tenth of it in an hour."""
MOST_FILES: Final = 8
MOST_WAITING: Final = 50_000
"""Rows that may wait for the disk."""
WRITE_S: Final = 0.5
HEAD: Final = (
    "# {about}\n"
    "# time (UTC)                    > sent, < arrived   unit that was asked   bytes in hex\n"
)


class FrameFile:
    """One file that is being written.

    Args:
        folder: Where it lies; made if it is missing.
        name: Its name without what kind it is.
        about: What its first line says.
    """

    def __init__(self, folder: Path, name: str, about: str) -> None:
        self.path = folder / f"{name}.txt"
        self.frames = 0
        self.bytes = 0
        self.dropped = 0
        self.fault = ""
        """Why nothing can be written any more; '' while it can."""
        self._head = HEAD.format(about=about)
        self._rows: deque[str] = deque()
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._work, name=f"frames {name}", daemon=True)
        self._thread.start()

    @property
    def is_full(self) -> bool:
        """Say whether it has all that it may hold."""
        return self.bytes >= MOST_BYTES

    def put(self, utc_ns: int, unit: int | None, frame: bytes, *, is_ours: bool) -> None:
        """Take bytes to write; never waits."""
        if self._end.is_set() or self.is_full or len(self._rows) >= MOST_WAITING:
            self.dropped += 1
            return
        at = datetime.fromtimestamp(utc_ns // 10**9, UTC).strftime("%Y-%m-%dT%H:%M:%S")
        asked = "-" if unit is None else str(unit)
        way = ">" if is_ours else "<"
        row = f"{at}.{utc_ns % 10**9 // 1000:06d}Z {way} {asked:>3} {frame.hex(' ')}\n"
        self.frames += 1
        self.bytes += len(row)
        self._rows.append(row)

    def close(self, wait_s: float = 0.0) -> None:
        """End the file; what waits is still written, in its own time."""
        self._end.set()
        if wait_s:
            self._thread.join(wait_s)

    def _work(self) -> None:
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            _keep_newest(self.path.parent, MOST_FILES - 1)
            with self.path.open("w", encoding="ascii", errors="replace") as file:
                file.write(self._head)
                while not self._end.wait(WRITE_S):
                    self._write_down(file)
                self._write_down(file)
        except OSError as error:
            self.fault = error.strerror or str(error)
            self._end.set()
            self._rows.clear()

    def _write_down(self, file: IO[str]) -> None:
        file.writelines([self._rows.popleft() for _ in range(len(self._rows))])
        file.flush()


def _keep_newest(folder: Path, count: int) -> None:
    """Remove the oldest of our own files; their names begin with the time."""
    for old in sorted(folder.glob("*.txt"))[: -count or None]:
        with contextlib.suppress(OSError):
            old.unlink()
