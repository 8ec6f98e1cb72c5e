"""What can be found by typing: every thing of the line, and every command."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.ui.draw.families import state_said
from linewatch.ui.draw.lists import NO_NUMBER
from linewatch.ui.draw.naming import figures_by_tag, names, tank_name, target
from linewatch.ui.draw.tank import KINDS
from linewatch.ui.keys import EVERYWHERE, KEYS
from linewatch.ui.screens.forms import Entry
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from linewatch.core.view import LinePicture
    from linewatch.ui.keys import Keys


def things(picture: LinePicture) -> list[Entry]:
    """Return every tank, load, alarm, rectifier, bath, link and tag of a line."""
    called = names(picture)
    found = [
        Entry(
            target("tank", tank.id), tank_name(tank), KINDS.get(tank.kind, clean(tank.kind, 20))
        )
        for tank in picture.tanks
    ]
    found += [
        Entry(
            target("load", tank.load.number),
            f"load {clean(tank.load.number, 24) or NO_NUMBER}",
            f"in {tank_name(tank)} {clean(tank.load.part, 40)}",
        )
        for tank in picture.tanks
        if tank.load is not None
    ]
    found += [
        Entry(
            target("alarm", each.id),
            f"alarm {clean(each.text, 60)}",
            f"{called.get(each.subject, clean(each.subject, 40))} {each.priority}"
            f" {state_said(each)}",
        )
        for each in picture.alarms
    ]
    for each in picture.rectifiers:
        found.append(Entry(target("rectifier", each.id), clean(each.name, 40), "rectifier"))
    for bath in picture.baths:
        found.append(Entry(target("bath", bath.id), clean(bath.name, 40), "bath"))
        found += [
            Entry(
                target("additive", f"{bath.id}/{each.id}"),
                clean(each.name, 40),
                f"additive of {clean(bath.name, 40)}",
            )
            for each in bath.additives
        ]
    for link in picture.links:
        found.append(Entry(target("link", link.id), f"link {clean(link.id, 40)}", link.state))
    return found + _tags(picture)


def past_load(picture: LinePicture, typed: str) -> Entry | None:
    """Return the record of a load that is on the line no more, if a number was typed."""
    here = {tank.load.number for tank in picture.tanks if tank.load is not None}
    is_number = bool(typed) and any(each.isdigit() for each in typed) and " " not in typed
    if not is_number or typed in here:
        return None
    return Entry(target("load", typed), f"load {clean(typed, 24)}", "its record, if it has one")


def _tags(picture: LinePicture) -> list[Entry]:
    return [
        Entry(target("tag", tag), clean(tag, 60), f"tag of {owner}")
        for tag, (_, owner) in figures_by_tag(picture).items()
    ]


def commands(keys: Keys, view: str) -> list[Entry]:
    """Return every command that means something in a view, its key beside it."""
    return [
        Entry(target("key", each.id), each.tells, keys.name(each.id))
        for each in KEYS
        if (EVERYWHERE in each.where or view in each.where) and each.id != "palette"
    ]
