"""Follows loads from position to position, and what befalls all units at once.

Rule 1: what is odd is told by what was usual: where a load comes from is learned, so that no
        route need be written down.
Rule 2: what happened while nobody looked is no habit, and nothing odd is told by it; see
        core/line/ways.py.
Rule 3: one cause, one alarm: what a mains dip sets off stands in its list.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewatch.core.events import Event, EventKind
from linewatch.core.line import consequences
from linewatch.core.line.loads import loads_of
from linewatch.core.line.study import Study
from linewatch.core.line.telling import told
from linewatch.core.line.ways import HANGS_NS, LOST_NS, Ways, was_hidden
from linewatch.core.loads.record import HANGS, HUNG
from linewatch.core.rules.movement import MAINS_DIP, MOVEMENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Part
    from linewatch.core.line.machine import Line
    from linewatch.core.line.study import Unwatched
    from linewatch.core.line.ways import Out
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000
TOGETHER_NS: Final = 5 * NS
"""Units that drop out within this time have one cause: common practice."""
MINUTES_FROM_S: Final = 120.0
DIP_LASTS_NS: Final = 600 * NS
ARRIVALS: Final = ("in", "named")
SAID: Final = ("decided", "bake-begun")
"""What a person says of a load that no more hangs in the air, besides where it is."""


class Moves(Study):
    """Turns the alarms of rules that follow events.

    Args:
        plan: The line as it is configured.
    """

    NAME = "moves"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        names = {rule.name for rule in MOVEMENT}
        self._alarm = {
            condition.tag: number
            for number, condition in enumerate(plan.conditions)
            if condition.kind == "found" and condition.tag.rpartition(".")[2] in names
        }
        self._limit = {k: plan.conditions[number].limit for k, number in self._alarm.items()}
        self._shortest_s = {tank.id: tank.shortest_dwell_s for tank in plan.tanks}
        self._rectifiers = {each.id for each in plan.rectifiers}
        stations = {tag.subject for tag in plan.tags.values() if tag.kind == "load-present"}
        self.ways = Ways(plan.tanks, stations)
        self.active: list[str] = []
        self.dropped: dict[str, int] = {}
        """When units dropped out lately [ns]."""
        self.blind_until_ns: int = 0
        """Until when moves are told that happened while nobody looked [ns]."""
        self.dip_ns: int = -1
        """When the last dip began [ns]; -1: none stands."""
        self.last_dip_ns: int = -1
        """The same, also once it stands no more; -1: there was none."""

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear of loads and of units."""
        if event.kind is EventKind.LOAD:
            return self._moved(line, event)
        if event.kind is EventKind.ALARM and event.values.get("move") == "occur":
            return self._dropped_out(line, event)
        return []

    def _moved(self, line: Line, event: Event) -> list[Event]:
        """Hear where a load came in or left, or what a person says of it."""
        what, tank = event.values.get("what"), str(event.values.get("tank"))
        number = str(event.values.get("load") or "")
        if what == "out":
            return self._left(line, event, tank, number)
        if what in ARRIVALS:
            return self._arrived(line, event, tank, number)
        is_said = what in SAID or (what == "placed" and bool(event.values.get("is_in")))
        return self._no_more_out(line, event.moment, number) if is_said else []

    def _left(self, line: Line, event: Event, tank: str, number: str) -> list[Event]:
        is_hidden = event.mono_ns <= self.blind_until_ns or was_hidden(line, event)
        is_first = self.ways.has_hardly_begun(tank)
        found = self._no_more_out(line, event.moment, number)
        if number:
            self.ways.left(tank, number, event.mono_ns, is_hidden=is_hidden)
        dwell_s, least_s = event.values.get("dwell_s"), self._shortest_s.get(tank)
        is_unsure = self.ways.was_unsure(tank) or is_hidden
        if not isinstance(dwell_s, float) or not least_s or is_first or is_unsure:
            return found
        share = 100.0 * dwell_s / least_s
        key = f"{tank}.left-too-soon"
        return found + self._turn(
            line, key, event.moment, share, active=share < self._limit.get(key, 0.0)
        )

    def _arrived(self, line: Line, event: Event, tank: str, number: str) -> list[Event]:
        is_hidden = event.mono_ns <= self.blind_until_ns or was_hidden(line, event)
        if is_hidden:
            self.ways.lose_sight_of(tank)
        out = self.ways.out.pop(number, None) if number else None
        if out is None:
            return []
        before, key = out.tank, f"{tank}.odd-move"
        ended = self._ended(line, event.moment, number, out)
        if self.ways.was_unsure(number) or is_hidden:
            self.ways.went_on_unseen(before)
            return ended
        known = self.ways.known(tank)
        is_odd = before not in self.ways.came.get(tank, {}) and known >= self._limit.get(
            key, known + 1
        )
        if is_odd and self.ways.may_have_passed_unseen(line, tank, out):
            self.ways.went_on_unseen(before)
            return ended
        is_usual = not is_odd and not out.hangs
        self.ways.went_on(out, tank, event.mono_ns, is_usual=is_usual)
        return self._turn(line, key, event.moment, float(known), active=is_odd) + ended

    # Loads that hang in the air.

    def _hangs(
        self, line: Line, at: Moment, number: str, out: Out, allowed_ns: int
    ) -> list[Event]:
        """Tell that a load hangs in the air, by the limit that was really applied."""
        alarm = self._alarm[f"{out.tank}.hangs"]
        # If its whole track stands, that is what people hear of first.
        found = consequences.ask(line, alarm, at)
        out.hangs = True
        line.alarms.applied[alarm] = allowed_ns / NS
        said = "hangs in the air, {} after it left {}"
        found += self._turn(
            line, f"{out.tank}.hangs", at, (at.mono_ns - out.since_ns) / NS, active=True
        )
        return found + _told(line, at, number, out, (HANGS, said))

    def _ended(self, line: Line, at: Moment, number: str, out: Out) -> list[Event]:
        """Tell what hung and is out no more; the alarm ends with the last one from there."""
        if not out.hangs:
            return []
        found = _told(line, at, number, out, (HUNG, "hung in the air for {} after {}"))
        is_last = not self.ways.hang_from(out.tank)
        return found + (
            self._turn(line, f"{out.tank}.hangs", at, 0.0, active=False) if is_last else []
        )

    def _no_more_out(self, line: Line, at: Moment, number: str) -> list[Event]:
        """Take that a load is out no more, as a person says, or as time tells."""
        out = self.ways.out.get(number)
        if out is None:
            return []
        self.ways.forget(number)
        return self._ended(line, at, number, out)

    def pass_over(self, hole: Unwatched) -> None:
        """Leave out a time in which nobody looked: no load hung in the air by it."""
        self.blind_until_ns = hole.until_ns
        self.ways.pass_over(hole.for_ns)

    def _dropped_out(self, line: Line, event: Event) -> list[Event]:
        subject, _, what = str(event.values.get("alarm")).partition(".")
        if subject not in self._rectifiers or what not in {"fault.discrete", "current-stopped"}:
            return []
        self.dropped[subject] = event.mono_ns
        since_ns = event.mono_ns - TOGETHER_NS
        self.dropped = {name: at for name, at in self.dropped.items() if at >= since_ns}
        key = f"{line.plan.line_id}.{MAINS_DIP}"
        if len(self.dropped) < self._limit.get(key, len(self.dropped) + 1):
            return []
        if self.dip_ns < 0:
            self.dip_ns = self.last_dip_ns = min(self.dropped.values())
        return self._turn(line, key, event.moment, float(len(self.dropped)), active=True)

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look for loads that hang in the air; let a dip be over."""
        events: list[Event] = []
        self.ways.look(line, at.mono_ns)
        for number, out in list(self.ways.out.items()):
            if at.mono_ns - out.left_ns > (HANGS_NS if out.hangs else LOST_NS):
                events += self._no_more_out(line, at, number)
        for number, out, allowed_ns in self.over(line, at):
            events += self._hangs(line, at, number, out, allowed_ns)
        if 0 <= self.dip_ns < at.mono_ns - DIP_LASTS_NS:
            self.dip_ns = -1
            events += self._turn(
                line, f"{line.plan.line_id}.{MAINS_DIP}", at, 0.0, active=False
            )
        return events

    def over(self, line: Line, at: Moment) -> list[tuple[str, Out, int]]:
        """Return the loads that hang in the air and were not told to.

        Args:
            line: The line.
            at: Now.

        Returns:
            (number, its way, how long it might be out [ns]).
        """
        found = []
        for number, out in self.ways.out.items():
            if out.hangs:
                continue
            limit_s = self._limit.get(f"{out.tank}.hangs")
            allowed_ns = self.ways.allowed_ns(line, out, limit_s)
            if allowed_ns is not None and at.mono_ns - out.since_ns > allowed_ns:
                found.append((number, out, allowed_ns))
        return found

    def explains(self, began_ns: int) -> bool:
        """Say whether an alarm that began at a line time [ns] belongs to the last dip."""
        last_ns = self.last_dip_ns
        return last_ns >= 0 and abs(began_ns - last_ns) <= TOGETHER_NS

    def _turn(
        self, line: Line, key: str, at: Moment, value: float, *, active: bool
    ) -> list[Event]:
        number = self._alarm.get(key)
        if number is None or active == (key in self.active):
            return []
        if active:
            self.active.append(key)
        else:
            self.active.remove(key)
        return line.alarms.turned(number, at, value, active=active)

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            **self.ways.remember(),
            "active": self.active,
            "dropped": self.dropped,
            "dip_ns": self.dip_ns,
            "last_dip_ns": self.last_dip_ns,
            "blind_until_ns": self.blind_until_ns,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for what the plan no longer has."""
        self.ways.recall(kept)
        self.active = [key for key in kept["active"] if key in self._alarm]
        for out in self.ways.out.values():
            # An older memory holds only that one from there hangs.
            is_told = f"{out.tank}.hangs" in self.active
            out.hangs = out.hangs or (is_told and not self.ways.hang_from(out.tank))
        self.dropped, self.dip_ns = dict(kept["dropped"]), kept["dip_ns"]
        self.last_dip_ns = kept.get("last_dip_ns", self.dip_ns)
        self.blind_until_ns = kept.get("blind_until_ns", 0)


def _told(line: Line, at: Moment, number: str, out: Out, said: tuple[str, str]) -> list[Event]:
    """Return what is told of a load that hangs; nothing of one that nobody knows."""
    loads = loads_of(line)
    trip = loads.trips.get(number) if loads is not None else None
    if loads is None or trip is None:
        return []
    what, text = said
    out_s = (at.mono_ns - out.left_ns) / NS
    words = f"{out_s:.0f} s" if out_s < MINUTES_FROM_S else f"{out_s / 60.0:.0f} min"
    values: dict[str, Part] = {
        "what": what,
        "tank": out.tank,
        "left_ns": out.left_ns,
        "out_s": out_s,
    }
    return [told(trip, at, text.format(words, loads.catalogue.name(out.tank)), values)]
