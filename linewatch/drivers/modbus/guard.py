"""Whether received bytes answer the outstanding question. Pure: no socket, no clock.

Rule 1: nothing is believed because it came at the right time. An answer must carry the id
        (where the framing has one), unit, function, exact byte count and checksum of the
        question that is outstanding.
Rule 2: a question that was given up is owed. Until its late answer has come, or the line has
        been quiet long enough, its unit is not asked again; other units may be, for their
        answers carry another unit id.
Rule 3: without ids, quiet proves little about a device that queues. The first answer believed
        after a debt is one that no debt could be mistaken for: another function or another
        length. A device answers in order, so that answer also proves that no older one is
        still to come.
Rule 4: what is not an answer is told by name and counted, never silently dropped.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.drivers.modbus.question import Answer, Broken, Failure, Question, judged

if TYPE_CHECKING:
    from linewatch.drivers.modbus.ear import Ear
    from linewatch.drivers.modbus.question import Verdict

LONGEST_BUFFER = 1024
"""More than several frames; what babbles past it is noise."""
DEBTS_KEPT = 8
"""Unanswered questions remembered per unit, for telling late answers from foreign ones."""
STRAYS_KEPT = 64
SHOWN = 64
"""So many bytes of what was no frame are kept for people."""


@dataclass(frozen=True, slots=True)
class Stray:
    """Something that was received and is not the answer."""

    failure: Failure
    text: str
    raw: bytes
    late_s: float | None = None
    """For a late answer: how long after its question it came."""
    unit: int | None = None
    """For a late answer: the unit that was asked."""


@dataclass(frozen=True, slots=True)
class Debt:
    """A question that was given up, and whose answer may still come."""

    question: Question
    transaction: int
    asked_s: float
    given_up_s: float


class Guard(ABC):
    """What stands between the wire and anybody who would believe it."""

    rests: bool
    """Whether a pause on the line means something (RTU) or nothing (TCP)."""

    def __init__(self) -> None:
        self.strays: deque[Stray] = deque(maxlen=STRAYS_KEPT)
        """What was not an answer since the last look; the reader empties it."""
        self.ear: Ear | None = None
        """Hears every frame too, while a person captures them."""
        self._buffer = bytearray()
        self._question: Question | None = None
        self._frame = b""
        self._accepted = b""
        self._transaction = 0
        self._asked_s = 0.0
        self._suspect: Stray | None = None
        self._debts: dict[int, deque[Debt]] = {}
        self._latest: dict[int, Question] = {}
        """The last question to each answering unit."""

    @abstractmethod
    def has_ids(self, question: Question) -> bool:
        """Say whether an id tells the answers of the question's device apart."""

    @abstractmethod
    def _framed(self, question: Question) -> bytes:
        """Return the frame that carries a question, noting its id."""

    @abstractmethod
    def _scan(self, now_s: float, *, rested: bool) -> Verdict | None:
        """Look through the buffer; drop what is understood."""

    def ask(self, question: Question, now_s: float) -> bytes:
        """Make a question the outstanding one; return the frame to write.

        Raises:
            ValueError: another question is outstanding.
        """
        if self._question is not None:
            raise ValueError("one question at a time")
        if self._buffer:
            self._stray(Failure.NOISE, "bytes before a question", bytes(self._buffer[:SHOWN]))
            self._buffer.clear()
        self._suspect = None
        self._frame = self._framed(question)
        self._question = self._latest[question.answering_unit] = question
        self._asked_s = now_s
        if self.ear is not None:
            self.ear(question.unit, self._frame, is_ours=True)
        return self._frame

    def hear(self, data: bytes, now_s: float) -> Verdict | None:
        """Take received bytes; return the verdict once there is one."""
        if self.ear is not None:
            asked = self._question.unit if self._question is not None else None
            self.ear(asked, data, is_ours=False)
        self._buffer += data
        if len(self._buffer) > LONGEST_BUFFER:
            # Not even looked through: who floods one link must not hold up the others.
            self._stray(Failure.NOISE, "endless bytes", bytes(self._buffer[:SHOWN]))
            self._buffer.clear()
            return None
        return self._over(self._scan(now_s, rested=False))

    def rest(self, now_s: float) -> Verdict | None:
        """Take note of a pause on the line; return the verdict if that decides it."""
        return self._over(self._scan(now_s, rested=True))

    @property
    def undecided(self) -> bool:
        """Whether bytes lie here that a pause could decide about."""
        return self.rests and bool(self._buffer)

    def give_up(self, now_s: float) -> Broken:
        """End the outstanding question at its time limit; its answer stays owed.

        Raises:
            ValueError: no question is outstanding.
        """
        if self._question is None:
            raise ValueError("no question is outstanding")
        self._owe(self._question, now_s)
        self._question = None
        left = bytes(self._buffer[:SHOWN])
        self._buffer.clear()
        suspect = self._suspect
        if suspect is not None:
            return Broken(suspect.failure, suspect.text, suspect.raw)
        if left:
            return self._unreadable(left)
        return Broken(Failure.SILENT, "no answer")

    def reset(self, now_s: float) -> None:  # noqa: ARG002 - a framing may need it
        """Begin with a new connection."""
        self._buffer.clear()
        self._question = None
        self._suspect = None
        self._accepted = b""

    def owing_since(self, unit: int) -> float | None:
        """Return when the last unanswered question to an answering unit was given up."""
        debts = self._debts.get(unit)
        return debts[-1].given_up_s if debts else None

    def owed(self, unit: int) -> frozenset[tuple[int, int]]:
        """Return the shapes that a late answer of this unit could have."""
        return frozenset(debt.question.shape for debt in self._debts.get(unit, ()))

    def is_confusable(self, question: Question) -> bool:
        """Say whether a late answer of its unit could be taken for this question's."""
        owed = self.owed(question.answering_unit)
        return question.shape in owed and not self.has_ids(question)

    def follows_alike(self, question: Question) -> bool:
        """Say whether the unit was last asked for another block of the same shape, without id.

        An answer sent twice would then be taken for the next one.
        """
        last = self._latest.get(question.answering_unit)
        return (
            last is not None
            and last.shape == question.shape
            and last.address != question.address
            and not self.has_ids(question)
        )

    def forgive(self, unit: int, before_s: float) -> None:
        """Drop debts of a unit that were given up before `before_s`."""
        debts = self._debts.get(unit)
        while debts and debts[0].given_up_s < before_s:
            debts.popleft()
        if not debts:
            self._debts.pop(unit, None)

    # What follows serves the framings.

    def _unreadable(self, left: bytes) -> Broken:
        return Broken(Failure.NOISE, "bytes that are no whole answer", left)

    def _over(self, verdict: Verdict | None) -> Verdict | None:
        if verdict is None or self._question is None:
            return None
        question, self._question = self._question, None
        unit = question.answering_unit
        if (
            unit in self._debts
            and isinstance(verdict, Answer)
            and question.shape not in self.owed(unit)
        ):
            # In order: what it answers is newer than every debt of this unit.
            del self._debts[unit]
        return verdict

    def _owe(self, question: Question, now_s: float) -> None:
        debts = self._debts.setdefault(question.answering_unit, deque(maxlen=DEBTS_KEPT))
        debts.append(Debt(question, self._transaction, self._asked_s, now_s))

    def _stray(self, failure: Failure, text: str, raw: bytes) -> None:
        self.strays.append(Stray(failure, text, raw))

    def _suspicious(self, failure: Failure, text: str, raw: bytes) -> None:
        """Note a stray that would explain why no answer came."""
        self._suspect = Stray(failure, text, raw)
        self.strays.append(self._suspect)

    def _broken(self, failure: Failure, text: str, raw: bytes, now_s: float) -> Broken:
        """End the exchange on what cannot be believed; without an id, the true one is owed."""
        question = self._question
        if question is not None and not self.has_ids(question):
            self._owe(question, now_s)
        return Broken(failure, text, raw)

    def _is_stutter(self, frame: bytes) -> bool:
        """Say whether a frame repeats the one that was accepted last, and note it."""
        if frame != self._accepted:
            return False
        self._stray(Failure.UNASKED, "the same answer twice", frame)
        return True

    def _unasked(self, unit: int, frame: bytes, now_s: float) -> None:
        """Note an answer that nobody waits for: this unit is a step behind, or stutters."""
        if self._is_stutter(frame):
            return
        self._stray(Failure.UNASKED, "an answer that nobody asked for", frame)
        last = self._latest.get(unit)
        if last is not None and not self.has_ids(last):
            self._owe(last, now_s)

    def _paid(self, unit: int, pdu: bytes, raw: bytes, now_s: float) -> bool:
        """Say whether a PDU is the late answer to a debt of this unit, and strike it off."""
        for place, debt in enumerate(self._debts.get(unit, ())):
            if not isinstance(judged(debt.question, pdu), Broken):
                self._late(unit, place, raw, now_s)
                return True
        return False

    def _late(self, unit: int, place: int, raw: bytes, now_s: float) -> None:
        """Strike off a debt and all older ones: answers come in order."""
        debts = self._debts[unit]
        debt = debts[place]
        late_s = now_s - debt.asked_s
        text = f"{debt.question}: answered after {late_s:.2f} s, too late"
        self.strays.append(Stray(Failure.LATE, text, raw, late_s, debt.question.unit))
        for _ in range(place + 1):
            debts.popleft()
        if not debts:
            del self._debts[unit]
