"""What a person may ask of the line from the screen: forms, initials, requests.

Rule 1: everything that is asked carries initials, and goes through the desk.
Rule 2: nothing is done to what the cursor is not on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypeAlias

from linewatch.core.commands import (
    Acknowledge,
    AnyCommand,
    CaptureFrames,
    HandReading,
    MarkMeter,
    ResetLatch,
    ReturnToService,
    SetLineState,
    Shelve,
    TakeOutOfService,
    Unshelve,
    WriteNote,
)
from linewatch.core.measurements import MEASUREMENTS
from linewatch.ui import entries
from linewatch.ui.draw.families import state_said
from linewatch.ui.draw.naming import (
    alarm_of,
    id_of,
    kind_of,
    names,
    rectifier_of,
    related,
    subject_about,
    tank_of,
    tanks_about,
)
from linewatch.ui.marks import is_new
from linewatch.ui.screens.forms import Entry, Field, Finder, Form
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewatch.core.view import LinePicture
    from linewatch.ui.screens.live import LiveScreen

Answers: TypeAlias = dict[str, str]

STATES: Final = (
    ("producing", "loads run; every condition is judged"),
    ("heating-up", "after a planned stop: low temperatures are expected"),
    ("planned-stop", "the line rests: flow and heat may fall; loads left in are told still"),
    ("out-of-service", "maintenance: as at rest; a tank or unit is put aside by itself"),
)
SERVICED: Final = (
    ("serviced", "cleaned, contacts, filter, a part: what is usual is learned anew"),
    ("replaced", "another unit: its meter begins anew too"),
)
SHELVE_MINUTES: Final = "30"
CAPTURE_MINUTES: Final = "60"


def ask(screen: LiveScreen, make: Callable[[str], AnyCommand], doing: str) -> None:
    """Ask the line for something in a person's name; ask for the name first if need be."""
    app = screen.watch_app

    def with_name(who: str) -> None:
        app.leave(make(who), doing)

    app.with_initials(with_name)


def ask_form(
    screen: LiveScreen, form: Form, make: Callable[[Answers, str], AnyCommand], doing: str
) -> None:
    """Ask for initials if need be, then for a form's entries, then leave the request."""
    app = screen.watch_app

    def with_name(who: str) -> None:
        def filled(answers: Answers | None) -> None:
            if answers is not None:
                app.leave(make(answers, who), doing)

        app.push_screen(form, filled)

    app.with_initials(with_name)


def choose(
    screen: LiveScreen, title: str, entries_: list[Entry], then: Callable[[str], None]
) -> None:
    """Let a person choose one of a few; go on with the id of what was chosen."""

    def chosen(about: str | None) -> None:
        if about:
            then(id_of(about))

    screen.watch_app.push_screen(Finder(title, entries_), chosen)


def _alarm_here(screen: LiveScreen) -> str:
    if kind_of(screen.body.choice) == "alarm":
        return id_of(screen.body.choice)
    screen.watch_app.say("no alarm is chosen")
    return ""


def _called(screen: LiveScreen, name: str) -> str:
    """Return what people call an alarm, tank or rectifier."""
    picture = screen.watch_app.sight.picture
    if picture is None:
        return clean(name, 80)
    called = names(picture)
    alarm = alarm_of(picture, name)
    if alarm is not None:
        return f"{called.get(alarm.subject, clean(alarm.subject, 40))}, {clean(alarm.text, 60)}"
    return called.get(name, clean(name, 80))


def acknowledge(screen: LiveScreen) -> None:
    """Acknowledge the chosen alarm, or those of the chosen tank that wait."""
    picture = screen.watch_app.sight.picture
    if picture is None:
        return
    if kind_of(screen.body.choice) == "alarm":
        alarm = alarm_of(picture, id_of(screen.body.choice))
        if alarm is not None and not is_new(alarm.state):
            said = f"{_called(screen, alarm.id)}: {state_said(alarm)}"
            cause = alarm_of(picture, alarm.behind)
            said += f" from {_called(screen, cause.id)}" if cause is not None else ""
            screen.watch_app.say(f"{said}; it does not wait to be seen")
            return
        wanted = [id_of(screen.body.choice)]
    else:
        wanted = waiting_about(picture, screen.view.subject or screen.body.choice)
    if not wanted:
        screen.watch_app.say("nothing here waits to be seen")
        return

    def with_name(who: str) -> None:
        for name in wanted:
            screen.watch_app.leave(
                Acknowledge(who=who, alarm=name), f"seen: {_called(screen, name)}"
            )

    screen.watch_app.with_initials(with_name)


def waiting_about(picture: LinePicture, about: str) -> list[str]:
    """Return the alarms of a thing's tanks and their rectifiers that nobody has seen yet."""
    subjects = {id_of(about)}
    for tank in tanks_about(picture, about):
        subjects |= {tank.id, *tank.rectifiers}
    return [
        each.id for each in picture.alarms if each.subject in subjects and is_new(each.state)
    ]


def acknowledge_all(screen: LiveScreen) -> None:
    """Acknowledge every alarm that waits."""
    ask(screen, lambda who: Acknowledge(who=who, alarm="*"), "seen: all")


def _why_and_how_long(minutes: str) -> list[Field]:
    return [
        Field("why", "why", entries.words),
        Field("minutes", "for how long", entries.minutes, minutes, "minutes, or 2 h"),
    ]


def shelve(screen: LiveScreen) -> None:
    """Put the chosen alarm aside for a time."""
    name = _alarm_here(screen)
    if not name:
        return
    form = Form(
        f"shelve {_called(screen, name)}: it comes back by itself",
        _why_and_how_long(SHELVE_MINUTES),
    )
    ask_form(
        screen,
        form,
        lambda said, who: Shelve(
            who=who,
            alarm=name,
            for_s=entries.minutes(said["minutes"]),
            why=entries.words(said["why"]),
        ),
        f"shelve {_called(screen, name)}",
    )


def unshelve(screen: LiveScreen) -> None:
    """Bring the chosen alarm back from the shelf."""
    if name := _alarm_here(screen):
        ask(
            screen,
            lambda who: Unshelve(who=who, alarm=name),
            f"bring back {_called(screen, name)}",
        )


def reset_latch(screen: LiveScreen) -> None:
    """Release the chosen alarm's latch."""
    if name := _alarm_here(screen):
        ask(
            screen,
            lambda who: ResetLatch(who=who, alarm=name),
            f"release {_called(screen, name)}",
        )


def out_of_service(screen: LiveScreen) -> None:
    """Take what the view is about out of service, or put it back if it is out."""
    picture = screen.watch_app.sight.picture
    about = screen.view.subject if screen.view.NAME == "tank" else screen.body.choice
    if picture is None or kind_of(about) not in {"alarm", "tank", "rectifier"}:
        return
    name = id_of(about)
    if _is_out(picture, about):
        ask(
            screen,
            lambda who: ReturnToService(who=who, subject=name),
            f"put {_called(screen, name)} back into service",
        )
        return
    form = Form(
        f"take {_called(screen, name)} out of service: no alarm of it until it is back",
        [Field("why", "why", entries.words)],
    )
    ask_form(
        screen,
        form,
        lambda said, who: TakeOutOfService(
            who=who, subject=name, why=entries.words(said["why"])
        ),
        f"take {_called(screen, name)} out of service",
    )


def _is_out(picture: LinePicture, about: str) -> bool:
    alarm = alarm_of(picture, id_of(about))
    if kind_of(about) == "alarm":
        return alarm is not None and alarm.state == "out-of-service"
    owner = tank_of(picture, id_of(about)) or rectifier_of(picture, id_of(about))
    return owner is not None and owner.out_of_service


def serviced(screen: LiveScreen) -> None:
    """Say that the chosen rectifier was serviced or replaced."""
    about = screen.body.choice
    if kind_of(about) != "rectifier":
        return
    name = id_of(about)
    called = _called(screen, name)
    rows = [Entry(f"mark {what}", what, tells) for what, tells in SERVICED]

    def chosen(what: str) -> None:
        form = Form(f"{called} was {what}", [Field("why", "what was done", entries.words)])
        ask_form(
            screen,
            form,
            lambda said, who: MarkMeter(
                who=who, rectifier=name, what=what, why=entries.words(said["why"])
            ),
            f"{called} {what}",
        )

    choose(screen, f"what was done to {called}?", rows, chosen)


def capture_frames(screen: LiveScreen) -> None:
    """Capture the raw frames of the line of what is chosen, or end that."""
    picture = screen.watch_app.sight.picture
    if picture is None:
        return
    about = subject_about(picture, screen.body.choice or screen.view.subject)
    if kind_of(about) not in {"rectifier", "link", "tank"}:
        screen.watch_app.say("raw frames are those of a rectifier, tank or link: choose one")
        return
    name = id_of(about)
    captures = [(link.id, link.capture) for link in picture.links if link.capture is not None]
    if any(not each.ended and name in {link, each.subject} for link, each in captures):
        ask(
            screen,
            lambda who: CaptureFrames(who=who, subject=name, for_s=0.0),
            f"end the capture of {name}",
        )
        return
    form = Form(
        f"raw frames of {_called(screen, name)} into a file; nothing else changes",
        _why_and_how_long(CAPTURE_MINUTES),
    )
    ask_form(
        screen,
        form,
        lambda said, who: CaptureFrames(
            who=who,
            subject=name,
            for_s=entries.minutes(said["minutes"]),
            why=entries.words(said["why"]),
        ),
        f"capture frames of {name}",
    )


def _subject_here(screen: LiveScreen) -> str:
    """Return the id of the tank, rectifier or bath that the cursor is on; else the line's."""
    picture = screen.watch_app.sight.picture
    if picture is None:
        return ""
    about = subject_about(picture, screen.about)
    if kind_of(about) == "additive":
        return id_of(about).partition("/")[0]
    if kind_of(about) == "load":
        about = related(picture, about, "tank")
    return id_of(about) if kind_of(about) in {"tank", "rectifier", "bath"} else picture.line_id


def note(screen: LiveScreen) -> None:
    """Write a note on what the cursor is on."""
    picture = screen.watch_app.sight.picture
    subject = _subject_here(screen)
    if picture is None or not subject:
        return
    lead = f"load {id_of(screen.about)}: " if kind_of(screen.about) == "load" else ""
    called = names(picture).get(subject, subject)
    form = Form(f"a note on {lead}{called}", [Field("text", "note", entries.words)])
    ask_form(
        screen,
        form,
        lambda said, who: WriteNote(
            who=who, subject=subject, text=lead + entries.words(said["text"])
        ),
        f"note on {called}",
    )


def hand_reading(screen: LiveScreen) -> None:
    """Enter a value that was read by hand."""
    picture = screen.watch_app.sight.picture
    subject = _subject_here(screen)
    if picture is None or not subject:
        return
    system = screen.watch_app.units
    kind = ""
    if kind_of(screen.about) == "tag":
        kind = id_of(screen.about).partition(".")[2].partition(".")[0]
    called = names(picture).get(subject, subject)
    form = HandForm(called, kind, system)
    ask_form(
        screen,
        form,
        lambda said, who: HandReading(
            who=who,
            subject=subject,
            kind=entries.measured_kind(said["kind"]),
            value=entries.reading(said["value"], entries.measured_kind(said["kind"]), system),
            unit=MEASUREMENTS[entries.measured_kind(said["kind"])].unit,
            note=entries.anything(said["note"]),
        ),
        f"hand reading on {called}",
    )


class HandForm(Form):
    """Asks for a hand reading: its value is checked against the kind typed above it."""

    def __init__(self, called: str, kind: str, system: str) -> None:
        def value(said: str) -> float:
            typed = self._entry(self._fields[0]).value
            return entries.reading(said, entries.measured_kind(typed), system)

        super().__init__(
            f"a value read by hand on {called}",
            [
                Field(
                    "kind", "what", entries.measured_kind, kind, "temperature, level, ph, ..."
                ),
                Field("value", "value", value, hint="in the unit on screen, or with its own"),
                Field("note", "note", entries.anything, hint="may stay empty"),
            ],
        )


def line_state(screen: LiveScreen) -> None:
    """Say what the line is doing."""
    states = [Entry(f"state {name}", name, tells) for name, tells in STATES]

    def chosen(state: str) -> None:
        form = Form(
            f"say that the line is {state}",
            [Field("why", "why", entries.anything, hint="may stay empty")],
        )
        ask_form(
            screen,
            form,
            lambda said, who: SetLineState(
                who=who, state=state, why=entries.anything(said["why"])
            ),
            f"line is {state}",
        )

    choose(screen, "what is the line doing?", states, chosen)
