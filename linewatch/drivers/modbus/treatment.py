"""How each unit of a link is treated after what it did, and what is said about the link."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality
from linewatch.drivers.modbus.book import clock_time
from linewatch.drivers.modbus.question import Answer, Broken, Failure, Refusal
from linewatch.drivers.modbus.schedule import UnitPace
from linewatch.drivers.modbus.unit import GATEWAY, TRY_LATER

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from linewatch.config.model import DeviceSection, LinkSection
    from linewatch.core.ports import Clock
    from linewatch.drivers.modbus.book import Book
    from linewatch.drivers.modbus.guard import Stray
    from linewatch.drivers.modbus.question import Verdict

SILENT = (Failure.SILENT, Failure.NOISE, Failure.ECHO, Failure.NOT_MODBUS)
"""Failures that leave open whether anybody is there who answers."""
FOREIGN = (Failure.FOREIGN_ID, Failure.FOREIGN_UNIT)
"""Somebody is there, but not who was asked: as rarely asked as if nobody were."""
SILENT_EXCHANGES = 2
"""So many silent exchanges in a row, over all units, are the least that ends a link."""


class Treatment:
    """Paces and troubles of a link's units.

    Args:
        link: Which link.
        devices: Its devices.
        clock: The time.
        book: Takes note of refusals and strays.
    """

    def __init__(
        self, link: LinkSection, devices: Sequence[DeviceSection], clock: Clock, book: Book
    ) -> None:
        self._link = link
        self._devices = devices
        self._clock = clock
        self._book = book
        self._paces = {device.unit: UnitPace(configured_s=link.timeout) for device in devices}
        self._silent_run: list[int] = []
        self._troubles: dict[int, tuple[str, str]] = {}
        """By unit: what is wrong, and since when."""
        self._hint = ""

    def why_not(self, unit: int) -> Quality | None:
        """Return the reason for not asking a unit now; None if it may be asked."""
        pace, now_s = self._paces[unit], self._clock.wall_s()
        if pace.may_ask(now_s):
            return None
        return Quality.BUSY if pace.is_busy(now_s) else Quality.NO_ANSWER

    def limit_s(self, unit: int) -> float:
        """Return how long to wait for a unit's answer."""
        is_suspect = bool(self._silent_run) and self._silent_run[-1] != unit
        if not (is_suspect or self._paces[unit].unanswered):
            return self._paces[unit].limit_s()
        others = [pace.usual_s() for each, pace in self._paces.items() if each != unit]
        usual_s = max((each for each in others if each is not None), default=None)
        return self._paces[unit].limit_s(is_suspect=is_suspect, usual_s=usual_s)

    def stands_back(self, unit: int) -> bool:
        """Say whether a unit is asked only when nobody else is due."""
        return self._paces[unit].unanswered > 0

    def judge(self, unit: int, verdict: Verdict) -> None:
        """Let a verdict change how the unit is treated; end a link that nobody answers.

        Raises:
            LinkLost: no unit answers.
        """
        pace, now_s = self._paces[unit], self._clock.wall_s()
        match verdict:
            case Answer():
                pace.answered(self._book.last_response_s)
                self._silent_run.clear()
                self._troubles.pop(unit, None)
            case Refusal(code=code):
                self._silent_run.clear()
                self._refused(unit, code)
            case Broken(failure=failure, text=text):
                if failure is not Failure.OWED:
                    _, since = self._troubles.get(unit, ("", clock_time(self._clock.now())))
                    self._troubles[unit] = text, since
                if failure in SILENT:
                    pace.silent(now_s)
                    self._silent_run.append(unit)
                    self._end_if_nobody_answers(verdict)
                elif failure is not Failure.OWED:
                    self._silent_run.clear()
                    if failure in FOREIGN:
                        pace.silent(now_s)

    def _refused(self, unit: int, code: int) -> None:
        pace, now_s = self._paces[unit], self._clock.wall_s()
        if code in GATEWAY:
            pace.silent(now_s)
        elif code in TRY_LATER:
            pace.busy(now_s)
        else:
            pace.answered(self._book.last_response_s)
        failure = Failure.BUSY if code in TRY_LATER else Failure.REFUSED
        self._book.refused(failure, unit, code)

    def note(self, stray: Stray) -> None:
        """Count what arrived and was no answer; a late answer shows that a unit is slow."""
        self._book.failed(stray.failure, stray.text, stray.raw)
        if stray.failure in {Failure.ECHO, Failure.OTHER_MASTER}:
            self._hint = stray.text
        if stray.failure is Failure.LATE and stray.unit in self._paces:
            self._silent_run.clear()
            self._paces[stray.unit].late(stray.late_s or 0.0)

    def silent(self) -> tuple[str, ...]:
        """Return the devices that are known not to answer."""
        return tuple(
            device.id for device in self._devices if self._paces[device.unit].is_silent
        )

    def state(self, held_s: Callable[[int], float]) -> tuple[str, str]:
        """Return the link's state and the reason.

        Args:
            held_s: Returns how long an answering unit must be left alone.
        """
        slow = [unit for unit, pace in self._paces.items() if pace.is_slow]
        if slow:
            limit_s = self._link.timeout
            return "slow", f"unit {slow[0]} answers after more than {limit_s:g} s"
        if self._devices and all(
            held_s(device.unit if device.answers_as_unit is None else device.answers_as_unit)
            > 0.0
            for device in self._devices
        ):
            return "poisoned", "waiting until no late answer can come"
        if self._troubles:
            unit, (text, since) = next(iter(self._troubles.items()))
            others = len(self._troubles) - 1
            also = f" (and {others} more)" if others else ""
            return "connected", f"unit {unit}{also}: {text}, since {since}"
        return "connected", self._hint

    def _end_if_nobody_answers(self, last: Broken) -> None:
        run = self._silent_run
        asked = {unit for unit, pace in self._paces.items() if not pace.is_silent}
        if len(run) < SILENT_EXCHANGES or asked - set(run):
            return
        at = self._book.answered_at
        since = f"no answer since {clock_time(at)}" if at is not None else "no answer at all"
        if last.failure is not Failure.SILENT:
            since = f"{since}: {last.text}"
        raise LinkLost(
            self._link.id,
            f"reading {len(self._paces)} unit{'s' if len(self._paces) > 1 else ''}",
            since,
            lasting=at is None and last.failure is Failure.NOT_MODBUS,
        )
