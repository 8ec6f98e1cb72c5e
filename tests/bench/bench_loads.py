"""What loads received, by their records, against the simulated plant's own truth.

    python tests/bench/bench_loads.py [--loads 100] [--speed 60] [--seed 3]

Runs the works and a collector as separate processes. Each load's card with its true area, as
an office would write it, is left as soon as the load hangs in a tank. On the way the collector
is killed with SIGKILL and started again, and a gateway with all rectifiers of one line hangs
up for a while. At the end the record of every stay that lays down metal is held against what
the plant counted for the same load in the same tank by its own arithmetic.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import tomlkit

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

from linewatch import config
from linewatch.core.commands import LoadCard
from linewatch.core.electrochemistry.metals import deposit as deposit_of
from linewatch.core.electrochemistry.thickness import mean_thickness_um
from linewatch.core.errors import Refused, StoreUnusable
from linewatch.core.loads.record import LoadRecord, StayRow
from linewatch.core.ports import Desk
from linewatch.wiring.loads import record_of
from linewatch.wiring.places import shipped
from linewatch.wiring.plant import RunningPlant, running_plant
from linewatch.wiring.processes import end_child, start_child
from linewatch.wiring.viewer import desk_when_ready, open_desk

WEIGHED = 6
"""Loads of each bath that are weighed before recording begins."""
SCALE = 0.002
"""Limit of error of the scale, and of the reference meter [1]."""
LOOK_S = 0.25
PARTS = {"rack": "lever", "barrel": "bracket"}
HANGS_UP_S = 90.0
"""Line time for which a gateway is gone."""


@dataclass
class Truth:
    """What the plant told so far."""

    area_dm2: dict[int, float] = field(default_factory=dict)
    visits: dict[tuple[int, str, float], dict[str, Any]] = field(default_factory=dict)
    hanging: dict[int, str] = field(default_factory=dict)
    """Tank by load, at the last look."""

    def look(self, plant: RunningPlant) -> float:
        """Ask the plant; return its line time [s]."""
        told = plant.ask({"ask": "truth"})
        self.hanging = {row["load"]: row["tank"] for row in told["loads"]}
        for row in told["loads"]:
            self.area_dm2[row["load"]] = row["area_dm2"]
        for visit in plant.ask({"ask": "visits"})["visits"]:
            self.visits[visit["load"], visit["tank"], visit["entered_s"]] = visit
        return float(told["line_s"])


def main(loads: int, speed: float, seed: int) -> list[Measured]:
    """Run, compare and return the table."""
    truth = Truth()
    with (
        tempfile.TemporaryDirectory() as name,
        running_plant(speed=speed, troubles=(), seed=seed, line="works") as plant,
    ):
        folder = Path(name)
        plant.wait_until_all_listen()
        works = config.read(shipped("demo.toml")).with_addresses(plant.links)
        file = folder / "line.toml"
        file.write_text(_weighed(works.text, truth, plant, speed), encoding="utf-8")
        tracks = {tank.id: tank.track for tank in works.plan.tanks}
        plated = {tank for r in works.plan.rectifiers for tank, _ in r.feeds}
        began_s, spans = _run(plant, folder, file, truth, tracks, (loads, speed))
        desk = open_desk(folder, works.plan.line_id)
        records = _records(desk, truth, began_s)
        return _compared(records, truth, plated, began_s, spans)


def _weighed(text: str, truth: Truth, plant: RunningPlant, speed: float) -> str:
    """Return a configuration with efficiencies that were weighed, as a laboratory does.

    Before recording begins, the gain in weight of the first loads of each bath is taken on a
    scale that is right to 0.2 %, and held against the charge that a reference meter of 0.2 %
    counted. Their mean is the efficiency; their range and the scale's and meter's errors are
    its limits. The plant's own later loads are not looked at.
    """
    chance = random.Random(1)  # noqa: S311 - chance, no secret
    document = tomlkit.parse(text)
    baths = {str(tank["id"]): str(tank.get("bath", "")) for tank in document["tank"]}
    plan = config.read_text(text, "before weighing").plan
    deposits = {bath.id: bath.deposit for bath in plan.baths if bath.deposit is not None}
    found: dict[str, list[float]] = {}
    while not deposits.keys() <= {k for k, each in found.items() if len(each) >= WEIGHED}:
        time.sleep(60.0 / speed)
        truth.look(plant)
        found = {}
        for (_, tank, _), visit in sorted(truth.visits.items()):
            bath = baths.get(tank, "")
            if bath in deposits and visit["metal_g"] > 0 and visit["cathodic_ah"] > 0:
                gain_g = visit["metal_g"] * (1.0 + chance.uniform(-SCALE, SCALE))
                charge_ah = visit["cathodic_ah"] * (1.0 + chance.uniform(-SCALE, SCALE))
                equivalent = deposit_of(dict(deposits[bath].parts)).equivalent_g_per_ah
                found.setdefault(bath, []).append(gain_g / (equivalent * charge_ah))
    for section in document["bath"]:
        ratios = found.get(str(section["id"]), [])[:WEIGHED]
        if not ratios:
            continue
        mean = statistics.mean(ratios)
        half = (max(ratios) - min(ratios)) / 2.0 + 2.0 * SCALE * mean
        section["efficiency"] = {
            "value": f"{100 * mean:.3f} %",
            "low": f"{100 * (mean - half):.3f} %",
            "high": f"{100 * (mean + half):.3f} %",
            "source": f"{WEIGHED} loads weighed",
        }
    return tomlkit.dumps(document)


def _collector(folder: Path, file: Path, speed: float):  # type: ignore[no-untyped-def]
    arguments = ["collect", str(file), "--store", str(folder), "--speed", f"{speed:g}"]
    return start_child("linewatch", arguments, log=folder / "collector.log")


def _run(
    plant: RunningPlant,
    folder: Path,
    file: Path,
    truth: Truth,
    tracks: dict[str, str],
    wanted: tuple[int, float],
) -> tuple[float, list[tuple[float, float]]]:
    """Collect until enough loads are through; return when it began, and disturbed spans."""
    loads, speed = wanted
    child = _collector(folder, file, speed)
    desk = desk_when_ready(folder, "works", child)
    began_s = truth.look(plant)
    carded: set[int] = set()
    spans: list[tuple[float, float]] = []
    to_do = ["kill", "hang up", "kill"]
    try:
        while True:
            now_s = truth.look(plant)
            _cards(desk, truth, tracks, carded)
            done = _through(truth, began_s)
            if done >= loads:
                break
            if to_do and done >= loads * (4 - len(to_do)) / 4:
                what = to_do.pop(0)
                if what == "kill":
                    child.kill()
                    child.wait()
                    child = _collector(folder, file, speed)
                    desk = _again(folder, child)
                else:
                    plant.ask({"do": "trouble", "name": "gateway-drops"})
                    time.sleep(HANGS_UP_S / speed)
                    plant.ask({"do": "clear", "name": "gateway-drops"})
                spans.append((now_s, truth.look(plant)))
                print(f"{what} at {now_s:.0f} s, {done} loads through", file=sys.stderr)
            time.sleep(LOOK_S)
    finally:
        end_child(child)
    return began_s, spans


def _again(folder: Path, child) -> Desk:  # type: ignore[no-untyped-def]
    while True:
        try:
            return desk_when_ready(folder, "works", child)
        except StoreUnusable:
            if child.poll() is not None:
                raise


def _cards(
    desk: Desk,
    truth: Truth,
    tracks: dict[str, str],
    carded: set[int],
) -> None:
    for load, tank in truth.hanging.items():
        part = PARTS.get(tracks.get(tank, ""))
        if load in carded or part is None:
            continue
        carded.add(load)
        area_dm2 = truth.area_dm2.get(load)
        desk.request(LoadCard(who="OF", load=str(load), part=part, area_dm2=area_dm2))


def _through(truth: Truth, began_s: float) -> int:
    """Return how many loads have gone through a plating tank since the beginning."""
    ends = {"chromium", "zinc-1", "zinc-2", "zinc-3", "barrel-nickel"}
    return len(
        {
            load
            for (load, tank, entered_s) in truth.visits
            if tank in ends and entered_s > began_s
        }
    )


def _records(desk: Desk, truth: Truth, began_s: float) -> dict[int, LoadRecord]:
    found = {}
    for load in {each[0] for each in truth.visits if each[2] > began_s}:
        with contextlib.suppress(Refused):
            found[load] = record_of(desk, str(load))
    return found


def _compared(
    records: dict[int, LoadRecord],
    truth: Truth,
    plated: set[str],
    began_s: float,
    spans: list[tuple[float, float]],
) -> list[Measured]:
    pairs, lost, strangers = _pairs(records, truth, plated, began_s)
    rows = [
        Measured(measure="loads followed", value=len(records), unit="", wanted=">= 100"),
        Measured(measure="stays that lay down metal, compared", value=len(pairs), unit=""),
        Measured(
            measure="stays of the plant that no record has", value=lost, unit="", wanted="<= 0"
        ),
        Measured(
            measure="stays of a record that the plant never had",
            value=strangers,
            unit="",
            wanted="<= 0",
        ),
        Measured(
            measure="disturbed spans (kill -9, gateway gone) in line time",
            value=sum(end - begin for begin, end in spans),
            unit="s",
        ),
    ]
    known = [(stay, visit) for stay, visit in pairs if stay.thickness_um is not None]
    rows.append(
        Measured(
            measure="stays without a thickness, each with its reason",
            value=len(pairs) - len(known),
            unit="",
            against=", ".join({s.thickness_refused for s, _ in pairs if s.thickness_refused}),
        )
    )
    off = [_off(stay, visit, truth) for stay, visit in known]
    rows += [
        Measured(
            measure="thickness beyond its own ±",
            value=sum(o > 1 for o in off),
            unit="stays",
            against=f"of {len(off)}",
            wanted="<= 0",
        ),
        Measured(
            measure="thickness off, over its own ±, median and most",
            value=statistics.median(off),
            unit="",
            against=f"most {max(off):.2f}",
        ),
    ]
    return rows + _widths(known, truth)


def _pairs(
    records: dict[int, LoadRecord], truth: Truth, plated: set[str], began_s: float
) -> tuple[list[tuple[StayRow, dict[str, Any]]], int, int]:
    """Match stays by load and tank, in their order."""
    pairs, lost, strangers = [], 0, 0
    for load, record in records.items():
        true: dict[str, list[dict[str, Any]]] = {}
        for (whose, tank, _), visit in sorted(truth.visits.items()):
            if whose == load and tank in plated and visit["metal_g"] > 0:
                true.setdefault(tank, []).append(visit)
        ours: dict[str, list[StayRow]] = {}
        for stay in record.stays:
            if stay.deposit:
                ours.setdefault(stay.tank, []).append(stay)
        for tank, visits in true.items():
            begun = [each for each in visits if each["entered_s"] > began_s + 1]
            mine = ours.get(tank, [])
            pairs += zip(mine[-len(begun) :] if begun else [], begun, strict=False)
            lost += max(0, len(begun) - len(mine))
            strangers += max(0, len(mine) - len(visits))
        strangers += sum(len(rows) for tank, rows in ours.items() if tank not in true)
    return pairs, lost, strangers


def _true_um(stay: StayRow, visit: dict[str, Any], truth: Truth) -> float:
    assert stay.density_g_per_cm3 is not None
    area_dm2 = truth.area_dm2[visit["load"]]
    return mean_thickness_um(visit["metal_g"], stay.density_g_per_cm3, area_dm2)


def _off(stay: StayRow, visit: dict[str, Any], truth: Truth) -> float:
    assert stay.thickness_um is not None
    assert stay.thickness_pm_um
    return abs(stay.thickness_um - _true_um(stay, visit, truth)) / stay.thickness_pm_um


def _widths(known: list[tuple[StayRow, dict[str, Any]]], truth: Truth) -> list[Measured]:
    rows = []
    for deposit, bath in sorted({(stay.deposit, stay.bath) for stay, _ in known}):
        widths: dict[bool, list[float]] = {True: [], False: []}
        for stay, _ in known:
            if stay.bath == bath:
                ratio = (stay.thickness_pm_um or 0.0) / (stay.thickness_um or 1.0)
                widths[bool(stay.unmetered_s)].append(ratio)
        rough, quiet = widths[True], widths[False]
        off = [
            abs((stay.thickness_um or 0.0) / _true_um(stay, visit, truth) - 1.0)
            for stay, visit in known
            if stay.bath == bath
        ]
        rows.append(
            Measured(
                measure=f"{deposit} ({bath}): ± of stays that were metered throughout",
                value=100.0 * statistics.median(quiet) if quiet else 0.0,
                unit="%",
                against=f"off {100 * statistics.median(off):.2f} %, most"
                f" {100 * max(off):.2f} %; {len(rough)} stays with a gap",
            )
        )
    return rows


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--loads", type=int, default=100)
    parser.add_argument("--speed", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    told(main(given.loads, given.speed, given.seed), given.json)
