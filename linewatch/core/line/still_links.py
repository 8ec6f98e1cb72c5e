"""Links whose server or gateway answers from memory: everything is good, and nothing moves.

Rule 1: what is measured is never quite still: of many figures one has always another last
        digit. A link over which none has changed for as long as never before tells what was,
        not what is.
Rule 2: only time counts in which something was read; a link that is silent is lost, not still.
Rule 3: how long a link rests by itself is learned while it moves; what was told teaches
        nothing.
"""

from __future__ import annotations

import zlib
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.alarms.silent import LEAST_MEASURED, measures, still_name
from linewatch.core.line.study import Study

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.line.study import Unwatched
    from linewatch.core.line.watch import Watch
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000
STILL_NS: Final = 300 * NS
USUAL_TIMES: Final = 3
"""... or this many times as long as the link has ever rested before. Common practice."""
UNCERTAIN: Final = 0x40


@dataclass(slots=True)
class Pulse:
    """What is known of one link."""

    mark: int = -1
    """Of all that it told at the last look; -1: nothing yet."""
    read_ns: int = -1
    """When the newest of it was read [ns]."""
    still_ns: int = 0
    """For how long it has been the same, as far as it was read."""
    longest_ns: int = 0
    """The longest rest after which it moved again by itself."""
    has_moved: bool = False
    is_told: bool = False


class StillLinks(Study):
    """Every alarm of a link on which nothing moves.

    Args:
        plan: The line as it is configured.
    """

    NAME = "still-links"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        number = {condition.id: k for k, condition in enumerate(plan.conditions)}
        self._alarm = {
            link: number[still_name(link)] for link in plan.links if still_name(link) in number
        }
        """By link."""
        self._columns = {
            layout: [k for k, tag in enumerate(layout.tags) if measures(plan, tag)]
            for layout in plan.layouts
        }
        self.pulses = {link: Pulse() for link in self._alarm}

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]."""
        return self.PERIOD_NS if self._alarm else 0

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look at every link."""
        of: dict[str, list[Watch]] = {}
        for watch in line.watches.values():
            of.setdefault(watch.layout.link, []).append(watch)
        return [
            event
            for link, pulse in self.pulses.items()
            for event in self._feel(line, link, pulse, of.get(link, ()), at)
        ]

    def _feel(
        self, line: Line, link: str, pulse: Pulse, watches: Sequence[Watch], at: Moment
    ) -> list[Event]:
        read_ns = max((watch.mono_ns for watch in watches), default=-1)
        if read_ns <= pulse.read_ns:
            return []
        passed_ns = read_ns - pulse.read_ns if pulse.read_ns >= 0 else 0
        pulse.read_ns = read_ns
        mark = _mark(watches) if self._count(watches) >= LEAST_MEASURED else -1
        if mark == pulse.mark and mark >= 0:
            pulse.still_ns += passed_ns
            allowed_ns = max(STILL_NS, USUAL_TIMES * pulse.longest_ns)
            if pulse.is_told or not pulse.has_moved or pulse.still_ns < allowed_ns:
                return []
            return self._turn(line, link, pulse, at, is_still=True)
        if mark >= 0 and pulse.mark >= 0:
            pulse.has_moved = True
            if not pulse.is_told:
                pulse.longest_ns = max(pulse.longest_ns, pulse.still_ns)
        pulse.mark, pulse.still_ns = mark, 0
        return self._turn(line, link, pulse, at, is_still=False) if pulse.is_told else []

    def _count(self, watches: Sequence[Watch]) -> int:
        """Return how many measured figures of a link are good."""
        return sum(
            int((watch.quality[self._columns.get(watch.layout, [])] < UNCERTAIN).sum())
            for watch in watches
        )

    def _turn(
        self, line: Line, link: str, pulse: Pulse, at: Moment, *, is_still: bool
    ) -> list[Event]:
        pulse.is_told = is_still
        value = pulse.still_ns / 60.0 / NS
        return line.alarms.turned(self._alarm[link], at, value, active=is_still)

    def pass_over(self, hole: Unwatched) -> None:
        """Leave out a time in which nobody looked."""
        for pulse in self.pulses.values():
            if pulse.read_ns >= 0:
                pulse.read_ns = max(pulse.read_ns, hole.end_ns)

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {link: asdict(pulse) for link, pulse in self.pulses.items()}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for links that the plan no longer has."""
        names = [each.name for each in fields(Pulse)]
        for link in self.pulses:
            said = kept.get(link, {})
            known = {name: said[name] for name in names if name in said}
            self.pulses[link] = Pulse(**known)


def _mark(watches: Sequence[Watch]) -> int:
    """Return a number that changes with anything that a link tells."""
    mark = 0
    for watch in sorted(watches, key=lambda each: each.name):
        mark = zlib.crc32(watch.value.astype("<f8", copy=False).tobytes(), mark)
        mark = zlib.crc32(watch.quality.tobytes(), mark)
    return mark
