"""Frames that nearly answer, by the thousand, and a second opinion on each.

Nothing here uses the guard's own parsing or checksum: requests are taken apart, and answers
put together and judged, by the few lines below.
"""

from __future__ import annotations

import random
import struct
from collections import Counter
from dataclasses import dataclass, field

from linewatch.drivers.modbus.mbap import MbapGuard
from linewatch.drivers.modbus.question import (
    Answer,
    Broken,
    Failure,
    Identity,
    Question,
    Refusal,
    Verdict,
)
from linewatch.drivers.modbus.rtu import RtuGuard

UNITS = (1, 2, 17, 247)


def checksum(body: bytes) -> bytes:
    """CRC-16 by long division, bit by bit: reflected 0x8005, start 0xFFFF."""
    value = 0xFFFF
    for byte in body:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return struct.pack("<H", value)


_KNOWN: dict[bytes, bytes] = {}


def fast_checksum(body: bytes) -> bytes:
    """The same, from a table of its own making."""
    if not _KNOWN:
        for byte in range(256):
            value = byte
            for _ in range(8):
                value = value >> 1 ^ (0xA001 if value & 1 else 0)
            _KNOWN[bytes([byte])] = struct.pack("<H", value)
    value = 0xFFFF
    for byte in body:
        (step,) = struct.unpack("<H", _KNOWN[bytes([(value ^ byte) & 0xFF])])
        value = value >> 8 ^ step
    return struct.pack("<H", value)


@dataclass
class Wanted:
    """What an answer must be, worked out from the request's bytes alone."""

    rtu: bool
    transaction: int
    unit: int
    function: int
    size: int
    takes_zero: bool
    swaps: bool

    @staticmethod
    def by(question: Question, request: bytes, *, rtu: bool) -> Wanted:
        if rtu:
            unit, function, _, count = struct.unpack(">BBHH", request[:6])
            transaction = -1
        else:
            transaction, _, _, unit, function, _, count = struct.unpack(">HHHBBHH", request)
        size = -(-count // 8) if function < 3 else 2 * count
        answers_as = question.answers_as
        return Wanted(
            rtu,
            transaction,
            unit if answers_as is None else answers_as,
            function,
            size,
            question.identity is Identity.ZERO,
            question.identity is Identity.SWAPPED,
        )

    def fits(self, frame: bytes) -> bytes | None:
        """Return the payload of one whole frame if it answers; None if it does not."""
        if self.rtu:
            if len(frame) != 5 + self.size or fast_checksum(frame[:-2]) != frame[-2:]:
                return None
            body = frame[:-2]
        else:
            if len(frame) < 9:
                return None
            transaction, protocol, length = struct.unpack(">HHH", frame[:6])
            mine = self.transaction
            if self.swaps:
                mine = (mine & 0xFF) << 8 | mine >> 8
            if transaction != mine and not (self.takes_zero and transaction == 0):
                return None
            if protocol != 0 or length != len(frame) - 6:
                return None
            body = frame[6:]
        if body[0] != self.unit or body[1] != self.function or body[2] != self.size:
            return None
        return body[3:] if len(body) == 3 + self.size else None

    def answers_in(self, stream: bytes) -> set[bytes]:
        """Return every payload in a stream that would answer."""
        found = set()
        if self.rtu:
            header = bytes([self.unit, self.function, self.size])
            place = stream.find(header)
            while place >= 0:
                payload = self.fits(stream[place : place + 5 + self.size])
                if payload is not None:
                    found.add(payload)
                place = stream.find(header, place + 1)
            return found
        place = 0
        while place + 6 <= len(stream):
            (length,) = struct.unpack(">H", stream[place + 4 : place + 6])
            payload = self.fits(stream[place : place + 6 + length])
            if payload is not None:
                found.add(payload)
            place += 6 + max(1, length)
        return found


@dataclass
class Case:
    """A request, and the answer that it should have."""

    wanted: Wanted
    payload: bytes
    request: bytes


@dataclass
class Report:
    """What came of a run."""

    frames: int = 0
    nearly_right: int = 0
    """Valid checksum and length, but wrong unit, function, count or exchange."""
    answers_sent: int = 0
    accepted: int = 0
    clean_refused: list[str] = field(default_factory=list)
    """Untouched answers that were not accepted: none should be here."""
    wrong: list[str] = field(default_factory=list)
    """Accepted although no answer: none should be here."""
    kinds: Counter[str] = field(default_factory=Counter)


class Fuzz:
    """One guard with a device that answers it badly."""

    def __init__(self, seed: int, *, rtu: bool) -> None:
        self.random = random.Random(seed)  # noqa: S311 - to be repeated, not to be secret
        self.rtu = rtu
        self.guard = RtuGuard() if rtu else MbapGuard()
        self.now_s = 0.0
        self.owed: list[tuple[Question, Wanted]] = []
        self.report = Report()

    def step(self) -> None:
        """Ask, answer somehow, and compare the guard's verdict with the second opinion."""
        question = self._question()
        if self.guard.is_confusable(question):
            # What the owner of a link does: such a question waits until nothing can come.
            if self.rtu:
                self.guard.forgive(question.answering_unit, self.now_s)
            else:
                self.guard.reset(self.now_s)
            self.owed = [
                each
                for each in self.owed
                if self.rtu and each[1].unit != question.answering_unit
            ]
        request = self.guard.ask(question, self.now_s)
        wanted = Wanted.by(question, request, rtu=self.rtu)
        case = Case(wanted, self.random.randbytes(wanted.size), request)
        kind = self.random.choice(KINDS)
        stream, has_answer = getattr(self, f"_{kind}")(case)
        verdict = self._heard(stream)
        self._count(kind, case, stream, verdict, has_answer=has_answer)
        self._settle(stream)
        came = isinstance(verdict, Answer | Refusal) or (
            # Damaged, but in its place and at its length.
            isinstance(verdict, Broken) and verdict.failure is Failure.CHECKSUM
        )
        if has_answer or came:
            # A device answers in order: nothing older of this unit is still to come.
            self.owed = [each for each in self.owed if each[1].unit != wanted.unit]
        else:
            self.owed = [*self.owed[-7:], (question, wanted)]

    def _settle(self, stream: bytes) -> None:
        """Strike off what by chance was answered: nobody could tell it from the late answer."""
        for question, old in self.owed:
            refusal = bytes([old.unit, old.function | 0x80])
            if refusal in stream or old.answers_in(stream):
                self._strike_off(question, old)

    def _strike_off(self, question: Question, old: Wanted) -> None:
        """Drop a debt and all older ones of its unit: answers come in order."""
        place = self.owed.index((question, old))
        self.owed = [
            each for each in self.owed[:place] if each[1].unit != old.unit
        ] + self.owed[place + 1 :]

    def _heard(self, stream: bytes) -> Verdict | None:
        """Let the guard hear a stream in pieces, with a pause at its end."""
        verdict = None
        for chunk in self._chunks(stream):
            self.now_s += 0.001
            verdict = self.guard.hear(chunk, self.now_s)
            if verdict is not None:
                break
        if verdict is None and self.rtu:
            verdict = self.guard.rest(self.now_s + 0.02)
        if verdict is None:
            self.guard.give_up(self.now_s + 1.0)
        self.guard.strays.clear()
        self.now_s += 2.0
        return verdict

    def _count(self, kind, case, stream, verdict, *, has_answer) -> None:
        report = self.report
        report.frames += 1
        report.kinds[kind] += 1
        report.nearly_right += kind in NEARLY_RIGHT
        report.answers_sent += has_answer
        line = f"{kind}: {case.request.hex(' ')} -> {stream.hex(' ')}: {verdict}"
        if isinstance(verdict, Answer):
            report.accepted += 1
            fits = verdict.payload in case.wanted.answers_in(stream)
            if not (fits and has_answer and verdict.payload == case.payload):
                report.wrong.append(line)
        elif kind == "clean":
            report.clean_refused.append(line)

    def _question(self) -> Question:
        rand = self.random
        function = rand.randint(1, 4)
        most = 2000 if function < 3 else 125
        count = rand.choice((1, 1, 2, 3, 8, 17, 20, 60, most))
        identity = Identity.EXACT
        if not self.rtu:
            identity = rand.choice(tuple(Identity))
        return Question(
            unit=rand.choice(UNITS),
            function=function,
            address=rand.choice((0, 1, 99, 0x0310, 40000)),
            count=min(count, most),
            answers_as=rand.choice((None, None, None, 0, 255)),
            identity=identity,
        )

    def _chunks(self, stream: bytes) -> list[bytes]:
        style = self.random.random()
        if style < 0.6 or not stream:
            return [stream]
        if style < 0.7:
            return [bytes([byte]) for byte in stream]
        cut = self.random.randrange(len(stream))
        return [part for part in (stream[:cut], stream[cut:]) if part]

    def frame(self, wanted: Wanted, pdu: bytes, *, unit=None, transaction=None) -> bytes:
        """Return a frame that is sound in itself."""
        body = bytes([wanted.unit if unit is None else unit]) + pdu
        if self.rtu:
            return body + fast_checksum(body)
        if transaction is None:
            transaction = wanted.transaction
            if wanted.swaps:
                transaction = (transaction & 0xFF) << 8 | transaction >> 8
        return struct.pack(">HHH", transaction, 0, len(body)) + body

    def answer(self, wanted: Wanted, payload: bytes, **header: int) -> bytes:
        return self.frame(wanted, bytes([wanted.function, wanted.size]) + payload, **header)

    # Each kind returns the stream, and whether the true answer stands in it untouched.

    def _clean(self, case):
        stream = self.answer(case.wanted, case.payload)
        # An answer that equals the request is taken for an echo: a gap, not a guess.
        return (stream, True) if stream != case.request else (b"", False)

    def _wrong_unit(self, case):
        unit = self.random.choice([each for each in range(256) if each != case.wanted.unit])
        return self.answer(case.wanted, case.payload, unit=unit), False

    def _wrong_function(self, case):
        function = self.random.choice(
            [each for each in range(256) if each != case.wanted.function]
        )
        return self.frame(
            case.wanted, bytes([function, case.wanted.size]) + case.payload
        ), False

    def _wrong_count(self, case):
        size = self.random.choice([each for each in range(251) if each != case.wanted.size])
        return self.frame(
            case.wanted, bytes([case.wanted.function, size]) + self.random.randbytes(size)
        ), False

    def _lying_count(self, case):
        size = self.random.choice([each for each in range(251) if each != case.wanted.size])
        claimed = self.random.choice((size, case.wanted.size))
        other = self.random.randbytes(size if claimed == case.wanted.size else case.wanted.size)
        stream = self.frame(case.wanted, bytes([case.wanted.function, claimed]) + other)
        if case.wanted.answers_in(stream):
            # A sealed answer with one byte 0 behind it is sealed as a whole, too: that is how
            # the checksum works. Then it is an answer with a glitch behind it, and no lie.
            return b"", False
        return stream, False

    def _wrong_exchange(self, case):
        if self.owed and (self.rtu or self.random.random() < 0.5):
            question, old = self.random.choice(self.owed)
            self._strike_off(question, old)
            zero = not self.rtu and old.takes_zero and self.random.random() < 0.5
            late = self.answer(
                old,
                self.random.randbytes(old.size),
                **({"transaction": 0} if zero else {}),
            )
            return late, False
        if self.rtu:
            return self._wrong_unit(case)
        transaction = self.random.choice(
            [each for each in (1, 255, 4660, 65535) if each != case.wanted.transaction]
        )
        return self.answer(case.wanted, case.payload, transaction=transaction), False

    def _glued(self, case):
        """Something sound but foreign in front of the answer."""
        answer = self.answer(case.wanted, case.payload)
        if self.rtu:
            foreign, _ = self._wrong_unit(case)
            return foreign + answer, True
        # The same answer backwards, with an id that is neither this one's nor none.
        other = int.from_bytes(answer[:2], "big") ^ 0x5A5A or 1
        return self.answer(case.wanted, case.payload[::-1], transaction=other) + answer, True

    def _flipped(self, case):
        stream = bytearray(self.answer(case.wanted, case.payload))
        # On TCP nothing protects the values themselves: only what frames them is turned.
        last = len(stream) if self.rtu else 9
        place = self.random.randrange(last)
        stream[place] ^= 1 << self.random.randrange(8)
        if not self.rtu and case.wanted.answers_in(bytes(stream)):
            # The turned bit made 0 of the id, which is as good for this device.
            return bytes(stream), True
        return bytes(stream), False

    def _cut_off(self, case):
        stream = self.answer(case.wanted, case.payload)
        return stream[: self.random.randrange(len(stream))], False

    def _noisy(self, case):
        noise = self.random.choice((b"\0", b"\xff", b"\0\0", self.random.randbytes(3)))
        if not self.rtu:
            return noise + self.answer(case.wanted, case.payload), False
        return noise + self.answer(case.wanted, case.payload), True

    def _echo(self, case):
        return case.request, False

    def _exception(self, case):
        function = self.random.randrange(128) | 0x80
        return self.frame(case.wanted, bytes([function, self.random.randrange(256)])), False

    def _babble(self, _):
        return self.random.randbytes(self.random.randrange(300)), False

    def _inside(self, case):
        """The answer's very bytes, as the values of another unit's answer."""
        inner = self.answer(case.wanted, case.payload)
        if len(inner) > 250:
            return b"", False
        unit = (case.wanted.unit + 1) % 256
        outer = bytes([3, len(inner)]) + inner
        foreign = None if self.rtu else case.wanted.transaction ^ 0x1111
        stream = self.frame(case.wanted, outer, unit=unit, transaction=foreign)
        return stream, False


KINDS = (
    "clean",
    "wrong_unit",
    "wrong_unit",
    "wrong_function",
    "wrong_count",
    "wrong_exchange",
    "wrong_exchange",
    "wrong_exchange",
    "inside",
    "exception",
    "glued",
    "flipped",
    "cut_off",
    "lying_count",
    "noisy",
    "echo",
    "babble",
)
"""What may come instead of, or beside, an answer; a kind named twice is as likely again."""
NEARLY_RIGHT = (
    "wrong_unit",
    "wrong_function",
    "wrong_count",
    "wrong_exchange",
    "inside",
    "exception",
)


def run(frames: int, seed: int, *, rtu: bool) -> Report:
    """Try so many frames on one guard."""
    fuzz = Fuzz(seed, rtu=rtu)
    for _ in range(frames):
        fuzz.step()
    return fuzz.report
