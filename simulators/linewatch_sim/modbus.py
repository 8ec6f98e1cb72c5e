"""Modbus servers of our own: over TCP, and the serial frame over TCP behind a gateway.

Only reading is served. A request to write is answered with exception 01 and counted, so that
a test can tell whether anyone ever tried.
"""

from __future__ import annotations

import asyncio
import contextlib
import struct
from typing import TYPE_CHECKING

from linewatch_sim.peers import Peers
from linewatch_sim.registers import NoSuchRegister

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from linewatch_sim.registers import Memory

ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE = 1, 2, 3
TABLES = {1: "coil", 2: "discrete", 3: "holding", 4: "input"}
BIT_FUNCTIONS = (1, 2)
FUNCTION_AT, COUNT_AT = 1, 6
LENGTHS = {7: 4, 11: 4, 12: 4, 17: 4, 22: 10}
"""Bytes of serial requests with their check; 8 for those not named."""
COUNTED = (15, 16)
"""Functions whose requests say how many bytes follow."""
WRITING = frozenset({5, 6, 15, 16, 21, 22, 23})
READ_BYTES = 5
"""Function, first address and count."""
LEAST_LENGTH, MOST_LENGTH = 2, 254
"""What an MBAP header may say: unit id and request."""
MOST_KEPT = 2000
"""Answers that a unit may have to repeat."""
MOST_BITS, MOST_WORDS = 2000, 125
HOST = "127.0.0.1"


def crc16(frame: bytes) -> bytes:
    """Return the check of a serial frame, low byte first.

    References:
        Modbus over serial line, specification and implementation guide V1.02, 6.2.
    """
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc.to_bytes(2, "little")


class Station:
    """The units behind one socket: they answer a request's function and data."""

    def __init__(self, units: Mapping[int, Memory], before_answer: Callable[[], None]) -> None:
        self.units = units
        self._before_answer = before_answer
        self.silent: set[int] = set()
        """Units that do not answer."""
        self.frozen: set[int] = set()
        """Units that repeat what they answered last."""
        self._last: dict[tuple[int, bytes], bytes] = {}
        self.requests = 0
        self.writes_refused = 0

    def answer(self, unit: int, request: bytes) -> bytes | None:
        """Return the answer's function and data; None for silence."""
        self.requests += 1
        memory = self.units.get(unit)
        if memory is None or unit in self.silent or not request:
            return None
        self._before_answer()
        self.writes_refused += request[0] in WRITING
        if unit in self.frozen and (unit, request) in self._last:
            return self._last[unit, request]
        if len(self._last) > MOST_KEPT:
            self._last.clear()
        answer = self._last[unit, request] = _answer(memory, request)
        return answer


def _answer(memory: Memory, request: bytes) -> bytes:
    """Return what a unit answers: function and data, or an exception."""
    function = request[0]
    if function not in TABLES:
        return bytes((function | 0x80, ILLEGAL_FUNCTION))
    if len(request) != READ_BYTES:
        return bytes((function | 0x80, ILLEGAL_VALUE))
    first, count = struct.unpack(">HH", request[1:])
    most = MOST_BITS if function in BIT_FUNCTIONS else MOST_WORDS
    if not 1 <= count <= most:
        return bytes((function | 0x80, ILLEGAL_VALUE))
    try:
        shown = _read(memory, function, first, count)
    except NoSuchRegister:
        return bytes((function | 0x80, ILLEGAL_ADDRESS))
    return bytes((function, len(shown))) + shown


def _read(memory: Memory, function: int, first: int, count: int) -> bytes:
    if function not in BIT_FUNCTIONS:
        return memory.words(TABLES[function], first, count)
    packed = sum(on << k for k, on in enumerate(memory.bits(TABLES[function], first, count)))
    return packed.to_bytes((count + 7) // 8, "little")


class Server:
    """One listening socket; it can be dropped and comes back on the same port."""

    def __init__(self, station: Station, *, serial_frames: bool) -> None:
        self.station = station
        self._serve = self._serial if serial_frames else self._mbap
        self._server: asyncio.Server | None = None
        self._peers = Peers()
        self.port = 0

    @property
    def address(self) -> str:
        """Return where it listens, as host:port."""
        return f"{HOST}:{self.port}"

    @property
    def listens(self) -> bool:
        """Tell whether it takes connections."""
        return self._server is not None

    async def listen(self) -> None:
        """Begin to listen: first on any free port, later on the same again."""
        if self._server is None:
            self._peers.welcome = True
            self._server = await asyncio.start_server(self._meet, HOST, self.port)
            self.port = self._server.sockets[0].getsockname()[1]

    async def drop(self) -> None:
        """Close every connection and stop to listen."""
        if self._server is None:
            return
        server, self._server = self._server, None
        server.close()
        await self._peers.hang_up()
        await server.wait_closed()

    async def _meet(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        ended = contextlib.suppress(asyncio.IncompleteReadError, ConnectionError)
        with self._peers.serving(writer), ended:
            await self._serve(reader, writer)

    async def _mbap(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while True:
            transaction, protocol, length, unit = struct.unpack(
                ">HHHB", await reader.readexactly(7)
            )
            if protocol != 0 or not LEAST_LENGTH <= length <= MOST_LENGTH:
                return
            answer = self.station.answer(unit, await reader.readexactly(length - 1))
            if answer is not None:
                head = struct.pack(">HHHB", transaction, 0, len(answer) + 1, unit)
                writer.write(head + answer)
                await writer.drain()

    async def _serial(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        waiting = b""
        while True:
            more = await reader.read(512)
            if not more:
                return
            waiting += more
            while (length := _serial_length(waiting)) and len(waiting) >= length:
                frame, waiting = waiting[:length], waiting[length:]
                if crc16(frame[:-2]) != frame[-2:]:
                    waiting = b""
                    break
                answer = self.station.answer(frame[0], frame[1:-2])
                if answer is not None:
                    body = frame[:1] + answer
                    writer.write(body + crc16(body))
                    await writer.drain()


def _serial_length(waiting: bytes) -> int:
    """Return how long the request at the head is; 0 while that cannot be told."""
    function = waiting[FUNCTION_AT] if len(waiting) > FUNCTION_AT else None
    if function in COUNTED:
        return 9 + waiting[COUNT_AT] if len(waiting) > COUNT_AT else 0
    return 0 if function is None else LENGTHS.get(function, 8)
