"""Alarms in order: the most urgent first, and which stand behind which. Pure.

Rule: which alarm follows from which is told by the picture (`AlarmPicture.behind`); here it is
      only put in order.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from linewatch.core.alarms import states
from linewatch.ui.marks import is_new, is_standing, rank, state_word

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.view import AlarmPicture, LinePicture

GONE = frozenset(state.word for state in states.GONE)
"""States of an alarm whose cause has gone."""


def state_said(alarm: AlarmPicture) -> str:
    """Return the word for an alarm's state; one that is put aside for its cause follows."""
    follows = alarm.behind and alarm.state == states.State.SUPPRESSED.word
    return "follows" if follows else state_word(alarm.state)


def newest(alarms: Sequence[AlarmPicture]) -> list[AlarmPicture]:
    """Return the standing alarms: unseen before seen, then by priority.

    Among those of one priority what is still so comes before what has gone, then that which
    leaves least time to respond, then the newest.
    """
    standing = [each for each in alarms if is_standing(each.state)]
    return sorted(
        standing,
        key=lambda a: (
            not is_new(a.state),
            rank(a.priority),
            a.state in GONE,
            inf if a.respond_within_s is None else a.respond_within_s,
            -a.since_utc_ns,
            a.id,
        ),
    )


def consequences(alarms: Sequence[AlarmPicture]) -> dict[str, list[AlarmPicture]]:
    """Return what follows from each alarm, by its id, the most urgent first."""
    found: dict[str, list[AlarmPicture]] = {}
    for each in sorted(alarms, key=lambda a: (not is_new(a.state), rank(a.priority), a.id)):
        if each.behind:
            found.setdefault(each.behind, []).append(each)
    return found


def heads(alarms: Sequence[AlarmPicture]) -> list[AlarmPicture]:
    """Return the standing alarms that follow from no other, the most urgent first.

    A cause is as urgent as whatever of it stands.
    """
    standing = {each.id: each for each in alarms if is_standing(each.state)}
    found = (standing.get(each.behind, each) for each in newest(alarms))
    return list({each.id: each for each in found}.values())


def of_link(picture: LinePicture, link: str) -> list[AlarmPicture]:
    """Return the alarms of a link whose condition stands, the most urgent first.

    A link may be connected and still not be well: what it brings may no longer move.
    """
    own = newest([each for each in picture.alarms if each.subject == link])
    return [each for each in own if each.state not in GONE]
