"""One collector a line: a lock that the system releases when its holder dies."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING

from filelock import FileLock, Timeout

from linewatch.core.errors import CollectorRunning, StoreUnusable, file_words

if TYPE_CHECKING:
    from linewatch.history.places import Places

PATIENCE_S = 1.0
"""A viewer that asks whether a collector runs holds the lock for an instant; a collector
waits that long before it believes that another one runs."""
PROBE_AGAIN_S = 0.05


class LineLock:
    """The lock of one line.

    Args:
        places: The line's folder.
        line_id: For the sentences.
    """

    def __init__(self, places: Places, line_id: str) -> None:
        self._places = places
        self._line_id = line_id
        # Not per thread: the thread that closes need not be the one that opened.
        self._lock = FileLock(places.lock, thread_local=False)

    def take(self, utc_ns: int) -> None:
        """Hold the line until `free`, or until this process ends, however it ends.

        Raises:
            CollectorRunning: another collector holds it.
            StoreUnusable: the lock cannot be made here.
        """
        try:
            self._lock.acquire(timeout=PATIENCE_S, poll_interval=0.02)
        except Timeout:
            raise CollectorRunning(self._line_id, self._holder()) from None
        except OSError as error:
            raise StoreUnusable(
                str(self._places.folder),
                f"the line's lock cannot be taken: {file_words(error)}",
                "see that this user may write there",
            ) from error
        try:
            self._places.holder.write_text(
                json.dumps({"process": os.getpid(), "utc_ns": utc_ns}), encoding="utf-8"
            )
        except OSError:
            # Only a courtesy to whoever finds the line held; a full disk must not end us.
            return

    def free(self) -> None:
        """Let the line go."""
        self._lock.release()

    def is_held(self) -> bool:
        """Say whether somebody, here or in another process, holds the line."""
        return not self._is_free(0.0) and not self._is_free(PROBE_AGAIN_S)

    def _is_free(self, timeout_s: float) -> bool:
        try:
            with FileLock(self._places.lock).acquire(timeout=timeout_s, poll_interval=0.01):
                return True
        except Timeout:
            return False
        except OSError:
            # A viewer that may not write cannot ask; then nobody is known to hold it.
            return True

    def _holder(self) -> str:
        try:
            known = json.loads(self._places.holder.read_text(encoding="utf-8"))
            return f"process {known['process']} since {_clock_time(known['utc_ns'])}"
        except (OSError, ValueError, KeyError, TypeError):
            return "its process is not known"


def _clock_time(utc_ns: int) -> str:
    from datetime import UTC, datetime

    # People read their own wall clock.
    return datetime.fromtimestamp(utc_ns / 1e9, UTC).astimezone().strftime("%Y-%m-%d %H:%M:%S")
