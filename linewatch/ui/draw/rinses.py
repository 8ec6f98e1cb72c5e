"""Rinses and levels on the screen: a row a rinse, and the chosen one in detail."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.water.rinse_page import (
    CAUTIONS,
    carried_words,
    facts,
    leak_words,
    levels_table,
    pm,
    us,
    verdict,
)
from linewatch.core.water.rinse_page import water_words as needs
from linewatch.ui.draw.naming import names, target
from linewatch.ui.draw.page import table_rows
from linewatch.ui.draw.parts import fact, worded
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, wrap
from linewatch.ui.draw.unmeasured import RINSE, unmeasured_rows
from linewatch.ui.text import clean, fit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.view import LinePicture
    from linewatch.core.water.seen import RinsePicture

WIDTHS = (8, 9, 8, 16, 16)
"""With the blank before each column."""
UNIT = "µS/cm:"
"""Of the three columns that follow."""
NARROW_WIDTHS = (7, 8, 7, 14, 13)
HEADS = ("step", "leaves", "limit", "mL a load", "mL/m2")
WITH_NEEDS = 110
"""Width from which on there is room for the water beside the row."""
NAME, WHOLE_NAME = 20, 32
"""Least and most cells of a name."""


def rinses_head(look: Look) -> Row:
    """Return the heads of the columns."""
    name = _name_width(look)
    heads = zip(HEADS, _widths(look), strict=True)
    cells = [f"{fit('rinse', name - len(UNIT))}{UNIT}"]
    cells += [f" {fit(head, width - 1, right=True)}" for head, width in heads]
    tail = "  water" if look.width >= WITH_NEEDS else ""
    return _clipped(row(Span(f"  {''.join(cells)}{tail}", "head")), look)


def _name_width(look: Look) -> int:
    return min(max(look.width - 2 - sum(_widths(look)), NAME), WHOLE_NAME)


def _widths(look: Look) -> tuple[int, ...]:
    return WIDTHS if look.width >= WITH_NEEDS else NARROW_WIDTHS


def rinse_rows(picture: LinePicture, look: Look) -> list[Row]:
    """Return a row a rinse; under them where the water of each tank goes."""
    called = names(picture)
    rows = [_row(each, called, look) for each in picture.rinses]
    if not rows:
        rows = [row(Span("  no rinse has a volume and a probe of conductivity", "quiet"))]
    table = levels_table(picture.levels, called)
    if table.rows:
        rows += [row(), titled(table.heading, look.width), *table_rows(table, look)]
    return [_clipped(each, look) for each in rows]


def _clipped(each: Row, look: Look) -> Row:
    return Row(clip(each.spans, look.width), each.target)


def _row(rinse: RinsePicture, called: Mapping[str, str], look: Look) -> Row:
    cells = (
        us(rinse.step_us),
        us(rinse.exit_us),
        us(rinse.limit_us),
        carried_words(rinse),
        pm(rinse.film_ml_per_m2, rinse.film_pm_ml_per_m2),
    )
    spans = [Span(f"  {fit(called.get(rinse.tank, clean(rinse.tank, 40)), _name_width(look))}")]
    for number, (cell, width) in enumerate(zip(cells, _widths(look), strict=True)):
        role = "outside" if number == 1 and rinse.is_beyond else "plain"
        spans.append(Span(f" {fit(cell, width - 1, right=True)}", role))
    if look.width >= WITH_NEEDS:
        spans.append(Span(f"  {needs(rinse)}", "quiet"))
    return row(*spans, target=target("tank", rinse.tank))


def _facts(picture: LinePicture, rinse: RinsePicture, look: Look) -> list[Row]:
    odd = verdict(rinse)
    rows = [fact("odd", Span(clean(odd, 200), "outside"))] if odd else []
    for label, words in facts(rinse, names(picture)):
        rows += worded(label, clean(words, 400), look, "plain")
    return rows


def water_rows(picture: LinePicture, tank: str, look: Look) -> list[Row]:
    """Return what a position's own view tells of its rinse and its level."""
    rinse = next((each for each in picture.rinses if each.tank == tank), None)
    level = next((each for each in picture.levels if each.tank == tank), None)
    rows: list[Row] = []
    if rinse is not None and rinse.loads:
        rows += [titled("rinse", look.width), *_facts(picture, rinse, look), row()]
    if level is not None:
        figures = (
            ("evaporates", level.evaporates_l_per_h),
            ("falls", level.falls_l_per_h),
            ("usually", level.usual_l_per_h),
            ("topped up", level.topped_up_l_per_h),
            ("dragged out", level.dragged_l_per_h),
        )
        told = [fact(label, f"{pm(value, None, 1)} L/h") for label, value in figures if value]
        leak = leak_words(level)
        role = "outside" if level.leaks_l_per_h else "quiet"
        rows += [titled("water", look.width), *told, fact("leak", Span(leak, role)), row()]
    return [_clipped(each, look) for each in rows]


def rinse_detail(picture: LinePicture, rinse: RinsePicture, look: Look) -> list[Row]:
    """Return one rinse in detail."""
    called = names(picture)
    rows = [titled(called.get(rinse.tank, clean(rinse.tank, 40)), look.width)]
    rows += _facts(picture, rinse, look)
    for caution in CAUTIONS:
        rows += [
            row(Span(f"  {line}", "quiet")) for line in wrap(caution, max(look.width - 4, 8))
        ]
    rows += unmeasured_rows(RINSE, look.width)
    return [_clipped(each, look) for each in rows]
