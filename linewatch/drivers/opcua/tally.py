"""What a session went through: counts for the links screen."""

from __future__ import annotations

import statistics
from collections import Counter, deque
from dataclasses import dataclass, field

_KEPT = 32


@dataclass(slots=True)
class Tally:
    """Requests, response times and failures of one session."""

    requests: int = 0
    failures: Counter[str] = field(default_factory=Counter)
    last_failure: str = ""
    _responses_ms: deque[float] = field(default_factory=lambda: deque(maxlen=_KEPT))

    def answered(self, after_s: float) -> None:
        """Note an answer and how long it took [s]."""
        self._responses_ms.append(after_s * 1000.0)

    def failed(self, kind: str, what: str) -> None:
        """Note a failure by its kind, and in full."""
        self.failures[kind] += 1
        self.last_failure = what

    def response_ms(self) -> float | None:
        """Return the median of the last responses [ms]."""
        return statistics.median(self._responses_ms) if self._responses_ms else None
