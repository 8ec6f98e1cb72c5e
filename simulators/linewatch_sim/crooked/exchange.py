"""One request and its answer, as they pass through a crooked proxy."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import struct
from dataclasses import dataclass, field

from linewatch_sim.crooked.frames import Framing


@dataclass(slots=True, kw_only=True)
class Exchange:
    """What a deed acts upon."""

    framing: Framing
    request: bytes
    """As the client sent it."""
    answer: bytes
    """As the instrument gave it."""
    last: bytes
    """The answer before this one on the same connection; empty if there is none."""
    held: bytearray = field(repr=False)
    """Held back by earlier deeds on this connection; goes out in front of what is sent next."""
    client: asyncio.StreamWriter = field(repr=False)

    async def send(self, data: bytes) -> None:
        """Send bytes to the client, what was held back in front of them, in one write."""
        whole, self.held[:] = bytes(self.held) + data, b""
        if not self.client.is_closing():
            self.client.write(whole)
            with contextlib.suppress(ConnectionError):
                await self.client.drain()

    def changed(self, body: bytes) -> bytes:
        """Return the answer with another body (unit, function, data), framed properly."""
        return self.framing.framed(body, self.answer)

    @property
    def body(self) -> bytes:
        """Unit, function and data of the answer."""
        return self.framing.body(self.answer)

    def close(self) -> None:
        """End the connection in the polite way."""
        self.client.close()

    def reset(self) -> None:
        """Tear the connection down."""
        torn_down(self.client)


def torn_down(writer: asyncio.StreamWriter) -> None:
    """End a connection with a reset instead of a farewell."""
    peer: socket.socket | None = writer.get_extra_info("socket")
    if peer is not None:
        # Lingering for no time at all turns the farewell into a reset.
        with contextlib.suppress(OSError):
            peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    writer.transport.abort()
