"""Captures of raw frames: from the driver that hears them to the file that keeps them.

Rule 1: it only listens; no question more is asked, none later.
Rule 2: a driver that lost its link is thrown away; the capture goes on with the next.
Rule 3: a capture ends by itself: by time [wall time], by size, or with the collector.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.errors import Refused
from linewatch.core.view import CapturePicture

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from linewatch.core.commands import CaptureFrames
    from linewatch.core.plan import LinePlan
    from linewatch.core.ports import Clock, Driver
    from linewatch.history.frames import FrameFile

NS: Final = 1_000_000_000
END_S: Final = 1.0


class _Capture:
    """One link's frames on their way into a file."""

    def __init__(
        self, subject: str, file: FrameFile, until: tuple[float, int], clock: Clock
    ) -> None:
        self.subject = subject
        self.file = file
        self.until_s, self.until_utc_ns = until
        self._clock = clock
        self.ended = ""

    def __call__(self, unit: int | None, frame: bytes, *, is_ours: bool) -> None:
        """Hear bytes."""
        self.file.put(self._clock.now().utc_ns, unit, frame, is_ours=is_ours)

    def why_over(self) -> str:
        """Return why it must end now; '' if it need not."""
        if self.file.fault:
            return f"it cannot be written: {self.file.fault}"
        if self.file.is_full:
            return "the file is full"
        return "its time is over" if self._clock.wall_s() >= self.until_s else ""

    def picture(self) -> CapturePicture:
        return CapturePicture(
            subject=self.subject,
            file=str(self.file.path),
            until_utc_ns=self.until_utc_ns,
            frames=self.file.frames,
            bytes=self.file.bytes,
            ended=self.ended,
        )


class FrameCaptures:
    """All captures of a collector.

    Args:
        plan: The line.
        open_file: Begins a file, by its name and what its first line says.
        clock: The time.
    """

    def __init__(
        self, plan: LinePlan, open_file: Callable[[str, str], FrameFile], clock: Clock
    ) -> None:
        self._plan = plan
        self._open_file = open_file
        self._clock = clock
        self._drivers: dict[str, Any] = {}
        """The present driver of each link, if its frames can be heard."""
        self._captures: dict[str, _Capture] = {}
        self._news: list[tuple[str, str]] = []

    def opened(self, link: str, driver: Driver) -> Driver:
        """Take note of a link's new driver; return it."""
        if hasattr(driver, "listen"):
            self._drivers[link] = driver
            capture = self._captures.get(link)
            if capture is not None and not capture.ended:
                driver.listen(capture)
        return driver

    def check(self, command: CaptureFrames) -> None:
        """Say whether it can be done.

        Raises:
            Refused: no link of the subject has frames that can be heard, one is heard now, or
                none is and it is to end.
        """
        asked = f"capture frames of {command.subject}"
        heard = self._heard(command.subject)
        if not heard:
            raise Refused(
                asked,
                "only Modbus frames can be heard; what OPC UA brought, with its quality and"
                " times, stands in the record: `linewatch export`",
            )
        runs = [link for link in heard if self._runs(link)]
        if command.for_s and runs:
            raise Refused(asked, f"the frames of {', '.join(runs)} are being captured already")
        if not command.for_s and not runs:
            raise Refused(asked, "nothing of it is being captured")

    def begin(self, command: CaptureFrames) -> None:
        """Begin, or end what runs; never waits for a disk."""
        for link in self._heard(command.subject):
            if command.for_s:
                self._begin(link, command)
            elif self._runs(link):
                self._end(link, f"ended by {command.who}")

    def news(self) -> Sequence[tuple[str, str]]:
        """Return (link, sentence) of what began or ended; end what is over."""
        for link, capture in self._captures.items():
            if not capture.ended and (why := capture.why_over()):
                self._end(link, why)
        told, self._news = self._news, []
        return told

    def picture(self, link: str) -> CapturePicture | None:
        """Return what is, or was, captured of a link; None for nothing."""
        capture = self._captures.get(link)
        return capture.picture() if capture is not None else None

    def close(self) -> None:
        """End everything; called once."""
        for link, capture in self._captures.items():
            if not capture.ended:
                self._end(link, "the collector ended")
            capture.file.close(END_S)

    def _heard(self, subject: str) -> list[str]:
        return [link for link in self._plan.links_of(subject) if link in self._drivers]

    def _runs(self, link: str) -> bool:
        capture = self._captures.get(link)
        return capture is not None and not capture.ended

    def _begin(self, link: str, command: CaptureFrames) -> None:
        now = self._clock.now()
        at = datetime.fromtimestamp(now.utc_ns / NS, UTC).strftime("%Y%m%dT%H%M%S.%fZ")
        minutes = command.for_s / 60.0
        about = f"frames of link {link}, for {command.subject}, asked for by {command.who}"
        file = self._open_file(f"{at}-{link}", f"{about}, {minutes:g} min")
        # How long counts in wall time; the end is shown on the record's calendar.
        shown_ns = now.utc_ns + round(command.for_s * self._clock.speed * NS)
        until = self._clock.wall_s() + command.for_s
        self._captures[link] = capture = _Capture(
            command.subject, file, (until, shown_ns), self._clock
        )
        self._drivers[link].listen(capture)
        # On a line at another speed an event's own time would let one think of another end.
        clock = "" if self._clock.speed == 1.0 else " by the clock on the wall"
        told = f"raw frames are captured for {minutes:g} min{clock}: {file.path}"
        self._news.append((link, told))

    def _end(self, link: str, why: str) -> None:
        capture = self._captures[link]
        capture.ended = why
        self._drivers[link].listen(None)
        capture.file.close()
        dropped = f", {capture.file.dropped} dropped" if capture.file.dropped else ""
        text = f"{capture.file.frames} raw frames captured{dropped}, {why}: {capture.file.path}"
        self._news.append((link, text))
