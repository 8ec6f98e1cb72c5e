"""What things are called on screen, and how one thing leads to another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.loads.record import subject as load_subject
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.view import (
        AlarmPicture,
        BathPicture,
        Figure,
        HeldPicture,
        LinePicture,
        RectifierPicture,
        TankPicture,
    )

LONGEST_NAME = 40


def target(kind: str, name: str) -> str:
    """Return how the screen refers to a thing: 'tank nickel-1'."""
    return f"{kind} {name}"


def kind_of(about: str) -> str:
    """Return 'tank' of 'tank nickel-1'."""
    return about.partition(" ")[0]


def id_of(about: str) -> str:
    """Return 'nickel-1' of 'tank nickel-1'."""
    return about.partition(" ")[2]


def tank_name(tank: TankPicture) -> str:
    """Return what people call a position: '9 Bright nickel'."""
    return clean(tank.called, LONGEST_NAME)


LOAD: Final = load_subject("")
"""With which the subject of what is told of a load begins."""


def names(picture: LinePicture) -> dict[str, str]:
    """Return what everything is called, by id."""
    found = {tank.id: tank_name(tank) for tank in picture.tanks}
    found |= {each.id: clean(each.name, LONGEST_NAME) for each in picture.rectifiers}
    for bath in picture.baths:
        found.setdefault(bath.id, clean(bath.name, LONGEST_NAME))
    found.setdefault(picture.line_id, clean(picture.name, LONGEST_NAME))
    for link in picture.links:
        found.setdefault(link.id, f"link {clean(link.id, LONGEST_NAME)}")
    return found


def subject_called(picture: LinePicture, called_by: Mapping[str, str], subject: str) -> str:
    """Return what people call the subject of an event: a thing, an alarm or tag, a load.

    Args:
        picture: The line.
        called_by: What everything is called, by id.
        subject: As the event names it: 'nickel-1', 'nickel-1.ph', 'load/4122'.
    """
    if subject in called_by:
        return called_by[subject]
    if subject.startswith(LOAD):
        return f"load {clean(subject.removeprefix(LOAD), LONGEST_NAME)}"
    if alarm_of(picture, subject) is not None:
        return called(picture, target("alarm", subject))
    owner = subject.partition(".")[0]
    return called_by.get(owner, clean(subject, LONGEST_NAME))


def called(picture: LinePicture, about: str) -> str:
    """Return what people call whatever it is that the screen refers to."""
    kind, name = kind_of(about), id_of(about)
    if kind == "load":
        return f"load {clean(name, LONGEST_NAME)}"
    if kind == "alarm" and (alarm := alarm_of(picture, name)) is not None:
        subject = names(picture).get(alarm.subject, clean(alarm.subject, LONGEST_NAME))
        return f"{subject}: {clean(alarm.text, LONGEST_NAME)}"
    if kind == "additive":
        bath = bath_of(picture, name.partition("/")[0])
        for each in bath.additives if bath is not None else ():
            if each.id == name.partition("/")[2]:
                return clean(each.name, LONGEST_NAME)
    return names(picture).get(name, clean(name, 60))


def figures_by_tag(picture: LinePicture) -> dict[str, tuple[Figure, str]]:
    """Return every figure by its tag, with the name of what it belongs to."""
    found = {f.tag: (f, tank_name(t)) for t in picture.tanks for f in t.figures.values()}
    return found | {
        figure.tag: (figure, clean(each.name, LONGEST_NAME))
        for each in picture.rectifiers
        for figure in each.figures.values()
    }


def tank_of(picture: LinePicture, name: str) -> TankPicture | None:
    """Return a position by id."""
    return next((each for each in picture.tanks if each.id == name), None)


def rectifier_of(picture: LinePicture, name: str) -> RectifierPicture | None:
    """Return a rectifier by id."""
    return next((each for each in picture.rectifiers if each.id == name), None)


def bath_of(picture: LinePicture, name: str) -> BathPicture | None:
    """Return a bath by id."""
    return next((each for each in picture.baths if each.id == name), None)


def alarm_of(picture: LinePicture, name: str) -> AlarmPicture | None:
    """Return an alarm by id."""
    return next((each for each in picture.alarms if each.id == name), None)


def held_of(picture: LinePicture, number_of_load: str) -> HeldPicture | None:
    """Return who put the load that bears a number now on hold; None: nobody did."""
    return next(
        (e for e in picture.held if e.load == number_of_load and not e.is_number_reused), None
    )


def tanks_about(picture: LinePicture, about: str) -> Sequence[TankPicture]:
    """Return the positions that a thing has to do with: a bath's tanks, an alarm's tank."""
    kind, name = kind_of(about), id_of(about)
    if kind == "tank":
        wanted = {name}
    elif kind == "rectifier":
        found = rectifier_of(picture, name)
        wanted = set(found.feeds) if found else set()
    elif kind in {"bath", "additive"}:
        bath = bath_of(picture, name.partition("/")[0])
        wanted = set(bath.tanks) if bath else set()
    elif kind == "load":
        wanted = {t.id for t in picture.tanks if t.load is not None and t.load.number == name}
    elif kind in {"alarm", "tag"}:
        return tanks_about(picture, subject_about(picture, about))
    else:
        wanted = set()
    return [each for each in picture.tanks if each.id in wanted]


def subject_about(picture: LinePicture, about: str) -> str:
    """Return what an alarm or a tag tells something about: a tank, a rectifier, a link.

    What is none of these is the line as a whole, as after a dip of the mains: 'line works'.
    """
    name = id_of(about)
    if kind_of(about) == "alarm":
        alarm = alarm_of(picture, name)
        subject = alarm.subject if alarm is not None else name.partition(".")[0]
    elif kind_of(about) == "tag":
        subject = name.partition(".")[0]
    else:
        return about
    if rectifier_of(picture, subject) is not None:
        return target("rectifier", subject)
    if tank_of(picture, subject) is not None:
        return target("tank", subject)
    if bath_of(picture, subject) is not None:
        return target("bath", subject)
    is_link = any(each.id == subject for each in picture.links)
    return target("link" if is_link else "line", subject)


def related(picture: LinePicture, about: str, view: str) -> str:
    """Return what a view should be turned to when it is opened from something else."""
    tanks = tanks_about(picture, about)
    subject = subject_about(picture, about)
    if view == "alarms":
        return _alarm_about(picture, about, {tank.id for tank in tanks})
    if view in {"rectifiers", "baths"} and kind_of(subject) in {view[:-1], "additive"}:
        return subject
    found: dict[str, list[str]] = {
        "tank": [tank.id for tank in tanks],
        "rectifiers": [name for tank in tanks for name in tank.rectifiers],
        "baths": [tank.bath for tank in tanks if tank.bath],
        "loads": [tank.load.number for tank in tanks if tank.load is not None],
        "links": [id_of(about)] if kind_of(about) == "link" else [],
    }
    names_there = found.get(view, [])
    return target(view.removesuffix("s"), names_there[0]) if names_there else ""


def figure_looked_at(picture: LinePicture, about: str, view: str) -> str:
    """Return the tag that somebody has in mind at a row of a view; '' if no one is nearer.

    A rectifier and a load in a plating tank are looked at for their current, a bath for its
    charge, a rinse among the rinses for what it conducts, an alarm for what it is about.
    """
    kind, name = kind_of(about), id_of(about)
    tanks = tanks_about(picture, about)
    if kind == "tag":
        return about
    if kind == "alarm":
        alarm = alarm_of(picture, name)
        known = alarm is not None and alarm.tag in figures_by_tag(picture)
        return target("tag", alarm.tag) if alarm is not None and known else ""
    if kind in {"bath", "additive"}:
        charged = [f"{each.id}.charge" for each in tanks if each.charge is not None]
        return target("tag", charged[0]) if charged else ""
    if kind in {"rectifier", "load"}:
        units = (
            [name] if kind == "rectifier" else [u for each in tanks for u in each.rectifiers]
        )
        found = [rectifier_of(picture, each) for each in units]
        figures = [each.figures.get("current") for each in found if each is not None]
    else:
        figures = [each.figures.get("conductivity") for each in tanks if view == "rinses"]
    return next((target("tag", each.tag) for each in figures if each is not None), "")


def first_due(picture: LinePicture) -> str:
    """Return the first additive that is due, so that it can be logged at once."""
    due = [
        f"{bath.id}/{each.id}" for bath in picture.baths for each in bath.additives if each.due
    ]
    return target("additive", due[0]) if due else ""


def _alarm_about(picture: LinePicture, about: str, tanks: set[str]) -> str:
    if kind_of(about) == "alarm":
        return about
    subjects = tanks | {id_of(about)}
    found = [each for each in picture.alarms if each.subject in subjects]
    return target("alarm", found[0].id) if found else ""
