"""The protocols through which the four shells meet, in `wiring` alone.

Each docstring promises order, loss and every exception that a method may raise.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, TypeAlias

from linewatch.core.commands import AnyCommand, CaptureFrames
from linewatch.core.events import Event, EventKind
from linewatch.core.readings import Moment, Readings, Times, Values

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from types import TracebackType

    from linewatch.core.figures import FigureColumns
    from linewatch.core.readings import Layout, Qualities
    from linewatch.core.view import CapturePicture, LinePicture, LinkPicture


class Clock(Protocol):
    """The only source of time."""

    speed: float
    """Line time over wall time."""

    def now(self) -> Moment:
        """Return this instant on both clocks."""

    def wall_s(self) -> float:
        """Return seconds of wall time from an arbitrary start; never runs back."""

    async def sleep_until(self, mono_ns: int) -> None:
        """Wait until line time has reached `mono_ns`."""


class Driver(Protocol):
    """One link: reads, reports, forgets. It does not retry, alarm or remember.

    Use: `async with driver: async for readings in driver.readings(): ...`. Entering connects.
    """

    layouts: tuple[Layout, ...]
    """Every block that it may bring."""

    async def __aenter__(self) -> Driver:
        """Connect.

        Raises:
            LinkLost: nobody listens, or the peer is not what it should be.
        """

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Disconnect; within two seconds, whatever the peer does."""

    def readings(self) -> AsyncIterator[Readings]:
        """Yield each block as it arrives, in order of line time; a silent unit as bad blocks.

        Raises:
            LinkLost: the connection is gone. The driver is then thrown away.
        """

    def picture(self) -> LinkPicture:
        """Return how the link is doing; cheap."""


class Captures(Protocol):
    """Writes the raw frames of links into files, for a person who suspects a device."""

    def check(self, command: CaptureFrames) -> None:
        """Say whether it can be done.

        Raises:
            Refused: no link of the subject has frames that can be heard, or one is heard now.
        """

    def begin(self, command: CaptureFrames) -> None:
        """Begin, or end what runs; never waits for a disk."""

    def news(self) -> Sequence[tuple[str, str]]:
        """Return (link, sentence) of what began or ended; end what is over. Cheap."""

    def picture(self, link: str) -> CapturePicture | None:
        """Return what is, or was, captured of a link; None for nothing."""

    def close(self) -> None:
        """End everything; called once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStart:
    """The first entry of every run."""

    run_id: str
    at: Moment
    fingerprint: str
    speed: float
    who: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """Time went by."""

    at: Moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A person's command at its place in the sequence."""

    request: int
    """Number of the request that it came from."""
    command: AnyCommand
    at: Moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """The collector itself stood: for a while nothing was read, judged or asked."""

    at: Moment
    """When it went on."""
    for_ns: int
    """For how long it had stood [ns of line time]."""


Entry: TypeAlias = "Readings | Tick | Order | RunStart | Stood"
"""What stands in the one sequence."""


COLLECTORS_PARTS = "engine."
"""Parts of a batch's memory with this beginning are the collector's own: no line makes them,
so no replay can."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What the journal commits at once: a piece of the sequence and all that it changed."""

    entries: Sequence[Entry]
    events: Sequence[Event]
    memory: Mapping[str, bytes]
    """The changed parts of the line's memory, by name; see `Line.memory`."""
    totals: Mapping[str, Mapping[str, float | int]] = field(default_factory=dict)
    """Totals for people and other tools, by rectifier or tank id; derived from the memory."""
    outcomes: Mapping[int, str] = field(default_factory=dict)
    """Requests that were carried out ('') or refused (the reason), by number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEvent:
    """An event with its place in the record."""

    number: int
    run_id: str
    event: Event


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A command that waits to be carried out."""

    number: int
    command: AnyCommand
    utc_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a request."""

    number: int
    done: bool
    refused: str = ""
    """Why not; '' if it was carried out or still waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One tag over a span, downsampled; a spike never vanishes, a gap stays a gap."""

    tag: str
    start_utc_ns: Times
    """Start of each bucket, shape (n,)."""
    low: Values
    """Least good value of the bucket; NaN where there was none. Shape (n,)."""
    mean: Values
    high: Values
    good_s: Values
    """Seconds of the bucket that were good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """Where the people's journal ends."""

    acts: int
    """How many acts it holds."""
    seal: str
    """Hash over all of them, in hex."""


class Journal(Protocol):
    """The writing side of the store: one collector, one thread of its own."""

    def append(self, batch: Batch) -> None:
        """Queue a batch; never blocks the caller, never raises for a full disk.

        Order is kept. When the queue is full the batch is dropped whole and counted.
        """

    def begin_anew(self) -> Mapping[str, bytes] | None:
        """Return the committed memory if batches were lost and can be written again.

        The collector then makes a new line from it and begins a run: the lost span counts as
        a restart's. None: there is no need.
        """

    def recording(self) -> tuple[bool, int, str, int]:
        """Return (is running, batches dropped, reason, wall time [ns] of the last change)."""

    def memory(self) -> Mapping[str, bytes]:
        """Return the line's memory as committed last; empty for a new store."""

    def last_moment(self) -> Moment | None:
        """Return the moment of the last committed entry."""

    def knocked(self) -> bool:
        """Say whether requests may have been left since the last call. Asked every 50 ms."""

    def requests(self) -> Sequence[Request]:
        """Return the requests that still wait, oldest first."""

    def publish(self, picture: LinePicture, columns: FigureColumns | None = None) -> None:
        """Replace the present picture; not durable.

        Args:
            picture: The picture.
            columns: Where its figures stand, if they are not in the picture itself.
        """

    def close(self) -> None:
        """Commit all that is queued, then close. At most two seconds."""


class Desk(Protocol):
    """The reading side of the store, and the tray for requests: what viewers see.

    Every method may be called from a worker thread; none may be called on the screen's loop,
    except `picture` and `news`, which take under a millisecond.
    """

    def picture(self) -> LinePicture | None:
        """Return the present picture, or None if there never was one."""

    def alive(self) -> bool:
        """Say whether a collector holds the line."""

    def news(self) -> int:
        """Return a number that changes whenever an event or outcome was committed."""

    def changes(self, since: int, limit: int = 1000) -> Sequence[StoredEvent]:
        """Return the events after number `since`, oldest first, at most `limit`."""

    def latest(self, limit: int = 200) -> Sequence[StoredEvent]:
        """Return the newest events, oldest first."""

    def happened(
        self,
        subjects: Collection[str],
        span: tuple[int, int],
        limit: int = 2000,
        kinds: Collection[EventKind] = (),
    ) -> Sequence[StoredEvent]:
        """Return the events about some subjects within a span of wall time, oldest first.

        Of more than `limit` the newest; of some kinds only, or of all for ().
        """

    def loads(self, span: tuple[int, int], limit: int = 2000) -> Sequence[StoredEvent]:
        """Return what was told of loads within a span of wall time, oldest first.

        Of more than `limit` the newest.
        """

    def sealed(self) -> Sealed:
        """Return how many acts the people's journal holds, and what seals the last."""

    def series(self, tag: str, start_utc_ns: int, end_utc_ns: int, width: int) -> Series:
        """Return one tag over a span in at most `width` buckets.

        Raises:
            KeyError: the tag was never recorded.
        """

    def raw(
        self, tag: str, start_utc_ns: int, end_utc_ns: int
    ) -> tuple[Times, Values, Qualities]:
        """Return every sample of one tag over a span."""

    def request(self, command: AnyCommand) -> int:
        """Leave a request; durable when this returns. Works while no collector runs."""

    def outcome(self, number: int) -> Outcome:
        """Return what became of a request."""
