"""Each rule of the library on the plant with its trouble, and on a healthy one.

    python tests/bench/bench_rules.py [--healthy HOURS] [--seed N] [--only RULE ...]
                                      [--markdown] [--looks]

The plant is driven without sockets, as fast as it goes; its instruments' values are fed to the
line as a driver decodes them. A trouble begins when the plant has run long enough for a rule to
have learned. `--healthy` runs the works undisturbed for so many line-hours, with loads of
changing size, and tells every alarm of the library and every sign; `--looks` times one look of
all rules.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from rules_tried import TRIED, Tried

from linewatch import config
from linewatch.core.events import Event, EventKind
from linewatch.core.line.machine import Line
from linewatch.core.line.rules import Rules
from linewatch.core.readings import Moment, Quality, Readings
from linewatch.core.rules.library import BY_NAME
from linewatch.core.rules.movement import STANDS
from linewatch.core.signs.table import BY_NAME as SIGNS
from linewatch_sim.plant import Plant
from linewatch_sim.troubles import done

ROOT = Path(__file__).parents[2]
NS = 10**9


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What one rule of the library announced."""

    at_s: float
    alarm: str
    text: str


class Works:
    """The plant's instruments, wired to a line without a wire.

    Args:
        seed: Seed of all that is left to chance in the plant.
    """

    def __init__(self, seed: int = 1) -> None:
        self.plant = Plant("works", seed=seed)
        plan = config.read(ROOT / "config" / "demo.toml").plan
        self.line = Line(plan)
        self._reads = [
            (layout, [self.plant.values.getter(tag) for tag in layout.tags])
            for layout in plan.layouts
        ]
        self.now_s = 0.0
        """Line time [s]."""
        self.step_s = 10.0

    def go_on(self, for_s: float) -> list[Event]:
        """Let the plant run, and return what the line told."""
        events: list[Event] = []
        for _ in range(round(for_s / self.step_s)):
            self.now_s += self.step_s
            self.plant.works.advance_to(self.now_s, coarsely=True)
            at_ns = round(self.now_s * NS)
            for layout, reads in self._reads:
                value = np.array([read() for read in reads])
                quality = np.where(np.isnan(value), Quality.SENSOR_FAULT, Quality.GOOD)
                events += self.line.receive(
                    Readings(
                        layout=layout,
                        utc_ns=at_ns,
                        mono_ns=at_ns,
                        value=value,
                        quality=quality.astype(np.uint8),
                    )
                )
        return events


def of_library(events: list[Event]) -> list[Seen]:
    """Return what rules and signs announced, and that a track stands, in order."""
    return [
        Seen(
            at_s=event.mono_ns / NS,
            alarm=str(event.values["alarm"]),
            text=event.text,
        )
        for event in events
        if event.kind is EventKind.ALARM
        and event.values.get("move") == "occur"
        and _is_of_library(str(event.values["alarm"]))
    ]


def _is_of_library(alarm: str) -> bool:
    what = alarm.rpartition(".")[2]
    return what in {*BY_NAME, *SIGNS} or what.startswith(f"{STANDS}-")


def tried(each: Tried) -> tuple[float | None, str]:
    """Return after how long a rule found its trouble [s], and all that was told."""
    works = Works()
    works.step_s = each.learn_step_s
    before = of_library(works.go_on(each.learns_s))
    began_s = works.now_s
    works.step_s = each.step_s
    asyncio.run(done(works.plant.trouble_named(each.trouble).begin(works.plant)))
    found = of_library(works.go_on(each.ends_after_s or each.within_s))
    if each.ends_after_s is not None:
        asyncio.run(done(works.plant.trouble_named(each.trouble).end(works.plant)))
        found += of_library(works.go_on(each.within_s - each.ends_after_s))
    own = {each.alarm, each.behind}
    right = [seen for seen in found if seen.alarm in own]
    others = sorted({seen.alarm for seen in found} - own)
    said = ", ".join(others) + (f"; before: {[s.alarm for s in before]}" if before else "")
    return (right[0].at_s - began_s if right else None), said


def healthy(hours: float, seed: int) -> Iterator[list[Seen]]:
    """Yield, for each quarter of an hour, what rules announce on a healthy works."""
    works = Works(seed)
    chance = np.random.default_rng(seed)
    loads: Any = works.plant.works.parts["loads"]
    sizes = loads.wrong.size_factor
    for _ in range(round(hours * 4.0)):
        sizes[:] = chance.uniform(0.85, 1.15, len(sizes))
        yield of_library(works.go_on(900.0))


def looks() -> float:
    """Return the median time of one look of every rule [ms]."""
    works = Works()
    works.go_on(1800.0)
    rules = next(each for each in works.line.studies.every if isinstance(each, Rules))
    took = []
    for k in range(200):
        at = Moment(utc_ns=(1801 + 30 * k) * NS, mono_ns=(1801 + 30 * k) * NS)
        began = time.perf_counter()
        rules.look(works.line, at)
        took.append(1e3 * (time.perf_counter() - began))
    return float(np.median(took))


def print_healthy(for_hours: float, seed: int) -> None:
    """Print every alarm of the library on a healthy works, and how many there are."""
    count = 0
    for quarter, found in enumerate(healthy(for_hours, seed), start=1):
        for seen in found:
            print(f"{seen.at_s / 3600.0:8.2f} h  {seen.alarm}  {seen.text}", flush=True)
        count += len(found)
        if quarter % 20 == 0 or quarter == round(for_hours * 4.0):
            hours = quarter / 4.0
            rate = 200.0 * count / hours
            print(f"{count} in {hours:g} line-hours: {rate:.2f} in 200", flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--healthy", type=float, metavar="HOURS")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--looks", action="store_true")
    asked = parser.parse_args()
    if asked.looks:
        print(f"one look of all rules: {looks():.2f} ms")
        return
    if asked.healthy is not None:
        print_healthy(asked.healthy, asked.seed)
        return
    for each in TRIED:
        if asked.only and each.alarm.rpartition(".")[2] not in asked.only:
            continue
        after_s, others = tried(each)
        rule = BY_NAME[each.alarm.rpartition(".")[2]]
        after = "not found" if after_s is None else f"{after_s / 60.0:.1f} min"
        within = f"{each.within_s / 60.0:.0f} min"
        if asked.markdown:
            mark = "" if after_s is not None else " **no**"
            print(f"| `{rule.name}` | `{each.trouble}` | {after}{mark} | {within} |")
        else:
            print(
                f"{rule.name:<20}{each.trouble:<24}{after:<12}{within:<9}{others}", flush=True
            )


if __name__ == "__main__":
    main()
