"""Follows what is let go: volume, minutes outside limits, extremes; told whole, hour by hour.

Rule 1: an hour is one of the wall clock's; its parts are told in one event when it ends, so
        that any day, of any time zone whose hours are whole, is a sum of hours.
Rule 2: while nobody knows whether water flows, nobody knows what went with it: such time is
        told as unknown, never as none.
Rule 3: a reading of which something says that it is not what it looks like (it no longer moves,
        its probe is broken) is not known, as long as that stands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewatch.core.alarms.states import STANDING, State
from linewatch.core.alarms.wording import title
from linewatch.core.events import Event, EventKind, Part
from linewatch.core.line.doubted import Doubted
from linewatch.core.line.study import Study
from linewatch.core.water.analysed import Analysed, against, not_judged
from linewatch.core.water.day import WHAT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan, TankPlan
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000
HOUR_NS: Final = 3600 * NS
LONGEST_S: Final = 120.0
"""Between two looks; a longer time was not looked at, and is unknown."""
MAY: Final = "no signal speaks against letting water go"
MUST_NOT: Final = "DO NOT LET WATER GO"
WHOLE_S: Final = 3540.0
"""An hour that was watched for so long was watched."""
FLOWS_L_PER_MIN: Final = 0.05
PRESSING: Final = frozenset({"high", "highest"})
"""Alarms of a stage before it that speak against letting water go."""
DOUBTING: Final = frozenset({"found", "frozen"})
"""Kinds of alarms of the place itself that say that a reading is not what it looks like."""


class Discharges(Study):
    """Keeps the running hour of every place whose permit the plan states.

    Args:
        plan: The line as it is configured.
    """

    NAME = "discharges"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self._tanks = tuple(tank for tank in plan.tanks if tank.permit)
        self.hours: dict[str, dict[str, float]] = {tank.id: {} for tank in self._tanks}
        doubted = Doubted(plan) if self._tanks else None
        self._doubts = {
            tank.id: {kind: doubted.by(tank.id, kind) for kind in tank.permit}
            for tank in self._tanks
            if doubted is not None
        }
        """By place and kind of the permit, the alarms that say that a reading means nothing."""
        self.pressing = {
            tank.id: _pressing(plan, tank, self._doubts[tank.id]) for tank in self._tanks
        }
        """By place, the alarms that speak against letting go: number, stage."""
        self.flow: dict[str, float] = {}
        """At the last look [L/min]: between two looks it is taken to go evenly."""
        self.hour = -1
        """Which hour of the wall clock runs [hours since 1970]; -1: none yet."""
        self.looked_ns = -1
        self.analysed = Analysed([tank.id for tank in self._tanks])

    def hear(self, line: Line, event: Event) -> list[Event]:  # noqa: ARG002 - a study's
        """Hear what the laboratory found of the water."""
        if event.kind is EventKind.ANALYSIS:
            self.analysed.hear(event)
        return []

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a discharge."""
        return self.PERIOD_NS if self._tanks else 0

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Count since the last look; tell of an hour that is over."""
        events: list[Event] = []
        hour = at.utc_ns // HOUR_NS
        if self.hour >= 0 and hour != self.hour:
            events = [self._told(tank, line, at) for tank in self._tanks if self.hours[tank.id]]
            self.hours = {tank.id: {} for tank in self._tanks}
        self.hour = hour
        since_s = (at.mono_ns - self.looked_ns) / NS if self.looked_ns >= 0 else 0.0
        self.looked_ns = at.mono_ns
        for tank in self._tanks:
            self._count(line, tank, since_s)
            flow = line.good(f"{tank.id}.flow")
            if flow is not None:
                self.flow[tank.id] = flow
            else:
                self.flow.pop(tank.id, None)
        return events

    def _count(self, line: Line, tank: TankPlan, since_s: float) -> None:
        row = self.hours[tank.id]
        if since_s > LONGEST_S:
            _add(row, "unknown_s", since_s - LONGEST_S)
            since_s = LONGEST_S
        flow = line.good(f"{tank.id}.flow")
        if flow is None and f"{tank.id}.flow" in line.plan.tags:
            _add(row, "unknown_s", since_s)
        elif flow is not None and flow < FLOWS_L_PER_MIN:
            _add(row, "still_s", since_s)
            return
        else:
            _add(row, "flowed_s", since_s)
            mean = (flow + self.flow.get(tank.id, flow)) / 2.0 if flow is not None else 0.0
            _add(row, "volume_m3", mean * since_s / 60.0 / 1000.0)
        active, doubts = line.alarms.active, self._doubts[tank.id]
        for kind, window in tank.permit.items():
            value = line.good(f"{tank.id}.{kind}")
            if value is None or any(active[number] for number in doubts[kind]):
                _add(row, f"{kind}_unknown_s", since_s)
                continue
            _add(row, f"{kind}_good_s", since_s)
            _add(row, f"{kind}_sum", value * since_s)
            row[f"{kind}_low"] = min(row.get(f"{kind}_low", value), value)
            row[f"{kind}_high"] = max(row.get(f"{kind}_high", value), value)
            is_low = window.low is not None and value < window.low
            is_high = window.high is not None and value > window.high
            if is_low or is_high:
                _add(row, f"{kind}_outside_s", since_s)

    def _told(self, tank: TankPlan, line: Line, at: Moment) -> Event:
        row = self.hours[tank.id]
        outside_s = max(
            (row.get(f"{kind}_outside_s", 0.0) for kind in tank.permit), default=0.0
        )
        seen_s = sum(row.get(f"{each}_s", 0.0) for each in ("flowed", "still", "unknown"))
        part = "" if seen_s >= WHOLE_S else f", of which {seen_s / 60.0:.0f} min were watched"
        text = f"{row.get('volume_m3', 0.0):.2f} m3 in the hour that is over{part}"
        if outside_s:
            text += f", {outside_s / 60.0:.0f} min of it outside its permit"
        values: dict[str, Part] = {
            "what": WHAT,
            "hour": self.hour,
            "kinds": ",".join(tank.permit),
            **row,
            "fingerprint": line.plan.fingerprint,
        }
        for kind, window in tank.permit.items():
            values[f"{kind}_limit_low"], values[f"{kind}_limit_high"] = window.low, window.high
        # It belongs to the hour that is over, whenever the next look comes.
        return Event(
            kind=EventKind.DISCHARGE,
            subject=tank.id,
            utc_ns=min(at.utc_ns, (self.hour + 1) * HOUR_NS - 1),
            mono_ns=at.mono_ns,
            text=text,
            values=values,
        )

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {
            "hours": self.hours,
            "flow": self.flow,
            "hour": self.hour,
            "looked_ns": self.looked_ns,
            "analysed": self.analysed.remember(),
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for places that the plan no longer has."""
        self.flow = dict(kept["flow"])
        self.hour, self.looked_ns = kept["hour"], kept["looked_ns"]
        self.analysed.recall(kept.get("analysed", {}))
        for name, row in kept["hours"].items():
            if name in self.hours:
                self.hours[name] = dict(row)


def _pressing(
    plan: LinePlan, tank: TankPlan, doubts: Mapping[str, tuple[int, ...]]
) -> list[tuple[int, TankPlan]]:
    stages = {
        each.id: each
        for each in plan.tanks
        if each.track == tank.track and each.kind == "treat" and each.id != tank.id
    }
    before = [
        (number, stages[name])
        for number, condition in enumerate(plan.conditions)
        if condition.priority in PRESSING
        and (name := condition.tag.partition(".")[0]) in stages
    ]
    # Its values are held against the permit themselves, but a probe that is dead shows good
    # ones: what says so counts as much as a value outside.
    own = [
        (number, tank)
        for number, condition in enumerate(plan.conditions)
        if condition.kind in DOUBTING
        and condition.tag.partition(".")[0] == tank.id
        and (condition.priority in PRESSING or condition.tag.partition(".")[2] in tank.permit)
    ]
    # What doubts it and is no alarm of its own is that its whole link stands still.
    links = {k for numbers in doubts.values() for k in numbers} - {k for k, _ in own}
    still = sorted(k for k in links if plan.conditions[k].tag.partition(".")[0] in plan.links)
    return own + [(number, tank) for number in still] + before


def _add(row: dict[str, float], name: str, value: float) -> None:
    row[name] = row.get(name, 0.0) + value


def may_discharge(line: Line, tank: TankPlan, at: Moment) -> tuple[str, ...]:
    """Return why water must not be let go at a place now; nothing: nothing speaks against it.

    Args:
        line: The line.
        tank: The place.
        at: Now.
    """
    reasons = []
    for kind, window in tank.permit.items():
        value = line.good(f"{tank.id}.{kind}")
        if value is None:
            reasons.append(f"{kind} is not known now")
        elif window.low is not None and value < window.low:
            reasons.append(f"{kind} {value:.4g}, at least {window.low:g} is allowed")
        elif window.high is not None and value > window.high:
            reasons.append(f"{kind} {value:.4g}, at most {window.high:g} is allowed")
    discharges = line.studies.of(Discharges)
    if discharges is None:
        return tuple(dict.fromkeys(reasons))
    newest = discharges.analysed.newest(tank.id, at.utc_ns)
    reasons += against(line.plan.permits, newest)
    for number, stage in discharges.pressing[tank.id]:
        if State(line.alarms.state[number]) in STANDING:
            condition = line.plan.conditions[number]
            reasons.append(f"{stage.name}: {title(line.plan, condition)}")
    return tuple(dict.fromkeys(reasons))


def not_analysed(line: Line, tank: TankPlan, at: Moment) -> tuple[str, ...]:
    """Return of which limits no analysis of the last day tells: said, never judged."""
    discharges = line.studies.of(Discharges)
    if discharges is None:
        return ()
    return not_judged(line.plan.permits, discharges.analysed.newest(tank.id, at.utc_ns))
