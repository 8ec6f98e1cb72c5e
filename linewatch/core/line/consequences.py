"""What the line does about alarms that follow from others: who is asked, who begins anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.alarms.causes import suspect

if TYPE_CHECKING:
    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.readings import Moment


def ask(line: Line, alarm: int, at: Moment) -> list[Event]:
    """Ask the rules that would explain an alarm, before it is announced.

    A limit may be due before the next look of the rule that tells why it was passed: the rule
    looks at once, and what it suspects holds the limit back.

    Args:
        line: The line.
        alarm: Number of the alarm that is about to be announced.
        at: When.

    Returns:
        Events.
    """
    events: list[Event] = []
    if alarm in line.alarms.suppressed_by:
        # It is expected, and will not be announced: to ask would only hasten the rule.
        return events
    for cause, _ in line.alarms.causes.of.get(alarm, ()):
        if line.studies.suspects(line, cause, at):
            events += suspect(line.alarms, cause, at, is_suspected=True)
    return events


def begin_timer_again(line: Line, alarm: int, at: Moment) -> bool:
    """Give an alarm its whole on-delay again; say whether it has one: a dwell just goes on."""
    place = line.place(line.plan.conditions[alarm].tag)
    if place is None or alarm not in place[0].judge.timer_of:
        return False
    place[0].timers.begin_again(place[0].judge.timer_of[alarm], at.mono_ns)
    _forget(line, alarm)
    return True


def begin_again(line: Line, alarm: int, at: Moment) -> None:
    """Let an alarm begin anew: its timer with its whole on-delay, a rule with its looks.

    Args:
        line: The line.
        alarm: Number of the alarm.
        at: When.
    """
    if begin_timer_again(line, alarm, at):
        return
    if line.lost_links.begin_again(line, alarm, at) or line.studies.begin_again(alarm):
        _forget(line, alarm)


def _forget(line: Line, alarm: int) -> None:
    line.alarms.active[alarm] = False
    line.alarms.causes.behind.pop(alarm, None)
