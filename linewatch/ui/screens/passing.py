"""What a person says about a load: card, place, what was found, what becomes of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.commands import BakeLoad, DecideLoad, InspectLoad, LoadCard, PlaceLoad
from linewatch.ui import entries
from linewatch.ui.draw.naming import id_of, kind_of, names, related, target
from linewatch.ui.screens.forms import Entry, Field, Form
from linewatch.ui.screens.requests import ask, ask_form, choose
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.ui.screens.live import LiveScreen

MAY_BE_EMPTY: Final = "may stay empty"
DECISIONS: Final = (
    ("held", "wait: something has to be looked at first"),
    ("released", "as it was asked for: it may go on"),
    ("rework", "overplate, or strip and plate again"),
    ("scrap", "it cannot be mended"),
)
OUT: Final = "-"


def load_here(screen: LiveScreen) -> str:
    """Return the number of the load that the cursor is on, or that is in the tank there."""
    picture = screen.watch_app.sight.picture
    about = screen.about
    if kind_of(about) != "load" and picture is not None:
        about = related(picture, about, "loads")
    if not id_of(about):
        screen.watch_app.say("no load is chosen")
    return id_of(about)


def write_card(screen: LiveScreen) -> None:
    """Write a load's card, or correct it: only what is filled in is said."""
    load = load_here(screen)
    if not load:
        return
    system = screen.watch_app.units
    form = Form(
        f"card of load {clean(load, 40)}: what stays empty stays as it is",
        [
            Field("part", "part", entries.anything, hint="id or name of the catalogue"),
            Field("amount", "how much", entries.how_many, hint="pieces of a rack, kg"),
            Field("area", "whole area", lambda said: entries.area_dm2(said, system)),
            Field("lot", "lot", entries.anything),
            Field("reference", "customer's reference", entries.anything),
            Field("rework", "rework of load", entries.anything),
            Field("why", "why", entries.anything, hint="only for a correction"),
        ],
        first="part",
    )
    ask_form(
        screen,
        form,
        lambda said, who: LoadCard(
            who=who,
            load=load,
            part=entries.anything(said["part"]),
            amount=entries.how_many(said["amount"]),
            area_dm2=entries.area_dm2(said["area"], system),
            lot=entries.anything(said["lot"]),
            reference=entries.anything(said["reference"]),
            rework_of=entries.anything(said["rework"]),
            why=entries.anything(said["why"]),
        ),
        f"card of {load}",
    )


def note_found(screen: LiveScreen) -> None:
    """Note something found on a load: thickness, adhesion, salt spray, looks."""
    load = load_here(screen)
    if not load:
        return
    form = Form(
        f"what was found on load {clean(load, 40)}",
        [
            Field("what", "looked at", entries.words, hint="thickness, adhesion, salt spray"),
            Field("found", "found", entries.words, hint="with its unit: 8.4 um, good, 96 h"),
            Field("place", "where on it", entries.anything, hint=MAY_BE_EMPTY),
        ],
    )
    ask_form(
        screen,
        form,
        lambda said, who: InspectLoad(
            who=who,
            load=load,
            what=entries.words(said["what"]),
            found=entries.words(said["found"]),
            place=entries.anything(said["place"]),
        ),
        f"found on {load}",
    )


def decide(screen: LiveScreen) -> None:
    """Say what becomes of a load, and why."""
    load = load_here(screen)
    if not load:
        return
    app = screen.watch_app
    rows = [Entry(target("decision", word), word, tells) for word, tells in DECISIONS]

    def chosen(decision: str) -> None:
        def against() -> Sequence[str]:
            told = app.options.against
            return told(load, decision) if told is not None else ()

        form = Form(
            f"load {clean(load, 40)}: {decision}",
            [Field("why", "why", entries.words)],
            late=against,
        )
        ask_form(
            screen,
            form,
            lambda said, who: DecideLoad(
                who=who, load=load, decision=decision, why=entries.words(said["why"])
            ),
            f"{load} {decision}",
        )

    choose(screen, f"what becomes of load {clean(load, 40)}?", rows, chosen)


def place(screen: LiveScreen) -> None:
    """Say which load is in the tank there, or in which tank the load is."""
    tank = screen.view.subject if screen.view.NAME == "tank" else screen.about
    if kind_of(tank) == "tank":
        _place_in(screen, id_of(tank))
        return
    picture, load = screen.watch_app.sight.picture, load_here(screen)
    if picture is None or not load:
        return
    rows = [
        Entry(target("tank", each.id), names(picture)[each.id], f"{each.kind} {each.track}")
        for each in picture.tanks
    ]

    choose(
        screen,
        f"where is load {clean(load, 40)}?",
        rows,
        lambda tank: _place_in(screen, tank, load),
    )


def _place_in(screen: LiveScreen, tank: str, load: str = "") -> None:
    picture = screen.watch_app.sight.picture
    if picture is None:
        return
    called = names(picture).get(tank, clean(tank, 40))
    there = next((each.load for each in picture.tanks if each.id == tank), None)
    hint = f"'{OUT}' if it is empty; the line says {there.number}" if there is not None else ""
    form = Form(
        f"which load is in {called}?",
        [
            Field("load", "load", entries.words, load, hint),
            Field("why", "why", entries.anything, hint="where the line says otherwise"),
        ],
        first="why" if load else "load",
    )

    def said_so(said: dict[str, str], who: str) -> PlaceLoad:
        number, why = entries.words(said["load"]), entries.anything(said["why"])
        if number == OUT and there is not None:
            return PlaceLoad(who=who, load=there.number, tank=tank, is_in=False, why=why)
        return PlaceLoad(who=who, load=number, tank=tank, why=why)

    ask_form(screen, form, said_so, f"load in {tank}")


def bake(screen: LiveScreen) -> None:
    """Say that a load went into an oven, or came out."""
    picture, load = screen.watch_app.sight.picture, load_here(screen)
    if picture is None or not load:
        return
    ovens = [each for each in picture.tanks if each.kind == "bake"]
    rows = [
        Entry(target("tank", each.id), f"into {names(picture)[each.id]}", "the bake begins")
        for each in ovens
    ]
    rows.append(Entry(target("tank", OUT), "out of the oven", "the bake ends"))

    def chosen(oven: str) -> None:
        is_in = oven != OUT
        ask(
            screen,
            lambda who: BakeLoad(who=who, load=load, oven=oven if is_in else "", is_in=is_in),
            f"bake of {load}",
        )

    choose(screen, f"bake of load {clean(load, 40)}", rows, chosen)
