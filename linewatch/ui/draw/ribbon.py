"""The line as a ribbon of small vessels in process order: where work hangs, what is not well.

It never scrolls while it fits, so a tank that the table below does not show is still seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.ui.draw.figures import worst_of
from linewatch.ui.draw.rows import Look, Row, Span, row
from linewatch.ui.marks import PRIORITY_MARKS, rank
from linewatch.ui.text import clean, fit

if TYPE_CHECKING:
    from linewatch.core.view import LinePicture, TankPicture

WIDEST = 6
NARROWEST = 2


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
    before = "‹" if first > 0 else " "
    after = "›" if first + room < len(tanks) else " "
    numbers = [Span(before, "quiet")]
    vessels = [Span(" ")]
    track = shown[0].track
    for index, tank in enumerate(shown, first):
        here = index == chosen and bool(choice)
        joint = tank.track != track
        track = tank.track
        numbers.append(_number(tank, size, joint=joint, here=here))
        vessels.append(_vessel(tank, size, look))
    numbers.append(Span(after, "quiet"))
    return [row(*numbers), row(*vessels)]


def _number(tank: TankPicture, size: int, *, joint: bool, here: bool) -> Span:
    text = clean(tank.number or tank.id, 12)[-(size - 1) :]
    lead = "│" if joint else " "
    shown = lead + fit(text, size - 1, right=size > 2)
    return Span(shown, "now" if here else "quiet")


def _vessel(tank: TankPicture, size: int, look: Look) -> Span:
    inner = max(size - 2, 1)
    role, fill = _content(tank, inner, look)
    if size < 4:
        return Span(fit(fill[:1], size, right=True), role)
    return Span(f"└{fit(fill, inner)}┘", role)


def _content(tank: TankPicture, inner: int, look: Look) -> tuple[str, str]:
    """Return role and content: alarm strokes before doubt before work before nothing."""
    if tank.out_of_service:
        return "quiet", "x" * inner
    if look.is_live and tank.alarms and rank(tank.worst) < 4:
        strokes = PRIORITY_MARKS[tank.worst].strip()
        role = f"{tank.worst}-new" if tank.unacknowledged else tank.worst
        return role, strokes.center(inner)
    unwell = worst_of(tank.figures.values())
    if look.is_live and unwell:
        return (
            ("outside", "±".center(inner)) if unwell in {2, 4} else ("doubt", "?".center(inner))
        )
    work = {"in": "▓" * inner, "entering": "↧".center(inner), "leaving": "↥".center(inner)}
    if tank.load is not None or tank.state in work:
        return "plain", work.get(tank.state, "▓" * inner)
    return "quiet", " " * inner if inner > 1 else "_"
