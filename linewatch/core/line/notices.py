"""Keeps which ways of being heard fail, so that the screen says so."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linewatch.core.commands import TellNotice
from linewatch.core.events import Event, EventKind, Part
from linewatch.core.line.study import Study

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment


class Notices(Study):
    """Writes down who was told of what, and who could not be.

    Args:
        plan: The line as it is configured.
    """

    NAME = "notices"
    PERIOD_NS = 0

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.failing: dict[str, str] = {}
        """By way: why it is not heard."""

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:  # noqa: ARG002
        """Take what became of a notice."""
        if not isinstance(command, TellNotice):
            return None
        if command.did:
            self.failing.pop(command.way, None)
        else:
            self.failing[command.way] = command.text
        text = command.text if command.did else f"not heard: {command.text}"
        values: dict[str, Part] = {
            "way": command.way,
            "did": command.did,
            "alarms": command.alarms,
        }
        event = Event(
            kind=EventKind.NOTICE,
            subject=command.way,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            text=text,
            values=values,
        )
        return [event]

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {"failing": self.failing}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.failing = dict(kept["failing"])


def failing_of(line: Line) -> Mapping[str, str]:
    """Return the ways of a line that are not heard, each with why."""
    notices = line.studies.of(Notices)
    return dict(notices.failing) if notices is not None else {}
