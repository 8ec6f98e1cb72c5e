"""The view of the alarms: what stands, what is put aside, and where its cursor goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from linewatch.core.alarms.states import State
from linewatch.ui.draw.alarms import (
    FOLD,
    Folds,
    alarm_detail,
    alarm_list,
    cause_of_fold,
    fold_behind,
)
from linewatch.ui.draw.families import consequences
from linewatch.ui.draw.naming import alarm_of, id_of, kind_of, subject_about, target
from linewatch.ui.draw.rows import Row, row
from linewatch.ui.marks import is_new, is_standing
from linewatch.ui.screens.view import Scene, View

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from linewatch.core.view import AlarmPicture
    from linewatch.ui.screens.live import LiveScreen

OF_ONE: Final = frozenset(
    {"acknowledge", "shelve", "unshelve", "reset-latch", "out-of-service"}
)
"""Keys that ask something of one alarm."""


class AlarmsView(View):
    """Every alarm that is not plainly normal, and what the chosen one asks for."""

    NAME: ClassVar[str] = "alarms"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._stood = ""
        """The alarm under the cursor when last drawn, if it stood then."""
        self._some_stood = True
        self._seen_here = ""
        """The alarm of which somebody said here that it was seen, until the cursor goes on."""
        self._order: list[str] = []
        """What could be chosen when last drawn, from above."""
        self._opened: set[str] = set()
        """The folds that somebody opened."""

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return standing alarms, then what is put aside."""
        folds = Folds(self._opened, scene.keys.name("open"))
        rows = alarm_list(scene.picture, scene.look, id_of(scene.choice), folds)
        only = self._where_to(scene, rows)
        self._order = list(dict.fromkeys(each.target for each in rows if each.target))
        if only:
            # For once nothing else can be chosen: so the cursor goes where it should.
            rows = [
                each if each.target in only else Row(each.spans, "", each.fill) for each in rows
            ]
        return rows

    def _where_to(self, scene: Scene, rows: Sequence[Row]) -> Collection[str]:
        """Return where the cursor must go by itself; () where it stays."""
        alarms = scene.picture.alarms
        standing = {target("alarm", each.id) for each in alarms if is_standing(each.state)}
        chosen = alarm_of(scene.picture, id_of(scene.choice))
        if scene.choice != self._seen_here:
            self._seen_here = ""
        elif chosen is None or not is_new(chosen.state):
            # What was seen goes down the list; who sees one alarm after the other does not.
            self._seen_here = ""
            following = self._next_new(scene.choice, rows, alarms)
            if following:
                self._stood = following
                return {following}
        return standing if self._is_led_astray(scene.choice, chosen, standing) else ()

    def _next_new(self, seen: str, rows: Sequence[Row], alarms: Sequence[AlarmPicture]) -> str:
        """Return the next alarm below one that waits to be seen, else the next above."""
        new = {target("alarm", each.id) for each in alarms if is_new(each.state)}
        here = new & {each.target for each in rows}
        at = self._order.index(seen) if seen in self._order else 0
        around = [*self._order[at + 1 :], *reversed(self._order[:at])]
        return next((each for each in around if each in here), "")

    def _is_led_astray(
        self, choice: str, chosen: AlarmPicture | None, standing: Collection[str]
    ) -> bool:
        """Say whether the cursor would follow an alarm to what is put aside by design.

        What the line's own doing puts aside, and an alarm that is over, must not take the
        cursor along, and with it out of sight what stands.
        """
        is_expected = (
            chosen is not None and chosen.state == State.SUPPRESSED.word and not chosen.behind
        )
        is_over = chosen is None and kind_of(choice) == "alarm"
        is_left = (is_expected or is_over) and choice == self._stood
        is_late = is_expected and bool(standing) and not self._some_stood
        self._stood = choice if choice in standing else ""
        self._some_stood = bool(standing)
        return is_left or is_late

    def idle(self, scene: Scene) -> frozenset[str]:
        """What is seen is not seen again; what is put aside is not put aside again."""
        off = set()
        if not any(is_new(each.state) for each in scene.picture.alarms):
            off |= {"acknowledge", "acknowledge-all"}
        chosen = alarm_of(scene.picture, id_of(scene.choice))
        if chosen is None or not is_new(chosen.state):
            off.add("acknowledge")
        if chosen is None or not is_standing(chosen.state):
            off.add("shelve")
        if chosen is None:
            off |= {"trend", "explain"}
            off |= set() if kind_of(scene.choice) == FOLD else {"open"}
        return frozenset(off)

    def lower(self, scene: Scene) -> Sequence[Row]:
        """Return what to do about the chosen alarm; at a fold, about the cause."""
        wanted = cause_of_fold(scene.choice) or id_of(scene.choice)
        detail = alarm_detail(scene.picture, wanted, scene.look)
        return [row(), *detail] if detail else []

    def about(self, choice: str) -> str:
        """Return the chosen alarm; at a fold, the cause."""
        cause = cause_of_fold(choice)
        return target("alarm", cause) if cause else super().about(choice)

    def do(self, key_id: str, screen: LiveScreen) -> bool:
        """Open and fold what follows from a cause; remember what was seen here."""
        choice = screen.body.choice
        if kind_of(choice) == FOLD:
            if key_id == "open":
                self._opened ^= {choice}
                return True
            if key_id in OF_ONE:
                opens = screen.watch_app.keys.name("open")
                screen.watch_app.say(f"this is no alarm: {opens} shows those that stand here")
                return True
        if key_id == "acknowledge" and self._waits(choice, screen):
            self._seen_here = choice
        return key_id == "open" and self._open_line(choice, screen)

    def _waits(self, choice: str, screen: LiveScreen) -> bool:
        """Say whether a row is of an alarm that waits to be seen."""
        picture = screen.watch_app.sight.picture
        alarm = alarm_of(picture, id_of(choice)) if picture is not None else None
        return alarm is not None and is_new(alarm.state)

    def _open_line(self, choice: str, screen: LiveScreen) -> bool:
        """Open what follows from an alarm of the line as a whole: it has no view of its own."""
        picture = screen.watch_app.sight.picture
        if picture is None or kind_of(subject_about(picture, choice)) != "line":
            return False
        fold = fold_behind(picture, id_of(choice))
        if fold:
            self._opened ^= {fold}
            return True
        mine = consequences(picture.alarms).get(id_of(choice), ())
        where = "what follows stands below it" if mine else "nothing follows from it"
        screen.watch_app.say(f"it concerns the line as a whole: {where}")
        return True
