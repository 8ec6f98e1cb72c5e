"""Doses: logged, taken back, and dummy plating marked. Each in a few keys.

Rule 1: what speaks against a dose is shown before it is logged, and asks for a reason.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from linewatch.core.additions.doubts import Dose, Standing, doubts
from linewatch.core.commands import LogAddition, MarkDummy
from linewatch.ui import entries
from linewatch.ui.draw.baths import amount_words, entry_words, owed_words
from linewatch.ui.draw.naming import bath_of, id_of, kind_of, names, related, target
from linewatch.ui.entries import NotUnderstood
from linewatch.ui.scales import scale_of_unit
from linewatch.ui.screens.forms import Entry, Field, Finder, Form
from linewatch.ui.screens.requests import ask_form
from linewatch.ui.text import clean, clock_minutes, number

if TYPE_CHECKING:
    from linewatch.core.view import AdditivePicture, BathPicture, EntryPicture, LinePicture
    from linewatch.ui.screens.live import LiveScreen


def additive_here(
    picture: LinePicture, about: str
) -> tuple[BathPicture, AdditivePicture] | None:
    """Return the additive that the cursor is on; of a bath or tank the most urgent one."""
    if kind_of(about) not in {"bath", "additive"}:
        about = related(picture, about, "baths")
    bath_id, _, additive_id = id_of(about).partition("/")
    bath = bath_of(picture, bath_id)
    if bath is None or not bath.additives:
        return None
    for each in bath.additives:
        if each.id == additive_id:
            return bath, each
    return bath, max(bath.additives, key=lambda each: (each.due, each.owed_ml))


def standing(bath: BathPicture, additive: AdditivePicture, lot: str) -> Standing:
    """Return how an additive stands before a dose, as far as the picture tells."""
    kept = [
        each for each in additive.entries if each.corrects is None and each.corrected_by is None
    ]
    return Standing(
        owed_ml=additive.owed_high_ml,
        least_ml=additive.least_ml,
        largest_ml=additive.largest_ml,
        last_hour_ml=additive.last_hour_ml,
        doses=tuple(
            Dose(
                utc_ns=each.utc_ns,
                amount_ml=each.amount_ml,
                who=each.who,
                lot=each.lot,
                is_beyond=each.is_beyond,
            )
            for each in kept
        ),
        concerns=bath.concerns,
        lot_of=additive.lots.get(lot.strip().casefold(), ""),
    )


class DoseForm(Form):
    """Asks how much went in; a reason only where something speaks against it."""

    def __init__(
        self, screen: LiveScreen, bath: BathPicture, additive: AdditivePicture
    ) -> None:
        app, self._bath, self._additive = screen.watch_app, bath, additive
        self._look, self._system = app.look_for(80, 24), app.units
        scale = scale_of_unit(additive.measure, app.units)
        ready_ml = additive.next_ml or max(additive.owed_ml, 0.0)
        fields = [
            Field(
                "amount",
                f"how much went in [{scale.label}]",
                self.amount,
                number(scale.shown(ready_ml), scale.decimals),
                owed_words(additive, self._look),
            ),
            Field("lot", "lot", entries.anything, hint="may stay empty"),
            Field("why", "why", self._why, hint="only where something speaks against it"),
        ]
        title = f"log an addition: {clean(additive.name, 40)} into {clean(bath.name, 40)}"
        notes = [f"look first at {each}" for each in bath.looked_at]
        notes += [f"DO NOT DOSE NOW: {each}" for each in bath.concerns]
        super().__init__(title, fields, notes=notes, first="amount")

    def amount(self, said: str) -> float:
        """Return the dose that was typed."""
        return entries.amount_ml(said, self._system, self._additive.measure)

    def _why(self, said: str) -> str:
        amount, lot = (self._entry(each).value for each in self._fields[:2])
        before = standing(self._bath, self._additive, lot)
        against = doubts(self.amount(amount), before, self._look.now_ns)
        if against and not said.strip():
            raise NotUnderstood(said, f"{'; '.join(against)}. If it went in, say why")
        return entries.anything(said)


def log_addition(screen: LiveScreen) -> None:
    """Log a dose; what is owed stands there already, so that Enter alone logs it."""
    app = screen.watch_app
    picture = app.sight.picture
    found = additive_here(picture, screen.about) if picture is not None else None
    if found is None:
        app.say("no additive is counted here")
        return
    bath, additive = found
    form = DoseForm(screen, bath, additive)
    ask_form(
        screen,
        form,
        lambda said, who: LogAddition(
            who=who,
            bath=bath.id,
            additive=additive.id,
            amount_ml=form.amount(said["amount"]),
            lot=entries.anything(said["lot"]),
            why=entries.anything(said["why"]),
        ),
        f"addition to {bath.id}",
    )


def take_back(screen: LiveScreen) -> None:
    """Take an entry back by a counter-entry; both stay in the record."""
    app = screen.watch_app
    picture = app.sight.picture
    found = additive_here(picture, screen.about) if picture is not None else None
    if found is None:
        app.say("no additive is counted here")
        return
    bath, chosen = found
    of = [chosen] if kind_of(screen.about) == "additive" else list(bath.additives)
    pairs = [
        (entry, each)
        for each in of
        for entry in each.entries
        if entry.corrects is None and entry.corrected_by is None
    ]
    if not pairs:
        app.say("there is no entry to take back")
        return
    pairs.sort(key=lambda pair: -pair[0].number)
    look = app.look_for(80, 24)
    rows = [
        Entry(
            target("entry", str(entry.number)),
            f"{entry.number} {amount_words(entry.amount_ml, each.measure, look)}"
            f" {clean(each.name, 30)}",
            f"{clock_minutes(entry.utc_ns, look.zone)} by {entry.who} {entry_words(entry)}",
        )
        for entry, each in pairs
    ]
    finder = Finder("take back which entry? A counter-entry is written; both stay", rows)
    by_target = {target("entry", str(pair[0].number)): pair for pair in pairs}
    app.push_screen(finder, partial(_take_back, screen, bath, by_target))


def _take_back(
    screen: LiveScreen,
    bath: BathPicture,
    pairs: dict[str, tuple[EntryPicture, AdditivePicture]],
    chosen: str | None,
) -> None:
    if not chosen:
        return
    entry, additive = pairs[chosen]
    look = screen.watch_app.look_for(80, 24)
    amount = amount_words(entry.amount_ml, additive.measure, look)
    form = Form(
        f"take entry {entry.number} back: {amount} of {clean(additive.name, 40)}",
        [Field("why", "why", entries.words)],
    )
    ask_form(
        screen,
        form,
        lambda said, who: LogAddition(
            who=who,
            bath=bath.id,
            additive=additive.id,
            amount_ml=-entry.amount_ml,
            corrects=entry.number,
            why=entries.words(said["why"]),
        ),
        f"entry {entry.number} taken back",
    )


def mark_dummy(screen: LiveScreen) -> None:
    """Say that a tank plates dummies, or no longer."""
    app = screen.watch_app
    picture = app.sight.picture
    if picture is None:
        return
    about = screen.view.subject if screen.view.NAME == "tank" else screen.about
    dummies = {tank for bath in picture.baths for tank in bath.dummies}
    called = names(picture)
    if kind_of(about) == "tank":
        _ask_dummy(screen, id_of(about), begins=id_of(about) not in dummies)
        return
    bath = bath_of(picture, id_of(about).partition("/")[0])
    tanks = [
        tank for tank in picture.tanks if bath and tank.id in bath.tanks and tank.rectifiers
    ]
    if not tanks:
        app.say("no tank with a rectifier belongs to this")
        return
    rows = [
        Entry(
            target("tank", tank.id),
            called[tank.id],
            "plates dummies: end it" if tank.id in dummies else "begin dummy plating",
        )
        for tank in tanks
    ]

    def chosen(found: str | None) -> None:
        if found:
            _ask_dummy(screen, id_of(found), begins=id_of(found) not in dummies)

    app.push_screen(Finder("dummy plating in which tank?", rows), chosen)


def _ask_dummy(screen: LiveScreen, tank: str, *, begins: bool) -> None:
    picture = screen.watch_app.sight.picture
    called = names(picture).get(tank, tank) if picture is not None else tank
    what = "plates dummies from now on" if begins else "plates no dummies any more"
    form = Form(
        f"say that {called} {what}: its charge is counted apart from product",
        [Field("why", "why", entries.anything, hint="may stay empty")],
    )
    ask_form(
        screen,
        form,
        lambda said, who: MarkDummy(
            who=who, tank=tank, begins=begins, why=entries.anything(said["why"])
        ),
        f"dummies in {tank} {'begin' if begins else 'end'}",
    )
