"""A curve as characters: braille dots, or strokes where only 7 bits are to be had. Pure.

A column holds the least and the most of its time, so a spike never vanishes; a column without
a good value stays empty, so a gap stays a gap.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Sequence

Band: TypeAlias = "tuple[float, float] | None"
"""Least and most of one column; None where nothing was good."""

DOTS: Final = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
"""Bit of each dot of a braille cell, by column and row (ISO/IEC 10646, block 2800)."""
BLANK: Final = "\u2800"
ROWS_A_CELL: Final = 4
COLUMNS_A_CELL: Final = 2
NICE: Final = (1.0, 2.0, 2.5, 5.0, 10.0)


def resampled(bands: Sequence[Band], columns: int) -> list[Band]:
    """Return bands in another number of columns, least and most kept."""
    count = len(bands)
    if count == 0 or columns <= 0:
        return [None] * max(columns, 0)
    result: list[Band] = []
    for column in range(columns):
        first = column * count // columns
        last = max((column + 1) * count // columns, first + 1)
        good = [band for band in bands[first:last] if band is not None]
        result.append((min(b[0] for b in good), max(b[1] for b in good)) if good else None)
    return result


def joined(bands: Sequence[Band]) -> list[Band]:
    """Return bands in which neighbours touch, so that a step is a line and no gap."""
    result: list[Band] = []
    before: Band = None
    for band in bands:
        if band is not None and before is not None:
            low, high = band
            result.append((min(low, before[1]), max(high, before[0])))
        else:
            result.append(band)
        before = band
    return result


def scale_of(bands: Sequence[Band], also: Sequence[float] = ()) -> tuple[float, float]:
    """Return bottom and top that hold every band and the values that belong beside it."""
    good = [band for band in bands if band is not None]
    values = [value for band in good for value in band] + list(also)
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    margin = (high - low) * 0.06 or abs(high) * 0.01 or 1.0
    return low - margin, high + margin


def ticks(bottom: float, top: float, most: int) -> list[float]:
    """Return at most `most` round values between bottom and top."""
    if most < 1 or not top > bottom:
        return []
    rough = (top - bottom) / most
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(nice * size for nice in NICE if nice * size >= rough * (1 - 1e-9))
    first = math.ceil(bottom / step - 1e-9)
    last = math.floor(top / step + 1e-9)
    return [index * step for index in range(first, last + 1)][:most]


def row_of(value: float, scale: tuple[float, float], rows: int) -> int:
    """Return the row, counted from the top, that a value falls into; clipped to the plot."""
    bottom, top = scale
    share = (value - bottom) / (top - bottom)
    return min(max(int((1.0 - share) * rows), 0), rows - 1)


def braille(
    bands: Sequence[Band], size: tuple[int, int], scale: tuple[float, float]
) -> list[str]:
    """Return the curve in a grid of `size` (width, height) cells, a string a row."""
    width, height = size
    grid = [[0] * width for _ in range(height)]
    for column, band in enumerate(joined(resampled(bands, width * COLUMNS_A_CELL))):
        if band is None:
            continue
        top = row_of(band[1], scale, height * ROWS_A_CELL)
        bottom = row_of(band[0], scale, height * ROWS_A_CELL)
        bits = DOTS[column % COLUMNS_A_CELL]
        for dot in range(top, bottom + 1):
            grid[dot // ROWS_A_CELL][column // COLUMNS_A_CELL] |= bits[dot % ROWS_A_CELL]
    return ["".join(chr(0x2800 + bits) if bits else " " for bits in line) for line in grid]


def strokes(
    bands: Sequence[Band], size: tuple[int, int], scale: tuple[float, float]
) -> list[str]:
    """Return the curve in 7 bits: '*' where a column lies in one row, '|' where it spans."""
    width, height = size
    grid = [[" "] * width for _ in range(height)]
    for column, band in enumerate(joined(resampled(bands, width))):
        if band is None:
            continue
        top, bottom = row_of(band[1], scale, height), row_of(band[0], scale, height)
        for line in range(top, bottom + 1):
            grid[line][column] = "*" if top == bottom else "|"
    return ["".join(line) for line in grid]
