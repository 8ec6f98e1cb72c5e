"""A Modbus link: polls its units in fair turns and reports what they say.

Rule 1: silence, a refusal and nonsense are bad blocks; only a lost connection is `LinkLost`.
Rule 2: no value is kept for a later block. (A thermocouple's cold junction is looked up among
        the latest readings, and only while those are fresh.)
Rule 3: a link of which no unit answers is lost, connected or not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality, Readings
from linewatch.drivers.modbus.book import Book, clock_time
from linewatch.drivers.modbus.exchange import Conversation
from linewatch.drivers.modbus.question import Answer, Broken, Failure, Refusal
from linewatch.drivers.modbus.schedule import Timetable, UnitPace
from linewatch.drivers.modbus.unit import GATEWAY, TRY_LATER, PolledUnit, quality_of

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from types import TracebackType

    from linewatch.config.links import LinkSettings
    from linewatch.core.ports import Clock, Driver
    from linewatch.core.readings import Layout
    from linewatch.core.view import LinkPicture
    from linewatch.drivers.modbus.decode import Decoder, Sheet
    from linewatch.drivers.modbus.guard import Stray
    from linewatch.drivers.modbus.planner import Request
    from linewatch.drivers.modbus.question import Verdict

SILENT = (Failure.SILENT, Failure.NOISE, Failure.ECHO)
"""Failures that leave open whether anybody is there."""
SILENT_EXCHANGES = 2
"""So many silent exchanges in a row, over all units, are the least that ends a link."""
JUNCTION_PERIODS = 3.0


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
        self._paces = {
            unit.device.unit: UnitPace(configured_s=settings.link.timeout)
            for unit in self._units
        }
        self._conversation = Conversation(settings.link, clock, self._book, self._note)
        self._timetable: Timetable | None = None
        self._silent_run: list[int] = []
        self._junctions: dict[str, tuple[float, int, int]] = {
            tag.read.cold_junction: (float("nan"), int(Quality.NOT_YET), 0)
            for poll in settings.devices
            for tag in poll.tags
            if tag.read.cold_junction is not None
        }

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
        while True:
            place, due_ns = timetable.next()
            await self._clock.sleep_until(due_ns)
            unit, layout = self._turns[place]
            readings = await self._poll(unit, layout)
            timetable.served(readings.mono_ns)
            yield readings

    def picture(self) -> LinkPicture:
        """Return how the link is doing; cheap."""
        silent = tuple(
            unit.device.id for unit in self._units if self._paces[unit.device.unit].is_silent
        )
        slow = [unit for unit, pace in self._paces.items() if pace.is_slow]
        if slow:
            self._book.state("slow", f"unit {slow[0]} answers after more than the time limit")
        elif self._book.is_connected:
            self._book.state("connected")
        reached_s = self._timetable.reached_s() if self._timetable is not None else None
        return self._book.picture(silent=silent, poll_s=reached_s)

    async def _poll(self, unit: PolledUnit, layout: Layout) -> Readings:
        """Ask a unit for one layout, or say without asking that it is silent."""
        pace = self._paces[unit.device.unit]
        now_s = self._clock.wall_s()
        if not pace.may_ask(now_s) or self._is_held(unit, layout, now_s):
            quality = Quality.BUSY if pace.is_busy(now_s) else Quality.NO_ANSWER
            return Readings.silence(layout, self._clock.now(), quality)
        decoder = unit.decoder(layout, now_s)
        sheet = decoder.sheet()
        if await self._is_in_step(unit, layout):
            for request in decoder.plan.requests:
                if not await self._fill(unit, decoder, sheet, request):
                    break
        else:
            for request in decoder.plan.requests:
                sheet.fail(request.spans, Quality.NO_ANSWER)
        if self._link.connect_each_poll:
            await self._conversation.hang_up()
        at = self._clock.now()
        readings = unit.readings(layout, decoder, sheet, at, self._junction)
        self._keep_junctions(readings)
        return readings

    def _is_held(self, unit: PolledUnit, layout: Layout, now_s: float) -> bool:
        requests = unit.decoder(layout, now_s).plan.requests
        return bool(requests) and self._conversation.held_s(unit.question(requests[0])) > 0.0

    async def _is_in_step(self, unit: PolledUnit, layout: Layout) -> bool:
        """Prove, if that is in doubt, that no late answer can be taken for the next one's."""
        requests = unit.decoder(layout, self._clock.wall_s()).plan.requests
        if not requests or not self._conversation.in_doubt(unit.question(requests[0])):
            return True
        proof = unit.smaller(
            layout, self._conversation.owed(unit.question(requests[0]).answering_unit)
        )
        if proof is None:
            return True
        verdict = await self._conversation.ask(proof, self._paces[unit.device.unit].limit_s())
        self._take_note(unit, verdict)
        return not isinstance(verdict, Broken)

    async def _fill(
        self, unit: PolledUnit, decoder: Decoder, sheet: Sheet, request: Request
    ) -> bool:
        """Bring one request's values; say whether the unit is worth asking further."""
        results = await self._fetch(unit, request)
        goes_on = True
        for part, verdict in results:
            if isinstance(verdict, Answer):
                decoder.put(sheet, part, verdict.payload)
                continue
            sheet.fail(part.spans, quality_of(verdict))
            if isinstance(verdict, Broken) or verdict.code in (*TRY_LATER, *GATEWAY):
                goes_on = False
        if not goes_on:
            place = decoder.plan.requests.index(request)
            for rest in decoder.plan.requests[place + 1 :]:
                sheet.fail(rest.spans, sheet_reason(results))
        return goes_on

    async def _fetch(self, unit: PolledUnit, request: Request) -> list[tuple[Request, Verdict]]:
        """Ask for a block, in parts where it is refused whole."""
        pace = self._paces[unit.device.unit]
        verdict = await self._conversation.ask(unit.question(request), pace.limit_s())
        self._take_note(unit, verdict)
        results: list[tuple[Request, Verdict]] = [(request, verdict)]
        if isinstance(verdict, Refusal):
            parts = unit.parts(request, verdict.code, self._clock.wall_s())
            if parts:
                results = []
                for part in parts:
                    last = results[-1][1] if results else None
                    if isinstance(last, Broken):
                        results.append((part, last))
                    else:
                        results += await self._fetch(unit, part)
        unit.learn(request, results, self._clock.wall_s())
        return results

    def _take_note(self, unit: PolledUnit, verdict: Verdict) -> None:
        """Let a verdict change how the unit is treated; end a link that nobody answers.

        Raises:
            LinkLost: no unit answers.
        """
        pace = self._paces[unit.device.unit]
        now_s = self._clock.wall_s()
        match verdict:
            case Answer():
                pace.answered(self._book.last_response_s)
                self._silent_run.clear()
            case Refusal(code=code):
                self._silent_run.clear()
                if code in GATEWAY:
                    pace.silent(now_s)
                elif code in TRY_LATER:
                    pace.busy(now_s)
                else:
                    pace.answered(self._book.last_response_s)
                failure = Failure.BUSY if code in TRY_LATER else Failure.REFUSED
                self._book.refused(failure, unit.device.unit, code)
            case Broken(failure=failure):
                if failure in SILENT:
                    self._silent_run.append(unit.device.unit)
                    pace.silent(now_s)
                    self._end_if_nobody_answers(verdict)
                elif failure in {Failure.FOREIGN_ID, Failure.FOREIGN_UNIT}:
                    self._silent_run.clear()
                    pace.silent(now_s)
                else:
                    self._silent_run.clear()

    def _end_if_nobody_answers(self, verdict: Broken) -> None:
        run = self._silent_run
        asked = {
            number
            for number, pace in self._paces.items()
            if not pace.is_silent or number in run
        }
        if len(run) < SILENT_EXCHANGES or asked - set(run):
            return
        at = self._book.answered_at
        since = f"no answer since {clock_time(at)}" if at is not None else "no answer at all"
        if verdict.failure is not Failure.SILENT:
            since = f"{since}: {verdict.text}"
        raise LinkLost(self._link.id, f"reading {len(self._paces)} units", since)

    def _note(self, stray: Stray) -> None:
        """Count what arrived and was no answer; a late answer shows that a unit is slow."""
        self._book.failed(stray.failure, stray.text, stray.raw)
        if stray.failure is Failure.LATE and stray.unit in self._paces:
            self._silent_run.clear()
            self._paces[stray.unit].late(stray.late_s or 0.0)

    def _junction(self, tag: str) -> tuple[float, int]:
        value, quality, until_ns = self._junctions[tag]
        if quality < Quality.BAD and self._clock.now().mono_ns > until_ns:
            return float("nan"), Quality.STALE
        return value, quality

    def _keep_junctions(self, readings: Readings) -> None:
        for tag in self._junctions.keys() & set(readings.layout.tags):
            column = readings.layout.tags.index(tag)
            self._junctions[tag] = (
                float(readings.value[column]),
                int(readings.quality[column]),
                readings.mono_ns + round(JUNCTION_PERIODS * readings.layout.period_ns),
            )


def sheet_reason(results: list[tuple[Request, Verdict]]) -> Quality:
    """Return the reason for values that were not asked for any more."""
    failed = [verdict for _, verdict in results if not isinstance(verdict, Answer)]
    return quality_of(failed[-1])


def open_driver(settings: LinkSettings, clock: Clock) -> Driver:
    """Return a driver for a Modbus link."""
    return ModbusDriver(settings, clock)
