"""The alarms: standing ones first, then what is put aside and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import State
from linewatch.ui.draw.bands import newest
from linewatch.ui.draw.naming import alarm_of, names, target
from linewatch.ui.draw.parts import alarm_line, fact, response_rows
from linewatch.ui.draw.rows import Look, Row, Span, row, titled
from linewatch.ui.scales import scale
from linewatch.ui.text import clean, moment, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.view import AlarmPicture, LinePicture

ASIDE: Final = (
    (State.SHELVED, "shelved: put aside for a time, come back by themselves"),
    (State.SUPPRESSED, "suppressed by design: what the line is doing makes them expected"),
    (State.OUT_OF_SERVICE, "out of service: for maintenance, without a limit"),
)


SHOWN_OF_GROUP: Final = 3
"""Alarms of one cause that a flood's list shows before the cursor goes in among them."""


def alarm_list(picture: LinePicture, look: Look, chosen: str = "") -> list[Row]:
    """Return a row an alarm; in a flood the standing ones by what explains them.

    Args:
        picture: The line.
        look: How it is drawn.
        chosen: Id of the alarm that the cursor is on; its group is shown whole.

    Returns:
        The rows.
    """
    called = names(picture)
    standing = newest(picture.alarms)
    rows = [titled(f"standing: {len(standing)}", look.width)]
    if not standing:
        rows.append(row(Span("   none", "quiet")))
    if picture.flood:
        rows += _grouped(standing, called, look, chosen)
    else:
        rows += [_line(each, called, look) for each in standing]
    for state, title in ASIDE:
        mine = [each for each in picture.alarms if each.state == state.word]
        rows += [row(), titled(f"{title}: {len(mine)}", look.width)]
        rows += [_line(each, called, look) for each in mine]
    return rows


def _line(alarm: AlarmPicture, called: dict[str, str], look: Look) -> Row:
    subject = called.get(alarm.subject, clean(alarm.subject, 40))
    return alarm_line(alarm, subject, look, target=target("alarm", alarm.id))


def _grouped(
    alarms: Sequence[AlarmPicture], called: dict[str, str], look: Look, chosen: str
) -> list[Row]:
    """Return alarms by their common cause, the most urgent first; long groups folded.

    Whatever explains one alarm alone explains nothing: such alarms stand for themselves.
    """
    found: dict[str, list[AlarmPicture]] = {}
    for each in alarms:
        found.setdefault(each.group, []).append(each)
    singly = {id(some[0]) for some in found.values() if len(some) == 1}
    groups: dict[str, list[AlarmPicture]] = {}
    for each in alarms:
        groups.setdefault("" if id(each) in singly else each.group, []).append(each)
    rows: list[Row] = []
    for group, members in groups.items():
        cause = called.get(group, clean(group, 60))
        title = f"{len(members)} of one cause: {cause}" if group else "each for itself"
        rows.append(row(Span(f"  {title}", "strong")))
        is_folded = len(members) > SHOWN_OF_GROUP + 1 and all(
            each.id != chosen for each in members[SHOWN_OF_GROUP:]
        )
        shown = members[:SHOWN_OF_GROUP] if group and is_folded else members
        rows += [_line(each, called, look) for each in shown]
        rest = members[len(shown) :]
        if rest:
            more = Span(f"     … and {len(rest)} more of the same cause", "quiet")
            rows.append(row(more, target=target("alarm", rest[0].id)))
    return rows


def alarm_detail(picture: LinePicture, alarm_id: str, look: Look) -> list[Row]:
    """Return what one alarm is, and what to do about it."""
    alarm = alarm_of(picture, alarm_id)
    if alarm is None:
        return []
    called = names(picture)
    subject = called.get(alarm.subject, clean(alarm.subject, 60))
    rows = [
        titled(f"{subject}: {clean(alarm.text)}", look.width),
        *response_rows(alarm, look, called),
        fact("since", moment(alarm.since_utc_ns, look.zone)),
    ]
    if alarm.value is not None and alarm.limit is not None:
        rows.append(fact("value, limit", _value_and_limit(alarm, look)))
    rows.append(fact("alarm", Span(clean(alarm.id), "quiet")))
    return rows


def _value_and_limit(alarm: AlarmPicture, look: Look) -> str:
    """Return value and limit in the units on screen; what is no plain value stays as it is."""
    value, limit = alarm.value or 0.0, alarm.limit or 0.0
    kind = alarm.tag.partition(".")[2]
    if alarm.kind in {"rate", "deviation", "discrete"} or not kind:
        return f"{value:g}, {limit:g} {clean(alarm.unit, 12)}"
    shown = scale(kind, look.units)
    one, other = (number(shown.shown(each), shown.decimals) for each in (value, limit))
    return f"{one}, {other} {shown.label}"
