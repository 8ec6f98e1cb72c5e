"""Which alarms concern a load's stay: of its tank and rectifiers, whenever they began.

Rule 1: an alarm that stood already when the load came in is as odd about its stay as one that
        began meanwhile; so is one that a person has shelved.
Rule 2: of what follows from another alarm of the same tank the cause is told, not it; what a
        lost link left unreadable is told here, since the link is told nowhere else.
Rule 3: what an alarm says of the way of the load before is not odd about the next.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import State
from linewatch.core.alarms.wording import named, title
from linewatch.core.plan import PRIORITIES
from linewatch.core.rules.movement import MOVEMENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.line.machine import Line
    from linewatch.core.line.trips import Stay
    from linewatch.core.plan import LinePlan, TankPlan

MOST: Final = 6
"""Alarms that a stay tells of; of more the gravest."""
SILENT: Final = frozenset({State.SUPPRESSED, State.OUT_OF_SERVICE})
"""In these an alarm says nothing; one on a shelf is true all the same."""


class StayAlarms:
    """Notes the alarms of each stay.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        self._plan = plan
        self._condition = {each.id: each for each in plan.conditions}
        self._about = _about(plan)

    def began(self, line: Line, stays: Mapping[str, Stay], alarm: str) -> None:
        """Take that an alarm has begun."""
        subject = alarm.partition(".")[0]
        for tank, stay in stays.items():
            if subject == tank or subject in line.positions.feeding(tank):
                self._add(stay, alarm)

    def stands(self, line: Line, tank: str, stay: Stay) -> None:
        """Note what stands about a tank now."""
        alarms = line.alarms
        for number in self._about.get(tank, ()):
            if alarms.active[number] and (
                alarms.state[number] not in SILENT
                or self._has_cause_elsewhere(line, tank, number)
            ):
                self._add(stay, self._plan.conditions[number].id)

    def _has_cause_elsewhere(self, line: Line, tank: str, number: int) -> bool:
        """Say whether an alarm stands behind one that nobody would look for at this tank."""
        alarms, cause = line.alarms, number
        if number in alarms.suppressed_by or alarms.state[number] is not State.SUPPRESSED:
            return False
        while cause in alarms.causes.behind:
            cause = alarms.causes.behind[cause]
        return cause != number and cause not in self._about.get(tank, ())

    def _add(self, stay: Stay, alarm: str) -> None:
        if alarm not in stay.alarms:
            stay.alarms = sorted([*stay.alarms, alarm], key=self._order)[:MOST]

    def _order(self, alarm: str) -> int:
        condition = self._condition.get(alarm)
        return -PRIORITIES.index(condition.priority) if condition is not None else 0

    def told(self, tank: TankPlan, stay: Stay) -> str:
        """Return a stay's alarms as people speak of them, the gravest first."""
        return ", ".join(self._named(tank, each) for each in stay.alarms)

    def gravest(self, stay: Stay) -> str:
        """Return the priority of a stay's gravest alarm; '' if it has none."""
        known = (self._condition.get(each) for each in stay.alarms)
        return next((each.priority for each in known if each is not None), "")

    def _named(self, tank: TankPlan, alarm: str) -> str:
        """Return an alarm's name; the tank itself need not be named."""
        condition = self._condition.get(alarm)
        if condition is None:
            return alarm
        is_own = condition.tag.partition(".")[0] == tank.id
        return title(self._plan, condition) if is_own else named(self._plan, condition)


def _about(plan: LinePlan) -> dict[str, tuple[int, ...]]:
    """Return by tank the alarms of it and its rectifiers, but for those of a load's moves."""
    moves = {rule.name for rule in MOVEMENT}
    by_subject: dict[str, list[int]] = {}
    for number, condition in enumerate(plan.conditions):
        subject, _, what = condition.tag.partition(".")
        if condition.kind != "overdue" and what not in moves:
            by_subject.setdefault(subject, []).append(number)
    of_tank = {tank.id: [tank.id] for tank in plan.tanks}
    for rectifier in plan.rectifiers:
        for tank, _ in rectifier.feeds:
            of_tank.setdefault(tank, [tank]).append(rectifier.id)
    return {
        tank: tuple(number for subject in subjects for number in by_subject.get(subject, ()))
        for tank, subjects in of_tank.items()
    }
