"""What the line costs, as ratios within one run: `python tests/bench/bench_line.py`.

Every figure is the best of several rounds; what is compared is measured in the same round.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

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
    Window,
)
from linewatch.core.readings import Layout, Moment, Readings, Stack

NS = 10**9
UTC_NS = 1_772_000_000 * NS
Rows = list[Measured]


def plan_of(layouts: int, width: int, *, rectifiers: int) -> LinePlan:
    """Return a line: temperatures with two limits each, rectifiers with meters among them."""
    tags: dict[str, TagPlan] = {}
    conditions: list[ConditionPlan] = []
    made: list[Layout] = []
    sources: list[RectifierPlan] = []
    tanks: list[TankPlan] = []
    for n in range(layouts):
        names: list[str] = []
        here = rectifiers // layouts + (n < rectifiers % layouts)
        for k in range(here):
            source, tank = f"r-{n}-{k}", f"plate-{n}-{k}"
            names += [f"{source}.current", f"{source}.voltage", f"{source}.charge-meter"]
            sources.append(
                RectifierPlan(
                    id=source,
                    name=source,
                    feeds=((tank, 1.0),),
                    rated_current_a=1000.0,
                    rated_voltage_v=12.0,
                    zero_cutoff_a=1.0,
                    meter_modulus_ah=1e6,
                    meter_resolution_ah=0.1,
                )
            )
            tanks.append(
                TankPlan(id=tank, name=tank, kind="plate", bath="watts", area_dm2=50.0)
            )
        names += [f"tank-{n}-{k}.temperature" for k in range(width - len(names))]
        made.append(Layout(link=f"link-{n}", device=f"d-{n}", tags=tuple(names), period_ns=NS))
        for name in names:
            subject, kind = name.split(".")
            tags[name] = TagPlan(
                id=name,
                subject=subject,
                kind=kind,
                low=-1e4,
                high=1e7,
                period_ns=NS,
                stale_after_ns=3 * NS,
                window=Window(low=55.0, high=65.0) if kind == "temperature" else Window(),
            )
            limits = {"low": 55.0, "high": 65.0} if kind == "temperature" else {}
            conditions += [
                ConditionPlan(
                    id=f"{name}.{side}",
                    tag=name,
                    kind=side,  # type: ignore[arg-type]
                    limit=limit,
                    deadband=0.5,
                )
                for side, limit in limits.items()
            ]
            conditions.append(
                ConditionPlan(id=f"{name}.bad-quality", tag=name, kind="bad-quality")
            )
    watts = BathPlan(
        id="watts",
        name="Watts nickel",
        deposit=DepositPlan(
            parts=(("Ni(II)", 1.0),),
            efficiency=EfficiencyPlan(value=0.95, low=0.93, high=0.97),
        ),
    )
    return LinePlan(
        line_id="bench",
        name="Bench",
        fingerprint="0" * 64,
        layouts=tuple(made),
        tags=tags,
        tanks=tuple(tanks),
        rectifiers=tuple(sources),
        baths=(watts,),
        conditions=tuple(conditions),
    )


def values_of(layout: Layout, seconds: int, seed: int = 1) -> np.ndarray:
    """Return what a layout reads: steady with noise, meters that count."""
    noise = np.random.default_rng(seed)
    columns = []
    for name in layout.tags:
        kind = name.split(".")[1]
        if kind == "current":
            columns.append(300.0 + noise.normal(0.0, 2.0, seconds))
        elif kind == "charge-meter":
            true = np.arange(seconds) * (300.0 / 3600.0)
            columns.append(np.floor(true * 10.0) / 10.0)
        elif kind == "voltage":
            columns.append(5.0 + noise.normal(0.0, 0.02, seconds))
        else:
            columns.append(60.0 + noise.normal(0.0, 0.4, seconds))
    return np.column_stack(columns)


def blocks_of(plan: LinePlan, seconds: int) -> list[Readings]:
    """Return all blocks of a span, in the order in which a collector gets them."""
    values = [values_of(layout, seconds, seed) for seed, layout in enumerate(plan.layouts)]
    quality = [np.zeros(len(layout.tags), dtype=np.uint8) for layout in plan.layouts]
    found = []
    for second in range(seconds):
        for n, layout in enumerate(plan.layouts):
            at_ns = second * NS + n * NS // len(plan.layouts)
            found.append(
                Readings(
                    layout=layout,
                    utc_ns=UTC_NS + at_ns,
                    mono_ns=at_ns,
                    value=values[n][second],
                    quality=quality[n],
                )
            )
    return found


def best_s(act: Callable[[], object], rounds: int = 5) -> float:
    """Return the shortest of several rounds [s]."""
    found = []
    for _ in range(rounds):
        began = time.perf_counter()
        act()
        found.append(time.perf_counter() - began)
    return min(found)


def bench_scan(layouts: int, width: int, rectifiers: int) -> Measured:
    """One scan of all tags through `Line`, against NumPy comparing them with their limits."""
    plan = plan_of(layouts, width, rectifiers=rectifiers)
    seconds = 60
    blocks = blocks_of(plan, seconds)
    line = Line(plan)
    for each in blocks[:layouts]:
        line.receive(each)
    rest = blocks[layouts:]
    began = time.perf_counter()
    for each in rest:
        line.receive(each)
    ours_s = (time.perf_counter() - began) / (seconds - 1)
    bounds = {layout: (np.full(width, 0.0), np.full(width, 1e7)) for layout in plan.layouts}

    def limits_only() -> None:
        for each in rest:
            low, high = bounds_of[id(each.layout)]
            ((each.value < low) | (each.value > high)).any()

    bounds_of = {id(layout): bounds[layout] for layout in plan.layouts}
    numpy_s = best_s(limits_only) / (seconds - 1)
    return Measured(
        measure=f"scan, {layouts * width} tags, {layouts} layouts, {rectifiers} rectifiers",
        value=ours_s / numpy_s,
        unit="times",
        against=f"{ours_s * 1e6:.0f} µs; one NumPy pass of only limits {numpy_s * 1e6:.0f} µs",
        wanted="<= 4",
    )


def bench_replay(*, stacked: bool) -> Measured:
    """Replay of 300 tags in 8 layouts at 1 Hz, against real time."""
    plan = plan_of(8, 300 // 8 + 1, rectifiers=12)
    seconds = 3600
    line = Line(plan)
    if stacked:
        feed: list[Readings | Stack] = []
        for start in range(0, seconds, 60):
            for n, layout in enumerate(plan.layouts):
                times = np.arange(start, start + 60) * NS + n * NS // 8
                values = values_of(layout, seconds, n)[start : start + 60]
                feed.append(
                    Stack(
                        layout=layout,
                        utc_ns=UTC_NS + times,
                        mono_ns=times,
                        value=values,
                        quality=np.zeros(values.shape, dtype=np.uint8),
                    )
                )
    else:
        feed = list(blocks_of(plan, seconds))
    began = time.perf_counter()
    for each in feed:
        line.receive(each)
    took_s = time.perf_counter() - began
    how = "stacks of a minute" if stacked else "singles as recorded"
    return Measured(
        measure=f"replay of 304 tags at 1 Hz in 8 layouts, {how}",
        value=seconds / took_s,
        unit="times",
        against="real time",
        wanted=">= 2000",
    )


def bench_conditions() -> Measured:
    """A loud scan of 10,000 conditions: every scan some value leaves its box."""
    plan = plan_of(1, 4000, rectifiers=0)
    layout = plan.layouts[0]
    line = Line(plan)
    values = values_of(layout, 40)
    values[::2, 7] = 66.0
    blocks = [
        Readings(
            layout=layout,
            utc_ns=UTC_NS + k * NS,
            mono_ns=k * NS,
            value=values[k],
            quality=np.zeros(4000, dtype=np.uint8),
        )
        for k in range(40)
    ]
    line.receive(blocks[0])
    began = time.perf_counter()
    for each in blocks[1:]:
        line.receive(each)
    took_s = (time.perf_counter() - began) / 39
    return Measured(
        measure=f"loud scan of {len(plan.conditions)} conditions",
        value=took_s * 1e3,
        unit="ms",
        wanted="< 2",
    )


def bench_burst() -> Rows:
    """A burst of 5,000 alarms in one scan, then the picture and the memory of it."""
    plan = plan_of(1, 5000, rectifiers=0)
    layout = plan.layouts[0]
    line = Line(plan)
    good = np.zeros(5000, dtype=np.uint8)
    calm = Readings(
        layout=layout, utc_ns=UTC_NS, mono_ns=0, value=np.full(5000, 60.0), quality=good
    )
    line.receive(calm)
    line.changed_memory()
    loud = Readings(
        layout=layout, utc_ns=UTC_NS + NS, mono_ns=NS, value=np.full(5000, 70.0), quality=good
    )
    began = time.perf_counter()
    events = line.receive(loud)
    burst_s = time.perf_counter() - began
    assert len(events) == 5001
    began = time.perf_counter()
    line.changed_memory()
    memory_s = time.perf_counter() - began
    at = Moment(utc_ns=UTC_NS + NS, mono_ns=NS)
    began = time.perf_counter()
    line.picture(at)
    picture_s = time.perf_counter() - began
    named = (("burst of 5,000 alarms", burst_s), ("memory after it", memory_s))
    return [
        Measured(measure=name, value=took_s * 1e3, unit="ms", wanted="< 250")
        for name, took_s in (*named, ("picture after it", picture_s))
    ]


def bench_picture() -> Rows:
    """Picture, tick and memory of a works of 300 tags."""
    plan = plan_of(8, 300 // 8 + 1, rectifiers=12)
    line = Line(plan)
    for each in blocks_of(plan, 10):
        line.receive(each)
    at = Moment(utc_ns=UTC_NS + 10 * NS, mono_ns=10 * NS)
    acts = (
        ("picture of 304 tags", lambda: line.picture(at)),
        ("changed memory of 304 tags", line.changed_memory),
        ("totals of 12 rectifiers", line.totals),
        ("tick when nothing is due", lambda: line.tick(at)),
    )
    return [Measured(measure=name, value=best_s(act) * 1e3, unit="ms") for name, act in acts]


def rows() -> Rows:
    """Return every measure."""
    return [
        bench_scan(1, 10_000, 50),
        bench_scan(100, 100, 50),
        bench_scan(8, 38, 12),
        bench_replay(stacked=False),
        bench_replay(stacked=True),
        bench_conditions(),
        *bench_burst(),
        *bench_picture(),
    ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    told(rows(), parser.parse_args().json)
