"""Readings of which something says that they are not what they look like.

A probe that no longer moves, one that has left its liquid, a unit that repeats its last
values: their numbers are good by themselves, and nothing may be judged by them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.alarms.causes import holds
from linewatch.core.rules.library import BY_NAME

if TYPE_CHECKING:
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan


class Doubted:
    """Which readings which alarms doubt.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        self._of: dict[int, tuple[str, tuple[str, ...]]] = {}
        """By number of the alarm: the subject, and the kinds that it doubts."""
        self._by: dict[str, list[tuple[int, tuple[str, ...]]]] = {}
        """By subject: (number of the alarm, kinds that it doubts, with their suffix)."""
        for number, condition in enumerate(plan.conditions):
            subject, _, what = condition.tag.partition(".")
            rule = BY_NAME.get(what) if condition.kind == "found" else None
            kinds = rule.doubts if rule is not None else ()
            if condition.kind == "frozen":
                kinds = (what,)
            if kinds:
                self._by.setdefault(subject, []).append((number, kinds))
                self._of[number] = subject, kinds

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
            (self._of[number][0], kind)
            for number in alarms.not_normal()
            if number in self._of and alarms.active[number] and holds(alarms, number)
            for kind in self._of[number][1]
        ]
