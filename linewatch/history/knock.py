"""Whoever leaves a request knocks; the collector, which looks often, listens instead of asking.

To ask the database twenty times a second whether a request waits cost more than all its other
looks together. A file's time of change costs a fiftieth of that. The knock is a courtesy: a
request that was left without one, by a viewer that died at that instant, or on a disk too full
for the file, is found `WITHOUT_S` later.
"""

from __future__ import annotations

import contextlib
import os
import time
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

WITHOUT_S: Final = 0.5
"""How long a request waits at most that came without a knock [wall time]."""


def knock(door: Path) -> None:
    """Say that a request was left; after its commit.

    Args:
        door: The file that is touched.
    """
    with contextlib.suppress(OSError):
        door.touch()
        # A file system counts time in steps of milliseconds; two knocks may fall into one.
        now_ns = time.time_ns()
        os.utime(door, ns=(now_ns, now_ns))


class Listener:
    """Hears knocks.

    Args:
        door: The file that is touched.
        steady_s: A clock that never runs back [s].
    """

    def __init__(self, door: Path, steady_s: Callable[[], float] = time.monotonic) -> None:
        self._door = str(door)
        self._steady_s = steady_s
        self._heard_ns = -1
        self._looked_s = -WITHOUT_S

    def hears(self) -> bool:
        """Say whether to look for requests now: somebody knocked, or it is time to anyway."""
        now_s = self._steady_s()
        try:
            knocked_ns = os.stat(self._door).st_mtime_ns  # noqa: PTH116 - a third of Path's cost
        except OSError:
            knocked_ns = -1
        if knocked_ns == self._heard_ns and now_s - self._looked_s < WITHOUT_S:
            return False
        self._heard_ns, self._looked_s = knocked_ns, now_s
        return True
