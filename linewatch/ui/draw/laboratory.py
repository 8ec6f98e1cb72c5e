"""What the laboratory found in a bath, substance by substance, and what of it is due."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.laboratory.page import chart_page
from linewatch.core.pages import Shown
from linewatch.ui.draw.naming import bath_of, names
from linewatch.ui.draw.page import page_rows
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, wrap
from linewatch.ui.text import cells, clean, moment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.laboratory.analyses import Analysis
    from linewatch.core.view import LinePicture

NONE_FOUND = (
    "no analysis stands in the record; `linewatch lab add` and `linewatch import-analyses`"
    " write them down"
)


def laboratory_rows(
    picture: LinePicture, bath: str, found: Sequence[Analysis], look: Look
) -> list[Row]:
    """Return everything that the laboratory found in a bath.

    Args:
        picture: The line.
        bath: Id of the bath.
        found: The analyses of the bath and of its tanks, oldest first.
        look: How it is drawn.

    Returns:
        What is due; then each substance with its chart, as `linewatch lab show` prints it.
    """
    rows = _due(picture, bath, look)
    if not found:
        rows += [
            row(),
            *(row(Span(f"  {each}", "quiet")) for each in wrap(NONE_FOUND, look.width - 2)),
        ]
    show = Shown(look.units, lambda utc_ns: moment(utc_ns, look.zone))
    called = names(picture)
    for subject, substance in dict.fromkeys((each.subject, each.substance) for each in found):
        mine = [
            each for each in found if (each.subject, each.substance) == (subject, substance)
        ]
        where = called.get(subject, clean(subject, 40))
        page = chart_page(mine, f"{substance} in {where}", show)
        rows += [row(), titled(clean(page.title, 80), look.width), *page_rows(page, look)]
    return [Row(clip(each.spans, look.width), each.target) for each in rows]


def subjects_of(picture: LinePicture, bath: str) -> tuple[str, ...]:
    """Return what may be analysed where a bath is: the bath and its tanks, by id."""
    known = bath_of(picture, bath)
    return (bath, *(known.tanks if known is not None else ()))


def _due(picture: LinePicture, bath: str, look: Look) -> list[Row]:
    mine = subjects_of(picture, bath)
    rows = [titled("due", look.width)]
    for each in sorted(picture.duties, key=lambda each: each.haste(picture)):
        if each.subject not in mine:
            continue
        is_late = each.is_late(picture)
        if each.due_utc_ns is None and not each.was_never_analysed:
            continue
        when = moment(each.due_utc_ns or picture.utc_ns, look.zone)
        if each.was_never_analysed and not is_late:
            when = f"{'now':<{cells(when)}}"
        lead = Span(
            f"  {'OVERDUE' if is_late else 'due':<8}", "outside" if is_late else "quiet"
        )
        never = Span("; never analysed", "quiet") if each.was_never_analysed else Span("")
        rows.append(row(lead, f"{when}  {clean(each.text, 100)}", never))
    if len(rows) == 1:
        rows.append(row(Span("  nothing is due at a set time here", "quiet")))
    return rows
