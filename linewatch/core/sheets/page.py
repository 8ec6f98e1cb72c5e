"""The shift's check sheet as a page: to fill by hand what no signal tells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.pages import Page, Shown, Table, span_words
from linewatch.core.sheets.sheet import blanks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.sheets.sheet import Check, Position, Read

BLANK: Final = "........"
CAUTIONS: Final = (
    (
        "Figures are what the signals read at the moment of the sheet, with the windows then in"
        " force; dots are to be filled by hand, here or on the screen. Nothing is assumed for"
        " what was not read."
    ),
    "What is looked at is common practice of the trade; your own procedure governs.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What the sheet is of."""

    line: str
    span: tuple[int, int]
    """Begin and end of the shift [ns since 1970]."""
    utc_ns: int
    """The moment of the signals' values."""
    signed: str = ""
    """Who signed it, and when; '' if nobody did."""


def sheet_page(heading: Heading, positions: Sequence[Position], show: Shown) -> Page:
    """Return the sheet of a shift as a page.

    Args:
        heading: What it is of.
        positions: The sheet.
        show: The reader's units and clock.
    """
    begin, end = (show.clock(each) for each in heading.span)
    left = blanks(positions)
    return Page(
        title=f"Check sheet: {heading.line}, {begin} to {end}",
        below=(
            f"signals as of {show.clock(heading.utc_ns)}",
            heading.signed or "not signed yet",
            "nothing is blank" if not left else f"{left} blanks to fill",
        ),
        tables=(
            Table(
                heading="Position by position",
                columns=("position", "what", "reads", "wanted", "", "found", "by"),
                rows=tuple(row for each in positions for row in _rows(each, show)),
                numbers=frozenset({2}),
                empty="the line has no position",
                widths=(2.2, 3, 1.3, 1.5, 0.8, 2, 1.4),
            ),
        ),
        small=CAUTIONS,
    )


def _rows(position: Position, show: Shown) -> list[tuple[str, ...]]:
    rows = [_read(name, read, show) for name, read in position.reads]
    rows += [_check(check, show) for check in position.checks]
    return [
        (position.place.name if number == 0 else "", *row) for number, row in enumerate(rows)
    ]


def label(name: str) -> str:
    """Return what a measurement kind with its suffix is called."""
    kind, _, twin = name.partition(".")
    base = MEASUREMENTS[kind]
    return f"{base.label} {twin}".strip()


def reading(name: str, read: Read, show: Shown) -> str:
    """Return a reading with its unit; dots where there is none.

    Where the unit is what it is called, as of pH, the number stands alone.
    """
    base = MEASUREMENTS[name.partition(".")[0]]
    is_called_so = base.label == base.unit
    return show.number(read.value, base.unit, base.decimals, bare=is_called_so) or BLANK


def window(name: str, read: Read, show: Shown) -> str:
    """Return a reading's window in words, in the reader's units."""
    base = MEASUREMENTS[name.partition(".")[0]]
    to = units.shown_unit(base.unit, show.system)
    low, high = (
        None if each is None else units.convert(each, base.unit, to)
        for each in (read.low, read.high)
    )
    return span_words(low, high, ".6g")


def _read(name: str, read: Read, show: Shown) -> tuple[str, ...]:
    wanted = window(name, read, show)
    found = "by hand" if read.is_by_hand else ""
    verdict = read.side.upper()
    if not verdict and read.value is not None and wanted:
        verdict = "in"
    return (
        label(name),
        read.why or reading(name, read, show),
        wanted,
        verdict,
        found if read.value is not None else BLANK,
        "",
    )


def _check(check: Check, show: Shown) -> tuple[str, ...]:
    if check.found is None:
        return (check.text, "", "", "", BLANK, "")
    told = check.found
    by = f"{told.who} {show.clock(told.utc_ns)}"
    return (check.text, "", "", "BAD" if told.is_bad else "", told.found, by)
