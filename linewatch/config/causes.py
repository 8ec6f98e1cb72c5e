"""Which alarms of one position, or of one link, are known to be the consequence of another.

A judgement that rests on an instrument which is itself reported broken follows from that
report; so does what a rule says that it explains; so does every value that a lost link leaves
unreadable, and every load that hangs or is overdue where nothing moves. What warns of danger to
people follows from nothing, and of treatment, extraction and supplies no limit does: there
nothing is made quiet.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.silent import lost_name, silent_names
from linewatch.core.plan import PRIORITIES, CausePlan, ConditionPlan
from linewatch.core.rules.library import BY_NAME as RULES
from linewatch.core.rules.library import rule_of
from linewatch.core.rules.movement import LEAST_STANDING, load_troubles, standstill
from linewatch.core.signs.table import BY_NAME as SIGNS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from linewatch.core.plan import LinePlan

NS: Final = 1_000_000_000
LEAD_NS: Final = 120 * NS
"""What is unreadable may be told this long before its whole link is lost: common practice."""
RATE_NS: Final = 60 * NS
"""A rate is judged over so long; the last jump of a dying probe is no rate."""
NEVER_QUIET: Final = frozenset({"treat", "extract", "supply"})
LEAST: Final = "medium"
"""Priority of a lost link, where nothing that it brings is more urgent by itself: one value
may wait, all of a gateway's may not. Common practice."""
LOST_ON_NS: Final = 10 * NS
LOST_OFF_NS: Final = 10 * NS
"""A link that is back within ten seconds asks for nobody: common practice."""
SILENT_ON_NS: Final = 20 * NS
"""Devices behind a lost gateway fall silent one after the other: twice as long as a link."""
STANDS_LEAD_NS: Final = 4 * 3600 * NS
"""Loads are overdue one after another while a track stands: common practice."""
STANDS: Final = "high"
"""Priority of a track that stands; what is as urgent by itself keeps its own row."""
LOW: Final = ("low-low", "level")
"""Where this stands the heater is off, or must be: that the bath cools follows from it."""
OF_HEAT: Final = frozenset({"heat-lost", "heater-weak", "temperature.deviation"})
COLD_LEAD_NS: Final = 1800 * NS
"""A bath may have begun to cool while its level fell towards the heater: common practice."""
_DEFINITE: Final = frozenset({"high-high", "high", "low", "low-low", "deviation", "rate"})


def with_causes(
    conditions: Iterable[ConditionPlan], position: str
) -> tuple[ConditionPlan, ...]:
    """Return the conditions of one subject, each with what it may be the consequence of.

    Args:
        conditions: The conditions.
        position: Kind of position, or 'rectifier'.

    Returns:
        The same, in the same order.
    """
    every = tuple(conditions)
    return tuple(
        replace(each, causes=(*each.causes, *_causes(each, every, position))) for each in every
    )


def _causes(
    condition: ConditionPlan, every: Sequence[ConditionPlan], position: str
) -> list[CausePlan]:
    if not condition.may_be_suppressed:
        return []
    rests_on = _rests_on(condition)
    is_quiet = position in NEVER_QUIET and condition.kind in _DEFINITE
    found = []
    for other in every:
        lead_ns = None if other is condition else _lead_ns(condition, other, rests_on)
        if lead_ns is not None and not is_quiet:
            found.append(CausePlan(id=other.id, lead_ns=lead_ns))
    return found


def _lead_ns(
    condition: ConditionPlan, other: ConditionPlan, rests_on: frozenset[str]
) -> int | None:
    """Return how much earlier than another it may begin [ns]; None: no consequence."""
    rule = rule_of(other)
    if rule is not None:
        doubts = rests_on.intersection(rule.doubts) and not _doubts(condition)
        is_told_by = doubts or _name(condition) in rule.explains
        return round(rule.late_s * NS) if is_told_by else None
    if (other.kind, _what(other.tag)) == LOW and _is_of_heat(condition):
        return COLD_LEAD_NS
    if _what(other.tag) not in rests_on:
        return None
    if other.kind == "frozen" and condition.kind == "found" and not _doubts(condition):
        return other.on_delay_ns
    if other.kind != "bad-quality" or condition.kind not in _DEFINITE:
        return None
    # A limit is not judged on what is unreadable; what it was before may be told once more.
    return RATE_NS if condition.kind == "rate" else other.on_delay_ns


def _is_of_heat(condition: ConditionPlan) -> bool:
    """Say whether a condition tells that a position is not warm enough."""
    is_cold = condition.kind in {"low", "low-low"} and _what(condition.tag) == "temperature"
    return is_cold or _name(condition) in OF_HEAT


def _rests_on(condition: ConditionPlan) -> frozenset[str]:
    """Return the measurement kinds, with suffix, by whose values a condition is judged."""
    what = _what(condition.tag)
    if condition.kind in _DEFINITE or condition.kind == "frozen":
        return frozenset({what})
    known = RULES.get(what) or SIGNS.get(what)
    return frozenset(known.needs) if condition.kind == "found" and known else frozenset()


def _doubts(condition: ConditionPlan) -> bool:
    """Say whether a condition reports an instrument itself: it is no consequence of another."""
    rule = rule_of(condition)
    return rule is not None and bool(rule.doubts)


def _what(tag: str) -> str:
    return tag.partition(".")[2]


def _name(condition: ConditionPlan) -> str:
    return condition.id.partition(".")[2]


def with_links(plan: LinePlan) -> LinePlan:
    """Return a plan in which every link has an alarm, and every device of a link with several.

    It is as urgent as what it leaves unreadable, and at least of medium priority. A device that
    does not answer follows from its link's loss.

    Args:
        plan: The line.

    Returns:
        The same; where no tag is watched for being unreadable nothing is told.
    """
    conditions = list(plan.conditions)
    for link in plan.links:
        tags = [tag for each in plan.layouts if each.link == link for tag in each.tags]
        _add(conditions, _lost(lost_name(link)), tags)
    rectifiers = {each.id for each in plan.rectifiers}
    for name, (link, device) in silent_names(plan.layouts).items():
        tags = [
            tag
            for each in plan.layouts
            if (each.link, each.device) == (link, device)
            for tag in each.tags
        ]
        is_unit = name.partition(".")[0] in rectifiers
        silent = _silent(name, device, is_unit=is_unit)
        causes = tuple(
            CausePlan(id=each.id, lead_ns=LEAD_NS)
            for each in conditions
            if each.id == lost_name(link)
        )
        _add(conditions, replace(silent, causes=causes), tags)
    return replace(plan, conditions=tuple(conditions))


def _add(conditions: list[ConditionPlan], found: ConditionPlan, tags: Iterable[str]) -> None:
    """Add an alarm from which follows that some tags are unreadable, where that is watched."""
    place = {each.id: k for k, each in enumerate(conditions)}
    unreadable = [place[name] for tag in tags if (name := f"{tag}.bad-quality") in place]
    if not unreadable or found.id in place:
        return
    each_of = (PRIORITIES.index(conditions[k].priority) for k in unreadable)
    urgent = max(PRIORITIES.index(LEAST), *each_of)
    cause = CausePlan(id=found.id, lead_ns=LEAD_NS)
    for k in unreadable:
        each = conditions[k]
        conditions[k] = replace(each, causes=(*each.causes, cause))
    conditions.append(replace(found, priority=PRIORITIES[urgent], respond_within_s=300.0))


def _silent(name: str, device: str, *, is_unit: bool) -> ConditionPlan:
    is_its_own = name.partition(".")[0] == device
    return ConditionPlan(
        id=name,
        tag=name,
        kind="found",
        title="does not answer" if is_unit or is_its_own else f"{device} does not answer",
        on_delay_ns=SILENT_ON_NS,
        off_delay_ns=LOST_OFF_NS,
        cause="device switched off, its bus plug or address, or its own fault; the others on"
        " its link answer",
        consequence="nothing that it tells is watched; it may go on working, or stand",
        action="look whether it runs, then at its supply and bus plug; read by hand what"
        " matters meanwhile",
    )


def _lost(name: str) -> ConditionPlan:
    return ConditionPlan(
        id=name,
        tag=name,
        kind="found",
        title="nothing can be read",
        on_delay_ns=LOST_ON_NS,
        off_delay_ns=LOST_OFF_NS,
        cause="cable, gateway or server without power, its program stopped, or another client"
        " that holds its only place",
        consequence="nothing that comes over this link is watched",
        action="supply and cable of the gateway or server; the links view tells what it"
        " answered last; read by hand what matters meanwhile",
    )


def with_tracks(plan: LinePlan) -> LinePlan:
    """Return a plan in which every track has an alarm that nothing moves there.

    Args:
        plan: The line.

    Returns:
        The same; a track of which fewer than two positions tell of loads has none.
    """
    conditions = list(plan.conditions)
    place = {each.id: k for k, each in enumerate(conditions)}
    for track in dict.fromkeys(tank.track for tank in plan.tanks if tank.track):
        name = standstill(plan.line_id, track)
        own = load_troubles(plan, track)
        if len({each.partition(".")[0] for each in own}) < LEAST_STANDING or name in place:
            continue
        cause = CausePlan(id=name, lead_ns=STANDS_LEAD_NS)
        for k in (place[each] for each in own):
            each = conditions[k]
            is_less = PRIORITIES.index(each.priority) < PRIORITIES.index(STANDS)
            if is_less and each.may_be_suppressed:
                conditions[k] = replace(each, causes=(*each.causes, cause))
        conditions.append(_stands(name, track))
    return replace(plan, conditions=tuple(conditions))


def _stands(name: str, track: str) -> ConditionPlan:
    return ConditionPlan(
        id=name,
        tag=name,
        kind="found",
        title=f"{track} track: nothing moves",
        priority=STANDS,
        cause="hoist, crane or conveyor stopped: emergency stop, overload, a position not"
        " reached, or it was switched to manual",
        consequence="work dries on in the air or is over-treated in its tank",
        action="look why it stands; by hand, first what must not stay where it is: acids, then"
        " what hangs in the air",
        respond_within_s=60.0,
    )
