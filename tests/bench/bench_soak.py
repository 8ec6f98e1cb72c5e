"""A day of the whole works with everything going wrong that may, by chance from a seed.

    python tests/bench/bench_soak.py [--hours 24] [--seed 1] [--speed 60] [--store DIR]

Plant and collector run as separate processes on real sockets. Links are cut, silenced and
restored, servers restarted, the disk is full and has room again, the wall clock is set forward
and back, and the collector is killed with SIGKILL and started again (`soaked_collector.py`: the
product's own `collect`, to which these things can be done). Times, kinds and places are drawn
from the seed; the first and the last part of the run are left in peace.

At the end every tank's charge and metal and every rectifier's charge are held against what the
plant counted by its own arithmetic, each within its own stated ± (and, where the plant has
more, what may have flowed in the time that the account calls unmetered). The record is fed to
a fresh line (`linewatch verify`), and the last process compared with itself at its second hour.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

from linewatch import config
from linewatch.wiring import records
from linewatch.wiring.places import shipped
from linewatch.wiring.plant import RunningPlant, running_plant

HOUR_S = 3600.0
PEACE_FIRST_S = 1200.0
PEACE_LAST_S = 2400.0
"""Line time at either end in which nothing is done."""
KILLS_UNTIL = 0.6
"""Share of the run after which nobody kills: the last process shall live long."""
STEPS_S = (3600.0, -3600.0, 86400.0, -7.0, 90.0, -600.0)
SAMPLES = 12
"""Looks of which the least is taken: tasks come and go with every poll."""
CALM_SAMPLES = 200
"""The same before and after all that: an hour that is being closed holds files for a while."""
LOOK_S = 0.05
TRIES = 12
"""How often a plant that does not answer is asked."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Act:
    """Something that is done at a line time."""

    at_s: float
    what: str
    where: str = ""
    size: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ill:
    """Something that is done and undone again."""

    begin: str
    end: str
    every_h: float
    """Hours of the run for each; once at least."""
    low_s: float
    high_s: float
    """How long it lasts in line time."""


ILLS = (
    Ill(begin="drop", end="listen", every_h=1.0, low_s=60.0, high_s=900.0),
    Ill(begin="silence", end="speak", every_h=1.0, low_s=20.0, high_s=600.0),
    # A server that restarts is back before anybody has given it up.
    Ill(begin="drop", end="listen", every_h=1.0, low_s=6.0, high_s=30.0),
    Ill(begin="full", end="room", every_h=4.0, low_s=60.0, high_s=900.0),
)
LONG_FULL_S = 4200.0
"""So long that what waits for the disk does not fit into memory, and batches are lost."""
LONG_FULL_H = 6.0
"""A shorter run leaves that out."""


def drawn(seed: int, hours: float, links: list[str], with_units: list[str]) -> list[Act]:
    """Return what happens in a run, in order of time."""
    chance = random.Random(seed)  # noqa: S311 - chance, no secret
    first_s, last_s = PEACE_FIRST_S, hours * HOUR_S - PEACE_LAST_S
    where = {"drop": links, "silence": with_units, "full": [""]}
    acts: list[Act] = []
    for ill in ILLS:
        for _ in range(_times(hours, ill.every_h)):
            at_s, link = chance.uniform(first_s, last_s), chance.choice(where[ill.begin])
            end_s = min(last_s, at_s + chance.uniform(ill.low_s, ill.high_s))
            acts.append(Act(at_s=at_s, what=ill.begin, where=link))
            acts.append(Act(at_s=end_s, what=ill.end, where=link))
    long_s = (0.0, 0.0)
    if hours >= LONG_FULL_H:
        at_s = chance.uniform(first_s, KILLS_UNTIL * last_s - LONG_FULL_S)
        long_s = (at_s, at_s + LONG_FULL_S)
        # Nothing else may make room in between.
        acts = [act for act in acts if act.where or not _is_in(act.at_s, long_s)]
        acts.append(Act(at_s=long_s[0], what="full"))
        acts.append(Act(at_s=long_s[1], what="room"))
    for number in range(_times(hours, 4.0)):
        at_s, by_s = chance.uniform(first_s, last_s), STEPS_S[number % len(STEPS_S)]
        acts.append(Act(at_s=at_s, what="step", size=by_s))
    for _ in range(_times(hours, 4.0)):
        at_s = chance.uniform(first_s, max(first_s, KILLS_UNTIL * hours * HOUR_S))
        if not _is_in(at_s, long_s):
            acts.append(Act(at_s=at_s, what="kill", size=chance.uniform(0.0, 5.0)))
    return sorted(acts)


def _is_in(at_s: float, span: tuple[float, float]) -> bool:
    return span[0] <= at_s <= span[1]


def _times(hours: float, every_h: float) -> int:
    return max(1, round(hours / every_h))


class Collector:
    """The collector as a process, one after the other."""

    def __init__(self, file: Path, store: Path, speed: float) -> None:
        self._file, self._store, self._speed = file, store, speed
        self._ahead_ns = 0
        self.born = 0
        """How many processes there have been."""
        self._process = self._start()

    def _start(self) -> subprocess.Popen[str]:
        self.born += 1
        with (self._store / "collector.log").open("a", encoding="utf-8") as log:
            return subprocess.Popen(
                [
                    sys.executable,
                    str(Path(__file__).with_name("soaked_collector.py")),
                    *(str(self._file), str(self._store)),
                    *(f"{self._speed:g}", str(self._ahead_ns)),
                ],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )

    def ask(self, **asked: Any) -> dict[str, Any]:
        """Have something done; return the answer."""
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        if not line:
            raise RuntimeError(f"the collector has ended; see {self._store / 'collector.log'}")
        answer: dict[str, Any] = json.loads(line)
        self._ahead_ns = answer.get("ahead_ns", self._ahead_ns)
        return answer

    def tell(self) -> dict[str, Any]:
        """Return what it counts and holds, once its run has begun."""
        while not (told := self.ask(do="tell"))["has_begun"]:
            time.sleep(LOOK_S)
        return told

    def kill(self, away_s: float) -> None:
        """Kill it, and start another one after so much wall time."""
        self._process.kill()
        self._process.wait()
        self._close()
        time.sleep(away_s)
        self._process = self._start()
        self.tell()

    def end(self) -> None:
        """Let it end by itself."""
        self._process.stdin.close()
        self._process.wait(30.0)
        self._close()

    def _close(self) -> None:
        for stream in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                stream.close()


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """What the collector held when an hour of line time was over."""

    born: int
    """Which process it was."""
    memory_mb: float
    tasks: int
    threads: int
    handles: int


@dataclass(slots=True, kw_only=True)
class Soak:
    """A run that is going on."""

    plant: RunningPlant
    collector: Collector
    speed: float
    began_wall_s: float = field(default_factory=time.monotonic)
    down: set[str] = field(default_factory=set)
    """Links that are dropped or silenced just now."""
    done: dict[str, int] = field(default_factory=dict)
    """How often each thing was done."""
    lost: bool = False
    hours: list[Hour] = field(default_factory=list)
    calm: Hour | None = None
    """What the first process held before anything was done to it."""
    begun: dict[str, Any] = field(default_factory=dict)
    """What the plant had counted when the first run began."""

    def line_s(self) -> float:
        """Return the line time since the beginning of the run."""
        return (time.monotonic() - self.began_wall_s) * self.speed

    def wait_until(self, line_s: float) -> None:
        """Wait, and look at the collector whenever an hour is over."""
        while self.line_s() < line_s:
            due_s = (len(self.hours) + 1) * HOUR_S
            if self.line_s() >= due_s:
                self.hours.append(self.look())
                print(f"hour {len(self.hours)}: {self.hours[-1]}", file=sys.stderr, flush=True)
                continue
            time.sleep(max(0.0, min(line_s, due_s) - self.line_s()) / self.speed)

    def look(self, samples: int = SAMPLES) -> Hour:
        """Return what the collector holds: the least of some looks."""
        looks = []
        for _ in range(samples):
            looks.append(self.collector.tell())
            time.sleep(LOOK_S)
        told = looks[-1]
        self.lost = self.lost or told["dropped"] > 0
        return Hour(
            born=self.collector.born,
            memory_mb=told["memory_mb"],
            tasks=min(each["tasks"] for each in looks),
            threads=min(each["threads"] for each in looks),
            handles=min(each["handles"] for each in looks),
        )

    def asked(self, question: dict[str, Any]) -> dict[str, Any]:
        """Return the plant's answer: on a busy machine it may take more than one try.

        What is asked for while the same is still being done is refused with no answer at all.
        """
        for _ in range(TRIES):
            with contextlib.suppress(TimeoutError, ValueError):
                return self.plant.ask(question)
            time.sleep(1.0)
        raise RuntimeError(f"the plant does not answer {question}")

    def truth(self, wall_s: float) -> dict[str, Any]:
        """Return what the plant had counted at a moment of the monotonic clock."""
        return self.asked({"ask": "truth", "at_monotonic_ns": round(wall_s * 1e9)})

    def act(self, act: Act) -> None:
        """Do one thing, unless it is done already."""
        if act.what in {"drop", "silence"} and act.where in self.down:
            return
        if act.what in {"listen", "speak"} and act.where not in self.down:
            return
        print(
            f"{self.line_s():8.0f} s: {act.what} {act.where}{act.size or ''}", file=sys.stderr
        )
        self.done[act.what] = self.done.get(act.what, 0) + 1
        if act.what in {"drop", "listen", "silence", "speak"}:
            self.asked({"do": act.what, "name": act.where})
            change = self.down.add if act.what in {"drop", "silence"} else self.down.discard
            change(act.where)
        elif act.what == "kill":
            self.collector.kill(act.size)
        elif act.what == "step":
            self.collector.ask(do="step", by_s=act.size)
        else:
            self.lost = self.lost or self.collector.tell()["dropped"] > 0
            self.collector.ask(do=act.what)


def main(hours: float, seed: int, speed: float, store: Path | None) -> list[Measured]:
    """Run, compare and return the table."""
    with (
        tempfile.TemporaryDirectory() as name,
        running_plant(speed=speed, troubles=(), seed=seed, line="works") as plant,
    ):
        folder = store if store is not None else Path(name)
        folder.mkdir(parents=True, exist_ok=True)
        plant.wait_until_all_listen()
        works = config.read(shipped("demo.toml")).with_addresses(plant.links)
        file = folder / "line.toml"
        file.write_text(works.text, encoding="utf-8")
        soak = Soak(plant=plant, collector=Collector(file, folder, speed), speed=speed)
        soak.begun = soak.truth(soak.collector.tell()["wall_s"])
        soak.began_wall_s = time.monotonic()
        silenceable = [each.link.id for each in works.links if each.link.protocol != "opcua"]
        acts = drawn(seed, hours, [each.link.id for each in works.links], silenceable)
        soak.wait_until(0.9 * PEACE_FIRST_S)
        soak.calm = soak.look(CALM_SAMPLES)
        for act in acts:
            soak.wait_until(act.at_s)
            soak.act(act)
        soak.wait_until(hours * HOUR_S)
        soak.hours.append(soak.look(CALM_SAMPLES))
        told = soak.collector.tell()
        rows = [*_totals(soak, told), *_held(soak)]
        soak.collector.end()
        verdict = records.verify(folder, works.plan.line_id, ("", ""))
        for fault in verdict.faults:
            print(fault, file=sys.stderr)
        rows.append(
            Measured(
                measure="  faults that a replay of the record finds",
                value=len(verdict.faults),
                unit="",
                against=f"{verdict.entries} entries, {verdict.events} events",
                wanted="<= 0",
            )
        )
        head = f"{hours:g} h at speed {speed:g}, seed {seed}: done to it"
        done = ", ".join(f"{what} {count}" for what, count in sorted(soak.done.items()))
        return [
            Measured(measure=head, value=sum(soak.done.values()), unit="", against=done),
            Measured(measure="  batches were lost to a full disk", value=soak.lost, unit=""),
            *rows,
        ]


def _totals(soak: Soak, told: dict[str, Any]) -> list[Measured]:
    """Hold every total against the plant's, at the moment of its rectifier's last reading."""
    truth = {name: soak.truth(each["read_s"]) for name, each in told["rectifiers"].items()}
    charges: dict[str, tuple[float, str]] = {}
    metals: dict[str, tuple[float, str]] = {}
    for name, ours in told["rectifiers"].items():
        true = _since(truth[name], soak.begun, "rectifiers", name)["charge_ah"]
        sums = (ours["cathodic_ah"] + ours["anodic_ah"], ours["pm_ah"] + ours["anodic_pm_ah"])
        charges[name] = _off(sums[0], true, sums[1], _untold_ah(ours))
    for name, ours in told["tanks"].items():
        true = _since(truth[ours["rectifiers"][0]], soak.begun, "tanks", name)
        untold_ah = sum(_untold_ah(told["rectifiers"][each]) for each in ours["rectifiers"])
        for kind, pm in (("cathodic_ah", "pm_ah"), ("anodic_ah", "anodic_pm_ah")):
            if ours[kind] or true[kind] > 1.0:
                charges[f"{name} {kind}"] = _off(ours[kind], true[kind], ours[pm], untold_ah)
        if "metal_g" in ours and not ours["metal_refused"]:
            untold_g = untold_ah * true["metal_g"] / true["cathodic_ah"]
            metals[name] = _off(ours["metal_g"], true["metal_g"], ours["metal_pm_g"], untold_g)
    accounts = [
        abs(each["metered_s"] + each["recovered_s"] + each["unmetered_s"] - each["elapsed_s"])
        for each in told["rectifiers"].values()
    ]
    unmetered = {name: each["unmetered_s"] for name, each in told["rectifiers"].items()}
    recovered = [each["recovered_s"] for each in told["rectifiers"].values()]
    return [
        *_rows("charges of rectifiers and tanks", charges),
        *_rows("metal of tanks", metals),
        Measured(
            measure="  account of time off, largest",
            value=max(accounts),
            unit="s",
            wanted="< 1e-3",
        ),
        Measured(
            measure="  recovered from the meter, median of the rectifiers",
            value=statistics.median(recovered),
            unit="s",
        ),
        Measured(
            measure="  unmetered, most of a rectifier",
            value=max(unmetered.values()),
            unit="s",
            against=max(unmetered, key=lambda name: unmetered[name]),
        ),
    ]


def _since(
    truth: dict[str, Any], begun: dict[str, Any], kind: str, name: str
) -> dict[str, float]:
    before, after = begun[kind].get(name, {}), truth[kind][name]
    return {key: value - before.get(key, 0.0) for key, value in after.items()}


def _untold_ah(ours: dict[str, float]) -> float:
    """Return the most that can have flowed in the time that a rectifier calls unmetered."""
    return ours["rated_a"] * ours["unmetered_s"] / HOUR_S


def _off(ours: float, true: float, pm: float, untold: float) -> tuple[float, str]:
    """Return how far off a total is, over what it says of itself, and that in words.

    What flowed while nothing told the current is not counted, and said not to be: by so much
    the plant may have more.
    """
    beyond = abs(ours - true)
    words = f"{ours:.1f} ± {pm:.1f}, plant {true:.1f} ({100 * (ours / true - 1):+.2f} %)"
    if ours < true and beyond > pm:
        beyond = max(0.0, beyond - untold)
        words += f"; at most {untold:.1f} unmetered"
    return beyond / pm if pm else float("inf"), words


def _rows(what: str, found: dict[str, tuple[float, str]]) -> list[Measured]:
    for name, (ratio, words) in sorted(found.items(), key=lambda each: -each[1][0]):
        print(f"{name:<40}{ratio:6.2f}  {words}", file=sys.stderr)
    worst = max(found, key=lambda name: found[name][0])
    return [
        Measured(
            measure=f"  {what} beyond their own ±",
            value=sum(ratio > 1.0 for ratio, _ in found.values()),
            unit="",
            against=f"of {len(found)}; median share"
            f" {statistics.median(ratio for ratio, _ in found.values()):.2f};"
            f" {sum('unmetered' in words for _, words in found.values())} by what is unmetered",
            wanted="<= 0",
        ),
        Measured(
            measure=f"  {what}: worst share of their ±",
            value=found[worst][0],
            unit="",
            against=f"{worst}: {found[worst][1]}",
            wanted="<= 1",
        ),
    ]


def _held(soak: Soak) -> list[Measured]:
    """Compare the last process with itself, and its holdings with the first one's."""
    first, last = soak.calm, soak.hours[-1]
    lived = [hour for hour in soak.hours if hour.born == last.born]
    # An hour that is not whole is not compared: the process had only begun.
    second = lived[min(1, len(lived) - 1)]
    return [
        Measured(
            measure="  memory of the last process, last hour",
            value=last.memory_mb / second.memory_mb,
            unit="x second",
            against=f"{second.memory_mb:.1f} MB, then {last.memory_mb:.1f} MB"
            f" after {len(lived)} h; {soak.collector.born} processes",
            wanted="<= 1.05",
        ),
        *(
            Measured(
                measure=f"  {what} more than before all that",
                value=getattr(last, what) - getattr(first, what),
                unit="",
                against=f"{getattr(first, what)} then",
                wanted="<= 0",
            )
            for what in ("tasks", "threads", "handles")
        ),
    ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--hours", type=float, default=24.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--speed", type=float, default=60.0)
    parser.add_argument("--store", type=Path, help="a new folder that keeps the record")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    table = main(given.hours, given.seed, given.speed, given.store)
    told(table, given.json)
