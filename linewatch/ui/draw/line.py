"""The line view: every position in process order, a row each."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.alarms.states import State
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.readings import is_bad
from linewatch.core.view import TankPicture
from linewatch.ui.draw.bands import left_words
from linewatch.ui.draw.dissolved import wrong_way_words
from linewatch.ui.draw.figures import (
    figure_cell,
    figure_words,
    gauge,
    is_by_hand,
    of_kind,
    unwellness,
)
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, told
from linewatch.ui.draw.ways import spots, way_cell
from linewatch.ui.marks import (
    PRESENCE_MARKS,
    PRIORITY_ORDER,
    UNCERTAIN_MARK,
    alarm_mark,
    standing_state,
)
from linewatch.ui.scales import scale, scale_of_unit
from linewatch.ui.text import cells, clean, cut_apart, fit, number, span

if TYPE_CHECKING:
    from linewatch.core.view import Figure, WayPicture
    from linewatch.ui.draw.ways import Spot

IN_COLUMNS = frozenset({"temperature", "level", "current", "voltage"})
NEVER_OTHER = frozenset(
    {"current-set", "voltage-set", "charge-meter", "load-present", "load-number"}
    | {"line-state", "count"}
)
PREFERRED = (
    "ph", "orp", "conductivity", "turbidity", "draught", "flow", "humidity", "volume", "mass",
    "pressure", "ripple", "heat-sink", "heater-duty",
)  # fmt: skip
"""Of figures that are equally well, the one that says most about a position."""
LITTLE_AH = 0.05
"""Less than this is shown as 0.0."""
NAME_LEAST = 12
NAME_ENOUGH = 20
"""Cells of a name for which a column more is given up, where names are as long."""
NAME_USUAL, NAME_MOST = 26, 40
SHORT_LABELS = {"heat-sink": "sink"}
"""Labels that say more than their own first letters, where there is no room for the whole."""
CHARGE = 9
EITHER = 13
"""Cells of a charge with its unit, or of another figure."""
LOAD_LEAST, LOAD_USUAL, LOAD_MOST = 4, 8, 12


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the table."""

    id: str
    head: Callable[[Look], str]
    width: int
    cell: Callable[[TankPicture, Look], Span]
    right: bool = True


def _measured(kind: str, head: str, width: int) -> Column:
    def title(look: Look) -> str:
        text = f"{head} {scale(kind, look.units).label}".strip()
        return text + " " * min(max(width - cells(text), 0), 2)

    def cell(tank: TankPicture, look: Look) -> Span:
        return figure_cell(of_kind(tank.figures, kind), width, look)

    return Column(kind, title, width, cell)


def _gauge(kind: str) -> Column:
    def cell(tank: TankPicture, look: Look) -> Span:
        return gauge(of_kind(tank.figures, kind), 9, look)

    return Column(f"{kind}-gauge", lambda _: "window ", 9, cell)


def _alarm(tank: TankPicture, look: Look) -> Span:
    if tank.out_of_service:
        return Span(" out ", "quiet")
    if not tank.alarms and tank.shelved:
        return Span(alarm_mark(tank.shelved, State.SHELVED.word), "quiet")
    if not tank.alarms:
        # Its own alarms follow from one that stands elsewhere: a link, a crane.
        return Span("  └  " if tank.follows else "     ", "quiet" if tank.follows else "plain")
    state = standing_state(is_new=tank.unacknowledged > 0, has_gone=tank.has_gone)
    role = tank.worst if not tank.unacknowledged else f"{tank.worst}-new"
    # What stood when the line was last heard stays to be seen: a clean look would be a lie.
    return Span(alarm_mark(tank.worst, state), role if look.is_live else "off")


def name_role(tank: TankPicture, look: Look, otherwise: str) -> str:
    """Return the role of a position's name: an alarm colours it, so that it is seen afar.

    What has gone does not: its mark alone is to be seen.
    """
    is_plain = not tank.alarms or tank.has_gone or not look.is_live
    if is_plain or tank.worst not in PRIORITY_ORDER:
        return otherwise
    return f"{tank.worst}-new" if tank.unacknowledged else tank.worst


def _number(tank: TankPicture, look: Look) -> Span:
    return Span(fit(clean(tank.number, 8), 3, right=True), name_role(tank, look, "quiet"))


def _charge(tank: TankPicture, look: Look) -> Span:
    if tank.charge is None:
        return Span(" " * CHARGE, "quiet")
    # Where the work is the anode, its charge is the anodic one, and says so.
    is_anodic = tank.charge.cathodic_ah < LITTLE_AH < tank.charge.anodic_ah
    counted = f"{number(tank.charge.anodic_ah, 0)} an" if is_anodic else ""
    mark = "*" if tank.charge.is_short else " " if look.is_live else ""
    said = told((counted or number(tank.charge.cathodic_ah, 1)) + mark, look)
    if cells(said.text) > CHARGE:
        # Brackets of what is not live take the room of the decimal.
        said = told((counted or number(tank.charge.cathodic_ah, 0)) + mark, look)
    return Span(fit(said.text, CHARGE, right=True), said.role)


def _metal(tank: TankPicture, look: Look) -> Span:
    if tank.metal is None:
        return Span(" " * 8, "quiet")
    if tank.metal.refused:
        return Span(fit("refused", 8, right=True), "doubt")
    shown = scale_of_unit("g", look.units)
    text = number(shown.shown(tank.metal.mass_g), shown.decimals)
    doubt = UNCERTAIN_MARK.strip() if wrong_way_words(tank) else ""
    said = told(f"{text}{'*' if tank.metal.is_short else ''}{doubt}", look)
    role = "doubt" if doubt and look.is_live else said.role
    return Span(fit(said.text, 8, right=True), role)


def other_figure(tank: TankPicture) -> Figure | None:
    """Return the one figure besides the columns that most wants to be seen.

    What a person typed in some time ago never goes before what is read live. What is
    unreadable with everything else of its rectifier says nothing that current and volts do
    not say already: what is read there comes first.
    """
    lost = {
        figure.tag.partition(".")[0]
        for name in ("current", "voltage")
        if (figure := tank.figures.get(name)) is not None and is_bad(figure.quality)
    }
    others = [
        (
            not is_by_hand(figure),
            0 if _is_lost_too(figure, lost) else unwellness(figure) + 1,
            -PREFERRED.index(kind) if kind in PREFERRED else -99,
            name,
        )
        for name, figure in tank.figures.items()
        if (kind := name.partition(".")[0]) not in IN_COLUMNS and kind not in NEVER_OTHER
    ]
    return tank.figures[max(others)[-1]] if others else None


def _is_lost_too(figure: Figure, lost: Collection[str]) -> bool:
    """Say whether a figure is unreadable as those of its owner are that have columns."""
    return is_bad(figure.quality) and figure.tag.partition(".")[0] in lost


def _labelled(figure: Figure, words: str, width: int, look: Look) -> str:
    """Return a figure with its label in so many cells: the unit goes before the label does."""
    label = MEASUREMENTS[figure.kind].label if figure.kind in MEASUREMENTS else ""
    short = SHORT_LABELS.get(figure.kind, label)
    unit = scale(figure.kind, look.units).label
    bare = words.replace(f" {unit}", "", 1) if unit else words
    for said in (f"{label} {words}", f"{short} {words}", f"{short} {bare}"):
        if cells(said) <= width:
            return said
    room = width - cells(bare) - 2
    return f"{short[:room]}. {bare}" if room > 0 else bare


def _other(width: int) -> Callable[[TankPicture, Look], Span]:
    def cell(tank: TankPicture, look: Look) -> Span:
        figure = other_figure(tank)
        if figure is None:
            return Span(" " * width)
        said = figure_words(figure, look, brief=True)
        return Span(
            fit(_labelled(figure, said.text, width, look), width, right=True), said.role
        )

    return cell


def _charge_or_other(tank: TankPicture, look: Look) -> Span:
    if tank.charge is not None:
        cell = _charge(tank, look)
        text = f"{cell.text.strip()} A·h "
        shown = text if cells(text) <= EITHER else cell.text.strip()
        return Span(fit(shown, EITHER, right=True), cell.role)
    return _other(EITHER)(tank, look)


def _presence(tank: TankPicture, _look: Look) -> Span:
    state = tank.state or ("in" if tank.load is not None else "")
    return Span(PRESENCE_MARKS.get(state, " "), "plain" if state != "empty" else "quiet")


def _load_number(tank: TankPicture) -> str:
    return clean(tank.load.number, 16) if tank.load is not None else ""


def _load_column(width: int) -> Column:
    def cell(tank: TankPicture, _look: Look) -> Span:
        return Span(fit(_load_number(tank), width), "plain")

    return Column("load", lambda _: "load", width, cell, right=False)


def _dwell(tank: TankPicture, look: Look) -> Span:
    if tank.load is None:
        return Span(" " * 8)
    said = told(span(tank.load.dwell_s), look)
    return Span(fit(said.text, 8, right=True), said.role)


def _pull(tank: TankPicture, look: Look) -> Span:
    if tank.load is None:
        return Span(" " * 9)
    said = left_words(tank.load, look)
    return Span(fit(said.text, 9, right=True), said.role)


_ALARM = Column("alarm", lambda _: "     ", 5, _alarm)
_NUMBER = Column("number", lambda _: "no.", 3, _number)
_TEMPERATURE = _measured("temperature", "temp", 8)
_LEVEL = _measured("level", "level", 8)
_CURRENT = _measured("current", "", 8)
_VOLTAGE = _measured("voltage", "", 8)
_CHARGE = Column("charge", lambda _: "A·h ", CHARGE, _charge)
_METAL = Column(
    "metal", lambda look: f"metal {scale_of_unit('g', look.units).label}", 8, _metal
)
_OTHER = Column("other", lambda _: "also ", 18, _other(18))
_EITHER = Column("either", lambda _: "charge, other", EITHER, _charge_or_other)
_PRESENCE = Column("presence", lambda _: " ", 1, _presence, right=False)
_LOAD = _load_column(LOAD_USUAL)
_DWELL = Column("dwell", lambda _: "dwell", 8, _dwell)
_PULL = Column("pull", lambda _: "out in", 9, _pull)

NARROW = (_TEMPERATURE, _LEVEL, _CURRENT, _EITHER, _PRESENCE, _PULL)
MIDDLE = (
    _TEMPERATURE, _LEVEL, _CURRENT, _VOLTAGE, _EITHER, _METAL, _PRESENCE, _LOAD, _DWELL, _PULL,
)  # fmt: skip
WIDE = (
    _TEMPERATURE, _gauge("temperature"), _LEVEL, _gauge("level"), _CURRENT, _VOLTAGE, _CHARGE,
    _METAL, _OTHER, _PRESENCE, _LOAD, _DWELL, _PULL,
)  # fmt: skip
SHORT = (_TEMPERATURE, _CURRENT, _PULL)
SCANTY = (_measured("temperature", "", 6), _measured("current", "", 7))


@dataclass(frozen=True, slots=True)
class Layout:
    """The columns that a width has room for, and the names as they stand in what is left."""

    columns: tuple[Column, ...]
    name: int
    """Cells of the name."""
    named: Mapping[str, str]


def layout_of(tanks: Sequence[TankPicture], look: Look) -> Layout:
    """Return how a line's positions are laid out: nothing is wider than what stands in it."""
    lead = _ALARM.width + 1 + _NUMBER.width + 1
    names = {clean(tank.name, 60) for tank in tanks}
    longest = max(map(cells, names), default=0)
    loads = max((cells(_load_number(tank)) for tank in tanks), default=0)
    for chosen in (WIDE, MIDDLE, NARROW, SHORT, SCANTY):
        room = look.width - lead - sum(each.width + 1 for each in chosen) - 1
        fitted: tuple[Column, ...] = chosen
        if _LOAD in chosen:
            # Names take what numbers of loads leave; where there is room nothing moves.
            least = min(max(loads, LOAD_LEAST), LOAD_MOST)
            load = _load_column(max(least, LOAD_USUAL - max(longest - room, 0)))
            fitted = tuple(load if each is _LOAD else each for each in chosen)
            room += LOAD_USUAL - load.width
        wanted = min(longest, NAME_ENOUGH) if chosen in {WIDE, MIDDLE} else NAME_LEAST
        if room >= max(wanted, NAME_LEAST):
            name = min(room, max(longest, NAME_USUAL), NAME_MOST)
            return Layout(fitted, name, cut_apart(names, name))
    name = max(look.width - lead, 0)
    return Layout((), name, cut_apart(names, name))


def head_row(tanks: Sequence[TankPicture], look: Look) -> Row:
    """Return the heads of the columns, with their units."""
    layout = layout_of(tanks, look)
    chosen, name = layout.columns, layout.name
    text = f"{'':5} no. {fit('position', name)} " + " ".join(
        fit(each.head(look), each.width, right=each.right) for each in chosen
    )
    return row(Span(fit(text, look.width), "head"))


def tank_row(tank: TankPicture, layout: Layout, look: Look, spot: Spot | None = None) -> Row:
    """Return one position as a row, with the load that is on its way from or to it."""
    role = name_role(tank, look, "plain" if tank.load is not None else "quiet")
    name = clean(tank.name, 60)
    is_brief = all(each.id != _LOAD.id for each in layout.columns)
    drawn: list[Span] = []
    for each in layout.columns:
        cell = None
        if spot is not None:
            cell = way_cell(each.id, each.width, spot, look, is_brief=is_brief)
        drawn.append(each.cell(tank, look) if cell is None else cell)
    room, over = _room_for(name, layout, drawn)
    shown = name if cells(name) <= room else layout.named.get(name, name)
    spans = [_alarm(tank, look), Span(" "), _number(tank, look), Span(" ")]
    spans += [Span(fit(shown, room), role), Span(" ")]
    for cell in drawn[over:]:
        spans += [cell, Span(" ")]
    return Row(clip(spans, look.width), f"tank {tank.id}")


def _room_for(name: str, layout: Layout, drawn: Sequence[Span]) -> tuple[int, int]:
    """Return the cells that a name takes, and over how many empty columns beside it.

    A name too long for its column runs on where nothing stands beside it, if it is whole there.
    """
    room, over = layout.name, 0
    while cells(name) > room and over < len(drawn) and not drawn[over].text.strip():
        room += cells(drawn[over].text) + 1
        over += 1
    return (room, over) if cells(name) <= room else (layout.name, 0)


def line_rows(
    tanks: Sequence[TankPicture], look: Look, ways: Sequence[WayPicture] = ()
) -> list[Row]:
    """Return the table: a row a position, a heading where another track begins.

    Args:
        tanks: The positions.
        look: How it is drawn.
        ways: The loads on their way between them.
    """
    rows: list[Row] = []
    layout = layout_of(tanks, look)
    several = len({tank.track for tank in tanks}) > 1
    track = ""
    between = spots(tanks, ways)
    for tank in tanks:
        if several and tank.track != track:
            track = tank.track
            rows.append(row(Span(f"      {clean(track, 40)}", "strong")))
        rows.append(tank_row(tank, layout, look, between.get(tank.id)))
    return rows
