"""One exchange at a time: the owner of a connection, and those who ask through it.

Rule 1: one exchange at a time. Whoever asks waits for a promise, and may be cancelled at any
        moment; the exchange that is under way ends as it would have ended. Where nothing is
        in the way, the question is written at once, and the answer's arrival keeps the
        promise; whatever takes waiting (a connection, quiet, another try) is the owner's, one
        task that does it in order.
Rule 2: a unit that owes an answer is not asked; see the guard. Where nothing in an answer
        could tell it from the one that is owed, Modbus TCP asks on a fresh connection; on a
        serial line, even behind a socket, only quiet will do: a gateway hands a late answer
        to whoever is connected when it comes.
Rule 3: a connection that brought an answer and was then closed in order is opened again on
        demand, once. Everything else is a lost link, and the engine's affair.
"""

from __future__ import annotations

import asyncio
from collections import deque
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from linewatch.core.errors import LinkLost
from linewatch.drivers.modbus.mbap import MbapGuard
from linewatch.drivers.modbus.question import Answer, Broken, Failure, Refusal
from linewatch.drivers.modbus.rtu import RtuGuard
from linewatch.drivers.modbus.wire import Ended, connect, rest_s

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewatch.config.model import LinkSection
    from linewatch.core.ports import Clock
    from linewatch.drivers.modbus.book import Book
    from linewatch.drivers.modbus.ear import Ear
    from linewatch.drivers.modbus.guard import Guard, Stray
    from linewatch.drivers.modbus.question import Question, Verdict
    from linewatch.drivers.modbus.wire import Wire

SHOWN = 16
"""So many bytes of a babbling peer stand in the message."""
CLOSE_S = 1.0
"""Hard limit for ending the owner."""
HABIT_S = 0.01
"""A peer that closes so soon after an answer does so by habit, not because it was told to."""
REOPEN_LEAST_S = 10.0
"""A peer that closes oftener than this, and not by habit, is being used by somebody else."""
QUIET_S = 0.005
"""Between two blocks of one unit that only their order tells apart: an answer that is sent
twice comes twice within this time."""
LINE_HOLDS = 3.0
"""A serial line keeps no queue: after so many time limits of quiet nothing is owed."""
LISTEN_LONGEST_S = 1.0
"""A serial line is listened to before anything is asked, for what an earlier master asked."""
LISTEN_SOCKET_S = 0.1
"""A gateway gives a new connection a queue of its own (common practice); what it hands over
all the same comes at once. Line time may run sixty times as fast, so no longer than this."""
LAPSE_LEAST_S = 10.0
LAPSE_LIMITS = 10.0
"""After so many time limits of quiet even a gateway's queue has run dry."""


class _Asked(NamedTuple):
    """A question that waits for its turn."""

    question: Question
    limit_s: float
    promise: asyncio.Future[Verdict]
    ended: tuple[Wire, Ended] | None = None
    """The connection on which it was asked, if that ended instead of answering, and how."""


class Conversation:
    """Questions and verdicts over one connection, which it opens, owns and closes.

    Args:
        link: Which connection.
        clock: The time.
        book: Takes note of how it goes.
        note: Takes what arrived and was no answer.
    """

    def __init__(
        self, link: LinkSection, clock: Clock, book: Book, note: Callable[[Stray], None]
    ) -> None:
        self._link = link
        self._clock = clock
        self._book = book
        self._note = note
        self._is_line = link.protocol != "modbus-tcp"
        self._guard: Guard = RtuGuard(echo=link.echo) if self._is_line else MbapGuard()
        self._gap_s = link.gap / 1000.0
        if link.protocol == "modbus-rtu":
            self._gap_s = max(self._gap_s, rest_s(link))
        self._wire: Wire | None = None
        self._owner: asyncio.Task[None] | None = None
        self._promise: asyncio.Future[Verdict] | None = None
        """Of the exchange that is under way, or was last."""
        self._waiting: deque[_Asked] = deque()
        self._wake = asyncio.Event()
        self._is_open = False
        self._is_busy = False
        """An exchange is under way, or what comes before the first."""
        self._answers = 0
        """Valid answers on the present connection."""
        self._has_ever_answered = False
        self._closes_by_habit = False
        self._reopened_s = -REOPEN_LEAST_S

    async def open(self) -> None:
        """Connect and let the owner begin.

        Raises:
            LinkLost: nobody listens.
        """
        self._wire = await connect(self._link, self._guard, self._clock.wall_s, self._note)
        self._is_open = self._is_busy = True
        self._owner = asyncio.create_task(self._own(), name=f"owner of {self._link.id}")
        self._owner.add_done_callback(self._owner_ended)

    async def close(self) -> None:
        """End the owner and the connection, whatever the peer does."""
        self._is_open = False
        self._wake.set()
        owner, self._owner = self._owner, None
        if owner is not None:
            owner.cancel()
            # A cancellation can be swallowed on Python 3.11; the flag and the limit cannot.
            await asyncio.wait([owner], timeout=CLOSE_S)
        await self.hang_up()

    async def hang_up(self) -> None:
        """Close the connection; the next question opens another."""
        wire, self._wire = self._wire, None
        if wire is not None:
            await wire.close()

    def listen(self, ear: Ear | None) -> None:
        """Let an ear hear every frame too; None: no longer."""
        self._guard.ear = ear

    def held_unit_s(self, unit: int) -> float:
        """Return how long an answering unit must be left alone [s of wall time]."""
        since_s = self._guard.owing_since(unit)
        if since_s is None:
            return 0.0
        return max(0.0, since_s + self._link.timeout - self._clock.wall_s())

    def held_s(self, question: Question) -> float:
        """Return how long a question must not be asked [s of wall time]."""
        unit = question.answering_unit
        since_s = self._guard.owing_since(unit)
        if since_s is None:
            return 0.0
        left_s = self.held_unit_s(unit)
        if left_s > 0.0:
            return left_s
        now_s, limit_s = self._clock.wall_s(), self._link.timeout
        self._guard.forgive(unit, now_s - max(LAPSE_LEAST_S, LAPSE_LIMITS * limit_s))
        if not (self._is_line and self._guard.is_confusable(question)):
            return 0.0
        left_s = since_s + LINE_HOLDS * limit_s - now_s
        if left_s <= 0.0:
            self._guard.forgive(unit, now_s)
        return max(0.0, left_s)

    def owes(self, unit: int) -> bool:
        """Say whether an answering unit owes an answer."""
        return self._guard.owing_since(unit) is not None

    def in_doubt(self, unit: int, *, has_ids: bool) -> bool:
        """Say whether an answering unit owes an answer that carries no id."""
        return (self._is_line or not has_ids) and self.owes(unit)

    def owed(self, unit: int) -> frozenset[tuple[int, int]]:
        """Return the shapes that a late answer of an answering unit could have."""
        return self._guard.owed(unit)

    async def ask(self, question: Question, limit_s: float) -> Verdict:
        """Ask, and return what came of it; the limit starts when the question is written.

        A unit that still owes an answer is not asked: that is a broken exchange, too. The
        caller may be cancelled: the exchange goes on without it.

        Raises:
            LinkLost: the connection is gone.
        """
        if not self._is_open:
            raise self._lost(f"reading {question}", "the link is closed")
        promise: asyncio.Future[Verdict] = asyncio.get_running_loop().create_future()
        asked = _Asked(question, limit_s, promise)
        wire = self._free_for(question)
        if wire is None:
            self._waiting.append(asked)
            self._wake.set()
        else:
            self._is_busy, self._promise = True, promise
            told = partial(self._settle, wire, asked, self._clock.wall_s())
            try:
                self._begin(wire, asked, told)
            except Exception as fault:  # noqa: BLE001 - passed on to everybody who waits
                self._fail(fault)
        return await promise

    # Without waiting.

    def _free_for(self, question: Question) -> Wire | None:
        """Return the connection if the question may be written to it this instant."""
        wire = self._wire
        if self._is_busy or self._waiting or wire is None or wire.ended is not None:
            return None
        # What is owed, and a pause that the line must have, are the owner's to wait for.
        if self.owes(question.answering_unit) or (
            wire.heard_s is not None and self._quiet_until_s(wire, question) > wire.heard_s
        ):
            return None
        return wire

    def _begin(
        self, wire: Wire, asked: _Asked, told: Callable[[Verdict | Ended], None]
    ) -> None:
        self._book.asked()
        wire.begin(asked.question, asked.limit_s, told)

    def _settle(self, wire: Wire, asked: _Asked, began_s: float, news: Verdict | Ended) -> None:
        """Keep the promise; a connection that ended is left to the owner."""
        self._is_busy = False
        if isinstance(news, Ended):
            if not self._is_open:
                _break(asked.promise, self._lost(f"reading {asked.question}", news.text))
                return
            self._waiting.appendleft(asked._replace(ended=(wire, news)))
        else:
            self._keep(asked, began_s, news)
        if self._waiting:
            self._wake.set()

    def _keep(self, asked: _Asked, began_s: float, verdict: Verdict) -> None:
        try:
            verdict = self._noted(asked.question, verdict, began_s)
        except LinkLost as lost:
            _break(asked.promise, lost)
            return
        except Exception as fault:  # noqa: BLE001 - passed on to everybody who waits
            self._fail(fault)
            return
        if not asked.promise.done():
            asked.promise.set_result(verdict)

    # The owner.

    async def _own(self) -> None:
        if self._is_line:
            longest_s = (
                LISTEN_LONGEST_S if self._link.protocol == "modbus-rtu" else LISTEN_SOCKET_S
            )
            await asyncio.sleep(min(longest_s, self._link.timeout))
        self._is_busy = False
        while self._is_open:
            if self._is_busy or not self._waiting:
                self._wake.clear()
                await self._wake.wait()
                continue
            asked = self._waiting.popleft()
            if asked.promise.cancelled():
                continue
            self._is_busy, self._promise = True, asked.promise
            try:
                await self._exchange(asked)
            except LinkLost as lost:
                _break(asked.promise, lost)
            finally:
                self._is_busy = False

    def _owner_ended(self, owner: asyncio.Task[None]) -> None:
        fault = None if owner.cancelled() else owner.exception()
        self._fail(fault or self._lost("waiting for an answer", "the link was closed"))

    def _fail(self, error: BaseException) -> None:
        """Leave nobody waiting; a fault of ours is passed on, and ends the conversation."""
        self._is_open = False
        self._wake.set()
        for promise in (self._promise, *(each.promise for each in self._waiting)):
            if promise is not None:
                _break(promise, error)
        self._waiting.clear()

    async def _exchange(self, asked: _Asked) -> None:
        """Have a question answered, whatever that takes.

        Raises:
            LinkLost: the connection is gone.
        """
        question = asked.question
        if asked.ended is None and self.held_s(question) > 0.0:
            verdict = Broken(Failure.OWED, "an older answer is still owed")
            if not asked.promise.done():
                asked.promise.set_result(verdict)
            return
        doing = f"reading {question}"
        ended, asked = asked.ended, asked._replace(ended=None)
        for is_retry in (False, True):
            if ended is None:
                wire = await self._ready(question, doing)
                began_s = self._clock.wall_s()
                news = await self._answer(wire, asked)
                if not isinstance(news, Ended):
                    self._keep(asked, began_s, news)
                    return
                ended = wire, news
            wire, how = ended
            self._book.failed(Failure.CLOSED, f"{doing}: {how.text}")
            if is_retry or not self._may_reopen(wire):
                raise self._lost(doing, self._why_ended(how))
            await self.hang_up()
            ended = None
        raise AssertionError("an exchange ends in its loop")

    async def _ready(self, question: Question, doing: str) -> Wire:
        """Return a connection to which the question may be written now."""
        wire = await self._connected(doing)
        if not self._is_line and self._guard.is_confusable(question):
            await self.hang_up()
            wire = await self._connected(doing)
        if wire.heard_s is not None:
            left_s = self._quiet_until_s(wire, question) - self._clock.wall_s()
            if left_s > 0.0:
                await asyncio.sleep(left_s)
        return wire

    async def _answer(self, wire: Wire, asked: _Asked) -> Verdict | Ended:
        answer: asyncio.Future[Verdict | Ended] = asyncio.get_running_loop().create_future()

        def told(news: Verdict | Ended) -> None:
            if not answer.done():
                answer.set_result(news)

        self._begin(wire, asked, told)
        return await answer

    def _noted(self, question: Question, verdict: Verdict, began_s: float) -> Verdict:
        if isinstance(verdict, Broken):
            self._book.failed(verdict.failure, f"{question}: {verdict.text}", verdict.raw)
            if verdict.failure is Failure.NOT_MODBUS and not self._is_line:
                shown = verdict.raw[:SHOWN].hex(" ").upper()
                raise self._lost(
                    f"reading {question}",
                    f"{verdict.text}: {shown}",
                    lasting=not self._has_ever_answered,
                )
            return verdict
        if isinstance(verdict, Answer | Refusal):
            self._answers += 1
            self._has_ever_answered = True
            self._book.answered(self._clock.wall_s() - began_s)
        return verdict

    async def _connected(self, doing: str) -> Wire:
        """Return a living connection, opening one on demand."""
        wire = self._wire
        if wire is not None and wire.ended is None:
            return wire
        if wire is not None and wire.ended is not None:
            if not self._may_reopen(wire):
                raise self._lost(doing, self._why_ended(wire.ended))
            await self.hang_up()
        self._answers = 0
        self._wire = await connect(self._link, self._guard, self._clock.wall_s, self._note)
        return self._wire

    def _may_reopen(self, wire: Wire) -> bool:
        ended, now_s = wire.ended, self._clock.wall_s()
        if ended is None or not self._answers:
            return False
        if not ended.reset and wire.heard_s is not None:
            self._closes_by_habit |= wire.ended_s - wire.heard_s < HABIT_S
        if self._closes_by_habit:
            return True
        if ended.reset or now_s - self._reopened_s < REOPEN_LEAST_S:
            return False
        self._reopened_s = now_s
        return True

    def _why_ended(self, ended: Ended) -> str:
        if not self._answers:
            return f"{ended.text} before any answer; another master may be connected"
        return f"{ended.text}; another master may be connected"

    def _quiet_until_s(self, wire: Wire, question: Question) -> float:
        """Return until when the line is left alone after it was last heard [wall time]."""
        quiet_s = self._gap_s
        if self._guard.follows_alike(question):
            quiet_s = max(quiet_s, QUIET_S)
        return (wire.heard_s or 0.0) + quiet_s

    def _lost(self, doing: str, happened: str, *, lasting: bool = False) -> LinkLost:
        return LinkLost(self._link.id, doing, happened, lasting=lasting)


def _break(promise: asyncio.Future[Verdict], error: BaseException) -> None:
    if not promise.done():
        promise.set_exception(error)
