"""Links over which nothing comes, and devices: one alarm each, judged by the record alone.

Rule 1: a link is lost when nothing at all comes of any of its layouts: not connected, no
        answer, stale, never read. An open sensor or a refusal is an answer. A device of a
        link that has several does not answer when nothing comes of its own.
Rule 2: as soon as that is so, what it leaves unreadable is held back; the alarm follows when
        it has lasted. What is read again before then was no alarm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.alarms.causes import suspect
from linewatch.core.alarms.limits import Timers
from linewatch.core.alarms.silent import lost_name, silent_names
from linewatch.core.line.memory import pack, places, unpack

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.line.watch import Watch
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment


class LostLinks:
    """Every alarm of a lost link, and of a device that does not answer.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        silent = silent_names(plan.layouts)
        of = {name: f"{link}/{device}" for name, (link, device) in silent.items()}
        of |= {lost_name(link): link for link in plan.links}
        found = [
            (number, condition)
            for number, condition in enumerate(plan.conditions)
            if condition.kind == "found" and condition.tag in of
        ]
        self.alarm = [number for number, _ in found]
        self._timer = {of[condition.tag]: k for k, (_, condition) in enumerate(found)}
        """By link, and by link and device."""
        self.timers = Timers(
            [condition.on_delay_ns for _, condition in found],
            [condition.off_delay_ns for _, condition in found],
        )
        self._mute: dict[str, bool] = {}
        """By layout, as it was found last; not remembered, only to look no oftener."""

    def hear(self, line: Line, watch: Watch, at: Moment) -> list[Event]:
        """Hear how a layout was read; judge its link.

        Args:
            line: The line.
            watch: The layout.
            at: When.

        Returns:
            Events.
        """
        layout, is_mute = watch.layout, watch.is_mute
        if self._mute.get(watch.name) == is_mute:
            return []
        self._mute[watch.name] = is_mute
        mine = [each for each in line.watches.values() if each.layout.link == layout.link]
        own = [each for each in mine if each.layout.device == layout.device]
        device = f"{layout.link}/{layout.device}"
        return self._judge(line, layout.link, mine, at) + self._judge(line, device, own, at)

    def _judge(
        self, line: Line, name: str, watches: Sequence[Watch], at: Moment
    ) -> list[Event]:
        timer = self._timer.get(name)
        if timer is None:
            return []
        is_lost = all(each.is_mute for each in watches)
        self.timers.judge(timer, np.array([is_lost]), at.mono_ns)
        is_suspected = is_lost and not self.timers.active[timer]
        return suspect(line.alarms, self.alarm[timer], at, is_suspected=is_suspected)

    def begin_again(self, line: Line, alarm: int, at: Moment) -> bool:
        """Give an alarm its whole on-delay again: until then it is suspected, and holds back.

        Args:
            line: The line.
            alarm: Number of the alarm.
            at: When.

        Returns:
            Whether it is one of these.
        """
        if alarm not in self.alarm:
            return False
        timer = self.alarm.index(alarm)
        self.timers.begin_again(timer, at.mono_ns)
        if self.timers.raw[timer]:
            line.alarms.causes.suspected.add(alarm)
        return True

    def due(self, line: Line, at: Moment) -> list[Event]:
        """Announce what has lasted.

        Args:
            line: The line.
            at: When.

        Returns:
            Events.
        """
        events: list[Event] = []
        for timer in self.timers.due(at.mono_ns):
            alarm, active = self.alarm[timer], bool(self.timers.active[timer])
            events += line.alarms.turned(alarm, at, None, active=active)
            events += suspect(line.alarms, alarm, at, is_suspected=False)
        return events

    def remember(self) -> bytes:
        """Return all that the future depends on; see `recall`."""
        return pack({"links": list(self._timer)}, self.timers.remember())

    def recall(self, part: bytes) -> None:
        """Go on from what was remembered."""
        said, kept = unpack(part)
        self.timers.recall(kept, places(said["links"], list(self._timer)))
