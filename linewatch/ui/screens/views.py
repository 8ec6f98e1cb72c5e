"""The views by name, but for the trend, which has a file of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from linewatch.core.loads.record import load_record, newest_records
from linewatch.core.loads.record import subject as load_subject
from linewatch.ui.draw.baths import analyses_due, bath_detail, bath_rows
from linewatch.ui.draw.dissolved import wrong_way_in_bath
from linewatch.ui.draw.explain import bath_more_why, explanation_rows, why_rows
from linewatch.ui.draw.guide import guide_rows
from linewatch.ui.draw.handover import handover_rows
from linewatch.ui.draw.line import head_row, line_rows
from linewatch.ui.draw.lists import (
    link_detail,
    link_rows,
    links_head,
    load_detail,
    load_list,
    loads_head,
    rectifier_detail,
    rectifier_rows,
    rectifiers_head,
)
from linewatch.ui.draw.loads import gone_rows, left_in_shift, odd_of, record_rows
from linewatch.ui.draw.naming import (
    bath_of,
    called,
    figure_looked_at,
    id_of,
    kind_of,
    rectifier_of,
    related,
    tank_name,
    tank_of,
    tanks_about,
    target,
)
from linewatch.ui.draw.parts import worded
from linewatch.ui.draw.ribbon import ribbon_rows
from linewatch.ui.draw.rows import Row, Span, row
from linewatch.ui.draw.tank import tank_rows
from linewatch.ui.draw.ways import way_rows
from linewatch.ui.screens.happened import EventsView
from linewatch.ui.screens.laboratory import LaboratoryView
from linewatch.ui.screens.requests import waiting_about
from linewatch.ui.screens.rounds import RinsesView, SheetView
from linewatch.ui.screens.standing import AlarmsView
from linewatch.ui.screens.trend import TrendView
from linewatch.ui.screens.view import Scene, View, Wish
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.loads.record import LoadRecord
    from linewatch.core.ports import StoredEvent
    from linewatch.ui.screens.live import LiveScreen

HOUR_NS: Final = 3600 * 1_000_000_000
SMALL_STEP_NS: Final = 30 * 1_000_000_000
SMALL_COLUMNS: Final = 120
MOST_TOLD: Final = 1500
"""Newest events about loads from which those that left lately are put together."""
MOST_GONE: Final = 40
HEADING: Final = 2
"""Rows above the list of loads that left."""
MOST_LEFT: Final = 10_000
LEFT_NS: Final = 24 * HOUR_NS
LEFT_STEP_NS: Final = 60 * 1_000_000_000
"""How many events about loads, of how long, a hand-over is put together from; and how often."""


class LineView(View):
    """Every position in process order."""

    NAME: ClassVar[str] = "line"

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the ribbon and the heads of the columns."""
        ribbon = ribbon_rows(scene.picture, scene.look, scene.choice)
        return [*ribbon, head_row(scene.picture.tanks, scene.look)]

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return the table of positions."""
        return line_rows(scene.picture.tanks, scene.look, scene.picture.ways)

    def idle(self, scene: Scene) -> frozenset[str]:
        """Nothing waits to be seen where no alarm is new."""
        waits = waiting_about(scene.picture, scene.choice)
        # The laboratory opens here too, but what the line is watched by has the room.
        return frozenset({"laboratory"} if waits else {"acknowledge", "laboratory"})


class TankView(View):
    """One position in detail."""

    NAME: ClassVar[str] = "tank"

    def title(self, scene: Scene) -> str:
        """Return the position's number and name."""
        tank = tank_of(scene.picture, id_of(self.subject))
        return tank_name(tank) if tank is not None else "this tank is no more"

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the ribbon, the position marked on it."""
        return ribbon_rows(scene.picture, scene.look, self.subject)

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return everything about the position."""
        tank = tank_of(scene.picture, id_of(self.subject))
        if tank is None:
            return [row(Span("  the line has no such tank any more", "doubt"))]
        past = scene.curves.get(id_of(scene.choice))
        return tank_rows(scene.picture, tank, scene.events, past, scene.look)

    def wants(self, choice: str, now_ns: int) -> Sequence[Wish]:
        """Return the last hour of the figure that is chosen."""
        if kind_of(choice) != "tag":
            return ()
        end_ns = (now_ns // SMALL_STEP_NS + 1) * SMALL_STEP_NS
        return (Wish(id_of(choice), end_ns - HOUR_NS, end_ns, SMALL_COLUMNS),)

    def idle(self, scene: Scene) -> frozenset[str]:
        """Nothing waits where no alarm is new, nothing is dosed or analysed without a bath."""
        tank = tank_of(scene.picture, id_of(self.subject))
        bath = bath_of(scene.picture, tank.bath) if tank is not None and tank.bath else None
        off = set() if waiting_about(scene.picture, self.subject) else {"acknowledge"}
        # It works here too, but what a position is opened for has the room.
        off |= {"frames"} if bath is not None else {"frames", "laboratory"}
        return frozenset(off if bath is not None and bath.additives else off | {"log-addition"})

    def do(self, key_id: str, screen: LiveScreen) -> bool:
        """Go to the position before or after."""
        picture = screen.watch_app.sight.picture
        if key_id not in {"previous", "next"} or picture is None:
            return False
        ids = [tank.id for tank in picture.tanks]
        here = ids.index(id_of(self.subject)) if id_of(self.subject) in ids else 0
        there = max(0, min(here + (1 if key_id == "next" else -1), len(ids) - 1))
        if there != here:
            screen.turn_to(target("tank", ids[there]))
        return True


class RectifiersView(View):
    """Every rectifier, and the chosen one in detail."""

    NAME: ClassVar[str] = "rectifiers"

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the heads of the columns."""
        return [rectifiers_head(scene.look)]

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return a row a rectifier."""
        return rectifier_rows(scene.picture, scene.look)

    def lower(self, scene: Scene) -> Sequence[Row]:
        """Return the chosen rectifier."""
        each = rectifier_of(scene.picture, id_of(scene.choice))
        return [row(), *rectifier_detail(scene.picture, each, scene.look)] if each else []


class BathsView(View):
    """Every bath with what it is owed, and the chosen one in detail."""

    NAME: ClassVar[str] = "baths"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return baths and additives."""
        return bath_rows(scene.picture, scene.look)

    def idle(self, scene: Scene) -> frozenset[str]:
        """Nothing is dosed or taken back where nothing is counted."""
        bath = bath_of(scene.picture, id_of(scene.choice).partition("/")[0])
        additives = bath.additives if bath is not None else ()
        off = set() if additives else {"log-addition"}
        off |= set() if any(each.entries for each in additives) else {"take-back"}
        return frozenset(off)

    def lower(self, scene: Scene) -> Sequence[Row]:
        """Return the chosen bath."""
        name, _, additive = id_of(scene.choice).partition("/")
        bath = bath_of(scene.picture, name)
        if bath is None:
            return []
        tank = next(iter(tanks_about(scene.picture, target("bath", name))), None)
        kind = tank.kind if tank is not None else "plate"
        due = analyses_due(scene.picture, name, scene.look)
        wrong_way = wrong_way_in_bath(scene.picture, bath)
        return [row(), *bath_detail(bath, scene.look, additive, kind, due, wrong_way)]


class LoadsView(View):
    """Every load on the line, the next to pull first."""

    NAME: ClassVar[str] = "loads"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._told: Sequence[StoredEvent] = ()
        self._gone: Sequence[LoadRecord] = ()

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the heads of the columns."""
        return [loads_head(scene.picture, scene.look)]

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return a row a load; then those on their way, and those that left lately."""
        told = scene.past.get("loads", ())
        if told is not self._told:
            self._told = told
            most = MOST_GONE + len(scene.picture.tanks)
            self._gone = newest_records([each.event for each in told], most)
        gone = gone_rows(self._gone, scene.picture, scene.look)[: MOST_GONE + HEADING]
        odd = odd_of(self._gone, scene.picture, scene.look)
        ways = way_rows(scene.picture, scene.look, odd)
        return [*load_list(scene.picture, scene.look, odd), *ways, *gone]

    def wants(self, _choice: str, now_ns: int) -> Sequence[Wish]:
        """Return what was told of loads lately."""
        end_ns = (now_ns // SMALL_STEP_NS + 1) * SMALL_STEP_NS
        return (Wish("loads", 0, end_ns, 0, is_curve=False, loads=MOST_TOLD),)

    def lower(self, scene: Scene) -> Sequence[Row]:
        """Return the chosen load."""
        number = id_of(scene.choice)
        detail = load_detail(scene.picture, number, scene.look)
        _, odd = odd_of(self._gone, scene.picture, scene.look).get(number, (False, ""))
        if detail and odd:
            said = odd.removeprefix("odd: ").removeprefix("1, ")
            detail[2:2] = worded("odd", said, scene.look, "outside")
        return [row(), *detail] if detail else []


class LoadView(View):
    """One load: where it is, what it received, what was said of it."""

    NAME: ClassVar[str] = "load"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._folded: tuple[int, int, LoadRecord | None] = (-1, -1, None)

    def title(self, _scene: Scene) -> str:
        """Return the load's number."""
        return f"load {clean(id_of(self.subject), 40)}"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return the whole record, to scroll in."""
        number = id_of(self.subject)
        rows = record_rows(scene.picture, number, self._record(scene), scene.look)
        # Nothing can be chosen here: the page is read, and moves as a whole.
        return [Row(each.spans, "", each.fill) for each in rows]

    def _record(self, scene: Scene) -> LoadRecord | None:
        number = id_of(self.subject)
        name = load_subject(number)
        past = scene.past.get(name, ())
        seen = past[-1].number if past else -1
        newer = [e for e in scene.events if e.number > seen and e.event.subject == name]
        count, newest = len(past) + len(newer), newer[-1].number if newer else seen
        if (count, newest) != self._folded[:2]:
            told = [each.event for each in (*past, *newer)]
            self._folded = (count, newest, load_record(number, told) if told else None)
        return self._folded[2]

    def about(self, _choice: str) -> str:
        """Return the load."""
        return self.subject

    def wants(self, _choice: str, now_ns: int) -> Sequence[Wish]:
        """Return all that was ever told of the load."""
        name = load_subject(id_of(self.subject))
        end_ns = (now_ns // SMALL_STEP_NS + 1) * SMALL_STEP_NS
        return (Wish(name, 0, end_ns, 0, (name,), is_curve=False),)

    def do(self, key_id: str, screen: LiveScreen) -> bool:
        """Go to the tank where the load is, or was last."""
        picture = screen.watch_app.sight.picture
        if key_id != "open" or picture is None:
            return False
        tank = related(picture, self.subject, "tank")
        record = self._folded[2]
        if not tank and record is not None and record.stays:
            tank = target("tank", record.stays[-1].tank)
        if tank:
            looked_at = figure_looked_at(picture, self.subject, self.NAME)
            screen.go("tank", tank, looked_at)
        return True


class LinksView(View):
    """Every link, and the chosen one in detail."""

    NAME: ClassVar[str] = "links"

    def head(self, scene: Scene) -> Sequence[Row]:
        """Return the heads of the columns."""
        return [links_head(scene.picture, scene.look)]

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return a row a link."""
        return link_rows(scene.picture, scene.look)

    def idle(self, _scene: Scene) -> frozenset[str]:
        """A link has no trend and no why."""
        return frozenset({"trend", "explain"})

    def lower(self, scene: Scene) -> Sequence[Row]:
        """Return the chosen link."""
        for link in scene.picture.links:
            if link.id == id_of(scene.choice):
                return [row(), *link_detail(scene.picture, link, scene.look)]
        return []


class HandoverView(View):
    """What one shift leaves to the next."""

    NAME: ClassVar[str] = "handover"

    def __init__(self, subject: str = "") -> None:
        super().__init__(subject)
        self._told: Sequence[StoredEvent] = ()
        self._records: Sequence[LoadRecord] = ()

    def title(self, _scene: Scene) -> str:
        """Return what it is called."""
        return "hand over"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return the whole page, to scroll in."""
        told = scene.past.get("left", ())
        if told is not self._told:
            self._told = told
            self._records = newest_records([each.event for each in told], len(told))
        span_ns = (scene.shift.begin_ns, scene.shift.end_ns)
        return handover_rows(
            scene.picture,
            scene.shift,
            scene.events,
            scene.sealed,
            left_in_shift(self._records, scene.picture, span_ns),
            scene.look,
        )

    def wants(self, _choice: str, now_ns: int) -> Sequence[Wish]:
        """Return what was told of the loads of the shift, their way before it included."""
        end_ns = (now_ns // LEFT_STEP_NS + 1) * LEFT_STEP_NS
        return (Wish("left", end_ns - LEFT_NS, end_ns, 0, is_curve=False, loads=MOST_LEFT),)


class HelpView(View):
    """What am I looking at; cautions; what no signal tells; keys."""

    NAME: ClassVar[str] = "help"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return the whole help, to scroll in."""
        return guide_rows(scene.keys, scene.where, scene.look)

    def idle(self, _scene: Scene) -> frozenset[str]:
        """The help is about nothing that has a trend or a why."""
        return frozenset({"trend", "explain"})


class ExplainView(View):
    """Why the figures of one thing are what they are."""

    NAME: ClassVar[str] = "explain"

    def __init__(self, subject: str = "") -> None:
        about, _, self.also = subject.partition(" tag ")
        super().__init__(about)
        self.choice = ""

    def title(self, scene: Scene) -> str:
        """Return what is explained."""
        return f"why: {called(scene.picture, self.subject)}"

    def body(self, scene: Scene) -> Sequence[Row]:
        """Return what the picture tells of the figures, then what was worked out."""
        rows = why_rows(scene.picture, target("tag", self.also), scene.look)
        if not scene.why:
            rows += why_rows(scene.picture, self.subject, scene.look, self.also)
        for each in scene.why:
            rows += explanation_rows(each, scene.look)
        bath = bath_of(scene.picture, id_of(self.subject))
        if scene.why and kind_of(self.subject) == "bath" and bath is not None:
            rows += bath_more_why(bath, scene.look)
        said = "there is no figure here to explain"
        if kind_of(self.subject) == "load":
            said += " yet: a load's figures are worked out when a stay of it has ended"
        return rows or [row(Span(f"  {said}", "quiet"))]


VIEWS: Final[dict[str, type[View]]] = {
    each.NAME: each
    for each in (
        LineView,
        TankView,
        RectifiersView,
        BathsView,
        LoadsView,
        LoadView,
        LinksView,
        AlarmsView,
        EventsView,
        HandoverView,
        RinsesView,
        SheetView,
        LaboratoryView,
        TrendView,
        HelpView,
        ExplainView,
    )
}


def view_of(name: str, subject: str = "") -> View:
    """Return a new view by name, turned to a subject."""
    return VIEWS[name](subject)
