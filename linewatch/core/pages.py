"""A page to read or to print: headings, tables, small print. Pure; the printers are above.

What a page says is put together once, beside what it tells of; the screen, the terminal, the
browser and the printer each only lay it out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core import units

if TYPE_CHECKING:
    from collections.abc import Iterable

Row = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table, or a list of sentences where it has no columns."""

    heading: str
    columns: Row = ()
    rows: tuple[Row, ...] = ()
    numbers: frozenset[int] = frozenset()
    """Columns that hold numbers: they stand to the right."""
    widths: tuple[float, ...] = ()
    """Widths of the columns on paper, in shares."""
    empty: str = ""
    """What stands there without rows; '': the whole table is left out."""

    @property
    def every(self) -> tuple[Row, ...]:
        """The heads of the columns, if there are any, and the rows."""
        return (self.columns, *self.rows) if self.columns else self.rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page."""

    title: str
    below: tuple[str, ...]
    """Lines right below the title."""
    tables: tuple[Table, ...]
    small: tuple[str, ...] = ()
    """Cautions and sources, in small print at the end."""

    def shown(self) -> Iterable[Table]:
        """Return the tables that have something to say."""
        return (each for each in self.tables if each.rows or each.empty)


def span_words(low: float | None, high: float | None, form: str = "g") -> str:
    """Return limits in words: '6 to 9.5', 'from 180', 'to 30', '' for none.

    Args:
        low: Least that is allowed; None: anything.
        high: Most that is allowed; None: anything.
        form: How a number is written, as `format` knows it.
    """
    if low is None:
        return "" if high is None else f"to {high:{form}}"
    return f"from {low:{form}}" if high is None else f"{low:{form}} to {high:{form}}"


@dataclass(frozen=True, slots=True)
class Shown:
    """Numbers and times as the reader of a page wants them."""

    system: str
    """'metric' or 'us'."""
    clock: Callable[[int], str]
    """Writes a wall time [ns since 1970, UTC] as the reader's clock shows it."""

    def number(self, value: float | None, unit: str, digits: int, *, bare: bool = False) -> str:
        """Return a number in the reader's units; '' for none."""
        if value is None:
            return ""
        to = units.shown_unit(unit, self.system)
        text = f"{units.convert(value, unit, to):z.{digits}f}"
        return text if bare or not to else f"{text} {units.symbol(to)}"

    def with_doubt(self, value: float | None, doubt: float | None, unit: str) -> str:
        """Return a number with its ±; '' for none."""
        if value is None:
            return ""
        to = units.shown_unit(unit, self.system)
        factor = units.UNITS[unit].factor / units.UNITS[to].factor
        digits = 2 if value * factor < 100 else 1  # noqa: PLR2004 - as many as can be read
        tail = f" ± {(doubt or 0.0) * factor:.{digits}f}" if doubt is not None else ""
        return f"{value * factor:z.{digits}f}{tail} {units.symbol(to)}"
