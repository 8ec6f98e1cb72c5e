"""What a study is: something that follows the line beyond its alarms and totals.

Rule 1: a study remembers everything that its future depends on, by ids, never by places.
Rule 2: a study reads the line; of the line it may only turn alarms of kind 'found'.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Unwatched:
    """A time in which nobody looked at the line [ns of line time]."""

    for_ns: int
    end_ns: int
    """When it was over."""
    until_ns: int
    """By when everything has been read again, as far as it can be."""


LOOK_NS = 30 * NS
"""How often a study looks, unless it must look oftener; every look ends what may be stacked."""


class Study:
    """Something that follows the line. What is not overridden does nothing.

    Args:
        plan: The line as it is configured.
    """

    NAME = ""
    """Name of its part of the memory."""
    PERIOD_NS = LOOK_NS
    """Line time between two looks [ns]; 0: it never looks."""

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 if this line gives it nothing to look at."""
        return self.PERIOD_NS

    def __init__(self, plan: LinePlan) -> None:
        self.plan = plan

    def hear(self, line: Line, event: Event) -> list[Event]:  # noqa: ARG002 - to override
        """Hear what happened; return what follows from it."""
        return []

    def look(self, line: Line, at: Moment) -> list[Event]:  # noqa: ARG002 - to override
        """Look at the line; return what was found."""
        return []

    def pass_over(self, hole: Unwatched) -> None:
        """Leave out a time in which nobody looked at the line."""

    def obey(
        self,
        line: Line,  # noqa: ARG002
        command: Command,  # noqa: ARG002
        at: Moment,  # noqa: ARG002
    ) -> list[Event] | None:
        """Carry out a command.

        Returns:
            What followed; None if the command is no concern of this study.

        Raises:
            Refused: it cannot be done; nothing has changed.
        """
        return None

    def suspects(self, line: Line, alarm: int, at: Moment) -> bool:  # noqa: ARG002
        """Say whether a look now would tell an alarm of this study that is not told yet."""
        return False

    def begin_again(self, alarm: int) -> bool:  # noqa: ARG002 - to override
        """Forget that an alarm of this study was told; say whether it is one of its own."""
        return False

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on, as JSON knows it; see `recall`."""
        return {}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for what the plan no longer has."""
