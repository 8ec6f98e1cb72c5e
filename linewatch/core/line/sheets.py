"""Takes what people find at the positions of the line, and the signature of a shift's sheet.

Rule 1: a signature tells what every position read at that moment, in one event, so that the
        sheet of any shift stands in the record as it was signed.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.commands import LogCheck, SignSheet
from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.line.study import Study
from linewatch.core.sheets.items import BY_HAND, item_of
from linewatch.core.sheets.seen import CheckPicture
from linewatch.core.sheets.sheet import (
    READ_WHOLE,
    Read,
    found_of,
    judged,
    parts_of,
    quality_words,
    read_of,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.events import Event, Part
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000
KEPT_NS: Final = 26 * 3600 * NS
"""What was found longer ago is in the record alone: longer than any shift."""
LONGEST: Final = 200


class Sheets(Study):
    """Keeps what was found lately, for the screen; the record keeps all.

    Args:
        plan: The line as it is configured.
    """

    NAME = "sheets"
    PERIOD_NS = 0

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.kinds: dict[str, str] = {
            **{tank.id: tank.kind for tank in plan.tanks},
            **dict.fromkeys((each.id for each in plan.rectifiers), "rectifier"),
            plan.line_id: "line",
        }
        self.checks: dict[str, CheckPicture] = {}
        """By subject and item, the last of each."""
        self.signed: list[Any] = []
        """Wall time [ns] and initials of the last signature."""

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:
        """Take a check, or the signature of a sheet."""
        if isinstance(command, LogCheck):
            self._take(command, at)
            return []
        if isinstance(command, SignSheet):
            self.signed = [at.utc_ns, command.who]
            return self._sign(line, command, at)
        return None

    def _take(self, command: LogCheck, at: Moment) -> None:
        asked = f"write down what {command.item} is at {command.subject}"
        kind = self.kinds.get(command.subject)
        if kind is None:
            raise Refused(asked, f"there is no position {command.subject!r}")
        checks = found_of(command, at.utc_ns)
        if not checks or any(item_of(kind, each.item) is None for each in checks):
            known = ", ".join(each.id for each in BY_HAND.get(kind, ())) or "nothing"
            raise Refused(asked, f"what is looked at there by hand: {known}")
        if not command.found.strip() or len(command.found) > LONGEST:
            raise Refused(asked, f"say what was found, in 1 to {LONGEST} characters")
        for each in checks:
            key = f"{each.subject}/{each.item}"
            self.checks.pop(key, None)
            self.checks[key] = each
        for old in [k for k, each in self.checks.items() if at.utc_ns - each.utc_ns > KEPT_NS]:
            del self.checks[old]

    def _sign(self, line: Line, command: SignSheet, at: Moment) -> list[Event]:
        """Return one event with what every position reads."""
        parts: dict[str, Part] = {}
        outside = 0
        for subject, reads in reads_of(line).items():
            if subject in self.kinds:
                parts |= parts_of(subject, reads)
                outside += sum(bool(read.side) for read in reads.values())
        text = f"sheet: {sum(key.startswith('read ') for key in parts)} signals read"
        text += f", {outside} outside their windows" if outside else ""
        values = {
            "what": READ_WHOLE,
            "by": command.who,
            **parts,
            "fingerprint": line.plan.fingerprint,
        }
        return [line.event(EventKind.NOTE, at, text, values)]

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {
            "checks": {name: asdict(each) for name, each in self.checks.items()},
            "signed": self.signed,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.signed = list(kept.get("signed", ()))
        self.checks = {
            name: CheckPicture(**each) for name, each in kept.get("checks", {}).items()
        }


def reads_of(line: Line) -> dict[str, dict[str, Read]]:
    """Return what every position reads now, by subject and measurement kind."""
    found: dict[str, dict[str, Read]] = {}
    for subject, figures in line.hands.figures().items():
        found[subject] = {kind: read_of(figure) for kind, figure in figures.items()}
    for tag in line.plan.tags.values():
        read = judged(line.good(tag.id), tag.window, _why_unread(line, tag.id))
        found.setdefault(tag.subject, {})[tag.name] = read
    return found


def _why_unread(line: Line, tag: str) -> str:
    """Return in words how far the newest value of a tag is to be trusted."""
    place = line.place(tag)
    return quality_words(place[0].quality_of(place[1])) if place is not None else ""


def checks_of(line: Line) -> tuple[CheckPicture, ...]:
    """Return what people found lately."""
    sheets = line.studies.of(Sheets)
    return tuple(sheets.checks.values()) if sheets is not None else ()


def signed_of(line: Line) -> tuple[int, str] | None:
    """Return when a sheet was signed last [ns since 1970], and by whom."""
    sheets = line.studies.of(Sheets)
    return (
        (sheets.signed[0], sheets.signed[1]) if sheets is not None and sheets.signed else None
    )
