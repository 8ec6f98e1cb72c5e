"""What happened, by day: alarms, findings, additions, people's acts; loads that move by key."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from linewatch.core.events import EventKind
from linewatch.ui.draw.naming import kind_of, names, subject_about, subject_called, target
from linewatch.ui.draw.parts import event_row, is_told_twice
from linewatch.ui.draw.rows import Row, Span, row
from linewatch.ui.screens.actions import open_target
from linewatch.ui.screens.finding import things
from linewatch.ui.screens.view import Scene, View
from linewatch.ui.text import moment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.ui.screens.live import LiveScreen

OFTEN: Final = frozenset({EventKind.LOAD, EventKind.WATER})
"""What a line in good work tells of every few seconds: loads, and what they carry along."""


class EventsView(View):
    """What happened, the newest last."""

    NAME: ClassVar[str] = "events"

    def __init__(self, subject: str = "") -> None:
        super().__init__("")
        self.choice = subject if kind_of(subject) == "event" else "event newest"
        self._with_loads = False
        self._about: dict[str, str] = {}
        """What each event that is shown is about, by the row's target."""

    def title(self, _scene: Scene) -> str:
        """Return whether the comings and goings of loads are among them."""
        return f"events {'with' if self._with_loads else 'without'} loads that move"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return a row an event, a heading a day; the newest can be followed."""
        called = names(scene.picture)
        rows: list[Row] = []
        # A line in good work moves a load every few seconds; what is rare would drown.
        events = [
            each
            for each in scene.events
            if (self._with_loads or each.event.kind not in OFTEN)
            and not is_told_twice(each.event)
        ]
        last = len(events) - 1
        today = ""
        self._about = {}
        for index, stored in enumerate(events):
            subject = stored.event.subject
            named = subject_called(scene.picture, called, subject)
            name = "newest" if index == last else str(stored.number)
            if (date := moment(stored.event.utc_ns, scene.look.zone)[:10]) != today:
                today = date
                rows.append(row(Span(f" {date}", "strong")))
            rows.append(event_row(stored, named, scene.look, target=target("event", name)))
            self._about[rows[-1].target] = subject_about(scene.picture, target("tag", subject))
        return rows or [row(Span("  nothing has happened yet", "quiet"))]

    def about(self, choice: str) -> str:
        """Return what the chosen event is about: its trend, its why, a note on it."""
        return self._about.get(choice, choice)

    def do(self, key_id: str, screen: LiveScreen) -> bool:
        """Look at what an event is about; show loads too, or leave them out."""
        if key_id == "loads-too":
            self._with_loads = not self._with_loads
            return True
        picture, about = screen.watch_app.sight.picture, self._about.get(screen.body.choice)
        if key_id != "open" or picture is None or about is None:
            return False
        if about in {entry.target for entry in things(picture)}:
            open_target(screen, about)
        return True
