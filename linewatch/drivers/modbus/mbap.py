"""Modbus TCP framing: a header with an id and a length in front of each PDU.

References:
    MODBUS Messaging on TCP/IP Implementation Guide V1.0b (Modbus Organization, 2006),
    section 3.1.3: transaction id, protocol id 0, length, unit id.
"""

from __future__ import annotations

import struct

from linewatch.drivers.modbus.guard import Guard
from linewatch.drivers.modbus.question import (
    EXCEPTION,
    Answer,
    Broken,
    Failure,
    Identity,
    Question,
    Verdict,
    judged,
)

HEADER = struct.Struct(">HHHB")
LONGEST = 254
"""Unit id and the longest PDU, 253 bytes."""


def swapped(transaction: int) -> int:
    """Return an id with its two bytes exchanged."""
    return (transaction >> 8) | (transaction & 0xFF) << 8


class MbapGuard(Guard):
    """Judges what comes over a Modbus TCP connection."""

    rests = False

    def in_doubt(self, question: Question) -> bool:
        """Say whether an older answer could be taken for this question's."""
        return question.identity is Identity.ZERO and bool(
            self._debts.get(question.answering_unit)
        )

    def _framed(self, question: Question) -> bytes:
        # 0 is never issued: a device that answers with it has no id of ours in mind.
        self._transaction = self._transaction % 0xFFFF + 1
        pdu = question.pdu()
        return HEADER.pack(self._transaction, 0, len(pdu) + 1, question.unit) + pdu

    def _scan(self, now_s: float, *, rested: bool) -> Verdict | None:  # noqa: ARG002
        buffer = self._buffer
        verdict: Verdict | None = None
        while verdict is None:
            if _is_foreign(buffer):
                return self._babble(now_s)
            size = _frame_size(buffer)
            if size == 0:
                return None
            frame = bytes(buffer[:size])
            del buffer[:size]
            verdict = self._judge(frame, now_s)
        return self._alone(verdict, now_s)

    def _judge(self, frame: bytes, now_s: float) -> Verdict | None:
        question = self._question
        transaction, unit, pdu = (frame[0] << 8 | frame[1]), frame[6], frame[7:]
        if question is None or not self._is_ours(transaction, question, unit):
            self._explain(transaction, unit, pdu, frame, now_s)
            return None
        if frame == self._frame:
            # With three bytes asked for, an echo can have the very shape of an answer.
            self._suspicious(Failure.ECHO, "what answers only echoes the request", frame)
            return None
        if unit != question.answering_unit:
            return self._broken(
                Failure.FOREIGN_UNIT,
                f"unit {question.answering_unit} was asked, unit {unit} answers",
                frame,
                now_s,
            )
        verdict = judged(question, pdu)
        if isinstance(verdict, Broken):
            return self._broken(verdict.failure, verdict.text, frame, now_s)
        return verdict

    def _is_ours(self, transaction: int, question: Question, unit: int) -> bool:
        match question.identity:
            case Identity.EXACT:
                return transaction == self._transaction
            case Identity.SWAPPED:
                return transaction == swapped(self._transaction)
            case Identity.ZERO:
                # 0 is no id: then the unit has to tell whose answer it is.
                return transaction == self._transaction or (
                    transaction == 0 and unit == question.answering_unit
                )

    def _explain(
        self, transaction: int, unit: int, pdu: bytes, frame: bytes, now_s: float
    ) -> None:
        """Tell a late answer from a foreign one."""
        question = self._question
        for owing, debts in self._debts.items():
            for place, debt in enumerate(debts):
                if transaction in {debt.transaction, swapped(debt.transaction)}:
                    self._late(owing, place, frame, now_s)
                    return
        if transaction == 0 and self._paid(unit, pdu, frame, now_s):
            return
        if question is None:
            self._stray(Failure.UNASKED, "an answer that nobody asked for", frame)
            return
        remedy = ""
        if transaction == swapped(self._transaction):
            remedy = ": its bytes are swapped; see `swapped_transaction`"
        elif transaction == 0:
            remedy = ": it is always 0; see `zero_transaction`"
        self._suspicious(
            Failure.FOREIGN_ID,
            f"answers carry a foreign id ({transaction:04X} for"
            f" {self._transaction:04X}){remedy}",
            frame,
        )

    def _alone(self, verdict: Verdict, now_s: float) -> Verdict:
        """Look behind an answer: another that fits as well leaves neither believable."""
        while size := _frame_size(self._buffer):
            frame = bytes(self._buffer[:size])
            del self._buffer[:size]
            question = self._question
            transaction, unit, pdu = (frame[0] << 8 | frame[1]), frame[6], frame[7:]
            if question is None or not self._is_ours(transaction, question, unit):
                self._explain(transaction, unit, pdu, frame, now_s)
            elif not (isinstance(verdict, Answer) and judged(question, pdu) == verdict):
                return self._broken(
                    Failure.TWO_ANSWERS, "two answers to one question", frame, now_s
                )
        return verdict

    def _babble(self, now_s: float) -> Broken:
        raw = bytes(self._buffer[:64])
        self._buffer.clear()
        return self._broken(Failure.NOT_MODBUS, "what answers is not Modbus TCP", raw, now_s)


def _is_foreign(buffer: bytearray) -> bool:
    """Say whether a buffer begins with what no Modbus TCP header can be."""
    if len(buffer) >= 3 and buffer[2] != 0:
        return True
    if len(buffer) >= 4 and buffer[3] != 0:
        return True
    if len(buffer) >= 5 and buffer[4] != 0:
        return True
    return len(buffer) >= 6 and not 2 <= buffer[5] <= LONGEST


def _frame_size(buffer: bytearray) -> int:
    """Return the length of the first frame; 0 while it is not complete."""
    if len(buffer) < 8 or _is_foreign(buffer):
        return 0
    size = 6 + buffer[5]
    if size == 8 and buffer[7] & EXCEPTION:
        # Some devices count the unit and the function, and forget the exception's code.
        size = 9
    return size if len(buffer) >= size else 0
