"""A sheet of rows, drawn with the line API: only rows that changed are painted again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from linewatch.ui.draw.rows import EMPTY, Row, Span, clip, width_of
from linewatch.ui.marks import plain
from linewatch.ui.palette import style
from linewatch.ui.text import cells

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual import events


CURSOR = "▶"
BARE = frozenset({"plain", "quiet", "strong", "key", "gauge", "outside", "doubt", "off"})
"""Roles without a ground or a line of their own."""
LEAST_WIDTH = 2
"""Cells below which there is no room for the mark at the right edge."""


def cells_until_same(before: Row, after: Row) -> int | None:
    """Return how many cells from the left hold every difference; None: to the very end."""
    if len(before.spans) != len(after.spans) or before.fill != after.fill:
        return None
    until = start = 0
    for old, new in zip(before.spans, after.spans, strict=True):
        size = cells(new.text)
        if cells(old.text) != size:
            return None
        start += size
        if old != new:
            until = start
    return until


def merged(spans: Sequence[Span]) -> list[Span]:
    """Return spans with neighbours of one role made one, and blanks drawn like their left.

    Each span costs a change of colour on the wire; a blank has no ink of its own.
    """
    made: list[Span] = []
    for each in spans:
        before = made[-1] if made else None
        is_blank = not each.text.strip() and each.role in BARE
        if before is not None and (
            each.role == before.role or (is_blank and before.role in BARE)
        ):
            made[-1] = Span(before.text + each.text, before.role)
        else:
            made.append(each)
    return made


class Sheet(Widget):
    """Shows rows. It keeps which row is chosen by what the row is about, not by its place."""

    DEFAULT_CSS = """
    Sheet { height: 1fr; width: 1fr; }
    """
    ALLOW_SELECT = False

    @dataclass
    class Chosen(Message):
        """A row was pointed at with the mouse."""

        sheet: Sheet
        target: str
        opened: bool

    def __init__(
        self,
        *,
        id: str | None = None,  # noqa: A002 - the toolkit's name
        has_cursor: bool = False,
    ) -> None:
        super().__init__(id=id)
        self._has_cursor = has_cursor
        self._rows: tuple[Row, ...] = ()
        self._strips: dict[tuple[int, bool], Strip] = {}
        self._palette = "night"
        self._plain = False
        self._begun = True
        self.choice = ""
        self.top = 0
        self.shown = 1
        """Rows of the screen that the sheet has; told, for the toolkit lays out later."""
        self.painted = 0
        """Rows painted so far; a test of thrift reads it."""

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows as they were told."""
        return self._rows

    def look(self, palette: str, *, is_plain: bool) -> None:
        """Take another palette or set of marks; everything is painted again."""
        if (palette, is_plain) != (self._palette, self._plain):
            self._palette, self._plain = palette, is_plain
            self._strips.clear()
            self.refresh()

    def begin(self, choice: str, top: int) -> None:
        """Take another view's cursor before its rows are shown."""
        self.choice, self.top = choice, top
        self._rows = ()
        self._strips.clear()
        self._begun = True

    def show(self, rows: Sequence[Row], height: int) -> None:
        """Take new rows for a sheet of some height; paint those that differ."""
        old, self._rows = self._rows, tuple(rows)
        self.shown = max(height, 1)
        changed = [
            index
            for index in range(max(len(old), len(self._rows)))
            if index >= len(old) or index >= len(self._rows) or old[index] != self._rows[index]
        ]
        for index in changed:
            self._strips.pop((index, False), None)
            self._strips.pop((index, True), None)
        chose, moved = self._keep_choice(old), self._keep_top()
        if self._begun or chose or moved or len(old) != len(self._rows):
            self._begun = False
            self.refresh()
            return
        for index in changed:
            self._refresh_changes(index, old[index])

    def _refresh_row(self, index: int) -> None:
        y = index - self.top
        if 0 <= y < self.shown:
            self.refresh(Region(0, y, self.size.width, 1))

    def _refresh_changes(self, index: int, before: Row) -> None:
        """Have a row sent again as far as it is different.

        The toolkit sends a widget's row from its left edge to a region's right edge, so one
        region a row is least.
        """
        y = index - self.top
        if not 0 <= y < self.shown:
            return
        until = cells_until_same(before, self._rows[index])
        width = self.size.width
        if until is not None:
            width = min(until + (1 if self._has_cursor else 0), width)
        self.refresh(Region(0, y, width, 1))

    def _keep_choice(self, old: tuple[Row, ...]) -> bool:
        """Keep the choice on what it was on, or on its neighbour if that is gone."""
        targets = self.targets()
        if self.choice in targets or (not targets and not self.choice):
            return False
        before = list(dict.fromkeys(each.target for each in old if each.target))
        at = before.index(self.choice) if self.choice in before else 0
        self.choice = targets[min(at, len(targets) - 1)] if targets else ""
        return True

    def targets(self) -> list[str]:
        """Return what can be chosen, in order."""
        return list(dict.fromkeys(each.target for each in self._rows if each.target))

    def choose(self, target: str) -> None:
        """Put the choice on a target and bring it into sight."""
        if target == self.choice or target not in self.targets():
            return
        before, self.choice = self.choice, target
        if self._keep_top():
            self.refresh()
            return
        for index, each in enumerate(self._rows):
            if each.target in {before, target}:
                self._refresh_row(index)

    def move(self, by: int) -> str:
        """Move the choice by some targets, or the sheet by rows if nothing can be chosen."""
        targets = self.targets()
        if not targets:
            self.scroll_rows(by)
            return ""
        at = targets.index(self.choice) if self.choice in targets else 0
        to = max(0, min(at + by, len(targets) - 1))
        self.choose(targets[to])
        if at + by != to:
            # Beyond the last that can be chosen there may be rows to read.
            self.scroll_rows(at + by - to)
            if self._keep_top():
                self.refresh()
        return self.choice

    def scroll_rows(self, by: int) -> None:
        """Move the sheet without moving the choice, as far as it goes."""
        top = max(0, min(self.top + by, len(self._rows) - self.shown))
        if top != self.top:
            self.top = top
            self.refresh()

    def _keep_top(self) -> bool:
        """Bring the choice into sight; say whether the sheet moved."""
        height = max(self.shown, 1)
        top = max(0, min(self.top, len(self._rows) - height))
        at = [index for index, each in enumerate(self._rows) if each.target == self.choice]
        if self.choice and at:
            first = at[0] - 1 if at[0] and not self._rows[at[0] - 1].target else at[0]
            top = max(min(top, first), at[0] - height + 1)
        moved, self.top = top != self.top, top
        return moved

    def on_resize(self) -> None:
        """Keep the choice in sight in the new size."""
        self._strips.clear()
        self._keep_top()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one row of the screen."""
        width = self.size.width
        index = y + self.top
        each = self._rows[index] if index < len(self._rows) else EMPTY
        chosen = bool(each.target) and each.target == self.choice
        strip = self._strips.get((index, chosen))
        if strip is None:
            strip = self._strip(each, width, chosen=chosen)
            self._strips[index, chosen] = strip
            self.painted += 1
        if len(self._rows) > self.shown and width > LEAST_WIDTH:
            return Strip([*strip.crop(0, width - 1), self._elevator(y)], width)
        return strip

    def _strip(self, each: Row, width: int, *, chosen: bool) -> Strip:
        gutter = (Span(CURSOR if chosen else " "),) if self._has_cursor else ()
        spans = clip((*gutter, *each.spans), width)
        segments = [
            Segment(
                plain(one.text) if self._plain else one.text,
                style(self._palette, one.role, chosen=chosen),
            )
            for one in merged(spans)
        ]
        rest = width - width_of(spans)
        if rest > 0:
            segments.append(Segment(" " * rest, style(self._palette, each.fill, chosen=chosen)))
        return Strip(segments, width)

    def _elevator(self, y: int) -> Segment:
        """Return the cell at the right edge that tells how much lies above and below."""
        height = self.shown
        size = max(1, height * height // len(self._rows))
        span = len(self._rows) - height
        at = self.top * (height - size) // span if span > 0 else 0
        mark = "┃" if at <= y < at + size else "│"
        return Segment(plain(mark) if self._plain else mark, style(self._palette, "quiet"))

    def on_click(self, event: events.Click) -> None:
        """Choose what was pointed at; a second click opens it."""
        index = event.y + self.top
        if index < len(self._rows) and (target := self._rows[index].target):
            opened = target == self.choice
            self.choose(target)
            self.post_message(self.Chosen(self, target, opened))

    def on_mouse_scroll_down(self) -> None:
        """Follow the wheel."""
        self.scroll_rows(3)

    def on_mouse_scroll_up(self) -> None:
        """Follow the wheel."""
        self.scroll_rows(-3)
