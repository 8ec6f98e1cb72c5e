"""How a link is doing: what its picture shows, kept while it runs."""

from __future__ import annotations

from collections import Counter, deque
from datetime import UTC, datetime
from statistics import median
from typing import TYPE_CHECKING

from linewatch.core.view import LinkPicture
from linewatch.drivers.modbus.question import EXCEPTION_WORDS, Failure

if TYPE_CHECKING:
    from linewatch.config.model import LinkSection
    from linewatch.core.ports import Clock
    from linewatch.core.readings import Moment

RESPONSES_KEPT = 64
BYTES_SHOWN = 64


class Book:
    """Counts and last words of one connection.

    Args:
        link: What it is.
        clock: The time.
    """

    def __init__(self, link: LinkSection, clock: Clock) -> None:
        self._link = link
        self._clock = clock
        self._since_utc_ns = clock.now().utc_ns
        self._state = "connecting"
        self._reason = ""
        self._responses_ms: deque[float] = deque(maxlen=RESPONSES_KEPT)
        self._last_failure = ""
        self._last_bytes = ""
        self.requests = 0
        self.failures: Counter[str] = Counter()
        self.answered_at: Moment | None = None
        """When the last valid answer came."""
        self.last_response_s = 0.0

    def asked(self) -> None:
        """Count a request."""
        self.requests += 1

    def answered(self, response_s: float) -> None:
        """Note a valid answer, a refusal included."""
        self.last_response_s = response_s
        self._responses_ms.append(response_s * 1000.0)
        self.answered_at = self._clock.now()

    def failed(self, failure: Failure, what: str, raw: bytes = b"") -> None:
        """Note a failure in words, with the bytes that were received."""
        self.failures[failure.value] += 1
        self._last_failure = what
        shown = raw[:BYTES_SHOWN].hex(" ").upper()
        self._last_bytes = shown + (" ..." if len(raw) > BYTES_SHOWN else "")

    def refused(self, failure: Failure, unit: int, code: int) -> None:
        """Note an exception."""
        words = EXCEPTION_WORDS.get(code, "unknown exception")
        self.failed(failure, f"unit {unit} refuses: {words} ({code:02X})")

    @property
    def is_connected(self) -> bool:
        """Whether the link has been connected."""
        return self._state != "connecting"

    def state(self, state: str, reason: str = "") -> None:
        """Note the link's state with its reason."""
        if state != self._state:
            self._since_utc_ns = self._clock.now().utc_ns
        self._state, self._reason = state, reason

    def picture(self, *, silent: tuple[str, ...], poll_s: float | None) -> LinkPicture:
        """Return how the link is doing."""
        return LinkPicture(
            id=self._link.id,
            protocol=self._link.protocol,
            address=self._link.address,
            state=self._state,
            reason=self._reason,
            since_utc_ns=self._since_utc_ns,
            response_ms=median(self._responses_ms) if self._responses_ms else None,
            requests=self.requests,
            failures=dict(self.failures),
            last_failure=self._last_failure,
            last_bytes=self._last_bytes,
            units_silent=silent,
            poll_s=poll_s,
        )


def clock_time(at: Moment) -> str:
    """Return local time of day as people read it: 10:42:07."""
    utc = datetime.fromtimestamp(at.utc_ns // 1_000_000_000, tz=UTC)
    return utc.astimezone().strftime("%H:%M:%S")
