"""What follows the line beyond its alarms and totals: loads, additions, health and the rest.

A study hears every event and every command, and looks at the whole line from time to time.
To add one, write a class after core/line/study.py and give it a row in `STUDIES`.

Rule 1: a study looks at fixed places of line time, whole multiples of its period; so it sees
        the same line live, in a replay, and in a stack of any size.
Rule 2: of one entry, a study hears what the line told before it looks; what one study tells,
        the others hear.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from linewatch.core.alarms.limits import NEVER
from linewatch.core.line.additions import Additions
from linewatch.core.line.discharge import Discharges
from linewatch.core.line.duties import Duties
from linewatch.core.line.health import Health
from linewatch.core.line.laboratory import Laboratory
from linewatch.core.line.levels import Levels
from linewatch.core.line.loads import Loads
from linewatch.core.line.memory import pack, unpack
from linewatch.core.line.moves import Moves
from linewatch.core.line.notices import Notices
from linewatch.core.line.rinses import Rinses
from linewatch.core.line.rules import Rules
from linewatch.core.line.sheets import Sheets
from linewatch.core.line.signs import Signs
from linewatch.core.line.standstills import Standstills
from linewatch.core.line.still_links import StillLinks

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linewatch.core.commands import Command
    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.line.study import Study, Unwatched
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

    Kind = TypeVar("Kind", bound=Study)

PART = "study."


class Studies:
    """All studies of a line.

    Args:
        plan: The line as it is configured.
        every: The studies; None: all that there are.
    """

    def __init__(self, plan: LinePlan, every: tuple[Study, ...] | None = None) -> None:
        self.every = tuple(each(plan) for each in STUDIES) if every is None else every
        self.next_ns = NEVER
        """Line time of the next look of any of them [ns]."""
        self._next_ns: dict[str, int] = {}
        self._parts: dict[str, bytes] = {}
        self.find_next(0)

    def of(self, kind: type[Kind]) -> Kind | None:
        """Return the study of a kind; None if there is none."""
        return next((each for each in self.every if isinstance(each, kind)), None)

    def tell(self, line: Line, events: list[Event], first: int) -> None:
        """Let every study hear what the line told.

        Args:
            line: The line.
            events: What happened; gets what follows from it.
            first: Where the news begins.
        """
        while first < len(events):
            for study in self.every:
                events += study.hear(line, events[first])
                self._parts.pop(study.NAME, None)
            first += 1

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Let every study look that is due.

        Args:
            line: The line.
            at: Now, on both clocks.

        Returns:
            What they found.
        """
        found: list[Event] = []
        for study in self.every:
            if self._next_ns[study.NAME] <= at.mono_ns:
                found += study.look(line, at)
                self._next_ns[study.NAME] = _after(at.mono_ns, study.period_ns)
                self._parts.pop(study.NAME, None)
        self.find_next(at.mono_ns)
        return found

    def pass_over(self, hole: Unwatched) -> None:
        """Let every study leave out a time in which nobody looked; none looks in its wake."""
        for study in self.every:
            study.pass_over(hole)
            self._parts.pop(study.NAME, None)
            if self._next_ns[study.NAME] < hole.until_ns:
                self._next_ns[study.NAME] = _after(hole.until_ns, study.period_ns)
        self.find_next(hole.end_ns)

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:
        """Let the studies carry out a command.

        Args:
            line: The line.
            command: The command.
            at: When.

        Returns:
            What followed; None if it is no concern of any.

        Raises:
            Refused: it cannot be done; nothing has changed.
        """
        done: list[Event] | None = None
        for study in self.every:
            followed = study.obey(line, command, at)
            if followed is not None:
                self._parts.pop(study.NAME, None)
                done = [*(done or ()), *followed]
        return done

    def suspects(self, line: Line, alarm: int, at: Moment) -> bool:
        """Say whether a study would tell an alarm now that it has not told yet.

        Args:
            line: The line.
            alarm: Number of the alarm.
            at: Now, on both clocks.

        Returns:
            Whether one does; it has counted that as a look.
        """
        asked = (study for study in self.every if study.suspects(line, alarm, at))
        study = next(asked, None)
        if study is not None:
            self._parts.pop(study.NAME, None)
        return study is not None

    def begin_again(self, alarm: int) -> bool:
        """Let a study forget that it told an alarm; say whether one has."""
        study = next((each for each in self.every if each.begin_again(alarm)), None)
        if study is not None:
            self._parts.pop(study.NAME, None)
        return study is not None

    def find_next(self, now_ns: int) -> None:
        """Find out when the next look is due."""
        for study in self.every:
            self._next_ns.setdefault(study.NAME, _after(now_ns, study.period_ns))
        self.next_ns = min(self._next_ns.values(), default=NEVER)

    def remember(self) -> Iterator[tuple[str, bytes]]:
        """Yield the parts of the memory that tell about studies."""
        if self._next_ns:
            yield f"{PART}looks", pack(self._next_ns)
        for study in self.every:
            part = self._parts.get(study.NAME)
            if part is None:
                part = self._parts[study.NAME] = pack(study.remember())
            yield f"{PART}{study.NAME}", part

    def recall(self, memory: Mapping[str, bytes], now_ns: int) -> None:
        """Go on from the memory, as far as it tells about studies.

        Args:
            memory: The line's memory.
            now_ns: Line time of its newest entry [ns].
        """
        kept: Mapping[str, int] = {}
        if f"{PART}looks" in memory:
            kept = unpack(memory[f"{PART}looks"])[0]
        for study in self.every:
            next_ns = kept.get(study.NAME, NEVER)
            if next_ns == NEVER or not study.period_ns:
                # It had nothing to look at before, or has nothing now.
                next_ns = _after(now_ns, study.period_ns)
            self._next_ns[study.NAME] = next_ns
            if f"{PART}{study.NAME}" in memory:
                study.recall(unpack(memory[f"{PART}{study.NAME}"])[0])
        self.find_next(now_ns)


def _after(now_ns: int, period_ns: int) -> int:
    """Return the first whole multiple of a period after a time [ns]."""
    return (now_ns // period_ns + 1) * period_ns if period_ns else NEVER


STUDIES: tuple[type[Study], ...] = (
    StillLinks,
    Signs,
    Rules,
    Moves,
    Standstills,
    Additions,
    Loads,
    Rinses,
    Levels,
    Health,
    Laboratory,
    Discharges,
    Duties,
    Sheets,
    Notices,
)
"""Every study, in the order in which they hear, look and obey."""
