"""What an alarm says, in one sentence without time and subject."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.causes import FOLLOWS
from linewatch.core.alarms.states import Move
from linewatch.core.measurements import MEASUREMENTS, Measurement

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Part
    from linewatch.core.plan import ConditionPlan, LinePlan

_DONE = {
    Move.OCCUR: "",
    Move.CLEAR: "returned to normal",
    Move.CLEAR_LATCHED: "returned to normal, latched",
    Move.ACKNOWLEDGE: "acknowledged",
    Move.RESET: "latch reset",
    Move.SHELVE: "shelved",
    Move.UNSHELVE: "back from the shelf",
    Move.SUPPRESS: "suppressed by design",
    Move.UNSUPPRESS: "no longer suppressed",
    Move.REMOVE: "out of service",
    Move.RETURN: "back in service",
}

_SAYS = {
    ("running", False): "does not run",
    ("running", True): "runs",
    ("fault", True): "tells a fault",
    ("valve open", True): "valve open",
    ("valve open", False): "valve shut",
}
"""What a state says that is not as it should be: nobody calls a fan 'running off'."""
_SPOKEN = {"load-present": "load", "ph": "pH", "orp": "ORP"}


def measurement(plan: LinePlan, condition: ConditionPlan) -> Measurement | None:
    """Return the kind of measurement that a condition watches, if there is one."""
    tag = plan.tags.get(condition.tag)
    return MEASUREMENTS.get(tag.kind) if tag is not None else None


def title(plan: LinePlan, condition: ConditionPlan) -> str:
    """Return an alarm's short text: 'temperature low', 'filter pressure high'."""
    if condition.title:
        return condition.title
    tag = plan.tags.get(condition.tag)
    _, _, what = (tag.id if tag is not None else condition.tag).partition(".")
    what = spoken(what)
    if condition.kind == "bad-quality":
        return f"{what} unreadable"
    if condition.kind == "discrete":
        said = _SAYS.get((what, bool(condition.limit)))
        return said or f"{what} {'on' if condition.limit else 'off'}"
    if condition.kind == "overdue":
        return f"{what} overdue"
    return what if condition.kind == "found" else f"{what} {condition.kind}"


def called(plan: LinePlan, subject: str) -> str:
    """Return what people call a tank, rectifier or bath, or the line: '14 Nickel 1'.

    Args:
        plan: The line.
        subject: An id; what the plan does not know is returned as it is.
    """
    names = {plan.line_id: plan.name}
    names |= {each.id: each.name for each in plan.baths}
    names |= {each.id: each.name for each in plan.rectifiers}
    names |= {each.id: each.called for each in plan.tanks}
    if subject in plan.links:
        names.setdefault(subject, f"link {subject}")
    return names.get(subject, subject)


def named(plan: LinePlan, condition: ConditionPlan) -> str:
    """Return an alarm as people speak of it: 'Nickel 1 rectifier: current low'."""
    subject = condition.tag.partition(".")[0]
    return f"{called(plan, subject)}: {title(plan, condition)}"


def spoken(what: str) -> str:
    """Return what a tag measures, as people say it.

    Args:
        what: The tag's kind of measurement, with its suffix if it has a twin.

    Examples:
        >>> spoken("pressure.filter"), spoken("load-present"), spoken("heat-sink")
        ('filter pressure', 'load', 'heat sink')
    """
    kind, _, twin = what.partition(".")
    if kind == "count" and twin:
        kind, twin = twin, ""
    kind = _SPOKEN.get(kind, kind).replace("-", " ")
    return f"{twin.replace('-', ' ')} {kind}".strip()


def unit(plan: LinePlan, condition: ConditionPlan) -> str:
    """Return the unit of a condition's limit."""
    kind = measurement(plan, condition)
    if condition.kind == "overdue":
        return "s"
    if kind is None or condition.kind in {"bad-quality", "discrete", "found"}:
        return ""
    return f"{kind.unit}/min" if condition.kind == "rate" else kind.unit


def sentence(
    plan: LinePlan, condition: ConditionPlan, move: Move, values: Mapping[str, Part]
) -> str:
    """Return what happened to an alarm."""
    parts = [title(plan, condition)]
    why = str(values.get("why") or "")
    is_behind = move is Move.SUPPRESS and why.startswith(FOLLOWS)
    # What another alarm explains is put aside by no design.
    done = "put behind its cause" if is_behind else _DONE[move]
    by = values.get("who")
    if done:
        parts.append(done + (f" by {by}" if by else ""))
    parts.append(_against_limit(plan, condition, move, values.get("value")))
    if why:
        parts.append(because(plan, why))
    return ": ".join(part for part in parts if part)


def because(plan: LinePlan, why: str) -> str:
    """Return why an alarm is put aside; another alarm that explains it by its name."""
    cause = why.removeprefix(FOLLOWS)
    if cause == why:
        return why
    known = next((each for each in plan.conditions if each.id == cause), None)
    return f"{FOLLOWS}{named(plan, known)}" if known is not None else why


def unchanged(plan: LinePlan, condition: ConditionPlan) -> str:
    """Return what a value has not done that is frozen: its limit is the least change."""
    least = f"by {condition.limit:g} {unit(plan, condition)}".rstrip()
    least = least if condition.limit else "at all"
    seconds = condition.on_delay_ns / 1e9
    lasted = f"{seconds / 3600.0:g} h" if seconds >= LONG_S else f"{seconds / 60.0:.3g} min"
    return f"has not changed {least} for {lasted}"


LONG_S: Final = 2.0 * 3600.0
"""From here on times are told in hours."""


def how_to(kind: str, value: float, limit: float) -> str:
    """Return how a value stands to the limit for which its alarm is announced.

    After its delay a value may be back inside by less than the deadband, and the alarm holds.

    Args:
        kind: Of the condition: 'high', 'low-low'.
        value: The value, in the limit's unit.
        limit: The limit.

    Returns:
        'limit', or that it is inside again.
    """
    side = kind.partition("-")[0]
    is_back = value < limit if side == "high" else side == "low" and value > limit
    return "barely back inside limit" if is_back else "limit"


def _against_limit(plan: LinePlan, condition: ConditionPlan, move: Move, value: Part) -> str:
    kind = measurement(plan, condition)
    if move not in {Move.OCCUR, Move.CLEAR} or not isinstance(value, float) or kind is None:
        return ""
    if condition.kind in {"bad-quality", "discrete", "found"}:
        return ""
    if condition.kind == "frozen":
        read = f"{value:.{kind.decimals}f} {kind.unit}".rstrip()
        return f"{read}, {unchanged(plan, condition)}" if move is Move.OCCUR else read
    of = unit(plan, condition)
    places = 0 if condition.kind == "overdue" else kind.decimals
    tail = f" {of}" if of else ""
    how = how_to(condition.kind, value, condition.limit) if move is Move.OCCUR else "limit"
    limit = f"{how} {condition.limit:.{places}f}"
    if condition.kind == "deviation" and condition.target is not None:
        limit = f"target {condition.target:.{places}f} ± {condition.limit:.{places}f}"
    return f"{value:.{places}f}{tail}, {limit}{tail}"
