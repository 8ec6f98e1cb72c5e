"""Tells alarms outside the screen, in a process of its own, and notices when the watching ends.

Rule 1: it reads the record as a screen does. Nothing that it does, or waits for, can hold up
        a collector; each way has a thread of its own, so that no way holds up another.
Rule 2: what was told, and what could not be, is left in the tray as a person's request is, so
        that the record has it and the screen shows it.
Rule 3: it outlives the collector long enough to say that the collector is gone.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from linewatch.config.notices import VoiceSettings
from linewatch.core.commands import TellNotice
from linewatch.core.errors import LinewatchError
from linewatch.core.events import EventKind
from linewatch.core.notices import Notice, Planner
from linewatch.wiring.voices import NotHeard, Voice, voice_of

if TYPE_CHECKING:
    from linewatch.config.notices import Notices
    from linewatch.core.events import Event
    from linewatch.core.ports import Desk

log = logging.getLogger(__name__)
NS: Final = 1_000_000_000
WHO: Final = "notices"
LOOK_S: Final = 0.25
GONE_S: Final = 10.0
"""A collector that was not seen for so long, or whose picture is so old, no longer watches."""
AGAIN_S: Final = 30.0
AGAIN_LONGEST_S: Final = 600.0
KNOWN: Final = 20_000
"""Newest events from which is known what waits, and what was told, when it begins."""
HEARTBEAT: Final = "heartbeat"
AGAIN: Final = "A collector runs and records. What happened meanwhile was not seen."


def local_clock(utc_ns: int) -> str:
    """Return hour, minute and second by this machine's clock."""
    return time.strftime("%H:%M:%S", time.localtime(utc_ns / NS))


def local_minute(utc_ns: int) -> int:
    """Return the minute of the local day."""
    now = time.localtime(utc_ns / NS)
    return now.tm_hour * 60 + now.tm_min


@dataclass
class Mouth:
    """One way with its thread: takes one notice at a time."""

    settings: VoiceSettings
    tell: Callable[[TellNotice], None]
    steady_s: Callable[[], float]
    waiting: queue.SimpleQueue[Notice | None] = field(default_factory=queue.SimpleQueue)
    is_busy: bool = False
    not_before_s: float = 0.0
    failures: int = 0
    _voice: Voice | None = None

    def start(self) -> None:
        """Begin to listen for notices."""
        threading.Thread(target=self._run, name=f"way {self.settings.id}", daemon=True).start()

    def give(self, notice: Notice) -> None:
        """Hand a notice over, unless one is under way or the last one failed a moment ago."""
        if not self.is_busy and self.steady_s() >= self.not_before_s:
            self.is_busy = True
            self.waiting.put(notice)

    def _run(self) -> None:
        while (notice := self.waiting.get()) is not None:
            self.say(notice)
            self.is_busy = False

    def say(self, notice: Notice) -> bool:
        """Say a notice, and leave word of what became of it; return whether it was heard."""
        way = self.settings.id
        try:
            if self._voice is None:
                self._voice = voice_of(self.settings)
            self._voice.say(notice.title, notice.text)
        except NotHeard as error:
            self.failures += 1
            wait_s = min(AGAIN_S * 2 ** (self.failures - 1), AGAIN_LONGEST_S)
            self.not_before_s = self.steady_s() + wait_s
            log.warning("%s", error)
            if self.failures == 1:
                self._leave(TellNotice(who=WHO, way=way, did=False, text=error.happened))
            return False
        # A sign of life is no news, unless it had stayed away.
        if way != HEARTBEAT or self.failures:
            alarms = ",".join(notice.alarms)
            text = f"told {way}: {notice.title}"
            self._leave(TellNotice(who=WHO, way=way, did=True, text=text, alarms=alarms))
        self.failures = 0
        return True

    def _leave(self, command: TellNotice) -> None:
        try:
            self.tell(command)
        except (LinewatchError, OSError) as error:
            # The record may be what is broken; then the log has it.
            log.warning("%s", error)


class Teller:
    """Reads a line's record and tells of it.

    Args:
        desk: The reading side of the record, and the tray.
        notices: The ways there are.
        wall_ns: Reads the wall clock [ns].
        steady_s: Reads a clock that is never set [s].
    """

    def __init__(
        self,
        desk: Desk,
        notices: Notices,
        *,
        wall_ns: Callable[[], int] = time.time_ns,
        steady_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._desk = desk
        self._wall_ns, self._steady_s = wall_ns, steady_s
        picture = desk.picture()
        self._name = picture.name if picture is not None else "linewatch"
        self._planner = Planner(self._name, notices.ways, local_clock)
        self.mouths = {each.id: Mouth(each, self._tell, steady_s) for each in notices.voices}
        self._beat: Mouth | None = None
        if notices.heartbeat is not None:
            self._beat = Mouth(notices.heartbeat, self._tell, steady_s)
        self._beat_s, self._beat_due_s = notices.heartbeat_s, 0.0
        self._seen = 0
        self._was_stopped = False
        """Whether the newest thing told of the run is that a person ended it."""
        self._seen_s = steady_s()
        """When the line was last seen to be watched."""
        self._is_gone = False
        for stored in desk.latest(KNOWN):
            self._hear(stored.number, stored.event)

    def _tell(self, command: TellNotice) -> None:
        self._desk.request(command)

    def start(self) -> None:
        """Let every way listen."""
        for mouth in (*self.mouths.values(), *([self._beat] if self._beat else [])):
            mouth.start()

    def _hear(self, number: int, event: Event) -> None:
        self._seen = max(self._seen, number)
        if event.kind in {EventKind.RUN_STARTED, EventKind.RUN_STOPPED}:
            self._was_stopped = event.kind is EventKind.RUN_STOPPED
        self._planner.hear(event)

    def look(self) -> None:
        """Look once at everything, and hand on what is due."""
        for stored in self._desk.changes(self._seen):
            self._hear(stored.number, stored.event)
        watched = self._is_watched()
        now_s = self._steady_s()
        if watched:
            self._seen_s = now_s
            self._back()
            self._alarms()
        elif now_s - self._seen_s > GONE_S and not self._was_stopped:
            self.say_gone()
        if self._beat is not None and watched and now_s >= self._beat_due_s:
            self._beat_due_s = now_s + self._beat_s
            self._beat.give(self._of(HEARTBEAT, "is watched", "A sign of life."))

    def _is_watched(self) -> bool:
        picture = self._desk.picture()
        if picture is None or not self._desk.alive():
            return False
        # A line at another speed has another clock; its age is not known here.
        age_s = (self._wall_ns() - picture.utc_ns) / NS if picture.speed == 1.0 else 0.0
        recording = picture.recording
        return age_s < GONE_S and (recording is None or recording.running)

    def _alarms(self) -> None:
        picture = self._desk.picture()
        now_ns = self._wall_ns()
        if picture is not None and picture.speed != 1.0:
            now_ns = picture.utc_ns
        called: dict[str, str] = {}
        if picture is not None:
            called = {each.id: each.called for each in picture.tanks}
            called |= {each.id: each.name for each in picture.rectifiers}
            called |= {each.id: each.name for each in picture.baths}
        minute = local_minute(now_ns)
        for notice in self._planner.due(now_ns, minute, lambda each: called.get(each, each)):
            self.mouths[notice.way].give(notice)

    def _of(self, way: str, title: str, text: str) -> Notice:
        return Notice(way=way, title=f"{self._name}: {title}", text=text, alarms=())

    def say_gone(self, *, wait: bool = False) -> None:
        """Say on every way that nobody watches the line any more; once.

        Args:
            wait: Return only when every way has been tried: this process ends next.
        """
        if self._is_gone:
            return
        self._is_gone = True
        since = local_clock(self._wall_ns())
        text = (
            f"Seen at {since}: no collector runs, or it records nothing. No alarm comes from"
            " here until it does. Look at the line; then `linewatch run`, or the service."
        )
        for way, mouth in self.mouths.items():
            notice = self._of(way, "NOT WATCHED", text)
            if wait:
                mouth.say(notice)
            else:
                mouth.give(notice)

    def _back(self) -> None:
        if self._is_gone:
            self._is_gone = False
            for way, mouth in self.mouths.items():
                mouth.give(self._of(way, "is watched again", AGAIN))

    def end(self) -> None:
        """Look a last time when the collector has let go of us: has it ended as it should?

        One that is started anew within a moment has a teller of its own.
        """
        until_s = self._steady_s() + GONE_S
        while self._steady_s() < until_s:
            for stored in self._desk.changes(self._seen):
                self._hear(stored.number, stored.event)
            if self._was_stopped:
                return
            time.sleep(LOOK_S)
        if not self._desk.alive():
            self.say_gone(wait=True)


def tell(desk: Desk, notices: Notices, ended: threading.Event, *, is_child: bool) -> None:
    """Tell of a line until `ended` is set.

    Args:
        desk: The desk of the line.
        notices: The ways there are.
        ended: Set when it is enough.
        is_child: Whether it belongs to a collector, whose going it has to look into.
    """
    teller = Teller(desk, notices)
    teller.start()
    while not ended.wait(LOOK_S):
        try:
            teller.look()
        except (LinewatchError, OSError) as error:
            log.warning("%s", error)
    if is_child:
        teller.end()
