"""The bytes' way in and out: one connection, a socket or a serial port.

Rule 1: the time limit of a question starts when its frame is written.
Rule 2: a time limit that fires late, because the program itself was held up, is no evidence
        against the device: bytes that have arrived meanwhile are looked at first.
Rule 3: closing never waits for the peer.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.errors import LinkLost

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewatch.config.model import LinkSection
    from linewatch.drivers.modbus.guard import Guard, Stray
    from linewatch.drivers.modbus.question import Question, Verdict

DEFAULT_PORT = 502
LAST_PORT = 65535
CONNECT_S = 5.0
"""Longest wait for a connection [wall time]."""
CLOSE_S = 0.5
"""How long a connection may take to close before it is torn down."""
HELD_UP_S = 0.1
"""A timer that fires so much late says more about this program than about the device."""
FLOOD_BYTES = 65536
"""Whoever sends so much after one question, or after none, is cut off."""
BITS_A_CHARACTER = 11
"""Start, 8 data, parity and stop: MODBUS over Serial Line V1.02, section 2.5.1."""
FAST_BAUD = 19200
FAST_REST_S = 0.00175
"""The pause that ends a frame above 19200 baud: the same, section 2.5.1.1."""
SOCKET_REST_S = 0.02
"""A pause on a socket that carries RTU: packets arrive unevenly."""


def rest_s(link: LinkSection) -> float:
    """Return the pause that ends a frame on a link [s]."""
    if link.protocol != "modbus-rtu":
        return SOCKET_REST_S
    if link.baud > FAST_BAUD:
        return FAST_REST_S
    return 3.5 * BITS_A_CHARACTER / link.baud


@dataclass(frozen=True, slots=True)
class Ended:
    """The connection ended, and how."""

    reset: bool
    """Torn down by the peer, not closed in order."""
    text: str


class Wire(asyncio.Protocol):
    """One connection while it lives.

    Args:
        guard: Judges what arrives.
        wall_s: Reads the wall clock.
        note: Takes what arrived and was no answer.
        pause_s: The pause that ends a frame.
    """

    def __init__(
        self,
        guard: Guard,
        wall_s: Callable[[], float],
        note: Callable[[Stray], None],
        pause_s: float,
    ) -> None:
        self._note = note
        self._guard = guard
        self._wall_s = wall_s
        self._pause_s = pause_s
        self._loop = asyncio.get_running_loop()
        self._transport: asyncio.Transport | None = None
        self._told: Callable[[Verdict | Ended], None] | None = None
        """Waits for a verdict."""
        self._due_s = 0.0
        """When the question's time is over, by the loop's clock."""
        self._limit: asyncio.TimerHandle | None = None
        self._rest: asyncio.TimerHandle | None = None
        self._closed = self._loop.create_future()
        self._received = 0
        """Bytes since the last question."""
        self.ended: Ended | None = None
        """How the connection ended; None while it lives."""
        self.heard_s: float | None = None
        """When the last byte arrived [wall time]."""
        self.ended_s = 0.0
        """When the connection ended [wall time]."""

    def begin(
        self, question: Question, limit_s: float, told: Callable[[Verdict | Ended], None]
    ) -> None:
        """Write a question.

        Args:
            question: What to ask.
            limit_s: How long to wait for the answer.
            told: Is called once with the verdict, or with how the connection ended; often
                from the event loop, and must not raise.
        """
        self._told = told
        self._received = 0
        frame = self._guard.ask(question, self._wall_s())
        if self._transport is None or self.ended is not None:
            self._tell(self.ended or Ended(reset=False, text="the connection is closed"))
            return
        self._transport.write(frame)
        self._due_s = self._loop.time() + limit_s
        if self._limit is None or self._limit.when() > self._due_s:
            self._watch_until(self._due_s)

    async def close(self) -> None:
        """Close the connection, in order if the peer lets it, otherwise at once."""
        self._tell(Ended(reset=False, text="closed by us"))
        if self._limit is not None:
            self._limit.cancel()
            self._limit = None
        transport = self._transport
        if transport is None or self._closed.done():
            return
        if transport.get_write_buffer_size():
            transport.abort()
        else:
            transport.close()
        await asyncio.wait([self._closed], timeout=CLOSE_S)
        if not self._closed.done():
            transport.abort()

    # What follows is called by the event loop.

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Take note of the way out."""
        assert isinstance(transport, asyncio.Transport)  # noqa: S101 - for the type checker
        self._transport = transport

    def data_received(self, data: bytes) -> None:
        """Let the guard judge what arrived."""
        self.heard_s = now_s = self._wall_s()
        self._received += len(data)
        if self._received > FLOOD_BYTES:
            self._flooded()
            return
        verdict = self._guard.hear(data, now_s)
        self._note_strays()
        if verdict is not None:
            self._tell(verdict)
        elif self._guard.undecided and self._told is not None:
            if self._rest is not None:
                self._rest.cancel()
            self._rest = self._loop.call_later(self._pause_s, self._rested)

    def connection_lost(self, exc: Exception | None) -> None:
        """Tell whoever waits."""
        if self.ended is None:
            self.ended_s = self._wall_s()
            self.ended = Ended(
                reset=exc is not None,
                text="the peer closed the connection" if exc is None else f"{exc}",
            )
        if not self._closed.done():
            self._closed.set_result(None)
        self._tell(self.ended)

    def _flooded(self) -> None:
        if self.ended is None and self._transport is not None:
            self.ended_s = self._wall_s()
            self.ended = Ended(reset=True, text="the peer sends without end")
            self._transport.abort()
            self._tell(self.ended)

    def _rested(self) -> None:
        verdict = self._guard.rest(self._wall_s())
        self._note_strays()
        if verdict is not None:
            self._tell(verdict)

    def _note_strays(self) -> None:
        while self._guard.strays:
            self._note(self._guard.strays.popleft())

    def _watch_until(self, at_s: float) -> None:
        """Look at `at_s` whether the time is over.

        One timer serves many questions: an answer leaves it running, and when it fires the
        question by then has its own time.
        """
        if self._limit is not None:
            self._limit.cancel()
        self._limit = self._loop.call_at(at_s, self._over, at_s)

    def _over(self, fires_s: float) -> None:
        self._limit = None
        if self._told is None:
            return
        now_s = self._loop.time()
        if now_s - fires_s > HELD_UP_S:
            self._due_s = max(self._due_s, now_s + HELD_UP_S)
        if fires_s < self._due_s:
            self._watch_until(self._due_s)
        else:
            self._tell(self._guard.give_up(self._wall_s()))

    def _tell(self, news: Verdict | Ended) -> None:
        if self._rest is not None:
            self._rest.cancel()
            self._rest = None
        told, self._told = self._told, None
        if told is not None:
            told(news)


def host_and_port(address: str) -> tuple[str, int]:
    """Return the two parts of "host:port", "[::1]:502" or a bare host.

    Raises:
        ValueError: the port is no port number.
    """
    host, colon, port = address.rpartition(":")
    if not colon or port.endswith("]"):
        return address.strip("[]"), DEFAULT_PORT
    if not (port.isdecimal() and 0 < int(port) <= LAST_PORT):
        raise ValueError(
            f'{port!r} is no port; write "host:port", the port from 1 to {LAST_PORT}'
        )
    return host.strip("[]"), int(port)


async def connect(
    link: LinkSection, guard: Guard, wall_s: Callable[[], float], note: Callable[[Stray], None]
) -> Wire:
    """Open a connection.

    Raises:
        LinkLost: nobody listens, or the port cannot be opened.
    """
    doing = f"connecting to {link.address}"
    loop = asyncio.get_running_loop()
    wire = Wire(guard, wall_s, note, rest_s(link))
    guard.reset(wall_s())
    try:
        async with asyncio.timeout(CONNECT_S):
            if link.protocol == "modbus-rtu":
                # pymodbus is imported only where there is a serial port.
                from linewatch.drivers.modbus.port import open_port

                wire.connection_made(open_port(loop, wire, link))
            else:
                host, port = host_and_port(link.address)
                await loop.create_connection(lambda: wire, host, port)
    except TimeoutError as error:
        raise LinkLost(link.id, doing, f"no connection within {CONNECT_S:g} s") from error
    except ConnectionRefusedError as error:
        raise LinkLost(link.id, doing, f"nobody listens on {link.address}") from error
    except OSError as error:
        raise LinkLost(link.id, doing, error.strerror or f"{error}") from error
    except ValueError as error:
        raise LinkLost(link.id, doing, f"{error}", lasting=True) from error
    return wire
