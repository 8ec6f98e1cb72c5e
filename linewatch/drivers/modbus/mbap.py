"""Modbus TCP framing: a header with an id and a length in front of each PDU.

References:
    MODBUS Messaging on TCP/IP Implementation Guide V1.0b (Modbus Organization, 2006),
    section 3.1.3: transaction id, protocol id 0, length, unit id.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.drivers.modbus.guard import SHOWN, Guard
from linewatch.drivers.modbus.question import EXCEPTION, Broken, Failure, Identity, judged

if TYPE_CHECKING:
    from linewatch.drivers.modbus.guard import Debt
    from linewatch.drivers.modbus.question import Question, Verdict

HEADER = struct.Struct(">HHHB")
BEFORE_UNIT = 6
"""Bytes of the header that its length does not count."""
SHORTEST, LONGEST = 2, 254
"""What a header's length can be: unit and function at the least, at most 253 bytes of PDU."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame in parts."""

    raw: bytes
    transaction: int
    unit: int
    pdu: bytes


def swapped(transaction: int) -> int:
    """Return an id with its two bytes exchanged."""
    return (transaction >> 8) | (transaction & 0xFF) << 8


class MbapGuard(Guard):
    """Judges what comes over a Modbus TCP connection."""

    rests = False

    def has_ids(self, question: Question) -> bool:
        """Say whether an id tells the answers of the question's device apart."""
        return question.identity is not Identity.ZERO

    def reset(self, now_s: float) -> None:
        """Begin with a new connection: an answer to the old one has nowhere to come."""
        super().reset(now_s)
        self._debts.clear()
        self._latest.clear()

    def _framed(self, question: Question) -> bytes:
        # 0 is never issued: a device that answers with it has no id of ours in mind.
        self._transaction = self._transaction % 0xFFFF + 1
        pdu = question.pdu()
        return HEADER.pack(self._transaction, 0, len(pdu) + 1, question.unit) + pdu

    def _scan(self, now_s: float, *, rested: bool) -> Verdict | None:  # noqa: ARG002
        while not _is_foreign(self._buffer):
            frame = self._next_frame()
            if frame is None:
                return None
            verdict = self._judge(frame, now_s)
            if verdict is not None:
                return self._alone(frame, verdict, now_s)
        return self._babble(now_s)

    def _next_frame(self) -> Frame | None:
        """Take the first frame off the buffer; None while it is not complete."""
        size = _frame_size(self._buffer)
        if size == 0:
            return None
        raw = bytes(self._buffer[:size])
        del self._buffer[:size]
        transaction, _, _, unit = HEADER.unpack_from(raw)
        return Frame(raw, transaction, unit, raw[HEADER.size :])

    def _judge(self, frame: Frame, now_s: float) -> Verdict | None:
        question = self._question
        if question is None or not self._is_ours(question, frame):
            self._explain(frame, now_s)
            return None
        if frame.raw == self._frame:
            # With three bytes asked for, an echo can have the very shape of an answer.
            self._suspicious(Failure.ECHO, "what answers only echoes the request", frame.raw)
            return None
        if frame.unit != question.answering_unit:
            text = f"unit {question.answering_unit} was asked, unit {frame.unit} answers"
            return self._broken(Failure.FOREIGN_UNIT, text, frame.raw, now_s)
        verdict = judged(question, frame.pdu)
        if isinstance(verdict, Broken):
            return self._broken(verdict.failure, verdict.text, frame.raw, now_s)
        return verdict

    def _is_ours(self, question: Question, frame: Frame) -> bool:
        match question.identity:
            case Identity.EXACT:
                return frame.transaction == self._transaction
            case Identity.SWAPPED:
                return frame.transaction == swapped(self._transaction)
            case Identity.ZERO:
                # 0 is no id: then the unit has to tell whose answer it is, and what could
                # be an older one's answer is no answer.
                return frame.transaction == self._transaction or (
                    frame.transaction == 0
                    and frame.unit == question.answering_unit
                    and not self._is_only_owed(question, frame)
                )

    def _is_only_owed(self, question: Question, frame: Frame) -> bool:
        """Say whether a frame answers a debt of its unit and not the question."""
        return isinstance(judged(question, frame.pdu), Broken) and any(
            self._pays(debt, frame) for debt in self._debts.get(frame.unit, ())
        )

    def _explain(self, frame: Frame, now_s: float) -> None:
        """Tell a late answer from a foreign one."""
        if self._is_late(frame, now_s):
            return
        question = self._question
        if question is None:
            self._unasked(frame.unit, frame.raw, now_s)
            return
        remedy = ""
        if frame.transaction == swapped(self._transaction):
            remedy = ": its bytes are swapped; see `swapped_transaction`"
        elif frame.transaction == 0:
            remedy = ": it is always 0; see `zero_transaction`"
        text = (
            f"answers carry a foreign id ({frame.transaction:04X} for"
            f" {self._transaction:04X}){remedy}"
        )
        self._suspicious(Failure.FOREIGN_ID, text, frame.raw)

    def _is_late(self, frame: Frame, now_s: float) -> bool:
        for unit, debts in self._debts.items():
            for place, debt in enumerate(debts):
                if self._pays(debt, frame):
                    self._late(unit, place, frame.raw, now_s)
                    return True
        return False

    def _pays(self, debt: Debt, frame: Frame) -> bool:
        """Say whether a frame is the late answer to a debt."""
        match debt.question.identity:
            case Identity.EXACT:
                return frame.transaction == debt.transaction
            case Identity.SWAPPED:
                return frame.transaction == swapped(debt.transaction)
            case Identity.ZERO:
                return frame.transaction == debt.transaction or (
                    frame.transaction == 0
                    and frame.unit == debt.question.answering_unit
                    and not isinstance(judged(debt.question, frame.pdu), Broken)
                )

    def _alone(self, first: Frame, verdict: Verdict, now_s: float) -> Verdict:
        """Look behind an answer: another that fits as well leaves neither believable."""
        question = self._question
        self._accepted = first.raw
        while not _is_foreign(self._buffer) and (frame := self._next_frame()) is not None:
            if question is None or not self._is_ours(question, frame):
                self._explain(frame, now_s)
            elif frame.raw != first.raw:
                text = "two answers to one question"
                return self._broken(Failure.TWO_ANSWERS, text, first.raw + frame.raw, now_s)
            else:
                self._stray(Failure.UNASKED, "the same answer twice", frame.raw)
        return verdict

    def _babble(self, now_s: float) -> Verdict | None:
        raw = bytes(self._buffer[:SHOWN])
        self._buffer.clear()
        text = "what answers is not Modbus TCP"
        if self._question is None:
            self._stray(Failure.NOT_MODBUS, text, raw)
            return None
        return self._broken(Failure.NOT_MODBUS, text, raw, now_s)

    def _unreadable(self, left: bytes) -> Broken:
        return Broken(Failure.NOISE, "an answer without an end", left)


def _is_foreign(buffer: bytearray) -> bool:
    """Say whether a buffer begins with what no Modbus TCP header can be.

    Protocol id 0 and a length of one byte leave three bytes that are always 0.
    """
    if any(buffer[2:5]):
        return True
    return len(buffer) >= BEFORE_UNIT and not SHORTEST <= buffer[5] <= LONGEST


def _frame_size(buffer: bytearray) -> int:
    """Return the length of the first frame; 0 while it is not complete."""
    left = len(buffer)
    if left <= HEADER.size:
        return 0
    size = BEFORE_UNIT + buffer[5]
    if buffer[5] == SHORTEST and buffer[HEADER.size] & EXCEPTION:
        # Some devices count the unit and the function, and forget the exception's code.
        size += 1
    return size if left >= size else 0
