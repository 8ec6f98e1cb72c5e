"""What is to be told, and what has been: alarms that nobody has acknowledged yet, way by way.

Rule 1: it is a fold over events, those of its own notices among them, so that a teller that
        begins anew tells nothing twice.
Rule 2: an alarm is told once on each way; when it occurs again, it is told again.
Rule 3: what was acknowledged, shelved, or has gone by itself is told no more: a ladder stops
        as soon as somebody has it in hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import State
from linewatch.core.events import Event, EventKind
from linewatch.core.plan import PRIORITIES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from linewatch.core.notices.ways import Way

NS: Final = 1_000_000_000
MOST_LINES: Final = 8
"""Alarms told one by one in a notice; of the rest how many there are."""
WAITING: Final = frozenset({State.UNACKNOWLEDGED.word, State.LATCHED_UNACKNOWLEDGED.word})
CAUTION: Final = "linewatch only watches. It is no interlock; go and look."


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """An alarm that nobody has acknowledged."""

    alarm: str
    subject: str
    text: str
    priority: str
    since_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something to tell."""

    way: str
    title: str
    text: str
    alarms: tuple[str, ...]
    """Ids of the alarms in it, each with the time since when it waits: 'a.b.high@1772000'."""


class Planner:
    """Keeps what waits to be told.

    Args:
        line: What the line is called.
        ways: The ways there are.
        clock: Writes a wall time [ns] as the reader's clock shows it.
    """

    def __init__(self, line: str, ways: Sequence[Way], clock: Callable[[int], str]) -> None:
        self._line = line
        self._ways = tuple(ways)
        self._clock = clock
        self._waiting: dict[str, Waiting] = {}
        self._told: dict[str, dict[str, int]] = {way.id: {} for way in ways}
        """By way, then by alarm: since when the alarm waited that was told last [ns]."""
        self._last_ns: dict[str, int] = {}

    def hear(self, event: Event) -> None:
        """Take what happened."""
        values = event.values
        if event.kind is EventKind.ALARM:
            self._alarm(event)
        elif event.kind is EventKind.NOTICE and values.get("did"):
            way = str(values.get("way"))
            self._last_ns[way] = max(self._last_ns.get(way, 0), event.utc_ns)
            for each in str(values.get("alarms") or "").split(","):
                alarm, _, since = each.partition("@")
                if way in self._told and since.isdigit():
                    self._told[way][alarm] = int(since) * NS

    def _alarm(self, event: Event) -> None:
        values = event.values
        alarm = str(values.get("alarm", event.subject))
        if values.get("to") not in WAITING:
            self._waiting.pop(alarm, None)
            return
        before = self._waiting.get(alarm)
        again = values.get("move") == "occur"
        self._waiting[alarm] = Waiting(
            alarm=alarm,
            subject=event.subject,
            text=event.text,
            priority=str(values.get("priority") or "high"),
            since_ns=event.utc_ns if before is None or again else before.since_ns,
        )

    def due(self, now_ns: int, minute: int, called: Callable[[str], str] = str) -> list[Notice]:
        """Return what is to be told now, at most one notice a way.

        Args:
            now_ns: Wall time [ns].
            minute: Minute of the local day.
            called: Returns what people call a subject.

        Returns:
            The notices; each is due again until an event says that it was told.
        """
        found = []
        for way in self._ways:
            if now_ns - self._last_ns.get(way.id, -(2**62)) < way.gather_s * NS:
                continue
            told = self._told[way.id]
            waiting = [
                each
                for each in self._waiting.values()
                if way.tells(each.priority, minute)
                and now_ns - each.since_ns >= way.after_s * NS
                and told.get(each.alarm, -1) < each.since_ns // NS * NS
            ]
            if waiting:
                found.append(self._notice(way, waiting, called))
        return found

    def _notice(
        self, way: Way, waiting: Sequence[Waiting], called: Callable[[str], str]
    ) -> Notice:
        ordered = sorted(waiting, key=lambda each: (-_rank(each.priority), each.since_ns))
        first = ordered[0]
        more = f" and {len(ordered) - 1} more" if len(ordered) > 1 else ""
        lines = [
            f"{self._clock(each.since_ns)} {each.priority.upper()} {called(each.subject)}:"
            f" {each.text}"
            for each in ordered[:MOST_LINES]
        ]
        if len(ordered) > MOST_LINES:
            lines.append(f"and {len(ordered) - MOST_LINES} more")
        if way.after_s:
            lines.append(f"Nobody has acknowledged it for {way.after_s / 60.0:g} min.")
        return Notice(
            way=way.id,
            title=f"{self._line}: {called(first.subject)}: {first.text}{more}",
            text="\n".join([*lines, CAUTION]),
            alarms=tuple(f"{each.alarm}@{each.since_ns // NS}" for each in ordered),
        )


def _rank(priority: str) -> int:
    return PRIORITIES.index(priority) if priority in PRIORITIES else len(PRIORITIES)
