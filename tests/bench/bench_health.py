"""Rectifiers that fail, on the plant's own and richer electrical model; and healthy ones.

    python tests/bench/bench_health.py [--healthy RECTIFIER_HOURS] [--runs N] [--seed N]
                                       [--only WORDS] [--json FILE] [--watch]

The works runs without sockets, as fast as it goes; its instruments' values are fed to the line
as a driver decodes them. Loads differ in size and have cards, recipes change their current
density every few hours, baths wander, the room swings through the day. In the bank, every
rectifier learns for some hours and then gets one fault, of a kind and severity drawn by the
seed; a slope or an overvoltage grows over an hour. Times are of running: for ripple at 30 % of
the rated current or more, else at 10 %.
`--watch` times the study alone on 200 rectifiers.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from bench_rules import NS, Works
from table import Measured, told

from linewatch.core.commands import LoadCard
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.line.health import Health, health_of
from linewatch.core.line.loads import Loads
from linewatch.core.line.studies import Studies
from linewatch.core.ports import Order
from linewatch.core.readings import Moment
from linewatch.core.rules.health import (
    CELL_RISES,
    CELL_STEPS,
    CONTACT_WEARS,
    EFFICIENCY,
    HEALTH,
    RHYTHM_LOST,
    RIPPLE_FAULT,
    RUNS_HOT,
    SHARING,
)

NAMES = {rule.name for rule in HEALTH}
LEARNS_H = 6.0
LASTS_H = 6.0
STEP_S = 10.0
ONLY_SHARE = 0.4
"""Share of the units that get a fault where only one kind is played."""
AREA_KNOWN = 0.05
ASKED = {"load-present", "load-number", "temperature", "speed", "line-state", "running"}
"""Kinds of what is read at tanks and tracks that health asks."""
FINE_STEP_S = 5.0
"""While a ripple fault may be found."""
FINE_FOR_S = 2700.0


@dataclass(frozen=True)
class Fault:
    """One kind of fault at one severity."""

    kind: str
    wrong: str
    value: float
    finding: str
    within_s: float | None
    """Target; None: none, only reported."""
    grows_s: float = 0.0
    """How long it takes to come to its full size: nothing jumps."""

    def at(self, since_s: float) -> float:
        """Return what the plant's knob shows some time after it began."""
        if not self.grows_s:
            return self.value
        usual = 0.0 if self.wrong == "overvoltage_v" else 1.0
        return usual + (self.value - usual) * min(1.0, since_s / self.grows_s)


FAULTS = (
    Fault("one device open", "lost_devices", 1.0, RIPPLE_FAULT, 60.0),
    Fault("input phase lost", "lost_devices", 2.0, RIPPLE_FAULT, 60.0),
    Fault("slope up 10 %", "solution_factor", 1.10, CELL_RISES, None, 3600.0),
    Fault("slope up 15 %", "solution_factor", 1.15, CELL_RISES, 2 * 3600.0, 3600.0),
    Fault("slope up 30 %", "solution_factor", 1.30, CELL_RISES, 2 * 3600.0, 3600.0),
    Fault("anodes +0.3 V", "overvoltage_v", 0.3, CELL_RISES, None, 3600.0),
    Fault("anodes +1 V", "overvoltage_v", 1.0, CELL_RISES, None, 3600.0),
    Fault("thermal resistance up 15 %", "fan", 1.0 - 0.15 / 1.6, RUNS_HOT, None),
    Fault("thermal resistance up 25 %", "fan", 1.0 - 0.25 / 1.6, RUNS_HOT, 4 * 3600.0),
    Fault("thermal resistance up 60 %", "fan", 1.0 - 0.60 / 1.6, RUNS_HOT, 4 * 3600.0),
    Fault("losses inside up 10 %", "loss_factor", 1.10, EFFICIENCY, None, 3600.0),
    Fault("losses inside up 20 %", "loss_factor", 1.20, EFFICIENCY, None, 3600.0),
    Fault("shunt reads 6 % too much", "shunt_factor", 1.06, EFFICIENCY, None),
    Fault("a module gives nothing", "dead_module", 1.0, SHARING, None),
    Fault("a module takes 35 % more", "greedy_ratio", 0.35, SHARING, None),
)
TURNING = (
    Fault("barrel's swing up 60 %", "noise_factor", 1.6, CONTACT_WEARS, None),
    Fault("barrel's swing trebled", "noise_factor", 3.0, CONTACT_WEARS, None),
    Fault("barrel stands, no speed read", "turning", 0.0, RHYTHM_LOST, None),
)
"""Told apart from the others: a swing within a turn needs a reading each second."""
TURNS_EVERY = 4
"""Of so many runs one is also played with barrels: it takes five times as long."""
TURNS_LEARN_H = 7.0
TURNS_LAST_H = 3.0


def only_health(works: Works) -> None:
    """Leave out studies and instruments that health does not ask, to play more hours."""
    line = works.line
    line.studies = Studies(line.plan, (Loads(line.plan), Health(line.plan)))
    line.find_next()
    units = {each.id for each in line.plan.rectifiers}
    works._reads = [
        (layout, reads)
        for layout, reads in works._reads
        if any(tag.split(".")[0] in units or tag.split(".")[1] in ASKED for tag in layout.tags)
    ]


class Bank:
    """The works with everything that changes on a healthy line."""

    def __init__(self, seed: int) -> None:
        self.works = Works(seed)
        self.works.step_s = STEP_S
        only_health(self.works)
        self.chance = np.random.default_rng(seed)
        parts: dict[str, Any] = self.works.plant.works.parts
        self.electrics, self.loads = parts["electrics"], parts["loads"]
        self.solutions = parts["solutions"]
        self.known: set[int] = set()
        self.units = list(self.electrics.ids)
        self._recipe_due_s = np.zeros(len(self.units))
        self._room_k = 0.0

    def go_on(self, for_s: float) -> list[Event]:
        """Let a line go on; return what it told."""
        events: list[Event] = []
        end_s = self.works.now_s + for_s
        while self.works.now_s < end_s - 1e-6:
            self._change()
            self._cards()
            events += self.works.go_on(self.works.step_s)
        return events

    def _change(self) -> None:
        now_s = self.works.now_s
        for k in np.flatnonzero(now_s >= self._recipe_due_s):
            self.electrics.wrong.set_factor[k] = self.chance.uniform(0.7, 1.05)
            self._recipe_due_s[k] = now_s + self.chance.uniform(1.0, 4.0) * 3600.0
        if now_s % 600.0 < self.works.step_s:
            self._room_k = 0.98 * self._room_k + self.chance.normal(0.0, 0.3)
            day = 4.0 * math.sin(2.0 * math.pi * now_s / 86400.0)
            self.electrics.wrong.room_k[:] = day + self._room_k
        if now_s % 3600.0 < self.works.step_s:
            size = len(self.solutions.temperature_degc)
            self.solutions.temperature_degc += self.chance.normal(0.0, 0.7, size)

    def _cards(self) -> None:
        for place in np.flatnonzero(self.loads.is_in):
            number = int(self.loads.load[place])
            if number in self.known:
                continue
            self.known.add(number)
            at = Moment(
                utc_ns=round(self.works.now_s * NS), mono_ns=round(self.works.now_s * NS)
            )
            card = LoadCard(
                who="OF", load=str(number), area_dm2=float(self.loads.area_dm2[place])
            )
            try:
                self.works.line.obey(Order(request=1, command=card, at=at))
            except Refused:
                continue


def findings(events: list[Event]) -> list[tuple[float, str, str]]:
    """Return (when [s], rectifier, finding) of what was announced."""
    found = []
    for event in events:
        if event.kind is EventKind.ALARM and event.values.get("move") == "occur":
            subject, _, name = str(event.values["alarm"]).rpartition(".")
            if name in NAMES:
                found.append((event.mono_ns / NS, subject, name))
    return found


def healthy(rectifier_hours: float, seed: int) -> tuple[int, float, list[str]]:
    """Return (false findings, rectifier-hours, each in words)."""
    bank = Bank(seed)
    told: list[str] = []
    hours = math.ceil(rectifier_hours / len(bank.units))
    for hour in range(hours):
        for at_s, unit, name in findings(bank.go_on(3600.0)):
            told.append(f"{at_s / 3600.0:.2f} h {unit} {name}: {_text(bank, unit, name)}")
            print(f"  false: {told[-1]}", flush=True)
        if hour % 24 == 23:
            print(f"  {(hour + 1) * len(bank.units)} rectifier-hours", flush=True)
    return len(told), float(hours * len(bank.units)), told


def _text(bank: Bank, unit: str, name: str) -> str:
    health = health_of(bank.works.line)
    return health.units[unit].texts.get(name, "") if health is not None else ""


def _fits(bank: Bank, k: int, fault: Fault) -> bool:
    pulses = int(bank.electrics._unit.pulses[k])
    if fault.wrong == "lost_devices":
        return pulses in ((6,) if fault.value > 1.0 else (6, 12))
    beside = _health(bank).units[bank.units[k]].beside
    if fault.finding == EFFICIENCY:
        return bool(beside.power)
    return bool(beside.modules) if fault.finding == SHARING else True


def _health(bank: Bank) -> Health:
    health = health_of(bank.works.line)
    assert health is not None
    return health


def _label(bank: Bank, unit: str, fault: Fault) -> str:
    """Return a fault's kind, with what keeps it from being told at this unit."""
    known = _health(bank).units[unit]
    tolerance = known.cell.points[-1][3] if known.cell.points else 1.0
    if fault.finding == CELL_RISES and tolerance > AREA_KNOWN:
        return f"{fault.kind} (area not known)"
    return fault.kind


def _spoilt(bank: Bank, hours: float) -> set[str]:
    """Let units learn; return those of which something was told before anything was wrong."""
    told = findings(bank.go_on(hours * 3600.0))
    for at_s, unit, name in told:
        print(f"  false: {at_s / 3600.0:.2f} h {unit} {name}: {_text(bank, unit, name)}")
    return {unit for _, unit, _ in told}


def _drawn(bank: Bank, only: str) -> dict[str, Fault]:
    """Return a fault for each unit; where one kind alone is played, for some of them."""
    faults: dict[str, Fault] = {}
    for k, unit in enumerate(bank.units):
        fitting = [each for each in FAULTS if only in each.kind and _fits(bank, k, each)]
        if not fitting or (only and bank.chance.random() > ONLY_SHARE):
            # It stays well, and must not be told of.
            continue
        fault = fitting[int(bank.chance.integers(len(fitting)))]
        label = _label(bank, unit, fault)
        wanted = fault.within_s if label == fault.kind else None
        faults[unit] = replace(fault, kind=label, within_s=wanted)
    return faults


def run(seed: int, only: str = "") -> list[tuple[Fault, float | None, str]]:
    """Return each fault of one run, its delay of running [s] or None, and where it was."""
    bank = Bank(seed)
    spoilt = _spoilt(bank, LEARNS_H)
    running: dict[str, float] = defaultdict(float)
    begins_s = {
        unit: bank.works.now_s + bank.chance.uniform(0.0, 1800.0) for unit in bank.units
    }
    faults = _drawn(bank, only)
    found: dict[str, float] = {}
    began_s = bank.works.now_s
    while bank.works.now_s < began_s + LASTS_H * 3600.0:
        step_s = FINE_STEP_S if bank.works.now_s < began_s + FINE_FOR_S else STEP_S
        bank.works.step_s = step_s
        for k, unit in enumerate(bank.units):
            if unit in faults and bank.works.now_s >= begins_s[unit]:
                fault = faults[unit]
                getattr(bank.electrics.wrong, fault.wrong)[k] = fault.at(
                    bank.works.now_s - begins_s[unit]
                )
                least = 0.3 if fault.finding == RIPPLE_FAULT else 0.1
                load = bank.electrics.current_a[k] / bank.electrics._unit.rated_a[k]
                running[unit] += step_s * (load >= least)
        for _, unit, name in findings(bank.go_on(step_s)):
            if unit not in faults:
                print(f"  false: {unit} {name}: {_text(bank, unit, name)}")
                continue
            right = name == faults[unit].finding or {name, faults[unit].finding} == {
                CELL_RISES,
                CELL_STEPS,
            }
            if bank.works.now_s >= begins_s[unit] and right:
                found.setdefault(unit, running[unit])
    return [(faults[unit], found.get(unit), unit) for unit in faults if unit not in spoilt]


def turns(seed: int) -> list[tuple[Fault, float | None, str]]:
    """Return what was told of barrels, by readings each second; delays of running [s]."""
    bank = Bank(seed)
    works = bank.works
    works.step_s = 1.0
    barrels = {name for name, unit in _health(bank).units.items() if unit.beside.turns}
    works._reads = [row for row in works._reads if _tells_of_barrels(row[0].tags, barrels)]
    spoilt = _spoilt(bank, TURNS_LEARN_H)
    faults: dict[str, Fault] = {}
    running: dict[str, float] = defaultdict(float)
    for k, unit in enumerate(bank.units):
        if unit in barrels:
            faults[unit] = _spoil_turning(bank, k)
    found: dict[str, float] = {}
    began_s = works.now_s
    while works.now_s < began_s + TURNS_LAST_H * 3600.0:
        for k, unit in enumerate(bank.units):
            if unit in faults:
                load = bank.electrics.current_a[k] / bank.electrics._unit.rated_a[k]
                running[unit] += 15.0 * (load >= 0.1)
        for _, unit, name in findings(bank.go_on(15.0)):
            if unit in faults and name == faults[unit].finding:
                found.setdefault(unit, running[unit])
    return [
        (fault, found.get(unit), unit) for unit, fault in faults.items() if unit not in spoilt
    ]


def _spoil_turning(bank: Bank, k: int) -> Fault:
    """Give a barrel's rectifier a fault; one stands only where no speed would tell it."""
    unit = bank.units[k]
    is_told = unit == "rectifier-barrel-electroclean"
    fault = TURNING[int(bank.chance.integers(len(TURNING) if is_told else len(TURNING) - 1))]
    if fault.wrong == "turning":
        services: Any = bank.works.plant.works.parts["services"]
        place = list(services.ids).index(unit.removeprefix("rectifier-"))
        services.wrong.turning[place] = fault.value
    else:
        bank.electrics.wrong.noise_factor[k] = fault.value
    return fault


def _tells_of_barrels(tags: tuple[str, ...], barrels: set[str]) -> bool:
    return any(tag.partition(".")[0] in barrels or ".load-" in tag for tag in tags)


def bank_rows(runs: int, seed: int, only: str = "") -> list[Measured]:
    """Return a row a fault; each case is printed as it comes."""
    by_fault: dict[str, list[tuple[Fault, float | None]]] = defaultdict(list)
    missed: dict[str, list[str]] = defaultdict(list)
    for number in range(runs):
        is_asked = any(only in each.kind for each in FAULTS)
        cases = run(seed * 1000 + number, only) if is_asked else []
        if not is_asked or (number % TURNS_EVERY == 0 and not only):
            cases += turns(seed * 1000 + number)
        for fault, delay, unit in cases:
            by_fault[fault.kind].append((fault, delay))
            after = "not found" if delay is None else f"{delay / 60.0:.1f} min"
            print(f"    {unit}: {fault.kind}: {after}", flush=True)
            if delay is None:
                missed[fault.kind].append(unit.removeprefix("rectifier-"))
        print(f"  run {number + 1} of {runs}", flush=True)
    rows = []
    for kind in sorted(by_fault, key=_place):
        cases = by_fault.get(kind, [])
        if not cases:
            continue
        delays = [delay for _, delay in cases if delay is not None]
        within_s = cases[0][0].within_s
        in_time = sum(1 for delay in delays if within_s is None or delay <= within_s)
        target = f" within {within_s / 60.0:g} min" if within_s is not None else ""
        rows.append(
            Measured(
                measure=f"{kind}: found{target}",
                value=100.0 * in_time / len(cases),
                unit="%",
                wanted=">= 100" if within_s is not None else "",
                against=(
                    f"{in_time} of {len(cases)}, median"
                    f" {median(delays) / 60.0 if delays else math.nan:.1f} min,"
                    f" longest {max(delays, default=math.nan) / 60.0:.1f} min"
                    + (f"; not in {', '.join(sorted(missed[kind]))}" if missed[kind] else "")
                ),
            )
        )
    return rows


def _place(kind: str) -> tuple[int, str]:
    kinds = [each.kind for each in (*FAULTS, *TURNING)]
    return kinds.index(kind.partition(" (")[0]), kind


def watch_share(rectifiers: int = 200) -> float:
    """Return the share of a core that the study takes for many rectifiers at 1 Hz [%]."""
    works = Works()
    works.go_on(4 * 3600.0)
    line = works.line
    health = health_of(line)
    assert health is not None
    mine = len(health.units)
    took = []
    for k in range(60):
        at_ns = round((works.now_s + 15.0 * (k + 1)) * NS)
        began = time.perf_counter()
        health.look(line, Moment(utc_ns=at_ns, mono_ns=at_ns))
        took.append(time.perf_counter() - began)
    per_look = float(np.median(took)) * rectifiers / mine
    return 100.0 * per_look / (Health.PERIOD_NS / NS)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--healthy", type=float, default=3000.0)
    parser.add_argument("--runs", type=int, default=14)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="words of the faults to play: 'barrel'")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--watch", action="store_true")
    asked = parser.parse_args()
    if asked.watch:
        print(f"200 rectifiers: {watch_share():.3f} % of a core")
        return
    rows = bank_rows(asked.runs, asked.seed, asked.only) if asked.runs else []
    if asked.healthy:
        false, hours, _ = healthy(asked.healthy, asked.seed)
        rows.append(
            Measured(
                measure="false findings in 1,000 healthy rectifier-hours",
                value=1000.0 * false / hours,
                unit="",
                wanted="<= 1",
                against=f"{false} in {hours:g} h",
            )
        )
    told(rows, asked.json)


if __name__ == "__main__":
    main()
