"""A small invented line, run by the real `Line` into a real journal, troubles included."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from linewatch.core.commands import Acknowledge, SetLineState, Shelve, WriteNote
from linewatch.core.errors import Refused
from linewatch.core.line import Line
from linewatch.core.plan import (
    BathPlan,
    ConditionPlan,
    DepositPlan,
    EfficiencyPlan,
    LinePlan,
    RectifierPlan,
    TagPlan,
    TankPlan,
)
from linewatch.core.ports import COLLECTORS_PARTS, Batch, Order, RunStart, Stood, Tick
from linewatch.core.readings import Layout, Moment, Quality, Readings

NS = 10**9
BEGIN_UTC_NS = 1_772_000_000 * NS
PERIOD_NS = 2 * NS
SPANS = {
    "temperature": (-30.0, 350.0),
    "level": (-50.0, 6000.0),
    "current": (-50000.0, 50000.0),
    "voltage": (-100.0, 100.0),
    "charge-meter": (0.0, 1e10),
    "load-present": (0.0, 1.0),
}


def layout(device: str, *tags: str) -> Layout:
    return Layout(link=f"link-{device}", device=device, tags=tags, period_ns=PERIOD_NS)


TANKS = layout(
    "io", "nickel.temperature", "nickel.level", "nickel.load-present", "soak.temperature"
)
FIRST = layout("r1", "r1.current", "r1.voltage", "r1.charge-meter")
SECOND = layout("r2", "r2.current", "r2.voltage")


def _condition(tag: str, kind: str, limit: float, **parts: object) -> ConditionPlan:
    return ConditionPlan(
        id=f"{tag}.{kind}", tag=tag, kind=kind, limit=limit, **{"deadband": 0.5, **parts}
    )


def plan(*, high: float = 66.0, fingerprint: str = "a" * 64) -> LinePlan:
    """Return the line's plan; `high` is the limit of the nickel bath's temperature."""
    tags = {
        tag: TagPlan(
            id=tag,
            subject=tag.split(".", maxsplit=1)[0],
            kind=tag.split(".")[1],
            low=SPANS[tag.split(".")[1]][0],
            high=SPANS[tag.split(".")[1]][1],
            period_ns=PERIOD_NS,
            stale_after_ns=3 * PERIOD_NS,
        )
        for each in (TANKS, FIRST, SECOND)
        for tag in each.tags
    }
    nickel = DepositPlan(
        parts=(("Ni(II)", 1.0),), efficiency=EfficiencyPlan(value=0.96, low=0.93, high=0.98)
    )
    return LinePlan(
        line_id="plated",
        name="Plated",
        fingerprint=fingerprint,
        layouts=(TANKS, FIRST, SECOND),
        tags=tags,
        tanks=(
            TankPlan(id="soak", name="Soak", kind="clean"),
            TankPlan(id="nickel", name="Nickel", kind="plate", bath="watts"),
        ),
        rectifiers=tuple(
            RectifierPlan(
                id=name,
                name=name,
                feeds=(("nickel", 1.0),),
                rated_current_a=3000.0,
                rated_voltage_v=12.0,
                meter_modulus_ah=1e6 if name == "r1" else None,
                zero_cutoff_a=3.0,
            )
            for name in ("r1", "r2")
        ),
        baths=(BathPlan(id="watts", name="Watts nickel", deposit=nickel),),
        conditions=(
            _condition("nickel.temperature", "high", high, on_delay_ns=20 * NS),
            _condition("nickel.temperature", "low", 58.0, off_delay_ns=10 * NS),
            _condition("nickel.level", "low", 900.0, deadband=10.0, latch=True),
            _condition("soak.temperature", "bad-quality", 0.0, on_delay_ns=6 * NS),
            _condition("r1.current", "bad-quality", 0.0, on_delay_ns=6 * NS),
            _condition("r2.voltage", "high", 9.0, suppress_when=("no-load",)),
        ),
    )


@dataclass
class Plant:
    """Makes entries: mostly calm, now and then something happens."""

    seed: int = 1
    second: float = 0.0
    meter_ah: float = 48_000.0
    step_ns: int = 0
    """By how much the wall clock was set."""
    troubles: bool = True
    random: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self.random = np.random.default_rng(self.seed)

    def moment(self, late_s: float = 0.0) -> Moment:
        mono_ns = round((self.second + late_s) * NS)
        return Moment(utc_ns=BEGIN_UTC_NS + mono_ns + self.step_ns, mono_ns=mono_ns)

    def entries(self):
        """Return what two seconds bring."""
        self.second += 2.0
        found = [self._tanks(0.1)]
        if not self._is(1000, 1100):
            found.append(self._first(0.3))
        found.append(self._second(0.5))
        found += [Tick(at=self.moment(0.9)), Tick(at=self.moment(1.9))]
        return [each for each in found if each is not None]

    def _is(self, begin: float, end: float) -> bool:
        return self.troubles and begin <= self.second % 3600 < end

    def _block(self, which: Layout, late_s: float, values, bad: int | None = None) -> Readings:
        at = self.moment(late_s + float(self.random.uniform(0, 0.05)))
        value = np.array(values, dtype=np.float64)
        quality = np.zeros(len(value), dtype=np.uint8)
        if bad is not None:
            value[bad], quality[bad] = np.nan, Quality.SENSOR_FAULT
        return Readings(
            layout=which,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            value=value,
            quality=quality,
        )

    def _tanks(self, late_s: float) -> Readings:
        hot = 4.0 if self._is(300, 420) else 0.0
        values = [
            round(63.0 + hot + float(self.random.normal(0, 0.05)), 1),
            880.0 if self._is(700, 760) else 1000.0 + float(self.random.integers(0, 3)),
            float(self.second % 1200 < 900),
            55.0,
        ]
        return self._block(TANKS, late_s, values, bad=3 if self._is(1500, 1560) else None)

    def _first(self, late_s: float) -> Readings:
        current_a = 0.0 if self.second % 1200 >= 900 else 2400.0
        current_a += float(self.random.integers(-2, 3)) if current_a else 0.0
        self.meter_ah += current_a * 2.0 / 3600.0
        values = [current_a, 6.0, float(int(self.meter_ah)) % 1e6]
        return self._block(FIRST, late_s, values, bad=0 if self._is(2000, 2016) else None)

    def _second(self, late_s: float) -> Readings:
        volts = 9.5 if self._is(2500, 2520) else 5.0
        return self._block(SECOND, late_s, [800.0 + self.second % 3, volts])


class LiveLine:
    """A collector without instruments: feeds the line, and hands every batch to the journal."""

    def __init__(self, journal, which: LinePlan, plant: Plant) -> None:
        self.plan = which
        self.journal = journal
        self.plant = plant
        self.line = Line(which, journal.memory())
        self._batches = 0
        self.events: list = []
        self.entries: list = []
        self._new_events: list = []
        self._outcomes: dict[int, str] = {}

    def begin(self, run_id: str) -> None:
        start = RunStart(
            run_id=run_id,
            at=self.plant.moment(),
            fingerprint=self.plan.fingerprint,
            speed=1.0,
        )
        self.take(start)

    def take(self, entry) -> None:
        match entry:
            case Readings():
                told = self.line.receive(entry)
            case Tick():
                told = self.line.tick(entry.at)
            case Order():
                told = self.line.obey(entry)
            case RunStart():
                told = self.line.begin(entry)
            case Stood():
                told = self.line.stood(entry)
        self.entries.append(entry)
        self._new_events += told

    def ask(self, desk, command) -> None:
        """Leave a request and carry it out, as a collector does."""
        desk.request(command)
        self.journal.settle()
        for request in self.journal.requests():
            order = Order(
                request=request.number, command=request.command, at=self.plant.moment()
            )
            try:
                self.take(order)
                self._outcomes[request.number] = ""
            except Refused as refused:
                self._outcomes[request.number] = str(refused)
        self.hand_over()
        self.journal.settle()

    def run(self, seconds: float, *, batch: int = 40) -> None:
        """Let time go by; a batch holds so many entries."""
        end = self.plant.second + seconds
        taken = 0
        while self.plant.second < end:
            for entry in self.plant.entries():
                self.take(entry)
                taken += 1
            if taken >= batch:
                self.hand_over()
                taken = 0
        self.hand_over()

    def _collectors_part(self) -> dict[str, bytes]:
        """Return what a collector remembers beside the line, another thing with each batch."""
        self._batches += 1
        return {f"{COLLECTORS_PARTS}clock": str(self._batches).encode()}

    def hand_over(self) -> None:
        self.journal.append(
            Batch(
                entries=self.entries,
                events=self._new_events,
                memory={**self.line.changed_memory(), **self._collectors_part()},
                totals=self.line.totals(),
                outcomes=self._outcomes,
            )
        )
        self.events += self._new_events
        self.entries, self._new_events, self._outcomes = [], [], {}


def eventful_record(store) -> LiveLine:
    """Record some hours: troubles, people, two runs and plans, a clock that is set."""
    from linewatch import history

    journal = history.open_journal(store, "plated")
    desk = history.open_desk(store, "plated")
    plant = Plant()
    first = plan()
    journal.record_configuration(
        first.fingerprint, "first", who="ab", why="start", at=plant.moment()
    )
    live = LiveLine(journal, first, plant)
    live.begin("run-1")
    live.run(1000)
    live.ask(desk, Acknowledge(who="ab", alarm="*"))
    live.run(900)
    live.ask(
        desk,
        Shelve(who="cd", alarm="nickel.level.low", for_s=600.0, why="gauge is being cleaned"),
    )
    live.ask(desk, Acknowledge(who="cd", alarm="no.such.alarm"))
    live.run(1400)
    plant.second += 97
    live.take(Stood(at=plant.moment(), for_ns=97 * NS))
    live.run(1600)
    plant.step_ns -= 3600 * NS
    live.run(2000)
    live.ask(desk, SetLineState(who="ab", state="planned-stop", why="end of shift"))
    plant.step_ns += 7200 * NS
    live.run(1500)
    events = live.events
    plant.second += 500
    second = plan(high=68.0, fingerprint="b" * 64)
    journal.settle()
    journal.record_configuration(
        second.fingerprint, "second", who="ab", why="hotter", at=plant.moment()
    )
    live = LiveLine(journal, second, plant)
    live.events = events
    live.begin("run-2")
    live.run(4000)
    live.ask(desk, WriteNote(who="ef", subject="nickel", text="[b]foam[/b]"))
    live.run(100)
    journal.settle()
    assert journal.archivist.settle(), journal.archivist.trouble
    journal.close()
    desk.close()
    return live


PLANS = {"a" * 64: plan(), "b" * 64: replace(plan(high=68.0), fingerprint="b" * 64)}
