"""The trend: the past of one subject's tags, with zoom, pan and a cursor."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from linewatch.ui.draw.figures import figure_words, label_of, ordered
from linewatch.ui.draw.naming import (
    id_of,
    kind_of,
    names,
    rectifier_of,
    tank_name,
    tank_of,
    tanks_about,
    target,
)
from linewatch.ui.draw.rows import Row, Span, row
from linewatch.ui.draw.trend import AXIS, SPANS, Curve, cursor_words, marks_of, plot_rows
from linewatch.ui.draw.warming import warming_rows
from linewatch.ui.scales import scale
from linewatch.ui.screens.view import Scene, View, Wish
from linewatch.ui.text import clean, fit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.ports import StoredEvent
    from linewatch.core.view import Figure, LinePicture
    from linewatch.ui.draw.trend import Marks
    from linewatch.ui.screens.live import LiveScreen

FIRST_SPAN: Final = 2
BANDS: Final = 5
"""Rows that title, foot and cursor need."""
LEAST_PLOT: Final = 6
"""Rows of plot that a forecast above it leaves."""
MOST_TAGS: Final = 8
OWNER: Final = 30
LABEL: Final = 18
"""Cells of what a figure belongs to, and of its own name."""


def figures_of(picture: LinePicture, subject: str) -> dict[str, Figure]:
    """Return the figures of a tank with its rectifiers', or of a rectifier, by tag.

    They stand in the order in which the position itself shows them.
    """
    found: dict[str, Figure] = {}
    rectifiers: list[str] = []
    if kind_of(subject) == "rectifier":
        rectifiers = [id_of(subject)]
    else:
        for tank in tanks_about(picture, subject)[:1]:
            found |= {figure.tag: figure for _, figure in ordered(tank.figures)}
            rectifiers += tank.rectifiers
    for name in rectifiers:
        rectifier = rectifier_of(picture, name)
        if rectifier is not None:
            found |= {figure.tag: figure for _, figure in ordered(rectifier.figures)}
    return found


class TrendView(View):
    """How a tank's or a rectifier's quantities went."""

    NAME: ClassVar[str] = "trend"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._span = FIRST_SPAN
        self._end_ns: int | None = None
        """None: follow the present."""
        self._cursor: int | None = None
        """Columns from the right edge; None: no cursor."""
        self._width = 1
        self._about: tuple[str, ...] = ()
        """Whose events are marked."""
        if kind_of(subject) != "tag":
            self.choice = ""

    @property
    def span_ns(self) -> int:
        """The span shown [ns]."""
        return SPANS[self._span][0]

    def _subject(self, picture: LinePicture) -> str:
        if kind_of(self.subject) != "tag":
            return self.subject
        owner = id_of(self.subject).partition(".")[0]
        if tank_of(picture, owner) is None and rectifier_of(picture, owner) is not None:
            return target("rectifier", owner)
        return target("tank", owner)

    def title(self, scene: Scene) -> str:
        """Return whose trend, and how long."""
        subject = id_of(self._subject(scene.picture))
        named = names(scene.picture).get(subject, clean(subject, 40))
        ends = "" if self._end_ns is None else ", in the past"
        return f"trend of {named}, {SPANS[self._span][1]}{ends}"

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the plot and the cursor's row."""
        look = scene.look
        count = min(len(figures_of(scene.picture, self._subject(scene.picture))), MOST_TAGS)
        height = look.height - BANDS - count
        self._width = max(look.width - AXIS - 2, 1)
        tag = id_of(scene.choice)
        self._about = _about(scene.picture, self._subject(scene.picture), tag)
        curve = scene.curves.get(tag)
        if height < 3:  # noqa: PLR2004 - a row of curve, one of marks, one of time
            return []
        if curve is None:
            waiting = "nothing is chosen" if not tag else "fetching"
            return [row(Span(f"  {waiting}", "quiet")), *[row()] * (height - 1)]
        figure = figures_of(scene.picture, self._subject(scene.picture)).get(tag)
        at = None if self._cursor is None else self._width - 1 - self._cursor
        tanks = {tank.id for tank in tanks_about(scene.picture, self._subject(scene.picture))}
        happened, others = _marked(scene, tag), _explaining(scene.picture, tag)
        marks = marks_of(figure, tag, happened, at, tanks, others)
        ahead = warming_rows(curve, figure, look) if self._end_ns is None else []
        # A low window keeps its plot: what is left over stands with the position itself.
        first = ahead[: max(height - LEAST_PLOT, 0)]
        rows = plot_rows(curve, marks, (look.width - 1, height - len(first)), look)
        return [*first, *rows, self._said(curve, at, scene, marks)]

    def _said(self, curve: Curve, at: int | None, scene: Scene, marks: Marks) -> Row:
        look, keys = scene.look, scene.keys
        if at is not None:
            return row(Span(f"  {cursor_words(curve, at, self._width, look, marks)}", "strong"))
        name = curve.tag.partition(".")[2]
        unit = scale(name, look.units).label
        named = f"{label_of(name)}, {unit}" if unit else label_of(name)
        move = f"{keys.name('previous')} {keys.name('next')}"
        said = f"{move}: read off  ! alarm  + addition  ^ load in  ╌ window"
        return row(Span(f"  {named}", "strong"), Span(f"   {said}", "quiet"))

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return the tags to choose from, with what they are now."""
        rows = []
        called = names(scene.picture)
        for tag, figure in figures_of(scene.picture, self._subject(scene.picture)).items():
            said = figure_words(figure, scene.look)
            owner, _, what = tag.partition(".")
            spans = (
                Span(f"  {fit(called.get(owner, clean(owner, 40)), OWNER)} ", "quiet"),
                Span(fit(label_of(what), LABEL), "plain"),
                said,
            )
            rows.append(Row(spans, target("tag", tag)))
        rows += _worked_out(scene, self._subject(scene.picture))
        return rows or [row(Span("  nothing is measured here", "quiet"))]

    def about(self, choice: str) -> str:
        """Return the tag that is drawn."""
        return choice or self.subject

    def wants(self, choice: str, now_ns: int) -> Sequence[Wish]:
        """Return the span of the tag that is chosen."""
        if kind_of(choice) != "tag":
            return ()
        width = max(self._width, 1)
        step = max(self.span_ns // width, 1_000_000_000)
        end_ns = self._end_ns if self._end_ns is not None else (now_ns // step + 1) * step
        start_ns = end_ns - self.span_ns
        return (Wish(id_of(choice), start_ns, end_ns, width, self._about),)

    def do(self, key_id: str, screen: LiveScreen) -> bool:
        """Zoom, pan, and move the cursor."""
        now_ns = screen.watch_app.now_ns()
        if key_id in {"zoom-in", "zoom-out"}:
            by = -1 if key_id == "zoom-in" else 1
            self._span = max(0, min(self._span + by, len(SPANS) - 1))
        elif key_id == "pan-back":
            self._end_ns = (self._end_ns or now_ns) - self.span_ns // 2
        elif key_id == "pan-on":
            later = (self._end_ns or now_ns) + self.span_ns // 2
            self._end_ns = None if later >= now_ns else later
        elif key_id == "to-now":
            self._end_ns = None
        elif key_id in {"previous", "next"}:
            by = 1 if key_id == "previous" else -1
            here = -1 if self._cursor is None else self._cursor
            self._cursor = max(0, min(here + by, self._width - 1))
        else:
            return False
        screen.watch_app.look_back()
        return True


def _about(picture: LinePicture, subject: str, tag: str) -> tuple[str, ...]:
    """Return the ids of all whose events concern a tag: its tanks, rectifiers and bath."""
    found = {tag.partition(".")[0], picture.line_id}
    for tank in tanks_about(picture, subject):
        found |= {tank.id, *tank.rectifiers}
        if tank.bath is not None:
            found.add(tank.bath)
    return tuple(sorted(found))


def _explaining(picture: LinePicture, tag: str) -> tuple[str, ...]:
    """Return whose alarms, besides its own subject's, explain a curve."""
    tank = tank_of(picture, tag.partition(".")[0])
    return (picture.line_id, *(tank.rectifiers if tank is not None else ()))


def _marked(scene: Scene, tag: str) -> Sequence[StoredEvent]:
    """Return what happened in the span of a curve, with what has come since it was fetched."""
    past = scene.past.get(tag, ())
    last = past[-1].number if past else 0
    return [*past, *(each for each in scene.events if each.number > last)]


def _worked_out(scene: Scene, subject: str) -> list[Row]:
    """Return the figures of a tank that are worked out from its current."""
    rows = []
    for tank in tanks_about(scene.picture, subject)[:1]:
        metal = tank.metal
        is_told = (
            ("charge", tank.charge is not None),
            ("deposit", metal is not None and not metal.refused),
            (
                "current-density",
                metal is not None and metal.current_density_a_per_dm2 is not None,
            ),
        )
        for kind, there in is_told:
            if there:
                name = f"{tank.id}.{kind}"
                spans = (
                    Span(f"  {fit(tank_name(tank), OWNER)} ", "quiet"),
                    Span(fit(label_of(kind), LABEL), "plain"),
                    Span("worked out from the current, over the span shown", "quiet"),
                )
                rows.append(Row(spans, target("tag", name)))
    return rows
