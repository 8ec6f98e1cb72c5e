"""Conditions: what each window, tag and position is watched for, unless said otherwise.

Every limit of a tag's window is a condition; every tag is watched for bad values; a fault
contact, the fan of an extraction and a load that stays too long are watched by themselves.
An `[[…alarm]]` of the configuration changes one of these, switches it off, or adds another.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from linewatch.config.advice import HEATED, advice, fitting
from linewatch.config.causes import with_causes
from linewatch.config.model import AlarmSection
from linewatch.config.quantities import difference, quantity
from linewatch.core import units
from linewatch.core.alarms.defaults import default_condition
from linewatch.core.errors import UnitMismatch
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.plan import PRIORITIES, TANK_KINDS, ConditionPlan, TagPlan
from linewatch.core.rules.heat import is_warm
from linewatch.core.rules.library import BY_NAME, RULES, missing
from linewatch.core.signs.table import SIGNS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.config.faults import Faults
    from linewatch.core.plan import ConditionKind, Priority
    from linewatch.core.rules.rule import Rule

NS = 1_000_000_000

_SIDES: tuple[ConditionKind, ...] = ("low-low", "low", "high", "high-high")
_DIFFERENCES = {"deviation", "rate", "frozen"}
_COLD: dict[tuple[str, str], tuple[str, ...]] = {
    ("temperature", "low"): ("heating-up", "line-rests"),
    ("temperature", "low-low"): ("heating-up", "line-rests"),
    ("current", "low"): ("no-load", "line-rests"),
    ("current", "low-low"): ("no-load", "line-rests"),
    ("voltage", "low"): ("no-load", "no-current", "line-rests"),
    ("voltage", "low-low"): ("no-load", "no-current", "line-rests"),
    ("ripple", "high"): ("no-current",),
    ("ripple", "high-high"): ("no-current",),
    ("flow", "low"): ("line-rests",),
    ("flow", "low-low"): ("line-rests",),
    ("pressure", "low"): ("line-rests",),
    # A barrel that is not there need not turn.
    ("speed", "low"): ("no-load", "line-rests"),
    ("speed", "low-low"): ("no-load", "line-rests"),
    ("conductivity", "low"): ("line-rests",),
    # What stands at nothing is at rest: why nothing flows is for other rules to tell.
    ("current", "frozen"): ("no-load", "no-current", "line-rests"),
    ("voltage", "frozen"): ("no-load", "no-current", "line-rests"),
}
"""What is expected in which state of the line. Level, treatment and extraction never are."""
_CLEANED = frozenset({"clean", "electroclean", "activate"})
"""Where a current lays down no metal."""
_OF_CYANIDE = {
    "rinse": "cyanide-rinse",
    "strike": "cyanide-bath",
    "plate": "cyanide-bath",
    "cell": "cyanide-bath",
}
"""Whose advice is another where there is cyanide; a treatment's is about it already."""
_NEVER_SUPPRESSED = {"treat", "extract", "supply"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """A tank, rectifier or other subject with what it says of alarms."""

    key: str
    """Its key in the configuration: 'tank.nickel-1'."""
    position: str
    """Kind of position, or 'rectifier'."""
    tags: tuple[TagPlan, ...]
    alarms: tuple[AlarmSection, ...] = ()
    longest_dwell_s: float | None = None
    rests_s: float = 0.0
    """Longest time for which a barrel in it rests by design [s]."""
    feeds: frozenset[str] = frozenset()
    """Kinds of the tanks that a rectifier feeds."""
    beside: frozenset[str] = frozenset()
    """Kinds that are measured in the tanks that a rectifier feeds."""
    holds_cyanide: bool = False
    """Its liquid, or what work drags into it, holds cyanide."""
    windows_are_known: bool = True
    """False while a bath or recipe that it names is missing: no limit can be missed then."""

    @property
    def told_as(self) -> str:
        """Return the kind of position whose advice fits; of some there is a particular one."""
        if self.position == "rectifier" and self.feeds and self.feeds <= _CLEANED:
            return "cleaning-rectifier"
        kinds = _OF_CYANIDE if self.holds_cyanide else {}
        return kinds.get(self.position, self.position)


def conditions_of(watched: Watched, faults: Faults) -> tuple[ConditionPlan, ...]:
    """Return the conditions of one subject: the usual ones, and what is said of them."""
    found = {each.id: each for each in _usual(watched)}
    by_kind = {tag.id.split(".", 1)[1]: tag for tag in watched.tags}
    for alarm in watched.alarms:
        key = f"{watched.key}.alarm.{alarm.of}.{alarm.when}"
        if alarm.when == "found":
            _change_rule(
                alarm, f"{watched.key.split('.', 1)[1]}.{alarm.of}", found, key, faults
            )
            continue
        tag = by_kind.get(alarm.of)
        if tag is None:
            faults.unknown(f"{key}.of", "tag here measures", alarm.of, by_kind)
            continue
        name = f"{tag.id}.{alarm.when}"
        usual = found.get(name)
        if alarm.off:
            if usual is None:
                faults.add(f"{key}.off", "there is no such alarm", "leave it out")
            found.pop(name, None)
            continue
        said = _said(alarm, usual or _start(tag, alarm.when, watched.told_as), tag, key, faults)
        lacks_limit = alarm.limit is None and usual is None and alarm.when != "bad-quality"
        if lacks_limit and watched.windows_are_known:
            faults.add(f"{key}.limit", "missing", "neither here nor in the window is a limit")
        found[name] = said
    return with_causes(found.values(), watched.position)


def _usual(watched: Watched) -> Iterable[ConditionPlan]:
    # Where nothing is ever made quiet a probe is the discharge's first, not a heater's.
    may_heat = watched.position not in _NEVER_SUPPRESSED
    heated = may_heat and is_warm({tag.id.split(".", 1)[1]: tag.window for tag in watched.tags})
    for tag in watched.tags:
        for condition in _of_window(tag, watched.told_as):
            is_rest = tag.kind == "speed" and condition.kind in {"low", "low-low"}
            more_ns = round(watched.rests_s * NS) if is_rest else 0
            yield replace(condition, on_delay_ns=condition.on_delay_ns + more_ns)
        if tag.kind == "fault":
            yield replace(_start(tag, "discrete", watched.told_as), limit=1.0)
        if tag.kind == "running" and watched.position == "extract":
            yield replace(_start(tag, "discrete", watched.told_as), limit=0.0)
        if tag.kind == "load-present" and watched.longest_dwell_s is not None:
            yield replace(
                _start(tag, "overdue", watched.told_as), limit=watched.longest_dwell_s
            )
        is_its_heat = heated and tag.id.partition(".")[2] == "temperature"
        yield _start(tag, "bad-quality", HEATED if is_its_heat else watched.told_as)
    yield from _of_signs(watched)
    yield from _of_rules(watched)


def _of_rules(watched: Watched) -> Iterable[ConditionPlan]:
    """Yield an alarm for every rule that can watch this position."""
    subject = watched.key.split(".", 1)[1]
    windows = {tag.id.split(".", 1)[1]: tag.window for tag in watched.tags}
    for rule in RULES:
        if rule.of == ("line",):
            continue
        if rule.in_cyanide and not watched.holds_cyanide:
            continue
        if missing(rule, watched.position, windows, watched.beside) != ():
            continue
        may_rest = watched.position not in _NEVER_SUPPRESSED
        said = _of_rule(rule, subject, may_rest=may_rest)
        here = fitting(watched.position, rule.consequences, rule.consequence)
        consequence = fitting(watched.told_as, rule.consequences, here)
        yield replace(said, consequence=consequence)


def line_conditions(line_id: str, rectifiers: int) -> tuple[ConditionPlan, ...]:
    """Return the alarms of rules that watch the line as a whole.

    Args:
        line_id: Id of the line.
        rectifiers: How many there are; fewer than three never tell of the mains.
    """
    rules = (rule for rule in RULES if rule.of == ("line",) and rectifiers >= rule.limit)
    return tuple(_of_rule(rule, line_id, may_rest=True) for rule in rules)


def _of_rule(rule: Rule, subject: str, *, may_rest: bool) -> ConditionPlan:
    return ConditionPlan(
        id=f"{subject}.{rule.name}",
        tag=f"{subject}.{rule.name}",
        kind="found",
        limit=rule.limit,
        title=rule.title,
        priority=rule.priority,
        cause=rule.cause,
        consequence=rule.consequence,
        action=rule.full_action(),
        respond_within_s=rule.respond_within_s,
        suppress_when=rule.suppress_when if may_rest and not rule.is_safety else (),
        may_be_suppressed=not rule.is_safety,
        evidence=rule.evidence,
        evidence_unit=rule.unit,
    )


def _change_rule(
    alarm: AlarmSection,
    name: str,
    found: dict[str, ConditionPlan],
    key: str,
    faults: Faults,
) -> None:
    """Change what the configuration says of a rule, or switch it off here."""
    usual = found.get(name)
    if usual is None or usual.kind != "found":
        watching = tuple(
            each.tag.split(".", 1)[1] for each in found.values() if each.kind == "found"
        )
        faults.unknown(f"{key}.of", "rule watches here", alarm.of, watching)
        return
    if not usual.may_be_suppressed and (alarm.off or alarm.suppress_when):
        faults.add(key, "a safety rule cannot be switched off or made quiet", "leave it out")
        return
    if alarm.off:
        del found[name]
        return
    limit = None
    if alarm.limit is not None:
        rule = BY_NAME.get(alarm.of)
        try:
            limit = float(str(alarm.limit).removesuffix(rule.unit if rule else ""))
        except ValueError:
            unit = usual.evidence_unit or "no unit"
            faults.add(
                f"{key}.limit", f"{alarm.limit!r} is no plain number", f"it is in {unit}"
            )
            return
    changes: dict[str, Any] = {
        "limit": limit,
        "priority": alarm.priority,
        "suppress_when": alarm.suppress_when,
        "cause": alarm.cause,
        "consequence": alarm.consequence,
        "action": alarm.action,
        "respond_within_s": alarm.respond_within,
    }
    found[name] = replace(
        usual, **{what: value for what, value in changes.items() if value is not None}
    )


def _of_signs(watched: Watched) -> Iterable[ConditionPlan]:
    """Yield an alarm for every sign that the signals of this position can tell."""
    subject = watched.key.split(".", 1)[1]
    kinds = {tag.id.split(".", 1)[1] for tag in watched.tags}
    for sign in SIGNS:
        is_for = watched.position in sign.of if sign.of else watched.position in TANK_KINDS
        if (
            not is_for
            or not kinds.issuperset(sign.needs)
            or (kinds | watched.beside).intersection(sign.but_not)
        ):
            continue
        yield ConditionPlan(
            id=f"{subject}.{sign.name}",
            tag=f"{subject}.{sign.name}",
            kind="found",
            title=sign.title,
            priority=sign.priority,
            cause=sign.cause,
            consequence=sign.consequence,
            action=sign.action,
            respond_within_s=sign.respond_within_s,
            suppress_when=() if watched.position in _NEVER_SUPPRESSED else sign.suppress_when,
        )


def _of_window(tag: TagPlan, position: str) -> Iterable[ConditionPlan]:
    for side in _SIDES:
        limit = getattr(tag.window, side.replace("-", "_"))
        if limit is not None:
            yield replace(_start(tag, side, position), limit=limit, target=tag.window.target)


def _start(tag: TagPlan, kind: ConditionKind, position: str) -> ConditionPlan:
    """Return a condition with the usual starting values of its kind."""
    ratio, on_s, off_s, _ = default_condition(tag.kind, kind)
    side = {"low-low": "low", "high-high": "high"}.get(kind, kind)
    said = advice(position, tag.id.partition(".")[2], side)
    suppress = () if position in _NEVER_SUPPRESSED else _COLD.get((tag.kind, kind), ())
    return ConditionPlan(
        id=f"{tag.id}.{kind}",
        tag=tag.id,
        kind=kind,
        deadband=_deadband(tag, kind, ratio),
        on_delay_ns=round(on_s * NS),
        off_delay_ns=round(off_s * NS),
        priority=_priority(said.priority, kind, tag),
        target=tag.window.target,
        suppress_when=suppress,
        cause=said.cause,
        consequence=said.consequence,
        action=said.action,
        respond_within_s=said.respond_within_s,
    )


def _deadband(tag: TagPlan, kind: ConditionKind, ratio: float) -> float:
    """Return a share of the window's span, but never less than a step that the screen shows.

    A window with one side has no span of its own: its limit's distance from zero stands in.
    """
    if ratio == 0.0:
        return 0.0
    window = tag.window
    if window.low is not None and window.high is not None:
        span = window.high - window.low
    else:
        limit = getattr(window, kind.replace("-", "_"), None) or window.high or window.low
        span = abs(limit) if limit else tag.high - tag.low
    return max(ratio * span, 2.0 * 10.0 ** -MEASUREMENTS[tag.kind].decimals)


def _priority(outer: Priority, kind: ConditionKind, tag: TagPlan) -> Priority:
    """Return the full priority for an outer limit, less for an edge of the window.

    An edge warns while there is time: one step lower, two where an outer limit stands behind
    it. So most of what is announced is low, a little of it high (the usual goal of
    ANSI/ISA-18.2 is 80 % low, 15 % medium and 5 % high).
    """
    if kind not in {"low", "high"}:
        return outer
    behind = tag.window.low_low if kind == "low" else tag.window.high_high
    steps = 1 if behind is None else 2
    return PRIORITIES[max(0, PRIORITIES.index(outer) - steps)]


def _said(
    alarm: AlarmSection, usual: ConditionPlan, tag: TagPlan, key: str, faults: Faults
) -> ConditionPlan:
    """Return a condition with what the configuration says of it."""
    unit = MEASUREMENTS[tag.kind].unit
    limit = _limit(alarm, unit, key, faults)
    deadband = difference(alarm.deadband, unit, f"{key}.deadband", faults)
    changes: dict[str, Any] = {
        "limit": limit,
        "deadband": deadband,
        "on_delay_ns": _ns(alarm.on_delay),
        "off_delay_ns": _ns(alarm.off_delay),
        "priority": alarm.priority,
        "latch": alarm.latch or None,
        "on_bad": alarm.on_bad,
        "suppress_when": alarm.suppress_when,
        "cause": alarm.cause,
        "consequence": alarm.consequence,
        "action": alarm.action,
        "respond_within_s": alarm.respond_within,
    }
    return replace(
        usual, **{name: value for name, value in changes.items() if value is not None}
    )


def _limit(alarm: AlarmSection, unit: str, key: str, faults: Faults) -> float | None:
    if alarm.limit is None:
        return None
    if alarm.when == "overdue":
        try:
            return units.parse(alarm.limit, "s")
        except UnitMismatch as mismatch:
            faults.add(f"{key}.limit", str(mismatch))
            return None
    if alarm.when in _DIFFERENCES:
        return difference(alarm.limit, unit, f"{key}.limit", faults)
    return quantity(alarm.limit, unit, f"{key}.limit", faults)


def _ns(seconds: float | None) -> int | None:
    return None if seconds is None else round(seconds * NS)
