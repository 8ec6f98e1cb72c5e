"""A Modbus link: polls its units in fair turns and reports what they say.

Rule 1: silence, a refusal and nonsense are bad blocks; only a lost connection is `LinkLost`.
Rule 2: no value is kept for a later block. (A thermocouple's cold junction is looked up among
        the latest readings, and only while those are fresh.)
Rule 3: a link of which no unit answers is lost, connected or not.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from linewatch.core.readings import Quality, Readings
from linewatch.drivers.modbus.book import Book
from linewatch.drivers.modbus.exchange import Conversation
from linewatch.drivers.modbus.junctions import Junctions
from linewatch.drivers.modbus.question import Answer, Broken, Refusal
from linewatch.drivers.modbus.schedule import Timetable
from linewatch.drivers.modbus.treatment import Treatment
from linewatch.drivers.modbus.unit import PolledUnit, ends_poll, quality_of

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from types import TracebackType

    from linewatch.config.links import LinkSettings
    from linewatch.core.ports import Clock, Driver
    from linewatch.core.readings import Layout
    from linewatch.core.view import LinkPicture
    from linewatch.drivers.modbus.decode import Decoder, Sheet
    from linewatch.drivers.modbus.ear import Ear
    from linewatch.drivers.modbus.planner import Request
    from linewatch.drivers.modbus.question import Question, Verdict


class ModbusDriver:
    """One Modbus link.

    Args:
        settings: The link with its devices and tags.
        clock: The time.
    """

    def __init__(self, settings: LinkSettings, clock: Clock) -> None:
        self._link = settings.link
        self._clock = clock
        self._units = [PolledUnit(poll) for poll in settings.devices]
        self._turns = [
            (unit, layout)
            for unit, poll in zip(self._units, settings.devices, strict=True)
            for layout in poll.layouts
        ]
        self.layouts: tuple[Layout, ...] = tuple(layout for _, layout in self._turns)
        self._book = Book(settings.link, clock)
        self._treatment = Treatment(
            settings.link, [poll.device for poll in settings.devices], clock, self._book
        )
        self._conversation = Conversation(
            settings.link, clock, self._book, self._treatment.note
        )
        self._timetable: Timetable | None = None
        self._junctions = Junctions(settings.devices)

    async def __aenter__(self) -> Driver:
        """Connect.

        Raises:
            LinkLost: nobody listens.
        """
        await self._conversation.open()
        self._book.state("connected")
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Disconnect; within two seconds, whatever the peer does."""
        await self._conversation.close()

    async def readings(self) -> AsyncIterator[Readings]:
        """Yield each block as it arrives; a silent unit as bad blocks.

        Raises:
            LinkLost: the connection is gone, or no unit answers.
        """
        start_ns = self._clock.now().mono_ns
        periods_ns = [layout.period_ns for layout in self.layouts]
        self._timetable = timetable = Timetable(periods_ns, start_ns, self._clock.speed)
        if not periods_ns:
            # Nothing to read is no reason to come back again and again.
            await asyncio.Event().wait()
        while True:
            place, due_ns = timetable.next()
            await self._clock.sleep_until(due_ns)
            unit, layout = self._turns[place]
            if self._treatment.stands_back(unit.device.unit) and timetable.stand_back(
                self._clock.now().mono_ns
            ):
                continue
            readings = await self._poll(unit, layout)
            timetable.served(readings.mono_ns)
            yield readings

    async def ask(self, question: Question) -> Verdict:
        """Put one question between the polls, for a person who commissions a device.

        Raises:
            LinkLost: the connection is gone.
        """
        return await self._conversation.ask(question, self._link.timeout)

    def listen(self, ear: Ear | None) -> None:
        """Let an ear hear every frame too; None: no longer. Nothing that is asked changes."""
        self._conversation.listen(ear)

    def picture(self) -> LinkPicture:
        """Return how the link is doing; cheap."""
        if self._book.is_connected:
            self._book.state(*self._treatment.state(self._held_s))
        return self._book.picture(
            silent=self._treatment.silent(),
            poll_s=self._timetable.reached_s() if self._timetable is not None else None,
        )

    def _held_s(self, unit: int) -> float:
        return self._conversation.held_unit_s(unit)

    async def _poll(self, unit: PolledUnit, layout: Layout) -> Readings:
        """Ask a unit for one layout, or say without asking why not."""
        decoder = unit.decoder(layout, self._clock.wall_s())
        requests = decoder.plan.requests
        reason = self._treatment.why_not(unit.device.unit)
        if reason is None and self._is_held(unit, requests):
            reason = Quality.NO_ANSWER
        if reason is not None:
            return Readings.silence(layout, self._clock.now(), reason)
        sheet = decoder.sheet()
        reason = await self._prove_in_step(unit, layout)
        results: list[tuple[Request, Verdict]] = []
        for request in requests:
            if reason is None:
                brought = await self._fetch(unit, request)
                reason = _laid_down(decoder, sheet, brought)
                results += brought
            else:
                sheet.fail(request.spans, reason)
        unit.polled(decoder.plan, results, self._clock.wall_s())
        if self._link.connect_each_poll:
            await self._conversation.hang_up()
        # Stamped after the answers: the values are at least this fresh, never fresher.
        at = self._clock.now()
        value, quality = decoder.decoded(sheet, self._junctions.at(at.mono_ns))
        readings = Readings(
            layout=layout, utc_ns=at.utc_ns, mono_ns=at.mono_ns, value=value, quality=quality
        )
        self._junctions.take(readings)
        return readings

    def _is_held(self, unit: PolledUnit, requests: tuple[Request, ...]) -> bool:
        return self._conversation.owes(unit.answering_unit) and any(
            self._conversation.held_s(unit.question(request)) > 0.0 for request in requests
        )

    async def _prove_in_step(self, unit: PolledUnit, layout: Layout) -> Quality | None:
        """Ask, where that is in doubt, what no late answer can be mistaken for.

        Returns None if the unit may be asked further, otherwise the reason why not.
        """
        if not self._conversation.in_doubt(unit.answering_unit, has_ids=unit.has_ids):
            return None
        proof = unit.proof(
            layout, self._conversation.owed(unit.answering_unit), self._clock.wall_s()
        )
        if proof is None:
            return None
        verdict = await self._asked(unit, proof)
        return quality_of(verdict) if isinstance(verdict, Broken) else None

    async def _fetch(self, unit: PolledUnit, request: Request) -> list[tuple[Request, Verdict]]:
        """Ask for a block, in parts where it is refused whole."""
        verdict = await self._asked(unit, unit.question(request))
        if isinstance(verdict, Refusal):
            parts = unit.parts(request, verdict.code, self._clock.wall_s())
            if parts:
                results = await self._in_parts(unit, parts)
                unit.split_up(request, results)
                return results
        return [(request, verdict)]

    async def _in_parts(
        self, unit: PolledUnit, parts: tuple[Request, ...]
    ) -> list[tuple[Request, Verdict]]:
        results: list[tuple[Request, Verdict]] = []
        for part in parts:
            last = results[-1][1] if results else None
            if last is not None and not isinstance(last, Answer) and ends_poll(last):
                results.append((part, last))
            else:
                results += await self._fetch(unit, part)
        return results

    async def _asked(self, unit: PolledUnit, question: Question) -> Verdict:
        limit_s = self._treatment.limit_s(unit.device.unit)
        verdict = await self._conversation.ask(question, limit_s)
        self._treatment.judge(unit.device.unit, verdict)
        return verdict


def _laid_down(
    decoder: Decoder, sheet: Sheet, results: list[tuple[Request, Verdict]]
) -> Quality | None:
    """Lay down what a request brought; return why the unit is not worth asking further."""
    reason = None
    for part, verdict in results:
        if isinstance(verdict, Answer):
            decoder.put(sheet, part, verdict.payload)
            continue
        sheet.fail(part.spans, quality_of(verdict))
        if ends_poll(verdict):
            reason = quality_of(verdict)
    return reason


def open_driver(settings: LinkSettings, clock: Clock) -> Driver:
    """Return a driver for a Modbus link."""
    return ModbusDriver(settings, clock)
