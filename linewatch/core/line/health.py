"""Follows every rectifier against its own past: ripple, cell, heat, power, modules, contact.

Rule 1: nothing is learned or judged while it is out of service; 'serviced' and 'replaced' begin
        a new base.
Rule 2: a bad value tells nothing; a whole look is passed over.
Rule 3: this study reads signals; what they mean is core/diagnostics. Power, modules and turns
        are read in core/line/health_looks.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import median
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.diagnostics.cell_watch import CellPoint, CellTold, CellWatch
from linewatch.core.diagnostics.heat_watch import HeatTold, HeatWatch
from linewatch.core.diagnostics.power_watch import PowerWatch
from linewatch.core.diagnostics.ripple_watch import RippleTold, RippleWatch
from linewatch.core.diagnostics.sharing_watch import SharingWatch
from linewatch.core.diagnostics.turn_watch import TurnWatch
from linewatch.core.events import Event, EventKind
from linewatch.core.line.health_looks import Beside, beside, power, rests, sharing, turning
from linewatch.core.line.loads import loads_of
from linewatch.core.line.study import Study
from linewatch.core.rules.health import CELL_RISES, CELL_STEPS, HEALTH, RIPPLE_FAULT, RUNS_HOT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.line.loads import Loads
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan, RectifierPlan, TankPlan
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000
FLOWS_RATIO: Final = 0.10
"""Below this share of the rated current nothing is judged."""
LEAST_UNITS: Final = 3
"""Other units that must tell of the room before it is believed."""
UNKNOWN_TOLERANCE: Final = 1.0
USUAL_TOLERANCE: Final = 0.05
"""Of a rectifier of which nobody has stated it."""
MARKS: Final = frozenset({"serviced", "replaced"})


@dataclass(slots=True)
class Unit:
    """What is kept of one rectifier."""

    ripple: RippleWatch
    cell: CellWatch = field(default_factory=CellWatch)
    heat: HeatWatch = field(default_factory=HeatWatch)
    power: PowerWatch = field(default_factory=PowerWatch)
    sharing: SharingWatch = field(default_factory=SharingWatch)
    turn: TurnWatch = field(default_factory=TurnWatch)
    beside: Beside = field(default_factory=Beside)
    """What is read besides current and volts; by the configuration, not remembered."""
    active: list[str] = field(default_factory=list)
    """Names of its findings that stand."""
    texts: dict[str, str] = field(default_factory=dict)
    """Evidence in words, by finding."""
    since_utc_ns: dict[str, int] = field(default_factory=dict)
    is_on: bool = False
    starts: int = 0
    on_s: float = 0.0
    seen_ns: int = -1
    base_utc_ns: int = 0
    """When its base was begun anew; 0: with the record."""


class Health(Study):
    """Watches the rectifiers.

    Args:
        plan: The line as it is configured.
    """

    NAME = "health"
    PERIOD_NS = 15 * NS

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        names = {rule.name for rule in HEALTH}
        self._alarm = {
            condition.tag: number
            for number, condition in enumerate(plan.conditions)
            if condition.kind == "found" and condition.tag.rpartition(".")[2] in names
        }
        watched = {tag.rpartition(".")[0] for tag in self._alarm}
        self._plans = [each for each in plan.rectifiers if each.id in watched]
        self.units = {each.id: _unit(each, plan) for each in self._plans}
        self._tanks = {tank.id: tank for tank in plan.tanks}

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a rectifier to look at."""
        return self.PERIOD_NS if self._plans else 0

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear that a unit was serviced or replaced: what was learned no longer holds."""
        values = event.values
        if event.kind is not EventKind.COMMAND or values.get("what") not in MARKS:
            return []
        name = str(values.get("rectifier"))
        plan = next((each for each in self._plans if each.id == name), None)
        if plan is None:
            return []
        events: list[Event] = []
        for finding in list(self.units[name].active):
            events += self._turn(line, name, finding, event.moment, 0.0, active=False)
        kept = self.units[name]
        self.units[name] = fresh = _unit(plan, self.plan)
        fresh.base_utc_ns, fresh.starts, fresh.on_s = event.utc_ns, kept.starts, kept.on_s
        return events

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look at every rectifier."""
        events: list[Event] = []
        loads = loads_of(line)
        for plan in self._plans:
            if plan.id in line.alarms.out:
                continue
            events += self._electric(line, loads, plan, at)
        return events + self._heat(line, at)

    # Ripple and cell.

    def _electric(
        self, line: Line, loads: Loads | None, plan: RectifierPlan, at: Moment
    ) -> list[Event]:
        unit = self.units[plan.id]
        current, volts = (line.good(f"{plan.id}.{kind}") for kind in ("current", "voltage"))
        if current is None or volts is None:
            return []
        current, volts = abs(current), abs(volts)
        self._count(unit, plan, current, at)
        if current < FLOWS_RATIO * plan.rated_current_a:
            unit.ripple.before = -1.0
            return self._at_rest(line, plan, unit, at)
        events: list[Event] = []
        ripple = line.good(f"{plan.id}.ripple")
        if ripple is not None and plan.rated_voltage_v > 0.0:
            told = unit.ripple.look(ripple, volts / plan.rated_voltage_v)
            if told is not None:
                events += self._ripple_told(line, plan, told, at)
        for finding, verdict in (
            *power(line, plan, unit, (current, volts)),
            *sharing(line, unit),
        ):
            events += self._found(line, plan.id, finding, at, verdict)
        there = [tank for tank, _ in plan.feeds if line.positions.present.get(tank)]
        if len(there) != 1:
            # Without work there is no cell; with work in two tanks, two.
            return events
        tank = self._tanks[there[0]]
        point = _point(line, plan, tank, loads, (current, volts))
        came_ns = line.positions.changed_ns.get(tank.id, 0)
        since_s = (at.mono_ns - came_ns) / NS
        for finding, verdict in turning(line, unit, plan.id, came_ns):
            events += self._found(line, plan.id, finding, at, verdict)
        told_cell = unit.cell.look(point, since_s, at.mono_ns)
        return events + self._after_cell(line, plan, told_cell, at)

    def _at_rest(self, line: Line, plan: RectifierPlan, unit: Unit, at: Moment) -> list[Event]:
        """Take that nothing flows that could be judged: a load, if one was in, is whole."""
        events = self._after_cell(line, plan, unit.cell.leave(at.mono_ns), at)
        for finding, verdict in rests(unit):
            events += self._found(line, plan.id, finding, at, verdict)
        return events

    def _count(self, unit: Unit, plan: RectifierPlan, current_a: float, at: Moment) -> None:
        is_on = current_a > 0.01 * plan.rated_current_a
        if is_on and unit.is_on and unit.seen_ns >= 0:
            unit.on_s += (at.mono_ns - unit.seen_ns) / NS
        unit.starts += is_on and not unit.is_on
        unit.is_on, unit.seen_ns = is_on, at.mono_ns

    def _ripple_told(
        self, line: Line, plan: RectifierPlan, told: RippleTold, at: Moment
    ) -> list[Event]:
        unit = self.units[plan.id]
        text = f"ripple {told.ripple_percent:.1f} %, at this output {told.usual_percent:.1f} %"
        text += " is usual"
        if told.like:
            text += f": as {told.like} ({told.like_percent:.0f} % by theory, unsmoothed)"
        return self._found(
            line, plan.id, RIPPLE_FAULT, at, (told.ratio, text, unit.ripple.is_odd)
        )

    def _after_cell(
        self, line: Line, plan: RectifierPlan, told: CellTold | None, at: Moment
    ) -> list[Event]:
        unit = self.units[plan.id]
        cell = unit.cell
        jumped = cell.step > 0.0
        events = self._found(
            line,
            plan.id,
            CELL_STEPS,
            at,
            (100 * cell.step, f"volts jumped by {100 * cell.step:.0f} % within a load", jumped),
        )
        if told is None:
            return events
        by = "the fitted line" if told.is_line else "the usual level"
        rises_h = (at.mono_ns - cell.since_ns) / (3600.0 * NS)
        text = (
            f"{told.voltage_v:.2f} V where {by} has {told.usual_v:.2f} V,"
            f" {100 * told.rise_ratio:+.0f} % load after load for {rises_h:.1f} h;"
            f" {told.extra_w:.0f} W more"
        )
        return events + self._found(
            line,
            plan.id,
            CELL_RISES,
            at,
            (100 * told.rise_ratio, text, cell.has_risen),
        )

    # Heat.

    def _heat(self, line: Line, at: Moment) -> list[Event]:
        sinks: dict[str, float] = {}
        left: dict[str, float] = {}
        for plan in self._plans:
            sink, current = (
                line.good(f"{plan.id}.{kind}") for kind in ("heat-sink", "current")
            )
            if sink is None or current is None or plan.id in line.alarms.out:
                continue
            heat = self.units[plan.id].heat
            ratio = abs(current) / plan.rated_current_a
            left_k = heat.feel(sink, ratio, at.mono_ns)
            if heat.change:
                sinks[plan.id] = sink
            # What losses do not explain is the room, if most of the units agree.
            if left_k is not None and not heat.runs_hot:
                left[plan.id] = left_k
        events: list[Event] = []
        for name, sink in sinks.items():
            others = [each for other, each in left.items() if other != name]
            room_k = median(others) if len(others) >= LEAST_UNITS else None
            told = self.units[name].heat.judge(room_k, sink)
            if told is not None:
                events += self._heat_told(line, name, told, at)
        return events

    def _heat_told(self, line: Line, name: str, told: HeatTold, at: Moment) -> list[Event]:
        usual, now = told.usual_k, told.usual_k * (1.0 + told.excess_ratio)
        text = (
            f"heat-sink {told.sink_degc:.0f} degC: it warms by {now:.0f} K at rated current,"
            f" {usual:.0f} K is usual: {100 * told.excess_ratio:+.0f} % thermal resistance"
        )
        hot = self.units[name].heat.runs_hot
        return self._found(line, name, RUNS_HOT, at, (100 * told.excess_ratio, text, hot))

    # Findings.

    def _found(
        self, line: Line, name: str, finding: str, at: Moment, told: tuple[float, str, bool]
    ) -> list[Event]:
        value, text, is_there = told
        unit = self.units[name]
        if is_there:
            unit.texts[finding] = text
        if is_there == (finding in unit.active):
            return []
        return self._turn(line, name, finding, at, value, active=is_there)

    def _turn(
        self,
        line: Line,
        name: str,
        finding: str,
        at: Moment,
        value: float,
        *,
        active: bool,
    ) -> list[Event]:
        unit = self.units[name]
        number = self._alarm.get(f"{name}.{finding}")
        if number is None:
            return []
        if active:
            unit.active.append(finding)
            unit.since_utc_ns[finding] = at.utc_ns
        else:
            unit.active.remove(finding)
            unit.texts.pop(finding, None)
            unit.since_utc_ns.pop(finding, None)
        events = line.alarms.turned(number, at, value, active=active)
        if active:
            events.append(
                Event(
                    kind=EventKind.FINDING,
                    subject=name,
                    utc_ns=at.utc_ns,
                    mono_ns=at.mono_ns,
                    text=unit.texts.get(finding, finding),
                    values={"finding": finding, "value": value},
                )
            )
        return events

    # Memory.

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on; see `recall`."""
        units = {
            name: {
                **{each: getattr(unit, each).remember() for each in _WATCHES},
                **{each: getattr(unit, each) for each in _PLAIN},
            }
            for name, unit in self.units.items()
        }
        return {"units": units}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for what the plan no longer has.

        A watch that an earlier linewatch did not have, or kept in another way, begins anew.
        """
        for name, each in kept["units"].items():
            unit = self.units.get(name)
            if unit is None:
                continue
            for watch in _WATCHES:
                if watch in each:
                    getattr(unit, watch).recall(each[watch])
            for plain in _PLAIN:
                setattr(unit, plain, each[plain])
            unit.active = [
                finding for finding in unit.active if f"{name}.{finding}" in self._alarm
            ]


_WATCHES = ("ripple", "cell", "heat", "power", "sharing", "turn")
_PLAIN = (
    "active",
    "texts",
    "since_utc_ns",
    "is_on",
    "starts",
    "on_s",
    "seen_ns",
    "base_utc_ns",
)


def health_of(line: Line) -> Health | None:
    """Return the study of a line's rectifiers; None if nobody follows them."""
    return line.studies.of(Health)


def _point(
    line: Line,
    plan: RectifierPlan,
    tank: TankPlan,
    loads: Loads | None,
    read: tuple[float, float],
) -> CellPoint:
    """Return what the loaded cell of a tank shows, by (current [A], volts [V])."""
    area, tolerance = tank.area_dm2, UNKNOWN_TOLERANCE
    asked = loads.asked_in(tank) if loads is not None else None
    if asked is not None and asked.area_dm2:
        area = asked.area_dm2
        if asked.area_tolerance_ratio is not None:
            tolerance = asked.area_tolerance_ratio
        elif plan.area_tolerance_ratio < USUAL_TOLERANCE:
            # Somebody has stated how alike the loads are; the default only hopes so.
            tolerance = plan.area_tolerance_ratio
    current, volts = read
    return CellPoint(
        current_a=current,
        voltage_v=volts,
        density_a_per_dm2=current / (area or 1.0),
        temperature_degc=line.good(f"{tank.id}.temperature"),
        area_tolerance_ratio=tolerance,
    )


def _unit(plan: RectifierPlan, whole: LinePlan) -> Unit:
    return Unit(
        ripple=RippleWatch(plan.pulses, plan.ripple_definition), beside=beside(plan, whole)
    )
