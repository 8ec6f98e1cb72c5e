"""The one screen on which every view is drawn: bands, body, what is chosen, the way back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from textual.screen import Screen

from linewatch.ui.draw.bands import (
    alarm_rows,
    dead_row,
    hints_rows,
    pulls_rows,
    title_row,
)
from linewatch.ui.draw.rows import Look, Row, Span, row, shifted
from linewatch.ui.keys import BY_ID, EVERYWHERE, bindings
from linewatch.ui.screens.actions import ACTIONS
from linewatch.ui.screens.view import Scene, View, Wish
from linewatch.ui.screens.views import view_of
from linewatch.ui.widgets.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from linewatch.core.view import LinePicture
    from linewatch.ui.app import LinewatchApp

FULL_HEAD: Final = 12
"""Rows of terminal from which on a view's own head is shown."""
ROOM_FOR_PULLS: Final = 16
ROOM_FOR_HINTS: Final = 6
DEEPEST: Final = 40
"""Steps back that are remembered."""
MOST_ALARMS: Final = 4
GUTTERS: Final = 2
"""Cells at the left for the cursor and at the right for the elevator."""

STEPS: Final[dict[str, float]] = {
    "up": -1.0,
    "down": 1.0,
    "first": -1e9,
    "last": 1e9,
}


class LiveScreen(Screen[None]):
    """Draws the present view; keeps the way back."""

    DEFAULT_CSS = """
    LiveScreen { layout: vertical; overflow: hidden; }
    """
    AUTO_FOCUS = None
    BINDINGS = bindings()

    def __init__(self) -> None:
        super().__init__()
        self.head = Sheet(id="head")
        self.body = Sheet(id="body", has_cursor=True)
        self.lower = Sheet(id="lower")
        self.foot = Sheet(id="foot")
        self.view = view_of("line")
        self.behind: list[View] = []

    @property
    def watch_app(self) -> LinewatchApp:
        """The application, by its own type."""
        return self.app  # type: ignore[return-value]

    def compose(self) -> ComposeResult:
        """Lay the sheets one under another."""
        yield self.head
        yield self.body
        yield self.lower
        yield self.foot

    # The way there and back.

    def go(self, name: str, subject: str = "", choice: str = "") -> None:
        """Show a view; if that view is shown already, turn it to the subject.

        Args:
            name: Of the view.
            subject: What it is to be about; '' for the line.
            choice: What its cursor is to be on; '' for the subject.
        """
        self._remember()
        if name != self.view.NAME or (subject and self.view.subject not in {"", subject}):
            self.behind = [*self.behind, self.view][-DEEPEST:]
            self.view = view_of(name, subject)
            self.view.choice = choice or self.view.choice
        elif subject:
            self.view.choice = subject
        self._enter()

    def go_home(self) -> None:
        """Show the line, where it was left."""
        self._remember()
        line = next((each for each in self.behind if each.NAME == "line"), None)
        if self.view.NAME != "line":
            self.view = line or view_of("line")
        self.behind = []
        self._enter()

    def go_back(self) -> None:
        """Show what was shown before, the cursor where it was."""
        if self.behind:
            self.view = self.behind.pop()
            self._enter()

    def turn_to(self, subject: str) -> None:
        """Turn a view of one thing to its neighbour."""
        self.view = view_of(self.view.NAME, subject)
        self._enter()

    def _remember(self) -> None:
        self.view.choice = self.body.choice or self.view.choice
        self.view.top = self.body.top
        self.view.lower_top = self.lower.top

    def _enter(self) -> None:
        self.body.begin(self.view.choice, self.view.top)
        self.lower.begin("", self.view.lower_top)
        self.paint()
        self.watch_app.look_back()

    def wishes(self) -> Sequence[Wish]:
        """Return the pieces of the past that the present view shows."""
        return self.view.wants(self.body.choice, self.watch_app.now_ns())

    @property
    def about(self) -> str:
        """What the cursor is on, or the view is about: 'tank nickel-1'."""
        return self.view.about(self.body.choice)

    # Drawing.

    def on_mount(self) -> None:
        """Draw at once."""
        self._enter()

    def on_resize(self) -> None:
        """Draw for the new size; a curve may want another number of columns."""
        self.paint()
        self.watch_app.look_back()

    def paint(self) -> None:
        """Draw the present sight."""
        if not self.is_mounted:
            return
        app = self.watch_app
        look = app.look_for(self.size.width, self.size.height)
        for sheet in (self.head, self.body, self.lower, self.foot):
            sheet.look(app.palette_name, is_plain=look.is_plain)
        if app.sight.picture is None:
            self._show(
                [row(Span(" linewatch", "band"), fill="band")],
                [row(), row(Span("  waiting for the first picture", "quiet"))],
                [],
                hints_rows(app.keys.hints(self.view.NAME), app.said, look.width),
            )
            return
        self._paint(app.sight.picture, look)

    def _paint(self, picture: LinePicture, look: Look) -> None:
        app = self.watch_app
        scene = Scene(
            picture=picture,
            look=replace(look, width=max(look.width - GUTTERS, 0)),
            choice=self.body.choice,
            events=app.events,
            curves=app.curves,
            why=app.why,
            keys=app.keys,
            where=app.options.where,
            past=app.past,
            shift=app.shift,
            sealed=app.sealed,
        )
        head = [title_row(picture, self.view.title(scene), look)]
        if not app.sight.is_live:
            head.append(dead_row(picture, look, alive=app.sight.is_alive))
        if look.height >= FULL_HEAD:
            head += [shifted(each) for each in self.view.head(scene)]
        body = self.view.body(scene)
        lower = [shifted(each) for each in self.view.lower(scene)]
        spare = look.height - len(head) - len(body) - len(lower) - 3
        foot = [*self._foot(picture, look, spare), *self._hints(scene, look)]
        self._show(head, body, lower, foot)
        if self.body.choice != scene.choice and self.body.choice:
            self._paint(picture, look)

    def _foot(self, picture: LinePicture, look: Look, spare: int) -> list[Row]:
        """Return alarms and loads to pull; more of both where there is room."""
        more = max(min(spare // 2, MOST_ALARMS - 1), 0) if self.view.NAME == "line" else 0
        rows = alarm_rows(picture, look, 1 + more)
        if look.height >= ROOM_FOR_PULLS:
            rows += pulls_rows(picture, look, 1)
        return rows

    def _hints(self, scene: Scene, look: Look) -> list[Row]:
        """Return the keys that count here and now, or what was just said."""
        app = self.watch_app
        if look.height < ROOM_FOR_HINTS:
            return []
        idle = self.view.idle(scene) | (frozenset() if self.behind else {"back"})
        return hints_rows(app.keys.hints(self.view.NAME, idle), app.said, look.width)

    def _show(
        self,
        head: Sequence[Row],
        body: Sequence[Row],
        lower: Sequence[Row],
        foot: Sequence[Row],
    ) -> None:
        foot = foot[: max(self.size.height - 1, 0)]
        head = head[: max(self.size.height - len(foot) - 1, 0)]
        room = max(self.size.height - len(head) - len(foot), 1)
        under = min(len(lower), max(room - len(body), room * 3 // 5))
        above = min(len(body), room - under) if lower else room
        for sheet, rows, height in (
            (self.head, head, len(head)),
            (self.body, body, above),
            (self.lower, lower, room - above),
            (self.foot, foot, len(foot)),
        ):
            if sheet.styles.height is None or sheet.styles.height.value != height:
                sheet.styles.height = height
            sheet.show(rows, height)

    # Keys.

    def action_do(self, key_id: str) -> None:
        """Do what a key means here: the view's own meaning first, then the program's."""
        self.watch_app.hush()
        where = BY_ID[key_id].where
        if EVERYWHERE not in where and self.view.NAME not in where:
            if key_id != "open":
                self._say_where(key_id, where)
            return
        if self.view.do(key_id, self):
            self.paint()
        elif key_id in STEPS:
            self._move(int(STEPS[key_id]))
        elif key_id in {"page-up", "page-down"}:
            step = max(self.body.shown - 1, 1)
            self._move(step if key_id == "page-down" else -step)
        elif key_id in {"lower-up", "lower-down"}:
            self.lower.scroll_rows(3 if key_id == "lower-down" else -3)
        elif key_id in ACTIONS:
            ACTIONS[key_id](self)
        else:
            # A key of this view alone, which means nothing on what the cursor is on.
            self.watch_app.say(f"{BY_ID[key_id].label}: not for what the cursor is on")

    def _say_where(self, key_id: str, where: Sequence[str]) -> None:
        """Say of a key that means nothing here in which views it does."""
        keys = self.watch_app.keys
        views = [
            f"{BY_ID[each].label} ({keys.name(each)})" if each in BY_ID else each
            for each in where
        ]
        self.watch_app.say(f"{BY_ID[key_id].label}: not here, but in {', '.join(views)}")

    def _move(self, by: int) -> None:
        self.body.move(by)
        self.paint()
        self.watch_app.look_back()

    def on_sheet_chosen(self, message: Sheet.Chosen) -> None:
        """Follow the mouse."""
        message.stop()
        self.watch_app.hush()
        self.paint()
        if message.opened:
            self.action_do("open")
