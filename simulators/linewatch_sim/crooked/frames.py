"""Where one message ends and the next begins, and how its parts are changed.

Modbus TCP: MODBUS Messaging on TCP/IP Implementation Guide V1.0b, 3.1.3 (MBAP header).
Modbus RTU: MODBUS over Serial Line V1.02, 2.5.1 and 6.2.2 (checksum).
"""

from __future__ import annotations

import struct
from typing import Protocol

_HEADER = 6
"""Bytes of an MBAP header up to and with its length."""
_EXCEPTION = 0x80
_READS = (1, 2, 3, 4)
_RTU_REQUEST = 8
"""Bytes of a request to read, checksum included."""
_RTU_EXCEPTION = 5


def crc16(body: bytes) -> bytes:
    """Return the two bytes that close an RTU frame, low byte first."""
    value = 0xFFFF
    for byte in body:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ 0xA001 if value & 1 else value >> 1
    return struct.pack("<H", value)


class Framing(Protocol):
    """How messages of one protocol are told apart and put together."""

    def requests(self, heard: bytes) -> tuple[list[bytes], bytes]:
        """Return the whole requests at the front of what was heard, and the rest."""
        ...

    def answers(self, heard: bytes) -> tuple[list[bytes], bytes]:
        """Return the whole answers at the front of what was heard, and the rest."""
        ...

    def body(self, message: bytes) -> bytes:
        """Return unit, function and data, without what frames them."""
        ...

    def framed(self, body: bytes, like: bytes) -> bytes:
        """Return a body framed as an answer to the request that `like` answers."""
        ...


class _Mbap:
    """Modbus TCP: the header tells the length."""

    def requests(self, heard: bytes) -> tuple[list[bytes], bytes]:
        found = []
        while len(heard) >= _HEADER:
            end = _HEADER + int.from_bytes(heard[4:6], "big")
            if len(heard) < end:
                break
            found.append(heard[:end])
            heard = heard[end:]
        return found, heard

    answers = requests

    def body(self, message: bytes) -> bytes:
        return message[_HEADER:]

    def framed(self, body: bytes, like: bytes) -> bytes:
        return like[:4] + struct.pack(">H", len(body)) + body


class _Rtu:
    """Modbus RTU: the function tells the length."""

    def requests(self, heard: bytes) -> tuple[list[bytes], bytes]:
        return _cut(heard, lambda _: _RTU_REQUEST)

    def answers(self, heard: bytes) -> tuple[list[bytes], bytes]:
        return _cut(heard, _rtu_answer)

    def body(self, message: bytes) -> bytes:
        return message[:-2]

    def framed(self, body: bytes, like: bytes) -> bytes:
        del like
        return body + crc16(body)


def _rtu_answer(heard: bytes) -> int:
    """Return how many bytes the answer at the front has."""
    if heard[1] & _EXCEPTION:
        return _RTU_EXCEPTION
    return 5 + heard[2] if heard[1] in _READS else _RTU_REQUEST


def _cut(heard: bytes, length_of: _LengthOf) -> tuple[list[bytes], bytes]:
    found = []
    while len(heard) > 2:  # noqa: PLR2004 - unit, function and a count tell the length
        end = length_of(heard)
        if len(heard) < end:
            break
        found.append(heard[:end])
        heard = heard[end:]
    return found, heard


class _LengthOf(Protocol):
    def __call__(self, heard: bytes, /) -> int: ...


class _Plain:
    """Any other protocol: whatever comes at once is one message."""

    def requests(self, heard: bytes) -> tuple[list[bytes], bytes]:
        return ([heard] if heard else []), b""

    answers = requests

    def body(self, message: bytes) -> bytes:
        return message

    def framed(self, body: bytes, like: bytes) -> bytes:
        del like
        return body


MBAP: Framing = _Mbap()
RTU: Framing = _Rtu()
PLAIN: Framing = _Plain()
