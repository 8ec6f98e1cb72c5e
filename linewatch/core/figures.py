"""The figures of a picture as columns; a figure is made when somebody looks at it.

Rule 1: a picture of ten thousand figures costs a collector a few copies of arrays, whether
        a screen looks or not; only what is drawn is ever made into a `Figure`.
Rule 2: columns are never written to once they are part of a picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from linewatch.core.plan import Window
from linewatch.core.readings import Qualities, Quality, Times, Values, is_good
from linewatch.core.view import Figure

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.core.view import LinePicture

BAD = int(Quality.BAD)
"""A plain number: to compare with an enum's member costs twenty times as much."""


Where: TypeAlias = "int | Figure"
"""The row of a figure, or the figure itself where it stands in no column."""


@dataclass(frozen=True, slots=True)
class FigureRow:
    """What never changes of a figure."""

    tag: str
    subject: str
    name: str
    """Its name at its subject: the measurement's kind, a twin with its suffix."""
    kind: str
    window: Window = field(default_factory=Window)


@dataclass(frozen=True, slots=True)
class FigureTable:
    """Which figures a line has, in the order of their rows."""

    rows: tuple[FigureRow, ...]
    by_subject: Mapping[str, Mapping[str, int]]
    """Row by subject, then by name."""
    _together: dict[tuple[str, ...], dict[str, Where]] = field(default_factory=dict)

    def of(self, subjects: tuple[str, ...]) -> dict[str, Where]:
        """Return rows by name of several subjects together; of one name the last one's."""
        found = self._together.get(subjects)
        if found is None:
            found = {}
            for subject in subjects:
                found |= self.by_subject.get(subject, {})
            self._together[subjects] = found
        return found


def figure_table(rows: Iterable[FigureRow]) -> FigureTable:
    """Return the table of some rows."""
    rows = tuple(rows)
    by_subject: dict[str, dict[str, int]] = {}
    for number, row in enumerate(rows):
        by_subject.setdefault(row.subject, {})[row.name] = number
    return FigureTable(rows, by_subject)


@dataclass(frozen=True, slots=True)
class FigureColumns:
    """What all figures of a table were at one moment; each column of shape (rows,)."""

    table: FigureTable
    value: Values
    """In the measurement's unit; NaN where there is none."""
    quality: Qualities
    utc_ns: Times
    """When each was last read, good or bad."""
    good_utc_ns: Times
    """When each was last good; 0: never."""
    by_hand: Mapping[str, Mapping[str, Figure]] = field(default_factory=dict)
    """What was typed in, by subject, then by name; what is read goes before."""

    def figure(self, row: int) -> Figure:
        """Return one row as a figure."""
        what, quality = self.table.rows[row], self.quality.item(row)
        read = self.value.item(row)
        value = read if quality < BAD and read == read else None  # noqa: PLR0124  (NaN)
        window = what.window
        return Figure(
            tag=what.tag,
            kind=what.kind,
            value=value,
            quality=quality,
            utc_ns=self.utc_ns.item(row),
            good_utc_ns=self.good_utc_ns.item(row) or None,
            low=window.low,
            high=window.high,
            target=window.target,
            side=window.side(value) if value is not None and is_good(quality) else "",
        )

    def doubting(self, doubted: Iterable[tuple[str, str]]) -> FigureColumns:
        """Return the same, with some good figures marked as doubted.

        Args:
            doubted: (subject, name) of each.
        """
        rows = [self.table.by_subject.get(subject, {}).get(name) for subject, name in doubted]
        good = [row for row in rows if row is not None and is_good(self.quality.item(row))]
        if not good:
            return self
        quality = self.quality.copy()
        quality[good] = Quality.DOUBTED
        return replace(self, quality=quality)

    def good_value(self, subject: str, name: str) -> float | None:
        """Return one value, in the measurement's unit; None unless it is good."""
        row = self.table.by_subject.get(subject, {}).get(name)
        if row is None or not is_good(self.quality.item(row)):
            return None
        value: float = self.value.item(row)
        return value if value == value else None  # noqa: PLR0124  (NaN)

    def of(self, *subjects: str) -> Figures:
        """Return the figures of some subjects together; of one name the last one's.

        Args:
            subjects: Ids of tanks and rectifiers.
        """
        if self.by_hand.keys().isdisjoint(subjects):
            return Figures(self, self.table.of(subjects))
        found: dict[str, Where] = {}
        for subject in subjects:
            found |= self.by_hand.get(subject, {})
            found |= self.table.by_subject.get(subject, {})
        return Figures(self, found)

    def of_tank(self, tank: str, rectifiers: tuple[str, ...]) -> Figures:
        """Return a tank's figures with its rectifiers'; its own and the first's go before."""
        return self.of(*reversed(rectifiers), tank)


class Figures(Mapping[str, Figure]):
    """Figures by name, each made at the first look at it.

    Args:
        columns: Where they stand.
        where: The row of each; nobody may write to it afterwards.
    """

    __slots__ = ("_made", "_where", "columns")

    def __init__(self, columns: FigureColumns, where: Mapping[str, Where]) -> None:
        self.columns = columns
        self._where = where
        self._made: dict[str, Figure] = {}

    def __getitem__(self, name: str) -> Figure:
        found = self._made.get(name)
        if found is None:
            where = self._where[name]
            found = self.columns.figure(where) if isinstance(where, int) else where
            self._made[name] = found
        return found

    def __iter__(self) -> Iterator[str]:
        return iter(self._where)

    def __len__(self) -> int:
        return len(self._where)

    def __repr__(self) -> str:
        return f"Figures({dict(self)})"


NO_COLUMNS: Final = FigureColumns(
    table=figure_table(()),
    value=np.empty(0),
    quality=np.empty(0, dtype=np.uint8),
    utc_ns=np.empty(0, dtype=np.int64),
    good_utc_ns=np.empty(0, dtype=np.int64),
)


def columns_of(picture: LinePicture) -> FigureColumns | None:
    """Return the columns that a picture's figures stand in; None if they stand in none."""
    all_figures = [each.figures for each in picture.tanks]
    all_figures += [each.figures for each in picture.rectifiers]
    return next((each.columns for each in all_figures if isinstance(each, Figures)), None)


def with_columns(picture: LinePicture, columns: FigureColumns) -> LinePicture:
    """Return a picture whose figures stand in these columns."""
    return replace(
        picture,
        tanks=tuple(
            replace(each, figures=columns.of_tank(each.id, each.rectifiers))
            for each in picture.tanks
        ),
        rectifiers=tuple(
            replace(each, figures=columns.of(each.id)) for each in picture.rectifiers
        ),
    )
