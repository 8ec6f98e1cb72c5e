"""What may happen to one answer on its way. Adding a deed is adding a class.

All waiting is in wall time: it belongs to the wire.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from linewatch_sim.crooked.frames import crc16

if TYPE_CHECKING:
    from linewatch_sim.crooked.exchange import Exchange


class Deed(Protocol):
    """Carries one answer, or fails to."""

    async def play(self, exchange: Exchange) -> None:
        """Do to the answer what this deed does."""
        ...


@dataclass(frozen=True, slots=True)
class Faithful:
    """Passes the answer on as it is."""

    async def play(self, exchange: Exchange) -> None:
        """Send it."""
        await exchange.send(exchange.answer)


@dataclass(frozen=True, slots=True)
class Late:
    """The right answer, some time after it was due."""

    by_s: float

    async def play(self, exchange: Exchange) -> None:
        """Wait, then send it."""
        await asyncio.sleep(self.by_s)
        await exchange.send(exchange.answer)


@dataclass(frozen=True, slots=True)
class Split:
    """The answer in pieces, each a segment of its own."""

    size: int = 1
    gap_s: float = 0.002

    async def play(self, exchange: Exchange) -> None:
        """Send it piece by piece."""
        for start in range(0, len(exchange.answer), self.size):
            await exchange.send(exchange.answer[start : start + self.size])
            await asyncio.sleep(self.gap_s)


@dataclass(frozen=True, slots=True)
class Held:
    """Held back, and sent in one segment in front of the next answer."""

    async def play(self, exchange: Exchange) -> None:
        """Keep it."""
        exchange.held += exchange.answer


@dataclass(frozen=True, slots=True)
class Glued:
    """The answer before this one once more, and this one, in one segment."""

    async def play(self, exchange: Exchange) -> None:
        """Send both."""
        await exchange.send(exchange.last + exchange.answer)


@dataclass(frozen=True, slots=True)
class Noise:
    """Bytes in front of the answer, as the turn of a two-wire bus leaves them."""

    glitch: bytes = b"\x00"

    async def play(self, exchange: Exchange) -> None:
        """Send noise and answer in one segment."""
        await exchange.send(self.glitch + exchange.answer)


@dataclass(frozen=True, slots=True)
class Echoed:
    """The request comes back in front of the answer, as some adapters do."""

    async def play(self, exchange: Exchange) -> None:
        """Send request and answer in one segment."""
        await exchange.send(exchange.request + exchange.answer)


@dataclass(frozen=True, slots=True)
class AsTransaction:
    """A Modbus TCP answer that carries another transaction's id."""

    transaction: int = 0

    async def play(self, exchange: Exchange) -> None:
        """Send it under the other id."""
        await exchange.send(self.transaction.to_bytes(2, "big") + exchange.answer[2:])


@dataclass(frozen=True, slots=True)
class SwappedTransaction:
    """A Modbus TCP answer whose transaction id has its two bytes swapped."""

    async def play(self, exchange: Exchange) -> None:
        """Send it so."""
        await exchange.send(exchange.answer[1::-1] + exchange.answer[2:])


@dataclass(frozen=True, slots=True)
class AsUnit:
    """An answer in another unit's name, properly framed."""

    unit: int

    async def play(self, exchange: Exchange) -> None:
        """Send it so."""
        await exchange.send(exchange.changed(bytes([self.unit]) + exchange.body[1:]))


@dataclass(frozen=True, slots=True)
class AsFunction:
    """An answer to another function, properly framed."""

    function: int

    async def play(self, exchange: Exchange) -> None:
        """Send it so."""
        body = exchange.body
        await exchange.send(exchange.changed(body[:1] + bytes([self.function]) + body[2:]))


@dataclass(frozen=True, slots=True)
class Shortened:
    """An answer with fewer registers than were asked for, properly framed."""

    by_registers: int = 1

    async def play(self, exchange: Exchange) -> None:
        """Send it so."""
        body = exchange.body
        count = max(body[2] - 2 * self.by_registers, 0)
        await exchange.send(exchange.changed(body[:2] + bytes([count]) + body[3 : 3 + count]))


@dataclass(frozen=True, slots=True)
class Refused:
    """An exception instead of the answer: 4 failed, 6 busy, 10 and 11 from a gateway."""

    code: int

    async def play(self, exchange: Exchange) -> None:
        """Send the exception."""
        unit, function = exchange.body[0], exchange.body[1] | 0x80
        await exchange.send(exchange.changed(bytes([unit, function, self.code])))


@dataclass(frozen=True, slots=True)
class Replaced:
    """Other bytes altogether."""

    data: bytes

    async def play(self, exchange: Exchange) -> None:
        """Send them."""
        await exchange.send(self.data)


@dataclass(frozen=True, slots=True)
class Garbled:
    """An answer with one bit turned over; an RTU checksum then does not fit."""

    place: int = 3

    async def play(self, exchange: Exchange) -> None:
        """Send it so."""
        wrong = bytearray(exchange.answer)
        wrong[self.place % len(wrong)] ^= 0x01
        await exchange.send(bytes(wrong))


@dataclass(frozen=True, slots=True)
class Swallowed:
    """No answer."""

    async def play(self, exchange: Exchange) -> None:
        """Do nothing at all."""


@dataclass(frozen=True, slots=True)
class Closed:
    """The answer, then the end of the connection."""

    async def play(self, exchange: Exchange) -> None:
        """Send it and close."""
        await exchange.send(exchange.answer)
        exchange.close()


@dataclass(frozen=True, slots=True)
class Reset:
    """The connection torn down instead of an answer."""

    async def play(self, exchange: Exchange) -> None:
        """Tear it down."""
        exchange.reset()


def sealed(body: bytes) -> bytes:
    """Return an RTU frame of a body, for `Replaced`."""
    return body + crc16(body)
