"""When to try a lost link again: ever less often, and never in step with others.

Rule 1: the wait doubles from one second to a minute; jitter only lengthens it, so that a peer
        which accepts and resets at once is tried at most six times in its first minute
        (at 0, 1, 3, 7, 15 and 31 s at the earliest).
Rule 2: only valid readings over longer than the last wait bring it back to the start; a mere
        connection proves nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

FIRST_S = 1.0
LONGEST_S = 60.0
JITTER_RATIO = 0.25


@dataclass(slots=True, kw_only=True)
class BackOff:
    """How long to wait before the next try.

    Args:
        jitter: Draws a number from 0 to 1.
    """

    jitter: Callable[[], float]
    _wait_s: float = 0.0
    _good_since_s: float | None = None

    def failed(self, *, lasting: bool = False) -> float:
        """Note a failure; return how long to wait before the next try [s of wall time].

        A lasting failure is one that waiting does not cure: it waits longest at once.
        """
        self._good_since_s = None
        longer_s = LONGEST_S if lasting else max(FIRST_S, 2.0 * self._wait_s)
        self._wait_s = min(LONGEST_S, longer_s)
        return self._wait_s * (1.0 + JITTER_RATIO * self.jitter())

    def good(self, wall_s: float) -> None:
        """Note valid readings at `wall_s`."""
        if self._good_since_s is None:
            self._good_since_s = wall_s
        elif wall_s - self._good_since_s > self._wait_s:
            self._wait_s = 0.0
