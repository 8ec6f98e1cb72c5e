"""Takes what the laboratory found, and holds it against its limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewatch.core.commands import LogAnalysis
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind, Part
from linewatch.core.laboratory.analyses import WHAT
from linewatch.core.laboratory.taken import limits_of, place_of, verdict
from linewatch.core.line.study import Study

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

LONGEST: Final = 40
INFINITE: Final = float("inf")
FUTURE_NS: Final = 300 * 1_000_000_000


class Laboratory(Study):
    """Writes analyses down; it keeps only their number, the record keeps the rest.

    Args:
        plan: The line as it is configured.
    """

    NAME = "laboratory"
    PERIOD_NS = 0

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.count = 0

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:
        """Take an analysis."""
        if not isinstance(command, LogAnalysis):
            return None
        sampled_ns = command.sampled_utc_ns or at.utc_ns
        self._check(line, command, sampled_ns > at.utc_ns + FUTURE_NS)
        subject, substance = place_of(line.plan, command.subject, command.substance)
        low, high = limits_of(line.plan, command)
        text = f"{command.substance.strip()} {command.value:g} {command.unit}".rstrip()
        # What is next is for whoever wrote it down, and not what happened.
        if told := verdict(line.plan, command).partition("; next:")[0]:
            text += f", {told}"
        self.count += 1
        values: dict[str, Part] = {
            "what": WHAT,
            "number": self.count,
            "substance": substance,
            "value": command.value,
            "unit": command.unit,
            "sampled_utc_ns": sampled_ns,
            "who": command.who,
            "method": command.method,
            "sample": command.sample,
            "note": command.note,
            "corrects": command.corrects,
            "low": low,
            "high": high,
            "fingerprint": line.plan.fingerprint,
        }
        return [
            Event(
                kind=EventKind.ANALYSIS,
                subject=subject,
                utc_ns=at.utc_ns,
                mono_ns=at.mono_ns,
                text=f"{text} ({command.who})",
                values=values,
            )
        ]

    def _check(self, line: Line, command: LogAnalysis, is_future: bool) -> None:  # noqa: FBT001
        asked = f"write an analysis of {command.substance} in {command.subject}"
        if command.subject not in line.plan.subjects:
            raise Refused(asked, f"there is no bath or tank {command.subject!r}")
        if not command.substance.strip() or len(command.substance) > LONGEST:
            raise Refused(asked, f"a substance has 1 to {LONGEST} characters: Ni, boric acid")
        if not 0.0 <= command.value < INFINITE:
            raise Refused(asked, "a found value is a number, not below 0")
        if is_future:
            raise Refused(asked, "its sample would have been taken in the future")
        if command.corrects is not None and not 1 <= command.corrects <= self.count:
            raise Refused(asked, f"there is no analysis {command.corrects}")
        if command.corrects is not None and not command.note.strip():
            raise Refused(asked, "a correction says why, in its note")

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {"count": self.count}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.count = kept["count"]
