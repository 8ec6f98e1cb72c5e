"""The alarms as a picture shows them: since when, at which value, and what explains them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import STANDING, State
from linewatch.core.alarms.wording import because, title, unchanged, unit
from linewatch.core.line.moves import Moves
from linewatch.core.readings import Quality
from linewatch.core.rules.library import rule_of
from linewatch.core.rules.movement import MAINS_DIP
from linewatch.core.view import AlarmPicture

if TYPE_CHECKING:
    from linewatch.core.figures import FigureColumns
    from linewatch.core.line.machine import Line
    from linewatch.core.line.watch import Watch
    from linewatch.core.plan import ConditionPlan
    from linewatch.core.readings import Moment


def alarms_seen(line: Line, figures: FigureColumns, at: Moment) -> list[AlarmPicture]:
    """Return every alarm that is not plainly normal, in the order of the plan.

    Args:
        line: The line.
        figures: What is read now.
        at: Now, on both clocks.
    """
    alarms, plan, groups = line.alarms, line.plan, _Groups(line)
    found = []
    for number in alarms.not_normal():
        state = alarms.state[number]
        if state is State.SUPPRESSED and not alarms.active[number]:
            # Expected, and not even there.
            continue
        condition = plan.conditions[number]
        detail = alarms.detail.get(number)
        subject = alarms.subject(condition)
        since_utc_ns = detail.since_utc_ns if detail else 0
        found.append(
            AlarmPicture(
                id=condition.id,
                tag=condition.tag,
                subject=subject,
                kind=condition.kind,
                state=state.word,
                priority=condition.priority,
                text=f"{title(plan, condition)}{_remark(line, number)}",
                since_utc_ns=since_utc_ns,
                value=detail.value if detail else None,
                now=_now(line, number, figures, at),
                limit=None if condition.kind in _NO_LIMIT else condition.limit,
                unit=unit(plan, condition),
                acknowledged_by=detail.acknowledged_by if detail else "",
                until_utc_ns=detail.until_utc_ns if detail else None,
                why=because(plan, detail.why) if detail else "",
                cause=condition.cause,
                consequence=condition.consequence,
                action=condition.action,
                respond_within_s=condition.respond_within_s,
                group=groups.group(number, since_utc_ns),
                behind=groups.behind(number, since_utc_ns),
                evidence=unchanged(plan, condition)
                if condition.kind == "frozen"
                else _evidence(
                    condition,
                    detail.value if detail else None,
                    alarms.applied.get(number, condition.limit),
                ),
            )
        )
    return found


def _now(line: Line, alarm: int, figures: FigureColumns, at: Moment) -> float | None:
    """Return what an alarm's value is now; None where nothing good tells it."""
    condition = line.plan.conditions[alarm]
    if condition.kind == "overdue":
        return line.overdue.lasts_s(alarm, at.mono_ns)
    tag = line.plan.tags.get(condition.tag)
    if condition.kind not in _COMPARED or tag is None:
        return None
    return figures.good_value(tag.subject, tag.name)


def _remark(line: Line, alarm: int) -> str:
    """Return what tells that an alarm's words are no plain fact of now; '' if they are."""
    return _as_read(line, alarm) or _at_last(line, alarm)


def _as_read(line: Line, alarm: int) -> str:
    """Return what stands behind an alarm whose value cannot be read: it is no fact of now.

    It stays where it is: what was dangerous when it was read last is so until it is read again.
    """
    condition = line.plan.conditions[alarm]
    place = line.place(condition.tag)
    if condition.kind in _NOT_READ or place is None or not line.alarms.active[alarm]:
        return ""
    watch, column = place
    return AS_READ if watch.quality_of(column) >= Quality.BAD else ""


def _at_last(line: Line, alarm: int) -> str:
    """Return what stands behind an alarm about work, told with a load that is there no more."""
    condition = line.plan.conditions[alarm]
    rule = rule_of(condition)
    if rule is None or "load-present" not in rule.beside or not line.alarms.active[alarm]:
        return ""
    is_empty = line.positions.expected(line.alarms.subject(condition), ("no-load",))
    return AT_LAST if is_empty else ""


def _evidence(condition: ConditionPlan, value: float | None, limit: float) -> str:
    """Return by which rule, figure and limit a 'found' alarm is told."""
    if not condition.evidence:
        return ""
    name = condition.tag.partition(".")[2]
    unit = f" {condition.evidence_unit}" if condition.evidence_unit else ""
    figure = "" if value is None else f": {_figures(value)}{unit}"
    rule = rule_of(condition)
    inside = rule.evidence_inside if rule is not None else ""
    if inside and value is not None and value >= limit:
        # The limit is not what told it: beside the figure it would read as an error.
        return f"rule {name}, {inside}{figure}"
    says = (rule.limit_says if rule is not None else "limit {}").format(_figures(limit))
    behind = f" ({says})" if says else ""
    return f"rule {name}, {condition.evidence}{figure}{behind}"


def _figures(value: float) -> str:
    """Return a value with three figures, or all those before its point."""
    return f"{value:.0f}" if abs(value) >= WHOLE_FROM else f"{value:.3g}"


WHOLE_FROM: Final = 1000.0
_NO_LIMIT: Final = frozenset({"bad-quality", "found", "frozen"})
"""Kinds of condition whose limit is none of the value: of what is frozen, the least change."""
AS_READ: Final = " (as last read)"
AT_LAST: Final = " (with its last load)"
_NOT_READ: Final = frozenset({"bad-quality", "found", "overdue"})
"""Kinds of condition that are not told by the value that is read."""
_COMPARED: Final = frozenset({"high-high", "high", "low", "low-low", "deviation"})
"""Kinds of condition whose value is what is read, as it is."""
_MAY_FOLLOW = STANDING | {State.SUPPRESSED}
"""What is put aside by a person is listed as that, whatever it follows from."""
_DROPS = ("fault.", "current.", "current-stopped", "voltage.", "pressure.air.", "off-set")
"""Alarms of these may be a mains dip's doing."""
DIP: Final = "a mains dip or failure"


class _Groups:
    """What explains an alarm: another one, or its device."""

    def __init__(self, line: Line) -> None:
        self._line = line
        self._by_watch: dict[int, str] = {}
        moves = line.studies.of(Moves)
        self._dip = moves if moves is not None and moves.last_dip_ns >= 0 else None

    def behind(self, alarm: int, since_utc_ns: int) -> str:
        """Return the alarm of which another is the consequence; '' if there is none to see."""
        alarms, cause = self._line.alarms, alarm
        if alarms.state[alarm] not in _MAY_FOLLOW:
            return ""
        while cause in alarms.causes.behind and (
            # What stands explains more than that its consequence would be expected anyhow.
            cause not in alarms.suppressed_by
            or alarms.state[alarms.causes.behind[cause]] in STANDING
        ):
            cause = alarms.causes.behind[cause]
        if cause == alarm:
            return self._of_dip(alarm, since_utc_ns)
        # One that is only suspected is not in the list.
        is_seen = alarms.state[cause] is not State.NORMAL
        return self._line.plan.conditions[cause].id if is_seen else ""

    def _of_dip(self, alarm: int, since_utc_ns: int) -> str:
        """Return the alarm of the mains dip that explains another; '' if it is not listed."""
        name = f"{self._line.plan.line_id}.{MAINS_DIP}"
        dip = self._line.alarms.number.get(name, alarm)
        is_seen = dip != alarm and self._line.alarms.state[dip] in STANDING
        return name if is_seen and self._is_of_dip(alarm, since_utc_ns) else ""

    def _is_of_dip(self, alarm: int, since_utc_ns: int) -> bool:
        """Say whether an alarm is of a rectifier or of air, and began with the last dip."""
        ahead_ns = self._line.ahead_ns
        if self._dip is None or ahead_ns is None:
            return False
        what = self._line.plan.conditions[alarm].id.partition(".")[2]
        return what.startswith(_DROPS) and self._dip.explains(since_utc_ns - ahead_ns)

    def group(self, alarm: int, since_utc_ns: int) -> str:
        """Return in words what explains an alarm where no alarm of the list does."""
        condition = self._line.plan.conditions[alarm]
        place = self._line.place(condition.tag)
        if condition.kind == "bad-quality" and place is not None:
            watch = place[0]
            group = self._by_watch.get(id(watch))
            if group is None:
                group = self._by_watch[id(watch)] = _cause(watch)
            if group:
                return group
        # Once somebody has seen a dip that is over, only what it left behind is in the list.
        return DIP if self._is_of_dip(alarm, since_utc_ns) else ""


def _cause(watch: Watch) -> str:
    if bool((watch.quality == Quality.NOT_CONNECTED).all()):
        return f"link {watch.layout.link}"
    if len(watch.layout.tags) > 1 and bool((watch.quality >= Quality.BAD).all()):
        return f"device {watch.layout.device}"
    return ""
