"""A page on the screen: its tables laid out for the width there is, nothing left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, wrap
from linewatch.ui.text import cells, clean, fit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.pages import Page, Table

INDENT: Final = 2
GAP: Final = 2
NARROWEST: Final = 12
"""Cells below which a sentence is not broken to fit beside its time, but under it."""


def page_rows(page: Page, look: Look) -> list[Row]:
    """Return a page but for its title, which stands in the band above."""
    rows = [_line(text, "plain", look) for each in page.below for text in _wrapped(each, look)]
    for table in page.shown():
        rows += [row(), titled(clean(table.heading), look.width)]
        rows += table_rows(table, look) if table.rows else [_line(table.empty, "quiet", look)]
    rows.append(row())
    rows += [_line(text, "quiet", look) for each in page.small for text in _wrapped(each, look)]
    return [Row(clip(each.spans, look.width)) for each in rows]


def _wrapped(text: str, look: Look) -> list[str]:
    return wrap(clean(text, 1000), max(look.width - INDENT, 1))


def _line(text: str, role: str, look: Look) -> Row:
    return row(" " * INDENT, Span(fit(clean(text, 1000), max(look.width - INDENT, 0)), role))


def table_rows(table: Table, look: Look) -> list[Row]:
    """Return a table: columns that do not fit beside the others stand in a row below them."""
    room = max(look.width - INDENT, 1)
    widths = [
        min(max(cells(clean(cell, 500)) for cell in column), room)
        for column in zip(*table.every, strict=True)
    ]
    if table.columns:
        # A column in which nothing stands takes no room from those that say something.
        said = [any(each[k].strip() for each in table.rows) for k in range(len(widths))]
        widths = [wide if is_said else 0 for wide, is_said in zip(widths, said, strict=True)]
    if not table.columns:
        return [each for line in table.rows for each in _sentence(line, widths, room)]
    lines = _lines(widths, room)
    rows = [_cells(table.columns, table, widths, line, "quiet") for line in lines]
    for each in table.rows:
        rows += [
            _cells(each, table, widths, line, "plain")
            for line in lines
            if not line[0] or any(each[column] for column in line)
        ]
    return rows


def _lines(widths: Sequence[int], room: int) -> list[list[int]]:
    """Return which columns stand in which row; further rows are set in under the first."""
    lines: list[list[int]] = [[]]
    used = 0
    for column, width in enumerate(widths):
        if not width:
            continue
        if lines[-1] and used + width > room:
            lines.append([])
            used = INDENT
        lines[-1].append(column)
        used += width + GAP
    return lines


def _cells(
    line: Sequence[str], table: Table, widths: Sequence[int], columns: Sequence[int], role: str
) -> Row:
    lead = INDENT + (INDENT if columns[0] else 0)
    text = (" " * GAP).join(
        fit(clean(line[k], 500), widths[k], right=k in table.numbers) for k in columns
    )
    return row(" " * lead, Span(text, role))


def _sentence(line: Sequence[str], widths: Sequence[int], room: int) -> list[Row]:
    """Return a row without columns: what comes last is broken to fit beside the others."""
    *first, last = (clean(cell, 1000) for cell in line)
    head = (" " * GAP).join(fit(cell, widths[k]) for k, cell in enumerate(first))
    left = room - cells(head) - GAP
    if left < NARROWEST:
        parts = wrap(f"{head.strip()} {last}", room)
        return [row(" " * INDENT, Span(part)) for part in parts]
    blank = " " * cells(head)
    return [
        row(" " * INDENT, Span(blank if k else head, "quiet"), " " * GAP, Span(part))
        for k, part in enumerate(wrap(last, left) or [""])
    ]
