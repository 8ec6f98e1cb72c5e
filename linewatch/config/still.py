"""Which links have an alarm that nothing on them moves, and what follows from it.

A server whose program hangs, or a gateway that answers from memory, shows good values that are
old: what rests on one of them (a figure that stands still, a unit that repeats itself) follows
from that, and as long as it stands everything over the link is in doubt.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.silent import LEAST_MEASURED, measures, still_name
from linewatch.core.plan import PRIORITIES, CausePlan, ConditionPlan
from linewatch.core.rules.library import rule_of

if TYPE_CHECKING:
    from linewatch.core.plan import LinePlan, Priority

LEAD_NS: Final = 120 * 1_000_000_000
"""What follows may be told this long before: common practice."""
LEAST: Final = "medium"


def with_still_links(plan: LinePlan) -> LinePlan:
    """Return a plan in which every link over which much is measured may be told to stand still.

    It is as urgent as the most urgent unreadable value of the link would be.

    Args:
        plan: The line, its links with their other alarms.
    """
    conditions = list(plan.conditions)
    for link in plan.links:
        tags = {tag for each in plan.layouts if each.link == link for tag in each.tags}
        if sum(measures(plan, tag) for tag in tags) < LEAST_MEASURED:
            continue
        name = still_name(link)
        cause = CausePlan(id=name, lead_ns=LEAD_NS)
        ranks = [PRIORITIES.index(LEAST)]
        for k, each in enumerate(conditions):
            if each.kind == "bad-quality" and each.tag in tags:
                ranks.append(PRIORITIES.index(each.priority))
            elif _follows(each, tags):
                conditions[k] = replace(each, causes=(*each.causes, cause))
        conditions.append(_still(name, PRIORITIES[max(ranks)]))
    return replace(plan, conditions=tuple(conditions))


def _follows(condition: ConditionPlan, tags: set[str]) -> bool:
    """Say whether a condition tells that a reading of a link is not what it looks like."""
    if not condition.may_be_suppressed:
        return False
    if condition.kind == "frozen":
        return condition.tag in tags
    subject, rule = condition.tag.partition(".")[0], rule_of(condition)
    return rule is not None and any(f"{subject}.{kind}" in tags for kind in rule.doubts)


def _still(name: str, priority: Priority) -> ConditionPlan:
    return ConditionPlan(
        id=name,
        tag=name,
        kind="found",
        title="its values no longer move",
        priority=priority,
        cause="the server's program hangs, or a gateway answers from memory; the devices behind"
        " it may be well, or not",
        consequence="nothing that comes over this link is watched: good values are old ones",
        action="compare one value with the device's own display; restart the server's program;"
        " read by hand what matters meanwhile",
        respond_within_s=300.0,
    )
