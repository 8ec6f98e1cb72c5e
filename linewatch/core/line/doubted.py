"""Readings of which something says that they are not what they look like.

A probe that no longer moves, one that has left its liquid, a unit that repeats its last
values: their numbers are good by themselves, and nothing may be judged by them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.alarms.causes import holds
from linewatch.core.alarms.silent import STILL
from linewatch.core.rules.library import rule_of

if TYPE_CHECKING:
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan


class Doubted:
    """Which readings which alarms doubt.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        self._of: dict[int, tuple[tuple[str, tuple[str, ...]], ...]] = {}
        """By number of the alarm: subjects, and the kinds of each that it doubts."""
        self._by: dict[str, list[tuple[int, tuple[str, ...]]]] = {}
        """By subject: (number of the alarm, kinds that it doubts, with their suffix)."""
        for number, condition in enumerate(plan.conditions):
            subject, _, what = condition.tag.partition(".")
            rule = rule_of(condition)
            kinds = rule.doubts if rule is not None else ()
            if condition.kind == "frozen":
                kinds = (what,)
            if what == STILL and subject in plan.links:
                self._add_link(plan, number, subject)
            elif kinds:
                self._by.setdefault(subject, []).append((number, kinds))
                self._of[number] = ((subject, kinds),)

    def _add_link(self, plan: LinePlan, number: int, link: str) -> None:
        """Note that an alarm doubts whatever comes over a link."""
        of: dict[str, list[str]] = {}
        for layout in plan.layouts:
            for tag in layout.tags if layout.link == link else ():
                subject, _, what = tag.partition(".")
                of.setdefault(subject, []).append(what)
        self._of[number] = tuple((subject, tuple(kinds)) for subject, kinds in of.items())
        for subject, kinds in self._of[number]:
            self._by.setdefault(subject, []).append((number, kinds))

    def by(self, subject: str, kind: str) -> tuple[int, ...]:
        """Return the numbers of the alarms that doubt a reading, whether they stand or not."""
        return tuple(number for number, kinds in self._by.get(subject, ()) if kind in kinds)

    def blind(self, line: Line, subject: str) -> frozenset[str]:
        """Return the kinds of a subject, with their suffix, that are doubted now."""
        by = self._by.get(subject)
        if by is None:
            return frozenset()
        alarms = line.alarms
        return frozenset(
            kind
            for number, kinds in by
            if alarms.active[number] and holds(alarms, number)
            for kind in kinds
        )

    def everywhere(self, line: Line) -> list[tuple[str, str]]:
        """Return all that is doubted now: (subject, kind with its suffix)."""
        alarms = line.alarms
        return [
            (subject, kind)
            for number in alarms.not_normal()
            if number in self._of and alarms.active[number] and holds(alarms, number)
            for subject, kinds in self._of[number]
            for kind in kinds
        ]
