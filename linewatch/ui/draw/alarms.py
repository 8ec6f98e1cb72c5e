"""The alarms: standing ones first, then what is put aside and why."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.causes import FOLLOWS
from linewatch.core.alarms.states import State
from linewatch.core.units import symbol
from linewatch.ui.draw.bands import OVERDUE
from linewatch.ui.draw.families import GONE, consequences, heads
from linewatch.ui.draw.naming import alarm_of, called, id_of, names, target
from linewatch.ui.draw.parts import alarm_line, fact, response_rows, worded
from linewatch.ui.draw.rows import Look, Row, Span, row, titled
from linewatch.ui.marks import is_new, is_standing
from linewatch.ui.scales import scale
from linewatch.ui.text import clean, counted, moment, number, span

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from linewatch.core.view import AlarmPicture, LinePicture

ASIDE: Final = (
    (State.SHELVED, "shelved: put aside for a time, come back by themselves"),
    (State.SUPPRESSED, "suppressed by design: what the line is doing makes them expected"),
    (State.OUT_OF_SERVICE, "out of service: for maintenance, without a limit"),
)


WAITING: Final = "held back: what explains them is suspected, told or dropped in a moment"
"""What no design makes expected; the line itself decides within the looks of a rule."""
BEHIND: Final = "behind "
"""How the fold of what follows from an alarm is called, before the alarm's id."""
DEEPER: Final = "  └ "
"""What stands before a consequence, below its cause."""
SHOWN_OF_GROUP: Final = 3
"""Alarms of one cause that are shown before the cursor goes in among them."""


FOLD: Final = "fold"
"""Kind of the row that stands for alarms which are not shown, and of what it refers to."""


@dataclass(frozen=True, slots=True)
class Folds:
    """Which of the folded alarms are open, and the key that opens and folds them."""

    opened: Collection[str] = ()
    """Targets of their rows."""
    key: str = "Enter"


def alarm_list(
    picture: LinePicture, look: Look, chosen: str = "", folds: Folds | None = None
) -> list[Row]:
    """Return a row an alarm; what follows from another stands below it, many of them folded.

    Args:
        picture: The line.
        look: How it is drawn.
        chosen: Id of the alarm that the cursor is on; its group is shown whole.
        folds: Which folds are open.

    Returns:
        The rows.
    """
    drawn = _Drawn(picture, look, chosen, folds or Folds())
    standing = heads(picture.alarms)
    count = sum(1 for each in picture.alarms if is_standing(each.state))
    behind = sum(1 for each in picture.alarms if each.behind and not is_standing(each.state))
    more = f", {behind} behind them" if behind else ""
    rows = [titled(f"standing: {count}{more}", look.width)]
    if not standing:
        rows.append(row(Span("   none", "quiet")))
    rows += drawn.by_group(standing)
    waiting = [each for each in picture.alarms if _waits(each)]
    if waiting:
        rows += [row(), titled(f"{WAITING}: {len(waiting)}", look.width)]
        rows += drawn.waiting(waiting)
    for state, title in ASIDE:
        mine = [e for e in picture.alarms if e.state == state.word and not e.behind]
        mine = [each for each in mine if not _waits(each)]
        rows += [row(), titled(f"{title}: {len(mine)}", look.width)]
        for each in mine:
            rows += drawn.family(each)
    return rows


def _waits(alarm: AlarmPicture) -> bool:
    """Say whether an alarm is held back by a cause that is suspected and not told yet."""
    is_aside = alarm.state == State.SUPPRESSED.word and not alarm.behind
    return is_aside and alarm.why.startswith(FOLLOWS)


def alarm_row(
    alarm: AlarmPicture, called_by: Mapping[str, str], look: Look, deeper: str = ""
) -> Row:
    """Return one alarm in a row; `deeper` sets it below its cause."""
    subject = called_by.get(alarm.subject, clean(alarm.subject, 40))
    about = target("alarm", alarm.id)
    return alarm_line(alarm, f"{deeper}{subject}", look, target=about)


def folded_row(hidden: Sequence[AlarmPicture], leads_to: str, about: str) -> Row:
    """Return what stands for alarms that are not shown below their cause.

    Args:
        hidden: The alarms.
        leads_to: How they are seen.
        about: What the row leads to.

    Returns:
        The row.
    """
    unseen = sum(1 for each in hidden if is_new(each.state))
    waits = f", {unseen} unseen" if unseen else ""
    said = f"         └ {len(hidden)} follow from it{waits}{leads_to}"
    return row(Span(said, "quiet"), target=about)


def fold_behind(picture: LinePicture, alarm: str) -> str:
    """Return the fold in which what follows from an alarm stands; '' if none does."""
    mine = consequences(picture.alarms).get(alarm, ())
    return target(FOLD, f"{BEHIND}{alarm}") if len(mine) > SHOWN_OF_GROUP else ""


def cause_of_fold(about: str) -> str:
    """Return the id of the alarm from which what is folded follows; '' for other folds."""
    return id_of(about).removeprefix(BEHIND) if id_of(about).startswith(BEHIND) else ""


def cause_rows(picture: LinePicture, alarm: AlarmPicture, look: Look) -> list[Row]:
    """Return which alarm another follows from, if it does."""
    if not alarm.behind:
        return []
    name = called(picture, target("alarm", alarm.behind))
    return worded("follows from", name, look, "strong")


class _Drawn:
    """Draws alarms, each with what follows from it.

    Args:
        picture: The line.
        look: How it is drawn.
        chosen: Id of the alarm that the cursor is on.
        folds: Which folds are open.
    """

    def __init__(self, picture: LinePicture, look: Look, chosen: str, folds: Folds) -> None:
        self._called = names(picture)
        self._alone = {picture.line_id, *(each.id for each in picture.baths)}
        """Subjects of which two alarms have nothing in common."""
        self._look = look
        self._chosen = chosen
        self._folds = folds
        self._behind = consequences(picture.alarms)

    def waiting(self, alarms: Sequence[AlarmPicture]) -> list[Row]:
        """Return alarms that a suspected cause holds back, each with that cause below it."""
        rows = []
        for each in alarms:
            # Its state's own word would say that a design makes it expected.
            follows = replace(each, behind=each.why)
            rows.append(alarm_row(follows, self._called, self._look))
            rows += worded("suspected", each.why.removeprefix(FOLLOWS), self._look, "quiet")
        return rows

    def by_group(self, alarms: Sequence[AlarmPicture]) -> list[Row]:
        """Return alarms by their common cause, the most urgent first, in a flood as ever.

        Whatever explains one alarm alone explains nothing: such alarms stand for themselves.
        """
        found: dict[str, list[AlarmPicture]] = {}
        for each in alarms:
            found.setdefault(self._group_of(each), []).append(each)
        rows: list[Row] = []
        for each in alarms:
            members = found[each.group] if self._group_of(each) else [each]
            if len(members) == 1:
                rows += self.family(each)
            elif each is members[0]:
                rows += self._group(each.group, members)
        return rows

    def _group_of(self, alarm: AlarmPicture) -> str:
        """Return with what an alarm stands; '' for itself.

        What is due in a bath is a job for each additive, and no two of them have one cause;
        nor have two alarms of the line as a whole.
        """
        is_alone = alarm.group == alarm.subject and alarm.subject in self._alone
        return "" if is_alone else alarm.group

    def _group(self, group: str, members: Sequence[AlarmPicture]) -> list[Row]:
        cause = self._called.get(group, clean(group, 60))
        # In a flood they stand together by what they are about, which is no cause.
        is_cause = any(each.subject != group for each in members)
        how = "of one cause:" if is_cause else "about"
        rows = [row(Span(f"  {len(members)} {how} {cause}", "strong"))]
        has_fold = len(members) > SHOWN_OF_GROUP + 1
        rest = members[SHOWN_OF_GROUP:] if has_fold else ()
        shown = members[:SHOWN_OF_GROUP] if has_fold else members
        rows += [each for member in shown for each in self.family(member)]
        if rest:
            fold = target(FOLD, f"group {group}")
            alike = "of the same cause" if is_cause else "about the same"
            more = f"     … and {len(rest)} more {alike}{self._leads_to(fold, rest)}"
            rows.append(row(Span(more, "quiet"), target=fold))
            if self._is_open(fold, rest):
                rows += [each for member in rest for each in self.family(member)]
        return rows

    def _is_open(self, fold: str, hidden: Sequence[AlarmPicture]) -> bool:
        """Say whether what is folded is shown: somebody opened it, or was led into it."""
        return fold in self._folds.opened or any(each.id == self._chosen for each in hidden)

    def _leads_to(self, fold: str, hidden: Sequence[AlarmPicture]) -> str:
        """Return in words what the key does at a fold."""
        is_open = self._is_open(fold, hidden)
        return f": {self._folds.key} here {'folds' if is_open else 'opens'} them"

    def family(self, alarm: AlarmPicture) -> list[Row]:
        """Return an alarm, and below it what follows from it."""
        mine = self._behind.get(alarm.id, [])
        rows = [alarm_row(alarm, self._called, self._look)]
        if len(mine) > SHOWN_OF_GROUP:
            fold = target(FOLD, f"{BEHIND}{alarm.id}")
            rows.append(folded_row(mine, self._leads_to(fold, mine), fold))
            if not self._is_open(fold, mine):
                return rows
        return rows + [alarm_row(each, self._called, self._look, DEEPER) for each in mine]


def alarm_detail(picture: LinePicture, alarm_id: str, look: Look) -> list[Row]:
    """Return what one alarm is, and what to do about it."""
    alarm = alarm_of(picture, alarm_id)
    if alarm is None:
        return []
    called = names(picture)
    subject = called.get(alarm.subject, clean(alarm.subject, 60))
    rows = [
        titled(f"{subject}: {clean(alarm.text)}", look.width),
        *cause_rows(picture, alarm, look),
        *response_rows(alarm, look, called),
        fact("since", moment(alarm.since_utc_ns, look.zone)),
    ]
    if alarm.limit is not None and (alarm.value is not None or alarm.now is not None):
        rows.append(fact("value", _value_and_limit(alarm, look)))
    mine = consequences(picture.alarms).get(alarm.id, [])
    if mine:
        rows.append(fact("behind it", f"{counted(len(mine), 'alarm')} that came with it"))
    rows.append(fact("alarm", Span(clean(alarm.id), "quiet")))
    return rows


def _value_and_limit(alarm: AlarmPicture, look: Look) -> str:
    """Return value and limit in the units on screen; what is no plain value stays as it is."""
    said, unit = _in_units(alarm, look)
    parts = []
    if alarm.value is not None:
        began = "back at" if alarm.state in GONE else "at first"
        parts.append(f"{began} {said(alarm.value)}")
    if alarm.now is not None:
        parts.append(f"now {said(alarm.now)}")
    if alarm.limit or alarm.kind != OVERDUE:
        parts.append(f"limit {said(alarm.limit or 0.0)}")
    return f"{', '.join(parts)} {unit}".rstrip()


def _in_units(alarm: AlarmPicture, look: Look) -> tuple[Callable[[float], str], str]:
    """Return how an alarm's figures are written, and the unit behind them."""
    kind = alarm.tag.partition(".")[2]
    if alarm.kind == OVERDUE:
        return span, ""
    if alarm.kind in {"rate", "deviation", "discrete"} or not kind:
        return "{:g}".format, _symbol(clean(alarm.unit, 12))
    shown = scale(kind, look.units)
    return lambda value: number(shown.shown(value), shown.decimals), shown.label


def _symbol(unit: str) -> str:
    """Return how a unit is written, that of a rate too: '°C/min'."""
    quantity = unit.removesuffix("/min")
    return symbol(quantity) + unit[len(quantity) :]
