"""What one configuration changes against another: limits, delays, priorities, old and new."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.wording import unit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.core.plan import ConditionPlan, LinePlan

NS: Final = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is not what it was."""

    what: str
    """'nickel-1.temperature.high limit'."""
    old: str
    """'' if there was none."""
    new: str
    """'' if there is none any more."""

    def __str__(self) -> str:
        return f"{self.what}: {self.old or 'none'} -> {self.new or 'none'}"


def changes(before: LinePlan, after: LinePlan) -> tuple[Change, ...]:
    """Return what has changed of how the line is judged.

    Args:
        before: The plan that was in force.
        after: The plan that is in force from now on.

    Returns:
        Alarms that came, went, or are judged otherwise; in the order of the later plan.
    """
    olds = {each.id: each for each in before.conditions}
    news = {each.id: each for each in after.conditions}
    found: list[Change] = []
    for name, new in news.items():
        old = olds.get(name)
        said = dict(_said(after, new))
        was = dict(_said(before, old)) if old is not None else {}
        found += [
            Change(what=f"{name} {part}", old=was.get(part, ""), new=text)
            for part, text in said.items()
            if was.get(part, "") != text
        ]
    for name in olds.keys() - news.keys():
        gone = dict(_said(before, olds[name]))
        found.append(Change(what=f"{name} limit", old=gone["limit"], new=""))
    return tuple(found)


def _said(plan: LinePlan, condition: ConditionPlan) -> Iterable[tuple[str, str]]:
    """Yield how a condition is judged, each part in words."""
    of = unit(plan, condition)
    tail = f" {of}" if of else ""
    yield "limit", f"{condition.limit:g}{tail}"
    if condition.deadband:
        yield "deadband", f"{condition.deadband:g}{tail}"
    if condition.target is not None:
        yield "target", f"{condition.target:g}{tail}"
    yield "on-delay", f"{condition.on_delay_ns / NS:g} s"
    yield "off-delay", f"{condition.off_delay_ns / NS:g} s"
    yield "priority", condition.priority
    if condition.latch:
        yield "latch", "yes"
    yield "on a bad value", condition.on_bad
    if condition.suppress_when:
        yield "suppressed when", ", ".join(condition.suppress_when)
