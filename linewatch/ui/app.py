"""The screen: pulls the picture on one timer, looks for news between, asks in threads."""

from __future__ import annotations

import datetime
import re
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar, Final

from textual import work
from textual.app import App
from textual.worker import Worker, WorkerState, get_current_worker

from linewatch.core.alarms.states import State
from linewatch.core.electrochemistry.explanation import Explanation
from linewatch.core.errors import LinewatchError
from linewatch.core.events import EventKind
from linewatch.core.ports import Series
from linewatch.core.view import LinePicture
from linewatch.ui import entries, terminal
from linewatch.ui.draw.naming import id_of
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.shifts import Shift, handed_over, shift_at
from linewatch.ui.draw.trend import Curve, curve_of
from linewatch.ui.feed import OLD_AFTER_S, Sight, overlaid
from linewatch.ui.keys import Keys
from linewatch.ui.marks import PRIORITY_ORDER
from linewatch.ui.palette import PALETTES, THEMES, theme
from linewatch.ui.screens.forms import Field, Finder, Form
from linewatch.ui.screens.live import LiveScreen

if TYPE_CHECKING:
    from textual import events
    from textual.binding import BindingType

    from linewatch.core.commands import AnyCommand
    from linewatch.core.events import Event
    from linewatch.core.ports import Desk, Sealed, StoredEvent
    from linewatch.ui.screens.view import Wish

PULL_S: Final = 0.25
"""The picture is looked for four times a second and drawn only if it changed."""
NEWS_S: Final = 0.075
ALIVE_S: Final = 1.0
TERMINAL_S: Final = 0.5
SETTLED_S: Final = 1.0
"""By then the first screen stands."""
SAID_S: Final = 8.0
NEAR_NS: Final = 2_000_000_000
"""The line's wall time and the machine's are one if they are no further apart."""
SHIFT_S: Final = 8 * 3600.0
"""Length of a shift as long as the line is not known."""
MOST_EVENTS: Final = 2000
ANSWER_S: Final = 5.0
"""How long to look for what became of a request."""
LOOK_S: Final = 0.05

Explain = Callable[[LinePicture, str], Sequence[Explanation]]
"""Works out why the figures of a thing, 'tank nickel-1', are what they are."""
Against = Callable[[str, str], Sequence[str]]
"""Returns what the record holds against a decision about a load, by number."""
Save = Callable[[str, Sequence[Series], str], str]
"""Saves series, and the screen as SVG, under a name; returns where, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How a person wants the screen."""

    initials: str | None = None
    where: str = ""
    """Where the record lies, in words for the help."""
    theme: str = "night"
    is_plain: bool = False
    """Seven bits only, for the plainest terminal."""
    units: str | None = None
    """'metric' or 'us'; None: as the line says."""
    keys: Mapping[str, str] = field(default_factory=dict)
    """Keys of the shop's own, by id of ui/keys.py."""
    zone: datetime.tzinfo | None = None
    """None: the machine's own time zone."""
    bell: str = "high"
    """Least priority of a new alarm at which the terminal rings its bell; "never": none."""
    first_run: bool = False
    """Whether to begin with the help."""
    explain: Explain | None = None
    against: Against | None = None
    save: Save | None = None
    has_terminal: bool = False
    """Whether a real terminal is there, whose loss and whose signals end the screen."""
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
        self.options = options or Options()
        # Told at the start: only then does NO_COLOR leave the terminal's own colours alone.
        super().__init__(
            ansi_color=True if PALETTES[self.options.theme] not in THEMES else None
        )
        self.desk = desk
        self.keys = Keys(self.options.keys)
        self.sight = Sight()
        self.live = LiveScreen()
        self.events: list[StoredEvent] = []
        self.curves: dict[str, Curve] = {}
        self.why: Sequence[Explanation] = ()
        self.said = ""
        self.palette_name = self.options.theme
        self.is_plain = self.options.is_plain
        self._series: dict[str, Series] = {}
        self._wished: tuple[Wish, ...] = ()
        self._asked_why = ""
        self._said_until_s = 0.0
        self._pulled: LinePicture | None = None
        self._changed_s = 0.0
        self._news: int | None = None
        self._is_alive = True
        self._units = self.options.units
        self._initials = self.options.initials or ""
        self._initials_ns: int | None = None
        """Begin of the shift in which they were given [ns since 1970]."""
        self._handed_over = False
        self.past: dict[str, Sequence[StoredEvent]] = {}
        self.sealed: Sealed | None = None
        for each in PALETTES.values():
            self.register_theme(theme(each))
        self.theme = self.palette_name
        self.set_keymap(dict(self.options.keys))

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
        """Return the moment that the screen goes by: the line's own wall time.

        It is the machine's, unless the line runs at another speed or did so before: its wall
        time is then ahead, and all that the picture tells is in it.
        """
        wall_ns = self.options.wall_ns()
        if self._pulled is None:
            return wall_ns
        pace = self._pulled.speed if self.sight.is_live else 1.0
        since_s = self.options.steady_s() - self._changed_s
        line_ns = self._pulled.utc_ns + int(since_s * pace * 1e9)
        return wall_ns if abs(line_ns - wall_ns) < NEAR_NS else line_ns

    # Pulling.

    def on_mount(self) -> None:
        """Show the line, and begin to look."""
        self.pull()
        self.push_screen(self.live)
        self.set_interval(PULL_S, self.pull)
        self.set_interval(NEWS_S, self.look_for_news)
        self.set_interval(ALIVE_S, self.ask_alive)
        self.set_interval(ALIVE_S, self.look_at_shift)
        self.ask_alive()
        self.look_for_news()
        if self.options.has_terminal:
            terminal.when_asked_to_end(self._end)
            self.set_interval(TERMINAL_S, self._look_for_terminal)
            self.set_timer(SETTLED_S, terminal.leave_out_of_the_search)
        if self.options.first_run:
            self.call_after_refresh(self.live.go, "help")

    def _end(self, code: int) -> None:
        self.exit(code)

    def _look_for_terminal(self) -> None:
        """End when the terminal is gone: nobody looks, and reading it would only spin."""
        if not terminal.is_there():
            self.exit(terminal.SIGNALLED + 1)

    def pull(self) -> None:
        """Take the present picture; draw if anything is different."""
        try:
            picture = self.desk.picture()
        except (LinewatchError, OSError) as error:
            self.say(str(error))
            return
        now_s = self.options.steady_s()
        if picture is not self._pulled:
            self._take(picture, now_s)
        fresh = now_s - self._changed_s < OLD_AFTER_S
        sight = Sight(
            picture=self._overlaid(self._pulled), is_alive=self._is_alive, is_fresh=fresh
        )
        is_over = bool(self.said) and now_s > self._said_until_s
        if is_over:
            self.said = ""
        if is_over or not sight.is_live or not sight.shows_the_same(self.sight):
            self.sight = sight
            self.paint()
            self.look_back()

    def _take(self, picture: LinePicture | None, now_s: float) -> None:
        first = self._pulled is None
        if picture is None or (not first and picture == self._pulled):
            return
        self._pulled = picture
        self._changed_s = now_s
        if first:
            self._changed_s -= max((self.options.wall_ns() - picture.utc_ns) / 1e9, 0.0)

    def _overlaid(self, picture: LinePicture | None) -> LinePicture | None:
        if picture is None or not self.events or self.events[-1].event.utc_ns <= picture.utc_ns:
            return picture
        return overlaid(picture, (each.event for each in self.events))

    def paint(self) -> None:
        """Draw the view."""
        self.live.paint()

    def look_for_news(self) -> None:
        """Ask whether an event was committed; if so, fetch it in a thread."""
        try:
            news = self.desk.news()
        except (LinewatchError, OSError) as error:
            self.say(str(error))
            return
        if news != self._news:
            self._news = news
            self._fetch_events()

    @work(thread=True, exclusive=True, group="events", exit_on_error=False)
    def _fetch_events(self) -> None:
        seen = self.events[-1].number if self.events else None
        stored = self.desk.latest() if seen is None else self.desk.changes(seen)
        self.sealed = self.desk.sealed()
        if stored:
            self.call_from_thread(self._take_events, stored)

    def _take_events(self, stored: Sequence[StoredEvent]) -> None:
        seen = self.events[-1].number if self.events else -1
        new = [each for each in stored if each.number > seen]
        if self.events and any(self._is_loud(each.event) for each in new):
            self.bell()
        self.events = [*self.events, *new][-MOST_EVENTS:]
        self.pull()
        self.paint()

    def _is_loud(self, event: Event) -> bool:
        """Say whether an event is a new alarm that somebody out of sight should hear of."""
        values = event.values
        if event.kind is not EventKind.ALARM or values.get("to") != State.UNACKNOWLEDGED.word:
            return False
        if self.options.bell not in PRIORITY_ORDER:
            return False
        loud = PRIORITY_ORDER[: PRIORITY_ORDER.index(self.options.bell) + 1]
        return values.get("priority") in loud

    @work(thread=True, exclusive=True, group="alive", exit_on_error=False)
    def ask_alive(self) -> None:
        """Ask whether a collector holds the line."""
        self._is_alive = self.desk.alive()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Tell what a worker could not do; a screen does not end for it."""
        if event.state is WorkerState.ERROR and event.worker.error is not None:
            self.say(f"{event.worker.group}: {event.worker.error}")

    # The past, and why.

    def look_back(self) -> None:
        """Fetch what the view wants of the past, and the reasons, if it has not got them."""
        wishes = tuple(self.live.wishes())
        if wishes and wishes != self._wished:
            self._wished = wishes
            self._fetch_past(wishes)
        about = self.live.view.subject if self.live.view.NAME == "explain" else ""
        if about != self._asked_why:
            self._asked_why = about
            self.why = ()
            if about and self.options.explain is not None and self.sight.picture is not None:
                self._fetch_why(self.options.explain, self.sight.picture, about)

    @work(thread=True, exclusive=True, group="past", exit_on_error=False)
    def _fetch_past(self, wishes: tuple[Wish, ...]) -> None:
        for wish in wishes:
            curve = self._curve(wish) if wish.is_curve else None
            span_ns = (wish.start_ns, wish.end_ns)
            past: Sequence[StoredEvent] = ()
            if wish.about:
                past = self.desk.happened(wish.about, span_ns, kinds=wish.kinds)
            if wish.loads:
                past = self.desk.loads(span_ns, wish.loads)
            if get_current_worker().is_cancelled:
                return
            self.call_from_thread(self._take_past, wish.tag, curve, past)

    def _curve(self, wish: Wish) -> Curve:
        start_ns, end_ns = wish.start_ns, wish.end_ns
        try:
            series = self.desk.series(wish.tag, start_ns, end_ns, wish.width)
        except KeyError:
            refused = f"{wish.tag} was never recorded"
            return Curve(tag=wish.tag, start_ns=start_ns, end_ns=end_ns, refused=refused)
        self._series[wish.tag] = series
        return curve_of(series, start_ns, end_ns, wish.width)

    def _take_past(self, name: str, curve: Curve | None, past: Sequence[StoredEvent]) -> None:
        self.past = {name: past}
        if curve is not None:
            self.curves = {**self.curves, name: curve} if self._wished else {}
        self.paint()

    @work(thread=True, exclusive=True, group="why", exit_on_error=False)
    def _fetch_why(self, explain: Explain, picture: LinePicture, about: str) -> None:
        why = explain(picture, about)
        self.call_from_thread(self._take_why, about, why)

    def _take_why(self, about: str, why: Sequence[Explanation]) -> None:
        if about == self._asked_why:
            self.why = why
            self.paint()

    # Asking the line.

    @property
    def shift(self) -> Shift:
        """Which shift of the calendar is handed over, and who is at this terminal."""
        shift = handed_over(self.now_ns(), self.options.zone, self._shift_s)
        return replace(shift, initials=self._initials)

    @property
    def _shift_s(self) -> float:
        picture = self.sight.picture
        return picture.shift_s if picture is not None else SHIFT_S

    def shift_now(self) -> Shift:
        """Return the shift of the calendar that runs."""
        return shift_at(self.now_ns(), self.options.zone, self._shift_s)

    def _shift_is_over(self) -> bool:
        """Say whether the shift in which the initials were given is over."""
        if not self._initials or self.sight.picture is None:
            return False
        begin_ns = self.shift_now().begin_ns
        if self._initials_ns is None:
            self._initials_ns = begin_ns
        return self._initials_ns != begin_ns

    def look_at_shift(self) -> None:
        """Show what is to be handed over, once, when a shift is over."""
        if self._shift_is_over() and not self._handed_over and self.screen is self.live:
            self._handed_over = True
            self.live.go("handover")
            span = self.shift.words(self.options.zone)
            self.say(f"the shift {span} is over: this is what it hands over")

    def with_initials(self, then: Callable[[str], None]) -> None:
        """Do something in a person's name; ask for initials if none are known this shift."""
        if self._initials and not self._shift_is_over():
            then(self._initials)
        else:
            self.ask_initials(then)

    def ask_initials(self, then: Callable[[str], None] | None = None) -> None:
        """Ask who is at this terminal."""
        span = self.shift_now().words(self.options.zone)
        form = Form(
            f"who is at this terminal? Asked once a shift ({span}); it stands with all you do.",
            [Field("who", "initials", entries.initials)],
        )

        def answered(said: dict[str, str] | None) -> None:
            if said is None:
                return
            self._initials = entries.initials(said["who"])
            self._initials_ns = self.shift_now().begin_ns
            self._handed_over = False
            if then is not None:
                then(self._initials)

        self.push_screen(form, answered)

    @work(thread=True, group="requests", exit_on_error=False)
    def leave(self, command: AnyCommand, doing: str) -> None:
        """Leave a request with the desk; tell that it is saved, then what became of it."""
        number = self.desk.request(command)
        if not self._is_alive:
            said = f"{doing}: saved; done when the collector is back"
            self.call_from_thread(self.say, said)
            return
        self.call_from_thread(self.say, f"{doing}: saved")
        worker = get_current_worker()
        pause = threading.Event()
        until_s = self.options.steady_s() + ANSWER_S
        while not worker.is_cancelled and self.options.steady_s() < until_s:
            outcome = self.desk.outcome(number)
            if outcome.done or outcome.refused:
                # Its words begin with what was asked, which stands before them already.
                why = outcome.refused.removeprefix(f"{doing}: ")
                result = "done" if outcome.done else f"refused: {why}"
                self.call_from_thread(self.say, f"{doing}: {result}")
                return
            pause.wait(LOOK_S)

    def on_key(self, event: events.Key) -> None:
        """Hand on what was typed for a window that the key before it opened."""
        if isinstance(self.screen, (Form, Finder)):
            self.screen.early.take(event)

    # Saying and turning.

    def say(self, text: str) -> None:
        """Tell the person something in the footer, for a few seconds or until the next key."""
        self.said = text
        self._said_until_s = self.options.steady_s() + SAID_S
        self.paint()

    def hush(self) -> None:
        """Give the footer back to the keys: whoever does something else has read it."""
        if self.said:
            self.said = ""
            self.paint()

    def close(self) -> None:
        """Close the screen; the recording goes on."""
        self.exit(0)

    def turn_units(self) -> None:
        """Show the other units."""
        self._units = "metric" if self.units == "us" else "us"
        self.paint()

    def turn_theme(self) -> None:
        """Take the next set of colours."""
        names = [each.name for each in THEMES]
        if self.palette_name not in names:
            self.say("this terminal has no colours to choose from")
            return
        self.palette_name = names[(names.index(self.palette_name) + 1) % len(names)]
        self.theme = self.palette_name
        self.paint()

    def save_shown(self) -> None:
        """Save the curve and the screen as a picture."""
        if self.options.save is None:
            self.say("this screen was not given a place to save to")
            return
        tags = [wish.tag for wish in self._wished if wish.tag in self._series]
        self._save(self.options.save, [self._series[tag] for tag in tags])

    @work(thread=True, exclusive=True, group="save", exit_on_error=False)
    def _save(self, save: Save, series: list[Series]) -> None:
        picture = self.call_from_thread(self.export_screenshot)
        # What is seen, and when by the line's clock; letters that every file system takes.
        at = datetime.datetime.fromtimestamp(self.now_ns() / 1e9, datetime.UTC)
        local = at.astimezone(self.options.zone)
        seen = f"{self.live.view.NAME} {id_of(self.live.view.subject)}"
        name = f"{re.sub('[^A-Za-z0-9.]+', '-', seen).strip('-')}-{local:%Y-%m-%d-%H%M%S}"
        self.call_from_thread(self.say, f"saved as {save(name, series, picture)}")
