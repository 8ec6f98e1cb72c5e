"""What a drawing is made of: rows of spans, each a text with the role it plays.

A drawing is told everything in a `Look`. Rows are compared to find out what changed, so they
are plain tuples.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from linewatch.ui.text import cells, cut, fit

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


class Span(NamedTuple):
    """A text that plays one role."""

    text: str
    role: str = "plain"


class Row(NamedTuple):
    """One row of the screen."""

    spans: tuple[Span, ...]
    target: str = ""
    """What the row is about, as 'tank nickel-1'; '' if it cannot be chosen."""
    fill: str = "plain"
    """Role of the rest of the row."""


EMPTY = Row(())


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Everything besides the picture that a drawing depends on."""

    width: int
    height: int
    now_ns: int
    units: str = "metric"
    zone: datetime.tzinfo | None = None
    is_live: bool = True
    """Whether a collector stands behind the picture and it is fresh."""
    is_plain: bool = False
    """Seven bits only."""


def row(*spans: Span | str, target: str = "", fill: str = "plain") -> Row:
    """Return a row of spans; a bare text plays the role 'plain'."""
    return Row(
        tuple(Span(each) if isinstance(each, str) else each for each in spans), target, fill
    )


def told(text: str, look: Look) -> Span:
    """Return what was worked out; in brackets, as every figure is, when it is not live."""
    return Span(text) if look.is_live else Span(f"({text})", "off")


def shifted(each: Row) -> Row:
    """Return a row one cell further to the right, under rows that have a cursor's cell."""
    return Row((Span(" "), *each.spans), each.target, each.fill)


def width_of(spans: Iterable[Span]) -> int:
    """Return how many cells some spans take."""
    return sum(cells(each.text) for each in spans)


def clip(spans: Sequence[Span], width: int) -> tuple[Span, ...]:
    """Return spans cut to at most `width` cells."""
    kept: list[Span] = []
    left = width
    for each in spans:
        size = cells(each.text)
        if size > left:
            if left > 0:
                kept.append(Span(cut(each.text, left), each.role))
            break
        kept.append(each)
        left -= size
    return tuple(kept)


def edge_to_edge(
    left: Sequence[Span], right: Sequence[Span], width: int, *, fill: str = "plain"
) -> Row:
    """Return a row with one part at each edge; where they meet, the left part is cut."""
    right_part = clip(right, width)
    left_part = clip(left, max(width - width_of(right_part) - 1, 0))
    gap = max(width - width_of(left_part) - width_of(right_part), 0)
    return Row((*left_part, Span(" " * gap, fill), *right_part), "", fill)


def wrap(text: str, width: int) -> list[str]:
    """Return a text broken at spaces into lines of at most `width` cells."""
    if width < 1:
        return []
    lines: list[str] = []
    line = ""
    for word in text.split():
        piece = word
        while cells(piece) > width:
            if line:
                lines.append(line)
                line = ""
            head = fit(piece, width).rstrip() if cells(piece[:width]) > width else piece[:width]
            lines.append(head)
            piece = piece[len(head) :]
        if line and cells(line) + 1 + cells(piece) > width:
            lines.append(line)
            line = piece
        else:
            line = f"{line} {piece}" if line else piece
    if line:
        lines.append(line)
    return lines


def wrap_path(path: str, width: int) -> list[str]:
    """Return a file's path broken behind its separators, inside a name only if it must be."""
    lines: list[str] = []
    line = ""
    for piece in re.findall(r"[^/\\]*[/\\]|[^/\\]+", path):
        if line and cells(line) + cells(piece) > width:
            lines.append(line)
            line = ""
        line += piece
    return [part for each in [*lines, line] for part in wrap(each, width)]


def beside(
    left: Sequence[Row], right: Sequence[Row], left_width: int, gap: int = 2
) -> list[Row]:
    """Return two blocks of rows side by side; the left rows keep their targets."""
    rows: list[Row] = []
    for index in range(max(len(left), len(right))):
        one = left[index] if index < len(left) else EMPTY
        other = right[index] if index < len(right) else EMPTY
        spans = clip(one.spans, left_width)
        space = Span(" " * (left_width - width_of(spans) + gap))
        rows.append(Row((*spans, space, *other.spans), one.target or other.target))
    return rows


def titled(title: str, width: int) -> Row:
    """Return the heading of a part of the screen."""
    return row(Span(cut(title, width), "head"))
