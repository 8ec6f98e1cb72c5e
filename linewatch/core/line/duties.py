"""What is due from time to time: analyses, filters, probes, collections. Alarms what is late.

Rule 1: a duty that nobody ever did is overdue one interval after the record first knew of
        it. An analysis that nobody ever made is due all the while, quietly: no alarm says so
        before, or a new installation would begin with one for every substance.
Rule 2: an analysis that is due is done by its analysis; everything else by saying so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewatch.core.commands import DoDuty
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.laboratory.analyses import WHAT as ANALYSED
from linewatch.core.line.study import Study
from linewatch.core.view import DutyPicture

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import DutyPlan, LinePlan
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000


class Duties(Study):
    """Keeps when each duty was done last.

    Args:
        plan: The line as it is configured.
    """

    NAME = "duties"
    PERIOD_NS = 300 * NS

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self._duty = {each.id: each for each in plan.duties}
        self.done_utc_ns: dict[str, int] = {}
        self.known_utc_ns: dict[str, int] = {}
        """When the record first knew of each duty."""

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a duty."""
        return self.PERIOD_NS if self._duty else 0

    def due_utc_ns(self, duty: DutyPlan) -> int | None:
        """Return when a duty is due; None before the record knows of it."""
        last = self.done_utc_ns.get(duty.id, self.known_utc_ns.get(duty.id))
        return None if last is None else last + round(duty.every_s * NS)

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Alarm what is late; let go what is not any more."""
        events: list[Event] = []
        for duty in self._duty.values():
            self.known_utc_ns.setdefault(duty.id, at.utc_ns)
            events += self._judge(line, duty, at)
        return events

    def _judge(self, line: Line, duty: DutyPlan, at: Moment) -> list[Event]:
        due_ns = self.due_utc_ns(duty)
        is_late = due_ns is not None and at.utc_ns > due_ns
        alarm = line.alarms.number.get(f"{duty.id}.overdue")
        if alarm is None or line.alarms.active[alarm] == is_late:
            return []
        return line.alarms.turned(alarm, at, None, active=is_late)

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear that an analysis was made."""
        if event.kind is not EventKind.ANALYSIS or event.values.get("what") != ANALYSED:
            return []
        substance = str(event.values.get("substance")).casefold()
        for duty in self._duty.values():
            if duty.subject == event.subject and duty.substance.casefold() == substance:
                sampled_ns = int(event.values.get("sampled_utc_ns") or event.utc_ns)
                return self._did(line, duty, sampled_ns, event)
        return []

    def _did(self, line: Line, duty: DutyPlan, utc_ns: int, event: Event) -> list[Event]:
        self.done_utc_ns[duty.id] = max(utc_ns, self.done_utc_ns.get(duty.id, 0))
        return self._judge(line, duty, event.moment)

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:
        """Take that a duty was done."""
        if not isinstance(command, DoDuty):
            return None
        duty = self._duty.get(command.duty)
        said = duty.text if duty is not None else command.duty
        asked = f"say that it was done: {said}"
        if duty is None:
            known = ", ".join(f"{each.text} ({each.id})" for each in self._duty.values())
            known = known or "none"
            raise Refused(asked, f"there is no such duty; there are {known}")
        if duty.substance:
            raise Refused(asked, "its analysis does it: `linewatch lab add`")
        event = Event(
            kind=EventKind.NOTE,
            subject=duty.subject or line.plan.line_id,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            text=f"done: {duty.text} ({command.who}) {command.note}".strip(),
            values={"what": "duty", "duty": duty.id, "who": command.who, "note": command.note},
        )
        return [event, *self._did(line, duty, at.utc_ns, event)]

    def pictures(self) -> tuple[DutyPicture, ...]:
        """Return every duty, what is due first before the others."""
        rows = [
            DutyPicture(
                id=duty.id,
                text=duty.text,
                subject=duty.subject,
                done_utc_ns=self.done_utc_ns.get(duty.id),
                due_utc_ns=self.due_utc_ns(duty),
                substance=duty.substance,
            )
            for duty in self._duty.values()
        ]
        return tuple(sorted(rows, key=lambda row: row.due_utc_ns or 2**62))

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {"done": self.done_utc_ns, "known": self.known_utc_ns}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered; a duty that was taken away keeps its date."""
        self.done_utc_ns, self.known_utc_ns = dict(kept["done"]), dict(kept["known"])


def duties_of(line: Line) -> tuple[DutyPicture, ...]:
    """Return the duties of a line."""
    duties = line.studies.of(Duties)
    return duties.pictures() if duties is not None else ()
