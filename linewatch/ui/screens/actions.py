"""What each key does that is not a move: go somewhere, look at something, or ask the line."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final, TypeAlias

from linewatch.ui.draw.naming import (
    alarm_of,
    figure_looked_at,
    first_due,
    id_of,
    kind_of,
    related,
    subject_about,
    target,
)
from linewatch.ui.screens import dosing, passing, requests
from linewatch.ui.screens.finding import commands, past_load, things
from linewatch.ui.screens.forms import Finder
from linewatch.ui.screens.laboratory import open_laboratory

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewatch.ui.screens.live import LiveScreen

Action: TypeAlias = "Callable[[LiveScreen], None]"


def _go(view: str, screen: LiveScreen) -> None:
    """Go to a view, turned to whatever of its kind belongs to what the cursor is on."""
    picture = screen.watch_app.sight.picture
    subject = related(picture, screen.about, view) if picture is not None else ""
    if picture is not None and view == "baths" and not subject:
        subject = first_due(picture)
    screen.go(view, subject)


def _line(screen: LiveScreen) -> None:
    screen.go_home()


def _back(screen: LiveScreen) -> None:
    screen.go_back()


def _trend(screen: LiveScreen) -> None:
    """Go to the trend of the tag, tank or rectifier that the cursor is on."""
    picture = screen.watch_app.sight.picture
    about = screen.about
    if picture is None:
        return
    looked_at = figure_looked_at(picture, about, screen.view.NAME)
    if looked_at and kind_of(about) != "rectifier":
        about = looked_at
    elif kind_of(about) == "alarm":
        alarm = alarm_of(picture, id_of(about))
        about = target("tag", alarm.tag) if alarm is not None else about
    elif kind_of(about) not in {"tag", "tank", "rectifier"}:
        about = related(picture, about, "tank")
    if about:
        screen.go("trend", about)
    else:
        screen.watch_app.say("a trend needs a tank, a rectifier, a tag or an alarm")


EXPLAINED: Final = frozenset({"tank", "rectifier", "bath", "additive", "tag", "alarm", "load"})
"""What can be asked why it is as it is."""


def _explain(screen: LiveScreen) -> None:
    """Explain what the cursor is on; in a tank also what is worked out there."""
    chosen, tank = screen.about, screen.view.subject
    if screen.view.NAME == "tank" and tank:
        screen.go("explain", f"{tank} {chosen}" if kind_of(chosen) == "tag" else tank)
        return
    if kind_of(chosen) in EXPLAINED:
        screen.go("explain", chosen)
    else:
        screen.watch_app.say("only a tank, a rectifier, a bath, a load or an alarm has a why")


OPENS: Final[dict[str, str]] = {
    "tank": "tank",
    "rectifier": "rectifiers",
    "bath": "baths",
    "additive": "baths",
    "load": "load",
    "alarm": "alarms",
    "link": "links",
    "tag": "trend",
}
"""The view in which a thing is looked at."""


def open_target(screen: LiveScreen, about: str) -> None:
    """Look at a thing in its own view; from there, at what it belongs to."""
    picture = screen.watch_app.sight.picture
    view = OPENS.get(kind_of(about), "")
    if picture is None or not view:
        return
    looked_at = figure_looked_at(picture, about, screen.view.NAME)
    if view != screen.view.NAME:
        screen.go(view, about, looked_at if view == "tank" else "")
    elif about != screen.body.choice:
        screen.body.choose(about)
        screen.paint()
    elif kind_of(about) == "alarm":
        _open_subject(screen, subject_about(picture, about), looked_at)
    elif (tank := related(picture, about, "tank")) and kind_of(about) != "tank":
        screen.go("tank", tank, looked_at)


def _open_subject(screen: LiveScreen, subject: str, looked_at: str) -> None:
    view = OPENS.get(kind_of(subject), screen.view.NAME)
    if view != screen.view.NAME:
        screen.go(view, subject, looked_at if view == "tank" else "")


def _open(screen: LiveScreen) -> None:
    if screen.body.choice:
        open_target(screen, screen.body.choice)


def _search(screen: LiveScreen) -> None:
    picture = screen.watch_app.sight.picture
    if picture is None:
        return
    finder = Finder(
        "find: a tank, load, alarm, rectifier, bath, link or tag",
        things(picture),
        partial(past_load, picture),
    )
    screen.watch_app.push_screen(finder, partial(_found, screen))


def _found(screen: LiveScreen, about: str | None) -> None:
    if about:
        open_target(screen, about)


def _palette(screen: LiveScreen) -> None:
    finder = Finder("do: every command", commands(screen.watch_app.keys, screen.view.NAME))

    def chosen(about: str | None) -> None:
        if about:
            screen.action_do(id_of(about))

    screen.watch_app.push_screen(finder, chosen)


ACTIONS: Final[dict[str, Action]] = {
    "open": _open,
    "acknowledge": requests.acknowledge,
    "acknowledge-all": requests.acknowledge_all,
    "shelve": requests.shelve,
    "unshelve": requests.unshelve,
    "reset-latch": requests.reset_latch,
    "out-of-service": requests.out_of_service,
    "log-addition": dosing.log_addition,
    "take-back": dosing.take_back,
    "dummy": dosing.mark_dummy,
    "card": passing.write_card,
    "found": passing.note_found,
    "decide": passing.decide,
    "place": passing.place,
    "bake": passing.bake,
    "serviced": requests.serviced,
    "laboratory": open_laboratory,
    "frames": requests.capture_frames,
    "line": _line,
    "back": _back,
    "trend": _trend,
    "explain": _explain,
    "search": _search,
    "palette": _palette,
    "note": requests.note,
    "hand-reading": requests.hand_reading,
    "line-state": requests.line_state,
    "units": lambda screen: screen.watch_app.turn_units(),
    "theme": lambda screen: screen.watch_app.turn_theme(),
    "initials": lambda screen: screen.watch_app.ask_initials(),
    "quit": lambda screen: screen.watch_app.close(),
    "save": lambda screen: screen.watch_app.save_shown(),
    **{
        view: partial(_go, view)
        for view in (
            "alarms",
            "loads",
            "rectifiers",
            "baths",
            "links",
            "events",
            "handover",
            "rinses",
            "sheet",
            "help",
        )
    },
}
"""What each key does, by its id; moves and the keys of one view alone are done there."""
