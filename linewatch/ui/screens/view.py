"""What every view is: a title, a body of rows, the newest alarm, the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.screen import Screen

from linewatch.ui.draw.bands import alarm_row, dead_row, hints_row, pulls_row, title_row
from linewatch.ui.draw.rows import Look, Row, Span, row
from linewatch.ui.widgets.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from linewatch.core.view import LinePicture
    from linewatch.ui.app import LinewatchApp
    from linewatch.ui.feed import Sight


class View(Screen[None]):
    """One view of the line."""

    VIEW: ClassVar[str] = "line"
    """Name of the view in the table of keys."""
    DEFAULT_CSS = """
    View { layout: vertical; }
    View #head, View #foot { height: auto; }
    """
    AUTO_FOCUS = None

    def __init__(self) -> None:
        super().__init__()
        self.head = Sheet(id="head")
        self.body = Sheet(id="body")
        self.foot = Sheet(id="foot")

    @property
    def desk_app(self) -> LinewatchApp:
        """The application, by its own type."""
        return self.app  # type: ignore[return-value]

    def compose(self) -> ComposeResult:
        """Lay the three sheets one under another."""
        yield self.head
        yield self.body
        yield self.foot

    # What a view adds.

    def title_words(self, picture: LinePicture) -> str:
        """Return what the title says after the line's name."""
        return self.VIEW

    def head_rows(self, picture: LinePicture, look: Look) -> Sequence[Row]:
        """Return rows between the title and the body."""
        return ()

    def body_rows(self, picture: LinePicture, look: Look) -> Sequence[Row]:
        """Return the body."""
        return ()

    def subject(self) -> str:
        """Return what the view, or the cursor in it, is about: 'tank nickel-1'."""
        return self.body.choice

    # Drawing.

    def on_mount(self) -> None:
        """Draw at once."""
        self.paint()

    def on_resize(self) -> None:
        """Draw for the new size."""
        self.paint()

    def on_screen_resume(self) -> None:
        """Draw what has changed while another view lay on top."""
        self.paint()

    def paint(self) -> None:
        """Draw the present sight."""
        if self.is_mounted:
            self._paint(self.desk_app.sight)

    def _paint(self, sight: Sight) -> None:
        app = self.desk_app
        look = app.look_for(self.size.width, self.size.height)
        for sheet in (self.head, self.body, self.foot):
            sheet.look(app.palette_name, is_plain=look.is_plain)
        hints = hints_row(app.keys.hints(self.VIEW), app.said, look.width)
        if sight.picture is None:
            self._set_bands([row(Span(" linewatch", "band"), fill="band")], [hints])
            self.body.show([row(), row(Span("  waiting for the first picture", "quiet"))])
            return
        picture = sight.picture
        self._set_bands(self._head(picture, look, sight), self._foot(picture, look, hints))
        self.body.show(self.body_rows(picture, look))

    def _head(self, picture: LinePicture, look: Look, sight: Sight) -> list[Row]:
        rows = [title_row(picture, self.title_words(picture), look)]
        if not sight.is_live:
            rows.append(dead_row(picture, look, alive=sight.is_alive))
        if look.height >= 12:
            rows += self.head_rows(picture, look)
        return rows

    def _foot(self, picture: LinePicture, look: Look, hints: Row) -> list[Row]:
        rows = [alarm_row(picture, look)]
        if look.height >= 16:
            rows.append(pulls_row(picture, look))
        if look.height >= 6:
            rows.append(hints)
        return rows

    def _set_bands(self, head: Sequence[Row], foot: Sequence[Row]) -> None:
        for sheet, rows in ((self.head, head), (self.foot, foot)):
            if sheet.styles.height is None or sheet.styles.height.value != len(rows):
                sheet.styles.height = len(rows)
            sheet.show(rows)

    # Keys.

    def action_do(self, key_id: str) -> None:
        """Do what a key means here: the view's own meaning first, then the program's."""
        own = getattr(self, "do_" + key_id.replace("-", "_"), None)
        if own is not None:
            own()
        else:
            self.desk_app.do(key_id)

    def do_up(self) -> None:
        """Move the cursor."""
        self.moved(-1)

    def do_down(self) -> None:
        """Move the cursor."""
        self.moved(1)

    def do_page_up(self) -> None:
        """Move the cursor by a screenful."""
        self.moved(-max(self.body.size.height - 1, 1))

    def do_page_down(self) -> None:
        """Move the cursor by a screenful."""
        self.moved(max(self.body.size.height - 1, 1))

    def do_first(self) -> None:
        """Move the cursor to the first row."""
        self.moved(-1_000_000)

    def do_last(self) -> None:
        """Move the cursor to the last row."""
        self.moved(1_000_000)

    def moved(self, by: int) -> None:
        """Move the cursor and draw what depends on it."""
        self.body.move(by)
        self.paint()

    def do_open(self) -> None:
        """Open what the cursor is on."""
        if self.body.choice:
            self.desk_app.open(self.body.choice)

    def on_sheet_chosen(self, message: Sheet.Chosen) -> None:
        """Follow the mouse."""
        message.stop()
        self.paint()
        if message.opened:
            self.do_open()
