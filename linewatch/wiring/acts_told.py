"""Acts of people as they are told: one plain sentence, whatever words the record keeps.

Rule 1: the record is not touched: a replay must tell what was told. What is shown is worded
        anew, from the parts that the record has; where it has too few, its own words stand.
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewatch.core.acts import Naming, sentence
from linewatch.core.commands import COMMANDS
from linewatch.core.events import EventKind
from linewatch.ui.draw.naming import names

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from linewatch.core.events import Event, Part
    from linewatch.core.ports import StoredEvent
    from linewatch.core.view import LinePicture

KINDS: Final = frozenset(
    {EventKind.COMMAND, EventKind.NOTE, EventKind.ADDITION, EventKind.ANALYSIS}
)


def names_in(picture: LinePicture | None) -> dict[str, str]:
    """Return what people call everything on a line, duties and additives included, by id."""
    if picture is None:
        return {}
    additives = {
        f"{bath.id}/{each.id}": each.name for bath in picture.baths for each in bath.additives
    }
    duties = {each.id: each.text for each in picture.duties}
    return {**additives, **duties, **names(picture)}


def measures_in(picture: LinePicture | None) -> dict[str, str]:
    """Return in what each additive is measured, 'g' or 'mL', by 'bath/additive'."""
    baths = picture.baths if picture is not None else ()
    return {f"{bath.id}/{each.id}": each.measure for bath in baths for each in bath.additives}


def named_in(what: str, called: Mapping[str, str]) -> str:
    """Return what people call a thing, or an alarm of it: 'Nickel 1: temperature low'."""
    if what in called:
        return called[what]
    subject, _, rest = what.partition(".")
    if rest and subject in called:
        return f"{called[subject]}: {rest.removesuffix('.found').replace('.', ' ')}"
    return "all alarms" if what == "*" else what


def clock(utc_ns: int) -> str:
    """Return date and time as this machine's wall clock shows them."""
    return time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(utc_ns / 1e9))


def naming(called: Mapping[str, str], measures: Mapping[str, str]) -> Naming:
    """Return how a line calls things.

    Args:
        called: What people call things, by id.
        measures: 'g' or 'mL', by 'bath/additive'.
    """
    return Naming(called=lambda what: named_in(what, called), clock=clock, measures=measures)


def told(
    events: Sequence[StoredEvent], present: Callable[[], LinePicture | None]
) -> Sequence[StoredEvent]:
    """Return events with what people did in one sentence each; others as they are.

    Args:
        events: The events.
        present: Returns the present picture; it is asked only where somebody did something.
    """
    if not any(each.event.kind in KINDS for each in events):
        return events
    picture = present()
    names_ = naming(names_in(picture), measures_in(picture))
    return [
        replace(each, event=replace(each.event, text=act_text(each.event, names_)))
        for each in events
    ]


def act_text(event: Event, names_: Naming) -> str:
    """Return what a person did, by whom and why; of another event its own text."""
    values = event.values
    did = ""
    if event.kind in KINDS and values.get("who"):
        did = sentence(_command(values), values, names_)
    if not did:
        return event.text
    why = f" because {values['why']}" if values.get("why") else ""
    return f"{values['who']} {did}{why}"


def _command(values: Mapping[str, Part]) -> str:
    """Return which command an event tells of; two have a part called as its name is."""
    what = str(values.get("what"))
    if what in COMMANDS:
        return what
    if {"load", "found", "place"} <= values.keys():
        return "InspectLoad"
    return "MarkMeter" if "rectifier" in values else ""
