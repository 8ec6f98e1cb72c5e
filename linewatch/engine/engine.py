"""The loop of a collector: everything that moves the line passes here, one at a time.

Rule 1: one sequence. What the line is fed is what the journal is given, in that order.
Rule 2: a batch carries the line's memory as it was after the batch's last entry, so that a
        restart continues exactly where the record ends.
Rule 3: nothing here waits for a disk, a device or a screen.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import uuid
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from linewatch.core.commands import CaptureFrames, EndCollecting
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.figures import with_columns
from linewatch.core.ports import COLLECTORS_PARTS, Batch, Entry, Order, RunStart, Stood, Tick
from linewatch.core.readings import Moment, Readings
from linewatch.core.view import LinePicture, LinkPicture, RecordingPicture
from linewatch.engine.clock import NS, LastSeen
from linewatch.engine.link import Link

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from linewatch.core.commands import AnyCommand
    from linewatch.core.figures import FigureColumns
    from linewatch.core.line import Line
    from linewatch.core.ports import Captures, Journal, Request
    from linewatch.engine.clock import SystemClock
    from linewatch.engine.link import LinkPlan

log = logging.getLogger(__name__)

BEGIN_S = 1.5
"""How long a run may wait for its links before it begins without the slow ones."""
HOUSE_S = 0.05
"""How often the loop looks after requests, ticks, batches and the picture [wall time]."""
BATCH_S = 0.5
"""A batch is handed over at least this often: with the commit, under a second in all."""
PICTURE_S = 1.0
NEWS_PICTURE_S = 0.25
"""An event brings a new picture at once, but no oftener than this."""
TICK_NS = NS
STOOD_S = 2.0
"""A loop that comes round so much late stood itself: the machine was too busy, suspended, or
the process was stopped [wall time]. Common practice."""
SHUTDOWN_S = 1.5
"""How long a link may take to end before it is left behind."""
QUEUE_BLOCKS = 2000
"""Blocks that may wait for the line; a link that finds the queue full waits itself."""
CLOCK_MEMORY = f"{COLLECTORS_PARTS}clock"


class Engine:
    """One collector's loop.

    Args:
        make_line: Makes the machine that judges and counts, from a memory.
        links: What to open.
        clock: The time.
        journal: Where the sequence goes.
        run: How this run starts; its moment is set when it does.
    """

    def __init__(
        self,
        make_line: Callable[[Mapping[str, bytes]], Line],
        links: Sequence[LinkPlan],
        clock: SystemClock,
        journal: Journal,
        run: RunStart,
    ) -> None:
        self._make_line = make_line
        self._line = make_line(journal.memory())
        self.clock = clock
        """The time it goes by."""
        self._journal = journal
        self._run = run
        self._queue: asyncio.Queue[Readings] = asyncio.Queue(QUEUE_BLOCKS)
        self._links = [Link(plan, clock, self._queue.put, self._link_changed) for plan in links]
        self._entries: list[Entry] = []
        self._events: list[Event] = []
        self._outcomes: dict[int, str] = {}
        self._taken: set[int] = set()
        self._batch_due_s = 0.0
        self._picture_due_s = 0.0
        self._pictured_s = -1e9
        self._round_s = clock.wall_s()
        """When this loop last came round [wall time]."""
        self._scan_ms = 0.0
        self._recording = True
        self._has_begun = False
        self.taken_mono_ns = run.at.mono_ns
        """Line time of the last entry that was fed to the line."""
        self.read_mono_ns = run.at.mono_ns
        """Line time of the last block that was fed to the line."""
        self.on_begin: Callable[[Engine], None] | None = None
        """Called when the run begins."""
        self.captures: Captures | None = None
        """Writes raw frames where somebody asks for them."""

    async def run(self, stop: asyncio.Event) -> None:
        """Run until `stop` is set or a person ends the collecting; then commit everything."""
        # The first picture loads what later ones need; no poll should have to wait for that.
        self.publish()
        tasks = [
            asyncio.create_task(link.run(stop), name=f"link {link.picture().id}")
            for link in self._links
        ]
        await self._until_heard(stop)
        self._run = replace(self._run, at=self.clock.now())
        self._round_s = self.clock.wall_s()
        self._take(self._run)
        self._has_begun = True
        if self.on_begin is not None:
            self.on_begin(self)
        pump = asyncio.create_task(self._pump(), name="pump")
        try:
            await self._house(stop, [*tasks, pump])
        finally:
            stop.set()
            await _end(tasks)
            self._drain()
            await _end([pump])
            self._hand_over()
            self.publish()

    def picture(self) -> LinePicture:
        """Return the line as it is now, with links and recording."""
        return with_columns(*self._bare_picture())

    def _bare_picture(self) -> tuple[LinePicture, FigureColumns]:
        now = self.clock.now()
        running, dropped, reason, since = self._journal.recording()
        links = tuple(self._with_capture(link.picture()) for link in self._links)
        reached = [link.poll_s for link in links if link.poll_s is not None]
        picture, columns = self._line.bare_picture(now)
        picture = replace(
            picture,
            run_id=self._run.run_id,
            started_utc_ns=self._run.at.utc_ns,
            speed=self.clock.speed,
            links=links,
            poll_s=max(reached, default=None),
            scan_ms=self._scan_ms,
            recording=RecordingPicture(
                running=running, since_utc_ns=since, dropped=dropped, reason=reason
            ),
        )
        return picture, columns

    def _with_capture(self, link: LinkPicture) -> LinkPicture:
        capture = self.captures.picture(link.id) if self.captures is not None else None
        return replace(link, capture=capture) if capture is not None else link

    def publish(self) -> None:
        """Show the present picture to viewers."""
        self._journal.publish(*self._bare_picture())

    async def _until_heard(self, stop: asyncio.Event) -> None:
        """Wait a moment until every link has said something, so that the run begins with all.

        What comes before is not part of the run: nothing is recorded yet.
        """
        silent = {link.picture().id for link in self._links}
        until_s = self.clock.wall_s() + BEGIN_S
        while silent and not stop.is_set() and self.clock.wall_s() < until_s:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(until_s - self.clock.wall_s()):
                    silent.discard((await self._queue.get()).layout.link)
        while not self._queue.empty():
            self._queue.get_nowait()

    async def _pump(self) -> None:
        while True:
            self._take(await self._queue.get())
            self._drain()

    def _drain(self) -> None:
        while not self._queue.empty():
            self._take(self._queue.get_nowait())

    def _take(self, entry: Entry) -> None:
        """Feed one entry to the line; first of all, that this loop itself stood, if it did."""
        self._come_round()
        self._feed(entry)

    def _come_round(self) -> None:
        now_s = self.clock.wall_s()
        late_s, self._round_s = now_s - self._round_s, now_s
        if self._has_begun and late_s > STOOD_S:
            for_ns = round(late_s * self.clock.speed * NS)
            self._feed(Stood(at=self.clock.now(), for_ns=for_ns))

    def _feed(self, entry: Entry) -> None:
        """Feed one entry to the line and keep it for the journal."""
        began = self.clock.wall_s()
        events = self._moved(entry)
        self._entries.append(entry)
        self.taken_mono_ns = max(self.taken_mono_ns, _mono_ns(entry))
        if isinstance(entry, Readings):
            self.read_mono_ns = max(self.read_mono_ns, entry.mono_ns)
        self._scan_ms += 0.05 * ((self.clock.wall_s() - began) * 1e3 - self._scan_ms)
        self._note(events)

    def _moved(self, entry: Entry) -> list[Event]:
        match entry:
            case Readings():
                return self._line.receive(entry)
            case Tick():
                return self._line.tick(entry.at)
            case Order():
                return self._line.obey(entry)
            case RunStart():
                return self._line.begin(entry)
            case Stood():
                return self._line.stood(entry)

    def _note(self, events: Sequence[Event]) -> None:
        if events:
            self._events.extend(events)
            self._batch_due_s = 0.0
            self._picture_due_s = min(self._picture_due_s, self._pictured_s + NEWS_PICTURE_S)

    async def _house(self, stop: asyncio.Event, tasks: Sequence[asyncio.Task[None]]) -> None:
        """Look after everything that is due, until the end."""
        tick_due_ns = self.clock.now().mono_ns + TICK_NS
        while not stop.is_set():
            for task in tasks:
                if task.done() and not task.cancelled():
                    # A bug below the links stops the collector: better no record than a wrong.
                    task.result()
            self._come_round()
            if self._journal.knocked():
                self._carry_out(self._journal.requests(), stop)
            self._hear_captures()
            now = self.clock.now()
            if now.mono_ns >= tick_due_ns:
                self._take(Tick(at=now))
                tick_due_ns = now.mono_ns + TICK_NS
            wall_s = self.clock.wall_s()
            if wall_s >= self._batch_due_s:
                self._hand_over()
                self._batch_due_s = wall_s + BATCH_S
            if wall_s >= self._picture_due_s:
                self._pictured_s = wall_s
                self._picture_due_s = wall_s + PICTURE_S
                self._watch_recording(now)
                self.publish()
            # The end may wait so long, too: to be woken by it would cost more at each round.
            await asyncio.sleep(HOUSE_S)

    def _carry_out(self, requests: Sequence[Request], stop: asyncio.Event) -> None:
        for request in requests:
            if request.number in self._taken:
                continue
            self._taken.add(request.number)
            now = self.clock.now()
            if isinstance(request.command, EndCollecting):
                text = f"collecting ended by {request.command.who}"
                self._note([self._event(EventKind.RUN_STOPPED, now, text)])
                self._outcomes[request.number] = ""
                stop.set()
                continue
            try:
                capture = self._capture_asked(request.command)
                self._take(Order(request=request.number, command=request.command, at=now))
                self._outcomes[request.number] = ""
                if capture is not None:
                    capture()
            except Refused as refused:
                self._outcomes[request.number] = str(refused)
                self._note([self._event(EventKind.REFUSED, now, str(refused))])
            self._batch_due_s = 0.0

    def _capture_asked(self, command: AnyCommand) -> Callable[[], None] | None:
        """Return what begins a capture of frames, if a command asks for one.

        Raises:
            Refused: it cannot be done.
        """
        if not isinstance(command, CaptureFrames):
            return None
        if self.captures is None:
            raise Refused(f"capture frames {command.subject}", "this collector cannot")
        self.captures.check(command)
        return partial(self.captures.begin, command)

    def _hear_captures(self) -> None:
        for link, text in self.captures.news() if self.captures is not None else ():
            self._link_changed(link, text)

    def _hand_over(self) -> None:
        """Give the journal all that has come since the last time."""
        kept = self._journal.begin_anew()
        if kept is not None:
            self._begin_anew(kept)
        if not (self._entries or self._events or self._outcomes):
            return
        memory: dict[str, bytes] = dict(self._line.changed_memory())
        memory[CLOCK_MEMORY] = _clock_memory(self.clock)
        self._journal.append(
            Batch(
                entries=self._entries,
                events=self._events,
                memory=memory,
                totals=self._line.totals(),
                outcomes=self._outcomes,
            )
        )
        self._entries, self._events, self._outcomes = [], [], {}

    def _begin_anew(self, memory: Mapping[str, bytes]) -> None:
        """Go on from what was committed: what was lost counts as a restart's gap.

        The line as it stands knows more than the record does; a total that the record could
        not reproduce must not be kept.
        """
        log.warning("the record has a gap; the line goes on from what was committed last")
        self._entries.clear()
        self._outcomes.clear()
        self._taken.clear()
        self._line = self._make_line(memory)
        self._run = replace(self._run, run_id=uuid.uuid4().hex, at=self.clock.now())
        self._take(self._run)

    def _watch_recording(self, now: Moment) -> None:
        running, _, reason, _ = self._journal.recording()
        if running != self._recording:
            self._recording = running
            text = "recording again" if running else f"not recording: {reason}"
            self._note([self._event(EventKind.RECORDING, now, text)])

    def _link_changed(self, link: str, text: str) -> None:
        # What comes before the run is no part of it.
        if self._has_begun:
            self._note([self._event(EventKind.LINK_STATE, self.clock.now(), text, link)])

    def _event(self, kind: EventKind, at: Moment, text: str, subject: str = "") -> Event:
        subject = subject or self._line.plan.line_id
        return Event(
            kind=kind, subject=subject, utc_ns=at.utc_ns, mono_ns=at.mono_ns, text=text
        )


def _mono_ns(entry: Entry) -> int:
    return entry.mono_ns if isinstance(entry, Readings) else entry.at.mono_ns


def _clock_memory(clock: SystemClock) -> bytes:
    now = clock.now()
    return json.dumps(
        {
            "utc_ns": now.utc_ns,
            "mono_ns": now.mono_ns,
            "system_utc_ns": clock.system_utc_ns(),
        }
    ).encode()


def last_seen(memory: Mapping[str, bytes]) -> LastSeen | None:
    """Return where an earlier run left off, from the memory it committed last."""
    kept = memory.get(CLOCK_MEMORY)
    if kept is None:
        return None
    parts = json.loads(kept)
    return LastSeen(
        moment=Moment(utc_ns=parts["utc_ns"], mono_ns=parts["mono_ns"]),
        system_utc_ns=parts["system_utc_ns"],
    )


async def _end(tasks: Sequence[asyncio.Task[None]]) -> None:
    """Cancel tasks and wait, but only so long: a peer must not hold up the end."""
    for task in tasks:
        task.cancel()
    if tasks:
        _, left = await asyncio.wait(tasks, timeout=SHUTDOWN_S)
        for task in left:
            log.warning("%s did not end in time and is left behind", task.get_name())
