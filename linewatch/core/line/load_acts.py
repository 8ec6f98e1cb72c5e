"""What people say about a load: its card, where it is, what was found, what becomes of it."""

from __future__ import annotations

import difflib
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.wording import called
from linewatch.core.commands import BakeLoad, DecideLoad, InspectLoad, LoadCard, PlaceLoad
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.line.holding import HELD
from linewatch.core.line.telling import told
from linewatch.core.line.trips import Trip
from linewatch.core.loads.findings import check_finding
from linewatch.core.loads.record import CARD_FIELDS

if TYPE_CHECKING:
    from linewatch.core.commands import Command
    from linewatch.core.line.loads import Loads
    from linewatch.core.line.machine import Line
    from linewatch.core.readings import Moment

ACTS: Final = (LoadCard, DecideLoad, InspectLoad, PlaceLoad, BakeLoad)
DECISIONS: Final = (HELD, "released", "rework", "scrap")
LONGEST: Final = 40
"""Longest number of a load, lot or reference [characters]."""


def act(loads: Loads, line: Line, command: Command, at: Moment) -> list[Event]:
    """Take what a person says.

    Returns:
        What is told of it.

    Raises:
        Refused: it cannot be so, or the load is not known.
    """
    match command:
        case LoadCard():
            return _card(loads, line, command, at)
        case PlaceLoad():
            return _place(loads, line, command, at)
        case BakeLoad():
            return _bake(loads, line, command, at)
        case InspectLoad():
            return _inspect(loads, command, at)
        case DecideLoad():
            return _decide(loads, command, at)
        case _:
            return []


NEAREST: Final = 4


def _known(loads: Loads, number: str, asked: str) -> Trip:
    trip = loads.trips.get(number)
    if trip is None:
        known = list(loads.trips)
        near = difflib.get_close_matches(number, known, NEAREST) or known[-NEAREST:]
        told = f"; the nearest: {', '.join(near)}" if near else ""
        raise Refused(asked, f"no load of this number was seen lately{told}")
    return trip


def _number(number: str, asked: str) -> None:
    if not number.strip() or len(number) > LONGEST:
        raise Refused(asked, f"a load's number has 1 to {LONGEST} characters")


def _inspect(loads: Loads, command: InspectLoad, at: Moment) -> list[Event]:
    asked = f"note what was found on load {command.load}"
    trip = _known(loads, command.load, asked)
    if not command.what.strip() or not command.found.strip():
        raise Refused(asked, "say what was looked at, and what was found")
    check_finding(command.load, command.what, command.found)
    place = f" at {command.place}" if command.place else ""
    values = {
        "what": "inspected",
        "of": command.what,
        "found": command.found,
        "place": command.place,
        "who": command.who,
    }
    text = f"{command.what}{place}: {command.found} ({command.who})"
    return [told(trip, at, text, values)]


def _decide(loads: Loads, command: DecideLoad, at: Moment) -> list[Event]:
    asked = f"decide about load {command.load}"
    trip = _known(loads, command.load, asked)
    if command.decision not in DECISIONS:
        raise Refused(asked, f"a decision is one of {', '.join(DECISIONS)}")
    if not command.why.strip():
        raise Refused(asked, "a decision says why")
    hold = loads.holding.holds.get(trip.number)
    again = ""
    if hold is not None and hold.trip != trip.trip and command.decision != HELD:
        # Another load bears its number by now: what is let go is the one on hold.
        before, trip, again = HELD, replace(trip, trip=hold.trip), " (the load before this one)"
    else:
        before, trip.decision = trip.decision, command.decision
    part = loads.catalogue.part_of(trip)
    loads.holding.decided(trip, part.name if part is not None else "", command, at)
    values = {
        "what": "decided",
        "decision": command.decision,
        "before": before,
        "why": command.why,
        "who": command.who,
    }
    text = f"{command.decision}{again} by {command.who}: {command.why}"
    return [told(trip, at, text, values)]


def _place(loads: Loads, line: Line, command: PlaceLoad, at: Moment) -> list[Event]:
    asked = f"say where load {command.load} is"
    _number(command.load, asked)
    if command.tank not in loads.catalogue.tank:
        raise Refused(asked, f"there is no tank {command.tank}")
    where = called(line.plan, command.tank)
    here = loads.stays.get(command.tank)
    moved = Event(
        kind=EventKind.LOAD,
        subject=command.tank,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=f"load {command.load}, says {command.who}",
        values={
            "what": "placed",
            "load": command.load,
            "who": command.who,
            "why": command.why,
            "is_in": command.is_in,
            "before": here.trip if here is not None else "",
        },
    )
    if not command.is_in:
        if here is None or here.trip != command.load:
            raise Refused(asked, f"load {command.load} is not known to be in {where}")
        return [moved, *loads.left(line, moved)]
    if here is None:
        return [moved, *loads.came(line, moved, command.load, "key")]
    if here.trip == command.load:
        raise Refused(asked, f"load {command.load} is there already")
    if not command.why.strip():
        raise Refused(asked, f"load {here.trip} is there; a correction says why")
    return [moved, *loads.named(line, moved, command.load)]


def _bake(loads: Loads, line: Line, command: BakeLoad, at: Moment) -> list[Event]:
    asked = f"note the bake of load {command.load}"
    trip = _known(loads, command.load, asked)
    is_baking = command.load in loads.ovens.baking
    if not command.is_in:
        if not is_baking:
            raise Refused(asked, "it is in no oven")
        part = loads.catalogue.part_of(trip)
        strength_mpa = part.strength_mpa if part is not None else None
        return [loads.ovens.end(line, trip, strength_mpa, at)]
    if is_baking:
        oven = called(line.plan, loads.ovens.baking[command.load].oven)
        raise Refused(asked, f"it is in {oven} already")
    if not loads.ovens.has(command.oven):
        what = called(line.plan, command.oven)
        known = [each for each in line.plan.tanks if loads.ovens.has(each.id)]
        ovens = ", ".join(f"{each.called} ({each.id})" for each in known) or "none"
        raise Refused(asked, f"{what} is no oven; there are {ovens}")
    begun = loads.ovens.begin(trip, command.oven, at)
    found = [begun, *loads.follow(begun, trip, command.oven)]
    trip.left_ns = at.mono_ns
    return found


def _card(loads: Loads, line: Line, command: LoadCard, at: Moment) -> list[Event]:
    asked = f"write the card of load {command.load}"
    _number(command.load, asked)
    if any(value is not None and value <= 0 for value in (command.amount, command.area_dm2)):
        raise Refused(asked, "amount and area are more than nothing")
    if any(len(text) > LONGEST for text in (command.part, command.lot, command.reference)):
        raise Refused(asked, f"part, lot and reference have at most {LONGEST} characters")
    said = asdict(command) | {"part": loads.catalogue.part_named(command.part)}
    new = {key: said[key] for key in CARD_FIELDS if said.get(key)}
    if not new:
        raise Refused(asked, "say something about it: part, amount, area, lot, reference")
    trip = loads.trips.get(command.load)
    if trip is None:
        trip = Trip(command.load, 1, at.utc_ns, "", "card", left_ns=at.mono_ns)
        loads.trips[command.load] = trip
        loads.forget()
    is_correction = any(trip.card.get(key, value) != value for key, value in new.items())
    if is_correction and not command.why.strip():
        raise Refused(asked, "its card says otherwise; a correction says why")
    if trip.tanks and trip.left_ns < 0:
        loads.splitting.settle(loads, line, trip.tanks[-1])
    trip.card = {**trip.card, **new}
    part = loads.catalogue.part_of(trip)
    text = ", ".join(f"{key.removesuffix('_dm2')} {value}" for key, value in new.items())
    values = {
        **trip.card,
        "what": "card",
        "who": command.who,
        "why": command.why,
        "corrects": is_correction,
        "part_name": part.name if part is not None else trip.card.get("part", ""),
        "strength_mpa": part.strength_mpa if part is not None else None,
        "bake_within_s": part.bake_within_s if part is not None else None,
        "fingerprint": line.plan.fingerprint,
    }
    return [told(trip, at, f"card by {command.who}: {text}", values)]
