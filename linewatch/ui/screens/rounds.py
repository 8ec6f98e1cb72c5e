"""A shift's round on the screen: rinses and levels, and the check sheet that people fill."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from linewatch.core.commands import LogCheck, SignSheet
from linewatch.core.events import EventKind
from linewatch.core.sheets.items import item_of
from linewatch.core.sheets.sheet import GOOD, reads_in
from linewatch.ui import entries
from linewatch.ui.draw.checks import positions_of, sheet_rows
from linewatch.ui.draw.naming import id_of, kind_of, names, rectifier_of, tank_of
from linewatch.ui.draw.rinses import rinse_detail, rinse_rows, rinses_head
from linewatch.ui.draw.rows import Row, row
from linewatch.ui.draw.shifts import shift_at
from linewatch.ui.entries import NotUnderstood
from linewatch.ui.screens import requests
from linewatch.ui.screens.forms import Field, Form
from linewatch.ui.screens.requests import ask, ask_form
from linewatch.ui.screens.view import Scene, View, Wish
from linewatch.ui.text import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.sheets.sheet import Reads
    from linewatch.core.view import LinePicture
    from linewatch.ui.screens.live import LiveScreen


AS_SIGNED: Final = "sheet signed"
"""Under which name the past that the sheet wants is kept."""


class RinsesView(View):
    """Every rinse, and the chosen one in detail; under them where the water of tanks goes."""

    NAME: ClassVar[str] = "rinses"

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the heads of the columns."""
        return [rinses_head(scene.look)]

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return a row a rinse."""
        return rinse_rows(scene.picture, scene.look)

    def lower(self, scene: Scene) -> Sequence[Row]:
        """Return the chosen rinse."""
        name = id_of(scene.choice)
        chosen = next((each for each in scene.picture.rinses if each.tank == name), None)
        if chosen is None:
            return []
        return [row(), *rinse_detail(scene.picture, chosen, scene.look)]


class SheetView(View):
    """The check sheet of this shift: filled from the signals, the rest by key."""

    NAME: ClassVar[str] = "sheet"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._signed_ns = 0
        """When the sheet of this shift was signed [ns since 1970]; 0: it was not."""
        self._line_id = ""

    def title(self, _scene: Scene) -> str:
        """Return what it is called."""
        return "check sheet"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return the whole sheet."""
        picture, look = scene.picture, scene.look
        shift = shift_at(look.now_ns, look.zone, picture.shift_s)
        signed = picture.sheet_signed
        is_signed = signed is not None and signed[0] >= shift.begin_ns
        self._signed_ns = signed[0] if signed is not None and is_signed else 0
        self._line_id = picture.line_id
        return sheet_rows(picture, shift, look, self._as_signed(scene))

    def _as_signed(self, scene: Scene) -> Reads | None:
        """Return what was read at the signature; None without one, or before it is fetched."""
        for each in scene.past.get(AS_SIGNED, ()):
            if each.event.utc_ns == self._signed_ns and (reads := reads_in(each.event)):
                return reads
        return None

    def wants(self, _choice: str, _now_ns: int) -> Sequence[Wish]:
        """Return what the record has of the signature."""
        if not self._signed_ns:
            return ()
        at_ns, kinds = self._signed_ns, (EventKind.NOTE,)
        about = (self._line_id,)
        return (Wish(AS_SIGNED, at_ns, at_ns, 0, about, is_curve=False, kinds=kinds),)

    def about(self, choice: str) -> str:
        """Return what a note or a question is about: the position of a check."""
        if kind_of(choice) != "check":
            return choice
        return f"tank {id_of(choice).partition('/')[0]}"

    def do(self, key_id: str, screen: LiveScreen) -> bool:
        """Fill in what the cursor is on, or sign."""
        choice = screen.body.choice
        if key_id == "sign":
            _sign(screen)
            return True
        if kind_of(choice) == "check" and key_id in {"open", "well"}:
            _fill(screen, *id_of(choice).split("/", 1), is_good=key_id == "well")
            return True
        if key_id == "all-well":
            _fill_all(screen, id_of(self.about(choice)).partition(".")[0])
            return True
        if kind_of(choice) == "tag" and key_id == "open":
            requests.hand_reading(screen)
            return True
        return False


def _kind(picture: LinePicture, subject: str) -> str:
    tank = tank_of(picture, subject)
    if tank is not None:
        return tank.kind
    return "rectifier" if rectifier_of(picture, subject) is not None else "line"


def _fill(screen: LiveScreen, subject: str, item: str, *, is_good: bool) -> None:
    """Write down what was found: good at once, or in words."""
    picture = screen.watch_app.sight.picture
    looked_at = item_of(_kind(picture, subject), item) if picture is not None else None
    if picture is None or looked_at is None:
        return
    doing = f"{looked_at.text}: {GOOD}"
    if is_good:
        ask(
            screen,
            lambda who: LogCheck(who=who, subject=subject, item=item, found=GOOD),
            doing,
        )
        return
    ask_form(
        screen,
        CheckForm(f"{names(picture).get(subject, subject)}: {looked_at.text}"),
        lambda said, who: LogCheck(
            who=who,
            subject=subject,
            item=item,
            found=entries.words(said["found"]),
            is_bad=_yes(said["bad"]),
        ),
        f"{looked_at.text}: written down",
    )


def _fill_all(screen: LiveScreen, subject: str) -> None:
    """Write down that all that is still blank at a position is good, in one act."""
    app = screen.watch_app
    picture = app.sight.picture
    if picture is None:
        return
    positions = positions_of(picture, app.shift_now().begin_ns)
    here = next((each for each in positions if each.place.id == subject), None)
    left = [each for each in here.checks if each.found is None] if here is not None else []
    if here is None or not left:
        app.say("nothing is left to look at here")
        return
    items = ",".join(each.item for each in left)
    ask(
        screen,
        lambda who: LogCheck(who=who, subject=subject, item=items, found=GOOD),
        f"{here.place.name}: {counted(len(left), 'thing')} good",
    )


class CheckForm(Form):
    """Asks what was found; where that is not plainly good, whether it is bad."""

    def __init__(self, title: str) -> None:
        super().__init__(
            title,
            [
                Field("found", "what was found", entries.words, GOOD),
                Field("bad", "is it bad?", self._bad, hint="y or n; nothing where it is good"),
            ],
            first="found",
        )

    def _bad(self, said: str) -> bool:
        found = self._entry(self._fields[0]).value.strip().casefold()
        if not said.strip() and found != GOOD:
            raise NotUnderstood(said, "y for bad, n for well")
        return _yes(said)


def _yes(said: str) -> bool:
    answer = said.strip().casefold()
    if answer in {"", "n", "no"}:
        return False
    if answer in {"y", "yes"}:
        return True
    raise NotUnderstood(said, "y for bad, n for well")


def _sign(screen: LiveScreen) -> None:
    picture = screen.watch_app.sight.picture
    if picture is None:
        return
    app = screen.watch_app
    shift = app.shift_now()
    positions = positions_of(picture, shift.begin_ns)
    left = sum(not each.is_whole for each in positions)
    form = Form(
        f"sign the check sheet, {shift.words(app.options.zone)}: what every signal reads now"
        " stands with it",
        [Field("note", "note", entries.anything, hint="may stay empty")],
        notes=[f"{left} positions have blanks"] if left else (),
        first="note",
    )
    ask_form(
        screen,
        form,
        lambda said, who: SignSheet(who=who, note=entries.anything(said["note"])),
        "the sheet is signed",
    )
