"""The driver of one OPC UA link: subscribes, keeps the newest, brings a block each period.

Rule 1: a subscription tells changes alone, so that silence means "unchanged" only while the
        server is heard: every few seconds it must publish something, if only a keep-alive,
        and answer a question of ours.
Rule 2: every item is also read from time to time, and what the subscription missed counts.
Rule 3: what ends a session ends the driver; the next one resolves every name anew.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from asyncua import ua
from asyncua.ua.attribute_ids import AttributeIds

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality, Readings
from linewatch.core.view import LinkPicture
from linewatch.drivers.opcua.identity import Identity, acquaintances, unit_in
from linewatch.drivers.opcua.items import items_of
from linewatch.drivers.opcua.meaning import overflowed
from linewatch.drivers.opcua.newest import Newest
from linewatch.drivers.opcua.nodes import node_id
from linewatch.drivers.opcua.notes import Notes
from linewatch.drivers.opcua.session import Session, Wish
from linewatch.drivers.text import cleaned

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from types import TracebackType

    from linewatch.config.links import LinkSettings
    from linewatch.core.ports import Clock, Driver
    from linewatch.core.readings import Layout, Moment
    from linewatch.drivers.opcua.session import Monitored

NS = 1_000_000_000
KEEP_ALIVE_S = 4.0
"""How often the server must be heard at least [wall time]."""
FASTEST_NS = 20_000_000
"""No block comes oftener than this [wall time]."""
FASTEST_SAMPLING_S = 0.05
HELD_UP_S = 1.0
"""A timer that fires so much late says more about this program than about the server."""


def open_driver(settings: LinkSettings, clock: Clock) -> Driver:
    """Return a driver for one link; it connects when it is entered."""
    return OpcuaDriver(settings, clock)


class OpcuaDriver:
    """One session with one server.

    Args:
        settings: The link with its devices and tags.
        clock: The time.
    """

    def __init__(self, settings: LinkSettings, clock: Clock) -> None:
        self.layouts: tuple[Layout, ...] = tuple(
            layout for device in settings.devices for layout in device.layouts
        )
        self._link = settings.link
        self._clock = clock
        self._items = items_of(settings)
        # With a clock that runs faster than the world, a server's time says nothing to us.
        tolerance_ns = round(self._link.source_tolerance * NS) if clock.speed == 1.0 else None
        self._newest = Newest(self._items, tolerance_ns)
        self._session = Session(self._link, clock, self._told, self._gone)
        self._notes = Notes()
        self._keep_alive_s = min(KEEP_ALIVE_S, 4.0 * self._link.timeout)
        self._silent_after_s = 2.0 * self._keep_alive_s + self._link.timeout
        self._arrived: dict[int, tuple[ua.DataValue, Moment]] = {}
        self._nodes: dict[int, ua.NodeId] = {}
        self._namespaces: list[str] = []
        self._unmonitored: set[int] = set()
        self._missed: set[int] = set()
        self._blocks: asyncio.Queue[Readings | BaseException] = asyncio.Queue(
            2 * len(self.layouts) + 2
        )
        self._tasks: list[asyncio.Task[None]] = []
        self._stopping = False
        self._since_utc_ns = 0
        self._publishing_s = 0.0
        self._poll_s: float | None = None

    async def __aenter__(self) -> Driver:
        """Connect, resolve every name, read every item once and subscribe.

        Raises:
            LinkLost: nobody listens, or the peer is not what it should be.
        """
        try:
            await self._session.open()
            await self._resolve()
            await self._identify()
            await self._read_all()
            await self._subscribe()
        except BaseException:
            await self._session.close()
            raise
        self._since_utc_ns = self._clock.now().utc_ns
        for name, work in (("pace", self._pace), ("watch", self._watch)):
            task = asyncio.create_task(work(), name=f"{self._link.id} {name}")
            task.add_done_callback(self._ended)
            self._tasks.append(task)
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Disconnect; within two seconds, whatever the server does."""
        self._stopping = True
        for task in self._tasks:
            task.cancel()
        if self._tasks:
            await asyncio.wait(self._tasks, timeout=0.2)
        await self._session.close()
        # Python 3.11 can swallow a cancellation inside the library; with the socket gone, the
        # call that swallowed it has failed by now, and the flag ends its loop.
        if any(not task.done() for task in self._tasks):
            await asyncio.wait(self._tasks, timeout=0.2)

    async def readings(self) -> AsyncIterator[Readings]:
        """Yield a block of each layout every period of line time.

        Raises:
            LinkLost: the session is gone, or the server is no longer heard.
        """
        while True:
            block = await self._blocks.get()
            if isinstance(block, BaseException):
                raise block
            yield block

    def picture(self) -> LinkPicture:
        """Return how the link is doing."""
        tally = self._session.tally
        response_ms = tally.response_ms()
        slow = response_ms is not None and response_ms > 500.0 * self._link.timeout
        return LinkPicture(
            id=self._link.id,
            protocol=self._link.protocol,
            address=self._link.address,
            state="slow" if slow else "connected",
            reason=self._notes.text(self._newest.offset_ns),
            since_utc_ns=self._since_utc_ns,
            response_ms=response_ms,
            requests=tally.requests,
            failures=dict(tally.failures),
            last_failure=tally.last_failure,
            poll_s=self._poll_s,
        )

    # --- what the session tells ----------------------------------------------------------

    def _told(self, place: int, data: ua.DataValue) -> None:
        """Put a notification down; no more, for the library swallows what is raised here."""
        if data.StatusCode is not None and overflowed(int(data.StatusCode.value)):
            self._notes.lost[self._items[place].tag] += 1
        self._arrived[place] = (data, self._clock.now())

    def _take_arrived(self) -> None:
        """Let what was notified count. Only the newest of each item is wanted."""
        arrived, self._arrived = self._arrived, {}
        for place, (data, at) in arrived.items():
            self._newest.notify(place, data, at)

    def _gone(self, happened: str) -> None:
        self._fail(LinkLost(self._link.id, "listening to its subscription", happened))

    def _ended(self, task: asyncio.Task[None]) -> None:
        """Hand on how a task ended: a driver whose task died unseen would look alive."""
        if not task.cancelled() and (error := task.exception()) is not None:
            self._fail(error)

    def _fail(self, error: BaseException) -> None:
        # What waits in the queue is older than the loss; it makes room for it if it must.
        while self._blocks.full():
            self._blocks.get_nowait()
        self._blocks.put_nowait(error)

    # --- the start of a session ----------------------------------------------------------

    async def _resolve(self) -> None:
        """Find each item's node by its namespace's URI; indices hold for one session only."""
        self._namespaces = await self._session.namespaces()
        for place, item in enumerate(self._items):
            if item.namespace in self._namespaces:
                index = self._namespaces.index(item.namespace)
                self._nodes[place] = node_id(index, item.node)
            else:
                self._newest.close(place, Quality.REFUSED)
                self._notes.missing[item.tag] = f"no namespace {item.namespace}"

    async def _identify(self) -> None:
        """Compare what each item is with what it was, and its unit with what we take it for."""
        places = list(self._nodes)
        wanted = [self._nodes[place] for place in places]
        doing = "asking what its items are"
        names = await self._session.read(wanted, AttributeIds.BrowseName, doing)
        types = await self._session.read(wanted, AttributeIds.DataType, doing)
        units = await self._units(wanted)
        known = acquaintances(self._link.id, self._link.address)
        for place, name, kind, unit in zip(places, names, types, units, strict=True):
            item = self._items[place]
            identity = Identity(
                browse_name=_browse_name(name), data_type=self._type_name(kind), unit=unit
            )
            if not identity.browse_name:
                continue
            changed = known.changed(item.namespace, item.node, identity)
            if not changed and unit and not item.unit_is_stated and unit != item.unit:
                changed = f"it is in {unit}, taken for {item.unit}; state `unit` in its read"
            if changed:
                self._newest.close(place, Quality.FOREIGN)
                self._notes.foreign[item.tag] = changed

    async def _units(self, wanted: list[ua.NodeId]) -> list[str]:
        """Return the unit that the server states of each node; '' if it states none."""
        properties = await self._session.properties(wanted, "EngineeringUnits")
        asked = [node for node in properties if node is not None]
        told = iter(await self._session.read(asked, doing="asking for units"))
        return ["" if node is None else unit_in(next(told)) for node in properties]

    def _type_name(self, told: ua.DataValue) -> str:
        """Return a data type's id with its namespace's URI instead of its index."""
        node = None if told.Value is None else told.Value.Value
        if not isinstance(node, ua.NodeId):
            return ""
        index = int(node.NamespaceIndex)
        uri = self._namespaces[index] if index < len(self._namespaces) else str(index)
        return f"{uri} {node.Identifier!r}"

    async def _read_all(self) -> None:
        """Read every item: what a subscription misses, and what was missing, shows here."""
        places = list(self._nodes)
        told = await self._session.read([self._nodes[place] for place in places])
        self._take_arrived()
        now = self._clock.now()
        for place, data in zip(places, told, strict=True):
            if self._newest.answer(place, data, now):
                self._missed.add(place)
        self._notes.polled = [self._items[place].tag for place in sorted(self._missed)]

    async def _subscribe(self) -> None:
        places = list(self._nodes)
        wanted = [self._nodes[place] for place in places]
        wishes = [self._wish(place) for place in places]
        granted = await self._session.subscribe(wanted, wishes, self._keep_alive_s)
        self._silent_after_s = 2.0 * max(self._keep_alive_s, granted.keep_alive_s)
        self._silent_after_s += self._link.timeout
        self._publishing_s = granted.publishing_s
        for wish, got in zip(wishes, granted.items, strict=True):
            self._note_monitoring(wish, got)

    def _note_monitoring(self, wish: Wish, got: Monitored) -> None:
        """Keep what a person should know of how the server monitors an item."""
        tag, place = self._items[wish.handle].tag, wish.handle
        if got.status:
            self._unmonitored.add(place)
            self._notes.missing[tag] = ua.StatusCode(ua.UInt32(got.status)).name
            return
        self._unmonitored.discard(place)
        self._notes.missing.pop(tag, None)
        if got.sampling_s > 1.5 * wish.sampling_s:
            self._notes.slower[tag] = got.sampling_s
        if got.kept < got.wanted:
            self._notes.kept[tag] = (got.kept, got.wanted)
        elif self._publishing_s > 1.5 * wish.sampling_s:
            self._notes.bunched[tag] = self._publishing_s

    def _wish(self, place: int) -> Wish:
        """Return how an item should be monitored; its place is its handle."""
        item = self._items[place]
        period_s = item.period_ns / NS / self._clock.speed
        often_s = min(self._link.sampling / 1000.0, period_s)
        return Wish(
            handle=place,
            sampling_s=max(FASTEST_SAMPLING_S, item.sampling_s or often_s),
            queue=item.queue,
        )

    # --- while it lasts --------------------------------------------------------------------

    async def _pace(self) -> None:
        """Bring a block of each layout when it is due in line time."""
        fastest_ns = round(FASTEST_NS * self._clock.speed)
        periods_ns = [max(layout.period_ns, fastest_ns) for layout in self.layouts]
        due_ns = [self._clock.now().mono_ns] * len(self.layouts)
        last_ns = list(due_ns)
        while self.layouts and not self._stopping:
            place = due_ns.index(min(due_ns))
            await self._clock.sleep_until(due_ns[place])
            self._take_arrived()
            now = self._clock.now()
            await self._blocks.put(self._newest.block(self.layouts[place], now))
            if periods_ns[place] == min(periods_ns) and now.mono_ns > last_ns[place]:
                self._poll_s = (now.mono_ns - last_ns[place]) / NS
            last_ns[place] = now.mono_ns
            # A period that was missed is missed; blocks are never brought in a bunch.
            due_ns[place] = max(due_ns[place] + periods_ns[place], now.mono_ns)

    async def _watch(self) -> None:
        """Notice a server that is no longer heard, and read what its subscription misses."""
        crossed_s = self._clock.wall_s()
        while not self._stopping:
            due_s = self._clock.wall_s() + self._until_next_look_s()
            await asyncio.sleep(due_s - self._clock.wall_s())
            now_s = self._clock.wall_s()
            if now_s - due_s > HELD_UP_S:
                # This program stood, not the server: what it sent meanwhile is yet to be heard.
                self._session.last_publish_s = now_s
            silent_s = now_s - self._session.last_publish_s
            if silent_s > self._silent_after_s:
                happened = f"the subscription has been silent for {silent_s:.0f} s"
                raise LinkLost(self._link.id, "listening to its subscription", happened)
            await self._session.probe()
            if now_s - crossed_s >= self._link.cross_check or self._missed:
                crossed_s = now_s
                await self._cross_check()

    def _until_next_look_s(self) -> float:
        often_s = self._link.sampling / 1000.0 if self._missed else self._keep_alive_s
        return max(FASTEST_SAMPLING_S, min(often_s, self._keep_alive_s, self._link.cross_check))

    async def _cross_check(self) -> None:
        if await self._session.namespaces() != self._namespaces:
            happened = "the server's namespaces have changed"
            raise LinkLost(self._link.id, "comparing its namespaces", happened)
        await self._read_all()
        if self._unmonitored:
            places = sorted(self._unmonitored)
            wishes = [self._wish(place) for place in places]
            wanted = [self._nodes[place] for place in places]
            monitored = await self._session.monitor(wanted, wishes)
            for wish, got in zip(wishes, monitored, strict=True):
                self._note_monitoring(wish, got)


def _browse_name(told: ua.DataValue) -> str:
    name = None if told.Value is None else told.Value.Value
    return cleaned(str(name.Name)) if isinstance(name, ua.QualifiedName) else ""
