"""An event loop whose seconds pass quickly, and which counts how often it wakes."""

import asyncio
import selectors
import time

QUICKER = 60.0
"""Its minutes are seconds of the world."""


class _Selector(selectors.DefaultSelector):
    """Waits so much less than it is asked to."""

    wakes = 0

    def select(self, timeout: float | None = None):
        self.wakes += 1
        return super().select(None if timeout is None else timeout / QUICKER)


class QuickLoop(asyncio.SelectorEventLoop):
    """A loop in which a wait of a minute takes a second; sockets are real."""

    def __init__(self) -> None:
        self.selector = _Selector()
        super().__init__(self.selector)

    def time(self) -> float:
        """Return this loop's own time [s]."""
        return time.monotonic() * QUICKER

    @property
    def wakes(self) -> int:
        """How often it has woken."""
        return self.selector.wakes
