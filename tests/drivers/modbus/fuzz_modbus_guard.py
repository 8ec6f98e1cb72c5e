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
from linewatch.drivers.modbus.question import Answer, Identity, Question, Refusal
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
        self.random = random.Random(seed)
        self.rtu = rtu
        self.guard = RtuGuard() if rtu else MbapGuard()
        self.now_s = 0.0
        self.owed: list[tuple[Question, Wanted]] = []
        self.report = Report()

    def step(self) -> None:
        """Ask, answer somehow, and compare the guard's verdict with the second opinion."""
        rand = self.random
        question = self._question()
        if self.guard.is_confusable(question):
            # What the owner of a link does: such a question goes over a fresh connection.
            self.guard.reset()
            self.owed.clear()
        request = self.guard.ask(question, self.now_s)
        wanted = Wanted.by(question, request, rtu=self.rtu)
        payload = rand.randbytes(wanted.size)
        kind = rand.choice(KINDS)
        stream, has_answer = getattr(self, f"_{kind}")(wanted, payload, request)
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
        report = self.report
        report.frames += 1
        report.kinds[kind] += 1
        report.nearly_right += kind in NEARLY_RIGHT
        report.answers_sent += has_answer
        if isinstance(verdict, Answer):
            report.accepted += 1
            fitting = wanted.answers_in(stream)
            if verdict.payload not in fitting or (has_answer and verdict.payload != payload):
                report.wrong.append(f"{kind}: {request.hex(' ')} -> {stream.hex(' ')}")
            elif not has_answer:
                report.wrong.append(f"{kind}, no answer: {request.hex(' ')} {stream.hex(' ')}")
        elif kind == "clean":
            report.clean_refused.append(f"{request.hex(' ')} -> {stream.hex(' ')}: {verdict}")
        if has_answer or isinstance(verdict, Answer | Refusal):
            # A device answers in order: nothing older of this unit is still to come.
            self.owed = [each for each in self.owed if each[1].unit != wanted.unit]
        else:
            self.owed = [*self.owed[-7:], (question, wanted)]

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

    def _clean(self, wanted, payload, request):
        stream = self.answer(wanted, payload)
        # An answer that equals the request is taken for an echo: a gap, not a guess.
        return (stream, True) if stream != request else (b"", False)

    def _wrong_unit(self, wanted, payload, request):
        unit = self.random.choice([each for each in range(256) if each != wanted.unit])
        return self.answer(wanted, payload, unit=unit), False

    def _wrong_function(self, wanted, payload, request):
        function = self.random.choice([each for each in range(256) if each != wanted.function])
        return self.frame(wanted, bytes([function, wanted.size]) + payload), False

    def _wrong_count(self, wanted, payload, request):
        size = self.random.choice([each for each in range(251) if each != wanted.size])
        return self.frame(
            wanted, bytes([wanted.function, size]) + self.random.randbytes(size)
        ), False

    def _lying_count(self, wanted, payload, request):
        size = self.random.choice([each for each in range(251) if each != wanted.size])
        claimed = self.random.choice((size, wanted.size))
        other = self.random.randbytes(size if claimed == wanted.size else wanted.size)
        return self.frame(wanted, bytes([wanted.function, claimed]) + other), False

    def _wrong_exchange(self, wanted, payload, request):
        if self.owed and (self.rtu or self.random.random() < 0.5):
            question, old = self.random.choice(self.owed)
            place = self.owed.index((question, old))
            self.owed = [
                each for each in self.owed[: place + 1] if each[1].unit != old.unit
            ] + self.owed[place + 1 :]
            zero = not self.rtu and old.takes_zero and self.random.random() < 0.5
            late = self.answer(
                old,
                self.random.randbytes(old.size),
                **({"transaction": 0} if zero else {}),
            )
            return late, False
        if self.rtu:
            return self._wrong_unit(wanted, payload, request)
        transaction = self.random.choice(
            [each for each in (1, 255, 4660, 65535) if each != wanted.transaction]
        )
        return self.answer(wanted, payload, transaction=transaction), False

    def _glued(self, wanted, payload, request):
        """Something sound but foreign in front of the answer."""
        foreign, _ = self._wrong_unit(wanted, self.random.randbytes(wanted.size), request)
        if not self.rtu:
            foreign = self.answer(
                wanted, payload[::-1], transaction=wanted.transaction ^ 0x5A5A
            )
            if wanted.takes_zero and foreign[:2] == b"\0\0":
                foreign = b""
        return foreign + self.answer(wanted, payload), True

    def _flipped(self, wanted, payload, request):
        stream = bytearray(self.answer(wanted, payload))
        # On TCP nothing protects the values themselves: only what frames them is turned.
        last = len(stream) if self.rtu else 9
        place = self.random.randrange(last)
        stream[place] ^= 1 << self.random.randrange(8)
        if not self.rtu and wanted.answers_in(bytes(stream)):
            # The turned bit made id 0 of the id, and this device's 0 is as good.
            return bytes(stream), True
        return bytes(stream), False

    def _cut_off(self, wanted, payload, request):
        stream = self.answer(wanted, payload)
        return stream[: self.random.randrange(len(stream))], False

    def _noisy(self, wanted, payload, request):
        noise = self.random.choice((b"\0", b"\xff", b"\0\0", self.random.randbytes(3)))
        if not self.rtu:
            return noise + self.answer(wanted, payload), False
        return noise + self.answer(wanted, payload), True

    def _echo(self, wanted, payload, request):
        return request, False

    def _exception(self, wanted, payload, request):
        function = self.random.randrange(128) | 0x80
        return self.frame(wanted, bytes([function, self.random.randrange(256)])), False

    def _babble(self, wanted, payload, request):
        return self.random.randbytes(self.random.randrange(300)), False

    def _inside(self, wanted, payload, request):
        """The answer's very bytes, as the values of another unit's answer."""
        inner = self.answer(wanted, payload)
        if len(inner) > 250:
            return b"", False
        unit = (wanted.unit + 1) % 256
        outer = bytes([3, len(inner)]) + inner
        foreign = None if self.rtu else wanted.transaction ^ 0x1111
        stream = self.frame(wanted, outer, unit=unit, transaction=foreign)
        return stream, False


KINDS = (
    "clean",
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
