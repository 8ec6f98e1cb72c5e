"""The line as a ribbon of small vessels in process order: where work hangs, what is not well.

It never scrolls while it fits, so a tank that the table below does not show is still seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.ui.draw.figures import worst_of
from linewatch.ui.draw.rows import Look, Row, Span, row
from linewatch.ui.marks import NARROW_MARKS, PRIORITY_MARKS, PRIORITY_ORDER
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from linewatch.core.view import LinePicture, TankPicture

WIDEST = 6
NARROWEST = 2
VESSEL_FROM = 4
FRAME = 2
"""Cells of the frame round the strokes of what has gone."""
OUTSIDE = frozenset({2, 4})
"""Degrees of unwellness that mean outside its window."""


def ribbon_rows(picture: LinePicture, look: Look, choice: str) -> list[Row]:
    """Return two rows: what is painted on each tank, and each tank as a vessel."""
    tanks = picture.tanks
    if not tanks or look.width < NARROWEST + 2:
        return []
    size = max(min((look.width - 2) // len(tanks), WIDEST), NARROWEST)
    room = (look.width - 2) // size
    chosen = next((i for i, each in enumerate(tanks) if f"tank {each.id}" == choice), 0)
    first = 0 if len(tanks) <= room else max(min(chosen - room // 2, len(tanks) - room), 0)
    shown = tanks[first : first + room]
    before = "«" if first > 0 else " "
    after = "»" if first + room < len(tanks) else " "
    numbers = [Span(before, "quiet")]
    vessels = [Span(" ")]
    for index, tank in enumerate(shown, first):
        here = index == chosen and bool(choice)
        joint = index + 1 < len(tanks) and tanks[index + 1].track != tank.track
        numbers.append(_number(tank, size, joint=joint, here=here))
        vessels.append(_vessel(tank, size, look))
    numbers.append(Span(after, "quiet"))
    return [row(*numbers), row(*vessels)]


def _number(tank: TankPicture, size: int, *, joint: bool, here: bool) -> Span:
    inner = size - 1
    text = clean(tank.number or tank.id, 12)[-inner:].center(inner)
    return Span(text + ("│" if joint else " "), "now" if here else "quiet")


def _vessel(tank: TankPicture, size: int, look: Look) -> Span:
    role, fill = _content(tank, size, look)
    return Span(fill[:size].ljust(size), role)


def _content(tank: TankPicture, size: int, look: Look) -> tuple[str, str]:
    """Return role and cells: alarm strokes before doubt before work before nothing."""
    if tank.out_of_service:
        return "quiet", _walled("x" * size, size)
    # Of a picture that is not live the marks stay, without their colours.
    if tank.alarms and tank.worst in PRIORITY_ORDER:
        marks = PRIORITY_MARKS if size >= VESSEL_FROM else NARROW_MARKS
        role = f"{tank.worst}-new" if tank.unacknowledged else tank.worst
        strokes = marks[tank.worst].strip()
        if tank.has_gone:
            # Its frame where there is room for it; nothing is coloured by what is over.
            role = "quiet"
            strokes = f"({strokes})" if size > len(strokes) + FRAME else strokes
        return role if look.is_live else "off", strokes.center(size - 1)
    unwell = worst_of(tank.figures.values())
    if unwell:
        outside = unwell in OUTSIDE
        mark = "±" if outside else "?"
        role = "outside" if outside else "doubt"
        return role if look.is_live else "off", mark.center(size - 1)
    work = {"entering": "↧", "leaving": "↥"}.get(tank.state, "▓" * size)
    if tank.load is not None or tank.state in {"in", "entering", "leaving"}:
        return "plain", _walled(work, size)
    return "quiet", _walled(" " * size if size >= VESSEL_FROM else "_", size)


def _walled(fill: str, size: int) -> str:
    """Return a vessel with its content; where there is no room for walls, the content."""
    if size < VESSEL_FROM:
        return fill[0].center(size - 1)
    inner = size - 3
    return f"└{fill[:inner].center(inner)}┘"
