"""Small devices on real sockets, written down as scripts, and links that watch them."""

import asyncio
import struct
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest

from linewatch.config.links import DevicePoll, LinkSettings, TagRead
from linewatch.config.model import DeviceSection, LinkSection, Read
from linewatch.core.readings import Layout, Moment, Readings
from linewatch.drivers import open_driver
from linewatch.engine.clock import NS, SystemClock


def crc(frame: bytes) -> bytes:
    """The checksum bit by bit, as section 6.2.2 of the serial line guide describes it."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            odd = value & 1
            value >>= 1
            if odd:
                value ^= 0xA001
    return struct.pack("<H", value)


def sealed(body: bytes) -> bytes:
    return body + crc(body)


@dataclass
class Asked:
    """A request as a device sees it."""

    raw: bytes
    transaction: int
    unit: int
    function: int
    address: int
    count: int

    def reply(self, pdu: bytes, *, unit: int | None = None, transaction: int | None = None):
        number = self.transaction if transaction is None else transaction
        body = bytes([self.unit if unit is None else unit]) + pdu
        if self.is_rtu:
            return sealed(body)
        return struct.pack(">HHH", number, 0, len(body)) + body

    @property
    def is_rtu(self) -> bool:
        return self.transaction < 0

    def registers(self, *values: int, **header: int) -> bytes:
        payload = struct.pack(f">{len(values)}H", *values)
        return self.reply(bytes([self.function, len(payload)]) + payload, **header)

    def bits(self, packed: bytes) -> bytes:
        return self.reply(bytes([self.function, len(packed)]) + packed)

    def exception(self, code: int) -> bytes:
        return self.reply(bytes([self.function | 0x80, code]))


@dataclass
class Connection:
    """One connection as the device sees it."""

    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter
    number: int
    """From 0, in order of arrival."""
    rtu: bool
    peer: "Peer"

    async def asked(self) -> Asked:
        """Wait for the next request; ends the script when the client is gone."""
        raw = await self.reader.readexactly(8 if self.rtu else 12)
        self.peer.heard.append(raw)
        if self.rtu:
            unit, function, address, count = struct.unpack(">BBHH", raw[:6])
            asked = Asked(raw, -1, unit, function, address, count)
        else:
            transaction, _, _, unit, function, address, count = struct.unpack(">HHHBBHH", raw)
            asked = Asked(raw, transaction, unit, function, address, count)
        self.peer.asked.append(asked)
        self.peer.was_asked.set()
        return asked

    async def send(self, data: bytes) -> None:
        self.writer.write(data)
        await self.writer.drain()

    def reset(self) -> None:
        """Tear the connection down with RST."""
        sock = self.writer.get_extra_info("socket")
        sock.setsockopt(1, 13, struct.pack("ii", 1, 0))  # SOL_SOCKET, SO_LINGER: reset
        self.writer.transport.abort()


Script = Callable[[Connection], Awaitable[None]]


@dataclass
class Peer:
    """A device on a port of the system's choice, that follows a script."""

    script: Script
    rtu: bool
    port: int = 0
    heard: list[bytes] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)
    connections: list[Connection] = field(default_factory=list)
    was_reached: asyncio.Event = field(default_factory=asyncio.Event)
    was_asked: asyncio.Event = field(default_factory=asyncio.Event)

    @property
    def address(self) -> str:
        return f"127.0.0.1:{self.port}"

    async def attend(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        connection = Connection(reader, writer, len(self.connections), self.rtu, self)
        self.connections.append(connection)
        self.was_reached.set()
        try:
            await self.script(connection)
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        finally:
            writer.close()


@asynccontextmanager
async def serving(script: Script, *, rtu: bool = False) -> AsyncIterator[Peer]:
    """Serve a script on 127.0.0.1; every connection follows it from its start."""
    peer = Peer(script, rtu)
    tasks: set[asyncio.Task[None]] = set()

    def accepted(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.get_running_loop().create_task(peer.attend(reader, writer))
        tasks.add(task)
        task.add_done_callback(tasks.discard)

    server = await asyncio.start_server(accepted, "127.0.0.1", 0)
    peer.port = server.sockets[0].getsockname()[1]
    try:
        yield peer
    finally:
        server.close()
        for task in list(tasks):
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


def tag(name: str, address: int, *, kind: str = "count", **read: Any) -> dict[str, Any]:
    """A tag in short form: its name, its address on the wire and how it is read."""
    return {"tag": name, "address": address, "kind": kind, "read": read}


def device(
    name: str, tags: list[dict[str, Any]], *, period_s: float = 0.05, **section: Any
) -> DevicePoll:
    """A device with its tags; one layout for each distinct period."""
    reads = []
    for each in tags:
        options = dict(each["read"])
        period = options.pop("period_s", period_s)
        low, high, unit = (
            options.pop("low", -1e12),
            options.pop("high", 1e12),
            options.pop("wanted", ""),
        )
        if options.get("table") in {"coil", "discrete"}:
            options.setdefault("type", "bit")
        reads.append(
            TagRead(
                tag=each["tag"],
                unit=unit,
                low=low,
                high=high,
                period_ns=round(period * NS),
                read=Read(address=each["address"], **options),
                address=each["address"],
            )
        )
    layouts = tuple(
        Layout(
            link="bench",
            device=name,
            tags=tuple(read.tag for read in reads if read.period_ns == period_ns),
            period_ns=period_ns,
        )
        for period_ns in dict.fromkeys(read.period_ns for read in reads)
    )
    model = DeviceSection(id=name, link="bench", **section)
    return DevicePoll(device=model, tags=tuple(reads), layouts=layouts)


def link(address: str, *devices: DevicePoll, protocol: str = "modbus-tcp", **section: Any):
    """A link with its devices; times are given in seconds."""
    timeout = section.pop("timeout_s", 0.3)
    gap = section.pop("gap_s", 0.0)
    model = LinkSection(
        id="bench",
        protocol=protocol,
        address=address,
        timeout=f"{timeout} s",
        gap=f"{gap * 1000} ms",
        **section,
    )
    return LinkSettings(link=model, devices=devices)


@dataclass
class Watched:
    """A driver with the blocks that it brought."""

    driver: Any
    blocks: list[Readings] = field(default_factory=list)

    async def poll(self, count: int = 1) -> Readings:
        """Take so many blocks; return the last."""
        for _ in range(count):
            self.blocks.append(await anext(self._stream))
        return self.blocks[-1]

    def __post_init__(self) -> None:
        self._stream = self.driver.readings()


@asynccontextmanager
async def watching(settings: LinkSettings, clock: Any = None) -> AsyncIterator[Watched]:
    """Open a driver on settings, through the front door."""
    driver = open_driver(settings, clock or SystemClock())
    async with driver:
        watched = Watched(driver)
        try:
            yield watched
        finally:
            await watched._stream.aclose()


class Bench:
    """Everything above, for tests."""

    crc = staticmethod(crc)
    sealed = staticmethod(sealed)
    serving = staticmethod(serving)
    tag = staticmethod(tag)
    device = staticmethod(device)
    link = staticmethod(link)
    watching = staticmethod(watching)

    @staticmethod
    def moment(mono_ns: int) -> Moment:
        return Moment(utc_ns=0, mono_ns=mono_ns)


@pytest.fixture
def bench() -> type[Bench]:
    """Devices to script and links to watch them with."""
    return Bench
