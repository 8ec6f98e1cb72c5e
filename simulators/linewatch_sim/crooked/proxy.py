"""A proxy on 127.0.0.1 that stands between a driver and an instrument, and misbehaves."""

from __future__ import annotations

import asyncio
import contextlib
from collections import deque
from enum import Enum
from typing import TYPE_CHECKING, Self

from linewatch_sim.crooked.deeds import Faithful
from linewatch_sim.crooked.exchange import Exchange, torn_down
from linewatch_sim.crooked.frames import MBAP

if TYPE_CHECKING:
    from types import TracebackType

    from linewatch_sim.crooked.deeds import Deed
    from linewatch_sim.crooked.frames import Framing

_CHUNK = 65536


class Manner(Enum):
    """How a proxy receives those who connect."""

    SERVE = "serve"
    RESET_ON_ACCEPT = "reset-on-accept"
    """Accepts and tears down at once, so that connecting seems to work."""
    MUTE = "mute"
    """Accepts, listens and never answers, as a device that lost its power."""
    ONE_CLIENT_REFUSE = "one-client-refuse"
    """Serves one; whoever comes second is torn down."""
    ONE_CLIENT_KICK = "one-client-kick"
    """Serves one; whoever comes second pushes the first out."""


class CrookedProxy:
    """Passes requests on and answers back, through one deed each.

    Args:
        upstream: "host:port" of the instrument.
        framing: How its messages are told apart; PLAIN for other protocols.
    """

    def __init__(self, upstream: str, *, framing: Framing = MBAP) -> None:
        host, _, port = upstream.rpartition(":")
        self._upstream = (host, int(port))
        self._framing = framing
        self._next: deque[Deed] = deque()
        self._always: Deed = Faithful()
        self._clients: dict[asyncio.Task[None], asyncio.StreamWriter] = {}
        self._server: asyncio.Server | None = None
        self._flows = asyncio.Event()
        self._flows.set()
        self.manner = Manner.SERVE
        self.address = ""
        """Where it listens, once entered."""
        self.requests: list[bytes] = []
        """All that were heard, in order."""
        self.connections = 0
        """How many there have been."""

    async def __aenter__(self) -> Self:
        self._server = await asyncio.start_server(self._received, "127.0.0.1", 0)
        host, port = self._server.sockets[0].getsockname()
        self.address = f"{host}:{port}"
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._server is not None  # noqa: S101 - entered before
        self._server.close()
        self.cut()
        await asyncio.gather(*self._clients, return_exceptions=True)
        await self._server.wait_closed()

    def next(self, *deeds: Deed) -> None:
        """Let the next answers, one after the other, go through these deeds."""
        self._next.extend(deeds)

    def always(self, deed: Deed) -> None:
        """Let every answer that has no deed of its own go through this one."""
        self._always = deed

    def cut(self) -> None:
        """Tear down all connections; new ones are received as `manner` says."""
        for task, client in self._clients.items():
            torn_down(client)
            task.cancel()

    def freeze(self) -> None:
        """Let nothing pass, in either direction, and tell nobody: packets fall into a hole."""
        self._flows.clear()

    def thaw(self) -> None:
        """Let pass what was held up, and all that follows."""
        self._flows.set()

    def _received(self, reader: asyncio.StreamReader, client: asyncio.StreamWriter) -> None:
        self.connections += 1
        if self._is_refused():
            torn_down(client)
            return
        task = asyncio.get_running_loop().create_task(self._attend(reader, client))
        self._clients[task] = client
        task.add_done_callback(self._forget)

    def _forget(self, task: asyncio.Task[None]) -> None:
        self._clients.pop(task, None)

    def _is_refused(self) -> bool:
        if self.manner is Manner.ONE_CLIENT_KICK:
            self.cut()
        taken = any(not client.is_closing() for client in self._clients.values())
        return self.manner is Manner.RESET_ON_ACCEPT or (
            self.manner is Manner.ONE_CLIENT_REFUSE and taken
        )

    async def _attend(self, reader: asyncio.StreamReader, client: asyncio.StreamWriter) -> None:
        try:
            await self._serve(reader, client)
        except OSError:
            torn_down(client)
        finally:
            await _closed(client)

    async def _serve(self, reader: asyncio.StreamReader, client: asyncio.StreamWriter) -> None:
        if self.manner is Manner.MUTE:
            while chunk := await reader.read(_CHUNK):
                self.requests.append(chunk)
            return
        instrument_reads, instrument = await asyncio.open_connection(*self._upstream)
        try:
            await self._pass(_Passage(reader, client, instrument_reads, instrument))
        finally:
            await _closed(instrument)

    async def _pass(self, passage: _Passage) -> None:
        """Carry messages both ways until one side ends."""
        asked: deque[bytes] = deque()
        directions = [
            asyncio.create_task(self._carry_requests(passage, asked)),
            asyncio.create_task(self._carry_answers(passage, asked)),
        ]
        try:
            await asyncio.wait(directions, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in directions:
                task.cancel()
            await asyncio.gather(*directions, return_exceptions=True)

    async def _carry_requests(self, passage: _Passage, asked: deque[bytes]) -> None:
        rest = b""
        while chunk := await passage.from_client.read(_CHUNK):
            await self._flows.wait()
            found, rest = self._framing.requests(rest + chunk)
            for request in found:
                self.requests.append(request)
                asked.append(request)
                passage.to_instrument.write(request)

    async def _carry_answers(self, passage: _Passage, asked: deque[bytes]) -> None:
        rest, last, held = b"", b"", bytearray()
        while chunk := await passage.from_instrument.read(_CHUNK):
            await self._flows.wait()
            found, rest = self._framing.answers(rest + chunk)
            for answer in found:
                exchange = Exchange(
                    framing=self._framing,
                    request=asked.popleft() if asked else b"",
                    answer=answer,
                    last=last,
                    held=held,
                    client=passage.to_client,
                )
                deed = self._next.popleft() if self._next else self._always
                await deed.play(exchange)
                last = answer


async def _closed(writer: asyncio.StreamWriter) -> None:
    writer.close()
    with contextlib.suppress(OSError):
        await writer.wait_closed()


class _Passage:
    """The four ends of one connection through the proxy."""

    def __init__(
        self,
        from_client: asyncio.StreamReader,
        to_client: asyncio.StreamWriter,
        from_instrument: asyncio.StreamReader,
        to_instrument: asyncio.StreamWriter,
    ) -> None:
        self.from_client = from_client
        self.to_client = to_client
        self.from_instrument = from_instrument
        self.to_instrument = to_instrument
