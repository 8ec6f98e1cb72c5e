"""What the laboratory found in a bath, or where there is none in a tank, reached by one key."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from linewatch.core.events import EventKind
from linewatch.core.laboratory.analyses import analyses
from linewatch.ui.draw.laboratory import laboratory_rows, subjects_of
from linewatch.ui.draw.naming import called, id_of, kind_of, related, tanks_about, target
from linewatch.ui.screens.view import Scene, View, Wish

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.view import LinePicture
    from linewatch.ui.draw.rows import Row
    from linewatch.ui.screens.live import LiveScreen

STEP_NS: Final = 30 * 1_000_000_000


class LaboratoryView(View):
    """What was found in one bath or tank: values, limits, control charts, what is due."""

    NAME: ClassVar[str] = "laboratory"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._subjects: tuple[str, ...] = (id_of(subject),)

    def title(self, scene: Scene) -> str:
        """Return the name of the bath or tank."""
        return f"laboratory: {called(scene.picture, self.subject)}"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return what is due, then each substance."""
        name = id_of(self.subject)
        self._subjects = subjects_of(scene.picture, name)
        told = scene.past.get(self.subject, ())
        found = analyses(each.event for each in told)
        return laboratory_rows(scene.picture, name, found, scene.look)

    def about(self, _choice: str) -> str:
        """Return the bath."""
        return self.subject

    def wants(self, _choice: str, now_ns: int) -> Sequence[Wish]:
        """Return every analysis that stands in the record."""
        end_ns = (now_ns // STEP_NS + 1) * STEP_NS
        kinds = (EventKind.ANALYSIS,)
        return (Wish(self.subject, 0, end_ns, 0, self._subjects, is_curve=False, kinds=kinds),)

    def idle(self, _scene: Scene) -> frozenset[str]:
        """A bath as a whole has no trend."""
        return frozenset({"trend"})


def bath_about(picture: LinePicture, about: str) -> str:
    """Return the bath, else the tank that is analysed, of a thing; '' for none."""
    if kind_of(about) in {"bath", "additive"}:
        return f"bath {id_of(about).partition('/')[0]}"
    bath = related(picture, about, "baths")
    if bath:
        return bath
    # Water that is let go is in no bath, and is analysed before all others.
    analysed = {each.subject for each in picture.duties}
    tanks = [each for each in tanks_about(picture, about) if each.permit or each.id in analysed]
    return target("tank", tanks[0].id) if tanks else ""


def open_laboratory(screen: LiveScreen) -> None:
    """Show what the laboratory found in the bath that the cursor is on or a tank holds."""
    picture = screen.watch_app.sight.picture
    about = screen.about or screen.view.subject
    bath = bath_about(picture, about) if picture is not None and about else ""
    if not bath and picture is not None and screen.view.subject:
        bath = bath_about(picture, screen.view.subject)
    if bath:
        screen.go("laboratory", bath)
    else:
        screen.watch_app.say(
            "nothing is analysed here: it is baths that are, and what is let go"
        )
