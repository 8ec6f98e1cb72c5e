"""The screen: pulls the picture on one timer, looks for news between, asks in threads."""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Final

from textual import work
from textual.app import App

from linewatch.core.errors import LinewatchError
from linewatch.ui.draw.rows import Look
from linewatch.ui.feed import OLD_AFTER_S, Sight, overlaid
from linewatch.ui.keys import Keys
from linewatch.ui.palette import PALETTES, THEMES, theme
from linewatch.ui.screens.line import LineView
from linewatch.ui.screens.view import View

if TYPE_CHECKING:
    from textual.binding import BindingType

    from linewatch.core.events import Event
    from linewatch.core.ports import Desk
    from linewatch.core.view import LinePicture

PULL_S: Final = 0.25
"""The picture is looked for four times a second and drawn only if it changed."""
NEWS_S: Final = 0.075
ALIVE_S: Final = 1.0
SAID_S: Final = 8.0
SHIFT_S: Final = 8 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How a person wants the screen."""

    initials: str | None = None
    where: str = ""
    """Where the record lies, in words for the help."""
    theme: str = "night"
    is_plain: bool = False
    units: str | None = None
    """'metric' or 'us'; None: as the line says."""
    keys: Mapping[str, str] = field(default_factory=dict)
    zone: datetime.tzinfo | None = None
    """None: the machine's own time zone."""
    wall_ns: Callable[[], int] = time.time_ns
    steady_s: Callable[[], float] = time.monotonic


class LinewatchApp(App[int], inherit_bindings=False):
    """Shows one line. It asks nobody but the desk.

    Args:
        desk: The reading side of the record, and the tray for requests.
        options: How a person wants the screen.
    """

    TITLE = "linewatch"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, desk: Desk, options: Options | None = None) -> None:
        super().__init__()
        self.desk = desk
        self.options = options or Options()
        self.keys = Keys(self.options.keys)
        self.sight = Sight()
        self.said = ""
        self.palette_name = self.options.theme
        self.is_plain = self.options.is_plain
        self._said_until_s = 0.0
        self._pulled: LinePicture | None = None
        self._changed_s = 0.0
        self._news: int | None = None
        self._seen = 0
        self._fresh_events: list[Event] = []
        self._is_alive = True
        self._units = self.options.units
        for each in PALETTES.values():
            self.register_theme(theme(each))
        self.theme = self.palette_name
        self.set_keymap(dict(self.options.keys.items()))

    # What everything is drawn from.

    @property
    def units(self) -> str:
        """The units on screen."""
        if self._units is not None:
            return self._units
        return self.sight.picture.units if self.sight.picture is not None else "metric"

    def look_for(self, width: int, height: int) -> Look:
        """Return what a drawing of a size depends on."""
        return Look(
            width=max(width, 0),
            height=max(height, 0),
            now_ns=self.now_ns(),
            units=self.units,
            zone=self.options.zone,
            is_live=self.sight.is_live,
            is_plain=self.is_plain,
        )

    def now_ns(self) -> int:
        """Return the wall time that the screen goes by."""
        return self.options.wall_ns()

    # Pulling.

    def on_mount(self) -> None:
        """Show the line, and begin to look."""
        self.pull()
        self.push_screen(LineView())
        self.set_interval(PULL_S, self.pull)
        self.set_interval(NEWS_S, self.look_for_news)
        self.set_interval(ALIVE_S, self.ask_alive)
        self.ask_alive()

    def pull(self) -> None:
        """Take the present picture; draw if anything is different."""
        picture = self.desk.picture()
        now_s = self.options.steady_s()
        if picture is not self._pulled and picture != self._pulled:
            first = self._pulled is None
            self._pulled = picture
            self._changed_s = now_s
            if first and picture is not None:
                old_s = (self.now_ns() - picture.utc_ns) / 1e9
                self._changed_s -= max(old_s, 0.0)
        fresh = now_s - self._changed_s < OLD_AFTER_S
        shown = self._overlaid(self._pulled)
        sight = Sight(picture=shown, is_alive=self._is_alive, is_fresh=fresh)
        ended = self.said and now_s > self._said_until_s
        if ended:
            self.said = ""
        if sight != self.sight or ended or not sight.is_live:
            self.sight = sight
            self.paint()

    def _overlaid(self, picture: LinePicture | None) -> LinePicture | None:
        if picture is None:
            return None
        self._fresh_events = [e for e in self._fresh_events if e.utc_ns > picture.utc_ns]
        return overlaid(picture, self._fresh_events) if self._fresh_events else picture

    def paint(self) -> None:
        """Draw the view on top."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, View):
                screen.paint()
                break

    def look_for_news(self) -> None:
        """Ask whether an event was committed; if so, fetch it in a thread."""
        news = self.desk.news()
        if news != self._news:
            first = self._news is None
            self._news = news
            self._fetch_events(first)

    @work(thread=True, exclusive=True, group="events", exit_on_error=False)
    def _fetch_events(self, first: bool) -> None:  # noqa: FBT001 - the worker's only argument
        try:
            stored = self.desk.latest(50) if first else self.desk.changes(self._seen)
        except LinewatchError as error:
            self.call_from_thread(self.say, str(error))
            return
        if stored:
            self._seen = max(self._seen, stored[-1].number)
            self.call_from_thread(self._take_events, [each.event for each in stored])

    def _take_events(self, events: list[Event]) -> None:
        self._fresh_events += events
        self.pull()

    @work(thread=True, exclusive=True, group="alive", exit_on_error=False)
    def ask_alive(self) -> None:
        """Ask whether a collector holds the line."""
        self._is_alive = self.desk.alive()

    # Saying and doing.

    def say(self, text: str) -> None:
        """Tell the person something in the footer for a few seconds."""
        self.said = text
        self._said_until_s = self.options.steady_s() + SAID_S
        self.paint()

    def do(self, key_id: str) -> None:
        """Do what a key means everywhere."""
        own = getattr(self, "do_" + key_id.replace("-", "_"), None)
        if own is not None:
            own()

    def do_quit(self) -> None:
        """Close the screen; the recording goes on."""
        self.exit(0)

    def do_back(self) -> None:
        """Go back to where the person came from."""
        if sum(isinstance(each, View) for each in self.screen_stack) > 1:
            self.pop_screen()

    def do_units(self) -> None:
        """Show the other units."""
        self._units = "metric" if self.units == "us" else "us"
        self.paint()

    def do_theme(self) -> None:
        """Take the next set of colours."""
        names = [each.name for each in THEMES]
        at = names.index(self.palette_name) if self.palette_name in names else -1
        self.palette_name = names[(at + 1) % len(names)]
        self.theme = self.palette_name
        self.paint()

    def open(self, target: str) -> None:
        """Open the view of a target, 'tank nickel-1'."""


def run_app(desk: Desk, *, where: str = "", **wishes: Any) -> int:
    """Show the screen until it is closed; return the exit code."""
    return LinewatchApp(desk, Options(where=where, **wishes)).run() or 0
