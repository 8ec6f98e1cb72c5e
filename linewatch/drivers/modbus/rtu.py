"""Modbus RTU framing: no length, no id, a checksum at the end; on a line with noise and echoes.

A frame's end is told by its function, its byte count and its checksum. What comes before one
that fits is hunted through byte by byte.

References:
    MODBUS over Serial Line Specification and Implementation Guide V1.02 (Modbus Organization,
    2006), sections 2.5.1 (RTU framing) and 6.2.2 (CRC generation).
"""

from __future__ import annotations

from linewatch.drivers.modbus.guard import Guard
from linewatch.drivers.modbus.question import (
    EXCEPTION,
    READING_FUNCTIONS,
    Broken,
    Failure,
    Question,
    Verdict,
    judged,
)

REQUEST_BYTES = 8
INCOMPLETE = -1
_FIXED = {5: (8,), 6: (8,), 7: (5,), 8: (8,), 11: (8,), 15: (8,), 16: (8,), 22: (10,)}
"""Lengths of answers that are always as long, by function."""
_COUNTED = (12, 17, 20, 21, 23)
"""Other functions whose third byte counts what follows."""


def _crc_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
        table.append(crc)
    return tuple(table)


_TABLE = _crc_table()


def crc(frame: bytes) -> bytes:
    """Return the checksum of a frame, in the order in which it is sent."""
    value = 0xFFFF
    table = _TABLE
    for byte in frame:
        value = (value >> 8) ^ table[(value ^ byte) & 0xFF]
    return value.to_bytes(2, "little")


class RtuGuard(Guard):
    """Judges what comes over a serial line, or over a socket that stands for one."""

    rests = True

    def in_doubt(self, question: Question) -> bool:
        """Say whether an older answer could be taken for this question's."""
        return bool(self._debts.get(question.answering_unit))

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
            self._noise(understood, place)
            understood = place = place + size
            verdict = self._judge(frame, now_s)
            if verdict is not None:
                del buffer[:understood]
                return self._alone(verdict, now_s)
        del buffer[:understood]
        return self._damaged(now_s) if rested else None

    def _noise(self, start: int, place: int) -> None:
        if place > start:
            raw = bytes(self._buffer[start:place])
            self._stray(Failure.NOISE, f"{place - start} bytes of noise before a frame", raw)

    def _judge(self, frame: bytes, now_s: float) -> Verdict | None:
        question = self._question
        unit, pdu = frame[0], frame[1:-2]
        if frame == self._frame:
            # Also where it could pass for an answer of three bytes: better a gap than a guess.
            if not self._echo:
                self._stray(
                    Failure.ECHO, "the adapter echoes each request; set `echo = true`", frame
                )
            return None
        if question is not None and unit == question.answering_unit:
            verdict = judged(question, pdu)
            if not isinstance(verdict, Broken):
                return verdict
            if self._paid(unit, pdu, frame, now_s):
                return None
            if _is_request(frame):
                return self._broken(
                    Failure.OTHER_MASTER, "another master asks on this line", frame, now_s
                )
            return self._broken(verdict.failure, verdict.text, frame, now_s)
        if self._paid(unit, pdu, frame, now_s):
            return None
        self._explain(unit, frame)
        return None

    def _explain(self, unit: int, frame: bytes) -> None:
        question = self._question
        if _is_request(frame):
            self._stray(Failure.OTHER_MASTER, "another master asks on this line", frame)
        elif question is None:
            self._stray(Failure.UNASKED, "an answer that nobody asked for", frame)
        else:
            self._suspicious(
                Failure.FOREIGN_UNIT,
                f"unit {question.answering_unit} was asked, unit {unit} answers",
                frame,
            )

    def _alone(self, verdict: Verdict, now_s: float) -> Verdict:
        """Look behind an answer: a second one leaves neither believable."""
        question = self._question
        place = 0
        while question is not None and place < len(self._buffer):
            size = _sound_size(self._buffer, place)
            frame = bytes(self._buffer[place : place + max(0, size)])
            if size > 0 and frame[0] == question.answering_unit:
                self._buffer.clear()
                return self._broken(
                    Failure.TWO_ANSWERS, "two answers to one question", frame, now_s
                )
            place += max(1, size)
        return verdict

    def _damaged(self, now_s: float) -> Broken | None:
        """After a pause: an answer that is complete but for its checksum will not get better."""
        question = self._question
        if question is None:
            return None
        header = bytes((question.answering_unit, question.function, question.payload_bytes))
        place = self._buffer.find(header)
        if place < 0 or len(self._buffer) - place < 5 + question.payload_bytes:
            return None
        raw = bytes(self._buffer)
        self._buffer.clear()
        return self._broken(Failure.CHECKSUM, "an answer with a bad checksum", raw, now_s)


def _is_request(frame: bytes) -> bool:
    """Say whether a sound frame is a reading request rather than an answer."""
    return (
        len(frame) == REQUEST_BYTES
        and frame[1] in READING_FUNCTIONS
        and frame[2] != REQUEST_BYTES - 5
    )


def _sizes(function: int, third: int) -> tuple[int, ...]:
    """Return how long a frame with this function can be; nothing if there is no such frame."""
    if function & EXCEPTION:
        return (5,) if 1 <= function & 0x7F <= 0x2B else ()
    if function in READING_FUNCTIONS:
        return (5 + third, REQUEST_BYTES) if third <= 250 else (REQUEST_BYTES,)
    if function in _COUNTED:
        return (5 + third,) if third <= 250 else ()
    return _FIXED.get(function, ())


def _sound_size(buffer: bytearray, place: int) -> int:
    """Return the length of the sound frame that begins here.

    0: no frame begins here. `INCOMPLETE`: one may, once more bytes have come.
    """
    left = len(buffer) - place
    if left < 3:
        return INCOMPLETE
    incomplete = 0
    for size in _sizes(buffer[place + 1], buffer[place + 2]):
        if left < size:
            incomplete = INCOMPLETE
            continue
        end = place + size
        if crc(buffer[place : end - 2]) == buffer[end - 2 : end]:
            return size
    return incomplete
