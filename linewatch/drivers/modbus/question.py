"""One question to a unit, and what its answer must look like.

Rule 1: only the four reading functions can be written down: 01 coils, 02 discrete inputs,
        03 holding registers, 04 input registers. Every byte that leaves comes from `pdu`.
Rule 2: an answer is an answer only if unit, function and byte count all fit. What fits in
        part is told by name, for the person who has to find out why.

References:
    MODBUS Application Protocol Specification V1.1b3 (Modbus Organization, 2012), sections
    6.1 to 6.4 (the four functions) and 7 (exceptions).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

BIT_FUNCTIONS = (1, 2)
READING_FUNCTIONS = (1, 2, 3, 4)
MOST_REGISTERS = 125
MOST_BITS = 2000
TABLE_END = 0x10000
LAST_UNIT = 255
EXCEPTION = 0x80
"""The bit that marks a function code as refused."""
EXCEPTION_BYTES = 2


class Failure(StrEnum):
    """What went wrong, as the link's counts name it."""

    SILENT = "no answer"
    LATE = "late answer"
    REFUSED = "refused"
    BUSY = "busy"
    FOREIGN_ID = "foreign id"
    FOREIGN_UNIT = "foreign unit"
    WRONG_FUNCTION = "wrong function"
    WRONG_COUNT = "wrong count"
    TWO_ANSWERS = "two answers"
    UNASKED = "unasked answer"
    CHECKSUM = "bad checksum"
    NOISE = "noise"
    ECHO = "echo"
    OTHER_MASTER = "another master"
    NOT_MODBUS = "not Modbus"
    CLOSED = "closed by the peer"
    OWED = "still owed"
    """Not asked at all: an older answer may still come."""


class Identity(StrEnum):
    """How a device returns the transaction id."""

    EXACT = "exact"
    SWAPPED = "swapped"
    """Its two bytes change places."""
    ZERO = "zero"
    """Always 0: as good as none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One reading request."""

    unit: int
    function: int
    address: int
    """On the wire, from 0."""
    count: int
    """Registers, or bits for functions 01 and 02."""
    answers_as: int | None = None
    """The unit id in the answer, if it is not the unit's own."""
    identity: Identity = Identity.EXACT

    def __post_init__(self) -> None:
        if self.function not in READING_FUNCTIONS:
            raise ValueError(f"function {self.function} does not read; use 1, 2, 3 or 4")
        most = MOST_BITS if self.function in BIT_FUNCTIONS else MOST_REGISTERS
        if not 1 <= self.count <= most:
            raise ValueError(f"count is {self.count}; function {self.function} has 1 to {most}")
        if not 0 <= self.address <= TABLE_END - self.count:
            raise ValueError(f"{self.count} from address {self.address} pass the table's end")
        if not 0 <= self.unit <= LAST_UNIT:
            raise ValueError(f"unit is {self.unit}; units are 0 to 255")

    @property
    def answering_unit(self) -> int:
        """The unit id that the answer must carry."""
        return self.unit if self.answers_as is None else self.answers_as

    @property
    def payload_bytes(self) -> int:
        """How many bytes of values the answer must carry."""
        return (self.count + 7) // 8 if self.function in BIT_FUNCTIONS else 2 * self.count

    @property
    def shape(self) -> tuple[int, int]:
        """What an answer without an id can be told apart by: function and byte count."""
        return self.function, self.payload_bytes

    def pdu(self) -> bytes:
        """Return function, address and count as they go over the wire."""
        return struct.pack(">BHH", self.function, self.address, self.count)

    def __str__(self) -> str:
        what = {1: "coils", 2: "inputs", 3: "registers", 4: "input registers"}[self.function]
        return f"{self.count} {what} from {self.address} of unit {self.unit}"


@dataclass(frozen=True, slots=True)
class Answer:
    """The bytes of the values, exactly as many as were asked for."""

    payload: bytes


@dataclass(frozen=True, slots=True)
class Refusal:
    """The unit, or a gateway for it, answered with an exception."""

    code: int


@dataclass(frozen=True, slots=True)
class Broken:
    """The exchange is over and brought nothing that may be believed."""

    failure: Failure
    text: str
    """What happened, in words."""
    raw: bytes = b""
    """What was received."""


Verdict: TypeAlias = "Answer | Refusal | Broken"

EXCEPTION_WORDS = {
    1: "illegal function",
    2: "illegal address",
    3: "illegal count",
    4: "device failure",
    5: "acknowledged, still working",
    6: "busy",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "gateway target does not respond",
}
"""Specification section 7, in our own words."""


def judged(question: Question, pdu: bytes) -> Verdict:
    """Say whether a PDU from the right unit answers the question.

    Returns:
        The answer or refusal, or what of it does not fit.
    """
    if not pdu:
        return Broken(Failure.WRONG_COUNT, "an answer without a function code", pdu)
    if pdu[0] == question.function | EXCEPTION:
        if len(pdu) != EXCEPTION_BYTES:
            return Broken(Failure.WRONG_COUNT, f"an exception of {len(pdu)} bytes", pdu)
        return Refusal(pdu[1])
    if pdu[0] != question.function:
        return Broken(
            Failure.WRONG_FUNCTION,
            f"function {question.function:02X} was asked, {pdu[0]:02X} answers",
            pdu,
        )
    wanted = question.payload_bytes
    if len(pdu) != 2 + wanted or pdu[1] != wanted:
        return Broken(
            Failure.WRONG_COUNT,
            f"{wanted} bytes were asked for, {max(0, len(pdu) - 2)} came",
            pdu,
        )
    return Answer(pdu[2:])
