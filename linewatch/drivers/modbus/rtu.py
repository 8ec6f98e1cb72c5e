"""Modbus RTU framing: no length, no id, a checksum at the end; on a line with noise and echoes.

A frame's end is told by its function, its byte count and its checksum. What comes before one
that fits is hunted through byte by byte.

References:
    MODBUS over Serial Line Specification and Implementation Guide V1.02 (Modbus Organization,
    2006), sections 2.5.1 (RTU framing) and 6.2.2 (CRC generation).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.drivers.modbus.guard import Guard
from linewatch.drivers.modbus.question import (
    EXCEPTION,
    READING_FUNCTIONS,
    Broken,
    Failure,
    judged,
)

if TYPE_CHECKING:
    from linewatch.drivers.modbus.question import Question, Verdict

REQUEST_BYTES = 8
OVERHEAD_BYTES = 5
"""Unit, function and byte count in front of an answer's values, the checksum behind."""
HEADER_BYTES = 3
MOST_BYTES = 250
"""Of values in one answer: 125 registers or 2000 bits."""
LAST_FUNCTION = 0x2B
INCOMPLETE = -1
BABBLE_BYTES = 8
"""So many bytes without any sound frame are no mere glitch."""
_FIXED = {5: (8,), 6: (8,), 7: (5,), 8: (8,), 11: (8,), 15: (8,), 16: (8,), 22: (10,)}
"""Lengths of answers that are always as long, by function."""
_COUNTED = (12, 17, 20, 21, 23)
"""Other functions whose third byte counts what follows."""


def _crc_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        value = byte
        for _ in range(8):
            value = (value >> 1) ^ 0xA001 if value & 1 else value >> 1
        table.append(value)
    return tuple(table)


_TABLE = _crc_table()


def crc(frame: bytes | bytearray) -> bytes:
    """Return the checksum of a frame, in the order in which it is sent."""
    value = 0xFFFF
    table = _TABLE
    for byte in frame:
        value = (value >> 8) ^ table[(value ^ byte) & 0xFF]
    return value.to_bytes(2, "little")


class RtuGuard(Guard):
    """Judges what comes over a serial line, or over a socket that stands for one.

    Args:
        echo: The adapter is known to echo each request.
    """

    rests = True

    def __init__(self, *, echo: bool = False) -> None:
        super().__init__()
        self._echo = echo
        self._is_rtu = False

    def has_ids(self, question: Question) -> bool:  # noqa: ARG002
        """Say that nothing but its shape tells an answer apart."""
        return False

    def reset(self, now_s: float) -> None:
        """Begin with a new connection; debts stay, for the line behind it is the same."""
        if self._question is not None:
            self._owe(self._question, now_s)
        super().reset(now_s)
        self._is_rtu = False

    def _framed(self, question: Question) -> bytes:
        body = bytes((question.unit,)) + question.pdu()
        return body + crc(body)

    def _scan(self, now_s: float, *, rested: bool) -> Verdict | None:
        buffer = self._buffer
        understood = place = 0
        unfinished = False
        while place < len(buffer):
            size = _sound_size(buffer, place)
            if size == INCOMPLETE:
                if not rested:
                    break
                unfinished = True
            # Inside a frame that may not have ended yet, only what ends with the
            # transmission is a frame of its own.
            if size <= 0 or (unfinished and place + size != len(buffer)):
                place += 1
                continue
            frame = bytes(buffer[place : place + size])
            self._take(understood, place)
            understood = place = place + size
            verdict = self._judge(frame, now_s)
            if verdict is not None:
                del buffer[:understood]
                return self._alone(frame, verdict, now_s)
        del buffer[:understood]
        return self._damaged() if rested else None

    def _take(self, understood: int, place: int) -> None:
        """Note a sound frame, and the glitches before it."""
        self._is_rtu = True
        if place > understood:
            raw = bytes(self._buffer[understood:place])
            self._stray(Failure.NOISE, f"{len(raw)} bytes of noise before a frame", raw)

    def _judge(self, frame: bytes, now_s: float) -> Verdict | None:
        question = self._question
        unit, pdu = frame[0], frame[1:-2]
        if frame == self._frame and question is not None:
            # Also where it could pass for an answer of three bytes: better a gap than a guess.
            if not self._echo:
                text = "the adapter echoes each request; see `echo`"
                self._suspicious(Failure.ECHO, text, frame)
            return None
        if question is None or unit != question.answering_unit:
            if not (self._is_stutter(frame) or self._paid(unit, pdu, frame, now_s)):
                self._explain(unit, frame, now_s)
            return None
        verdict = judged(question, pdu)
        if not isinstance(verdict, Broken):
            return verdict
        if self._is_stutter(frame) or self._paid(unit, pdu, frame, now_s):
            return None
        if _is_request(frame):
            text = f"another master asks unit {unit} on this line"
            return self._broken(Failure.OTHER_MASTER, text, frame, now_s)
        return self._broken(verdict.failure, verdict.text, frame, now_s)

    def _explain(self, unit: int, frame: bytes, now_s: float) -> None:
        question = self._question
        if _is_request(frame):
            text = f"another master asks unit {unit} on this line"
            self._suspicious(Failure.OTHER_MASTER, text, frame)
        elif question is None:
            self._unasked(unit, frame, now_s)
        else:
            text = f"unit {question.answering_unit} was asked, unit {unit} answers"
            self._suspicious(Failure.FOREIGN_UNIT, text, frame)

    def _alone(self, first: bytes, verdict: Verdict, now_s: float) -> Verdict:
        """Look behind an answer: a second one leaves neither believable."""
        question = self._question
        self._accepted = first
        place = 0
        while question is not None and place < len(self._buffer):
            size = _sound_size(self._buffer, place)
            frame = bytes(self._buffer[place : place + max(0, size)])
            if size > 0 and frame[0] == question.answering_unit and frame != first:
                self._buffer.clear()
                text = "two answers to one question"
                return self._broken(Failure.TWO_ANSWERS, text, first + frame, now_s)
            place += max(1, size)
        return verdict

    def _damaged(self) -> Broken | None:
        """After a pause: an answer complete but for its checksum will not get better."""
        question = self._question
        if question is None:
            return None
        header = bytes((question.answering_unit, question.function, question.payload_bytes))
        size = OVERHEAD_BYTES + question.payload_bytes
        if len(self._buffer) < size or self._buffer[-size:][:HEADER_BYTES] != header:
            return None
        raw = bytes(self._buffer)
        self._buffer.clear()
        # It did come, in its place and at its length: no other is owed.
        return Broken(Failure.CHECKSUM, "an answer with a bad checksum", raw)

    def _unreadable(self, left: bytes) -> Broken:
        if self._is_rtu or len(left) < BABBLE_BYTES:
            return super()._unreadable(left)
        text = "what answers is not Modbus RTU, or not at this speed and parity"
        return Broken(Failure.NOT_MODBUS, text, left)


def _is_request(frame: bytes) -> bool:
    """Say whether a sound frame is a reading request rather than an answer."""
    return (
        len(frame) == REQUEST_BYTES
        and frame[1] in READING_FUNCTIONS
        and frame[2] != REQUEST_BYTES - OVERHEAD_BYTES
    )


def _sizes(function: int, third: int) -> tuple[int, ...]:
    """Return how long a frame with this function can be; nothing if there is no such frame."""
    if function & EXCEPTION:
        return (OVERHEAD_BYTES,) if 1 <= function & 0x7F <= LAST_FUNCTION else ()
    answers = (OVERHEAD_BYTES + third,) if third <= MOST_BYTES else ()
    if function in READING_FUNCTIONS:
        return (*answers, REQUEST_BYTES)
    return answers if function in _COUNTED else _FIXED.get(function, ())


def _sound_size(buffer: bytearray, place: int) -> int:
    """Return the length of the sound frame that begins here.

    0: no frame begins here. `INCOMPLETE`: one may, once more bytes have come.
    """
    left = len(buffer) - place
    if left < HEADER_BYTES:
        return INCOMPLETE
    verdict = 0
    for size in _sizes(buffer[place + 1], buffer[place + 2]):
        if left < size:
            verdict = INCOMPLETE
            continue
        end = place + size
        if crc(buffer[place : end - 2]) == buffer[end - 2 : end]:
            return size
    return verdict
