"""The inspector's page of any day of a full month, and other questions about single things.

    python tests/bench/bench_inspector.py [--days N] [--keep DIR]

A month of the works' events is made, as many an hour and as large as the works tells (about
1,275, of which 1,250 of loads); the page of each day of it is then asked for in a process that
knows nothing, as a person does.
"""

from __future__ import annotations

import argparse
import asyncio
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

from linewatch import config, history
from linewatch.core.alarms.alarm import By
from linewatch.core.events import Event, EventKind
from linewatch.core.ports import Batch, Tick
from linewatch.core.readings import Moment
from linewatch.wiring.collector import collect

NS = 10**9
HOUR_NS = 3600 * NS
BEGIN_UTC_NS = 1_772_323_200 * NS
"""2026-03-01 00:00 UTC."""
STAYS_PER_HOUR = 420
CONFIGURATION = Path(__file__).parents[2] / "config" / "demo.toml"
LINE = "works"


def _event(kind: EventKind, subject: str, utc_ns: int, words: str, **values: object) -> Event:
    mono_ns = utc_ns - BEGIN_UTC_NS
    return Event(
        kind=kind, subject=subject, utc_ns=utc_ns, mono_ns=mono_ns, text=words, values=values
    )


def _loads(hour_ns: int, tanks: list[str], chance: np.random.Generator) -> list[Event]:
    found = []
    for k in range(STAYS_PER_HOUR):
        at = hour_ns + k * HOUR_NS // STAYS_PER_HOUR
        tank, number = tanks[k % len(tanks)], str(4000 + k // len(tanks) + at // HOUR_NS * 12)
        found += [
            _event(EventKind.LOAD, tank, at, "a load came in", what="in", load=number),
            _event(EventKind.LOAD, tank, at, "a load left", what="out", load=number),
            _event(
                EventKind.LOAD,
                f"load/{number}",
                at,
                f"280 s in {tank}",
                what="stay",
                load=number,
                trip=1,
                tank=tank,
                tank_name=tank,
                part="Lever",
                by="number",
                in_utc_ns=at - 280 * NS,
                out_utc_ns=at,
                dwell_s=280.0,
                temperature_low_degc=float(chance.uniform(58, 60)),
                temperature_mean_degc=float(chance.uniform(60, 61)),
                temperature_high_degc=float(chance.uniform(61, 62)),
                charge_ah=float(chance.uniform(70, 80)),
                fingerprint="f" * 64,
            ),
        ]
    return found


def _water(hour: int, hour_ns: int, chance: np.random.Generator) -> list[Event]:
    values = {"what": "hour", "hour": hour, "kinds": "ph,turbidity", "flowed_s": 3600.0}
    for kind, low, high in (("ph", 8.2, 9.0), ("turbidity", 3.0, 8.0)):
        mean = float(chance.uniform(low, high))
        values |= {
            f"{kind}_good_s": 3600.0,
            f"{kind}_sum": 3600.0 * mean,
            f"{kind}_low": mean - 0.2,
            f"{kind}_high": mean + 0.2,
            f"{kind}_limit_high": 9.5 if kind == "ph" else 30.0,
        }
    found = [_event(EventKind.DISCHARGE, "discharge", hour_ns, "4 m3", volume_m3=4.0, **values)]
    alarm = "neutralise.ph.high"
    for k in range(4):
        at = hour_ns + k * HOUR_NS // 4
        found += [
            _event(EventKind.ALARM, "neutralise", at, "pH high", alarm=alarm, move="occur"),
            _event(EventKind.ALARM, "neutralise", at + NS, "ends", alarm=alarm, move="clear"),
        ]
    if hour % 8 == 0:
        for number, substance in enumerate(("Ni", "Cu", "Zn", "Cr", "CN")):
            found.append(
                _event(
                    EventKind.ANALYSIS,
                    "discharge",
                    hour_ns,
                    f"{substance} 0.4 mg/L",
                    what="analysed",
                    number=hour * 10 + number,
                    substance=substance,
                    value=float(chance.uniform(0.1, 0.9)),
                    unit="mg/L",
                    sampled_utc_ns=hour_ns,
                    who="LB",
                )
            )
    return found


async def _begun(store: Path) -> None:
    """Let a collector record its configuration and a first picture, then end."""
    works = config.read(CONFIGURATION)
    stop = asyncio.Event()
    asyncio.get_running_loop().call_later(3.0, stop.set)
    await collect(works, store, by=By("AB"), stop=stop)


def made(store: Path, days: int) -> int:
    """Make the record; return how many events it holds."""
    asyncio.run(_begun(store))
    tanks = [tank.id for tank in config.read(CONFIGURATION).plan.tanks]
    chance = np.random.default_rng(1)
    count = 0
    with closing(history.open_journal(store, LINE)) as journal:
        last = journal.last_moment()
        mono_ns = last.mono_ns if last is not None else 0
        for hour in range(24 * days):
            hour_ns = BEGIN_UTC_NS + hour * HOUR_NS
            events = _loads(hour_ns, tanks, chance) + _water(hour, hour_ns, chance)
            count += len(events)
            at = Moment(utc_ns=hour_ns + HOUR_NS, mono_ns=mono_ns + (hour + 1) * NS)
            journal.append(Batch(entries=[Tick(at=at)], events=events, memory={}))
            journal.settle()
    return count


def asked(store: Path, *words: str) -> tuple[float, float, str]:
    """Ask in a process of its own; return wall and processor time [s], and what it prints."""
    began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-m", "linewatch", *words, "--store", str(store)],
        capture_output=True,
        text=True,
        check=True,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - began, cpu_s, done.stdout


def measured(store: Path, days: int) -> list[Measured]:
    """Time each question."""
    count = made(store, days)
    size = sum(file.stat().st_size for file in store.rglob("journal.sqlite*"))
    took, busy = [], []
    for day in range(1, days + 1):
        seconds, cpu_s, page = asked(store, "discharge", "day", f"2026-03-{day:02d}")
        if "inside the permit" not in page and "not recorded" not in page:
            raise SystemExit(f"that is no page of a day: {page[:400]}")
        took.append(seconds)
        busy.append(cpu_s)
    rows = [
        Measured(
            measure=f"inspector's page of a day of {days}, longest",
            value=max(took),
            unit="s",
            wanted="< 2",
            against=f"{count} events, {size / 1e6:.0f} MB",
        ),
        Measured(measure="the same, median", value=float(np.median(took)), unit="s"),
        Measured(measure="the same, processor time, longest", value=max(busy), unit="s"),
    ]
    for name, words in (
        ("lab due", ("lab", "due")),
        ("lab show discharge Ni", ("lab", "show", "discharge", "Ni")),
    ):
        wall_s, cpu_s, _ = asked(store, *words)
        rows.append(
            Measured(measure=name, value=wall_s, unit="s", against=f"{cpu_s:.2f} s processor")
        )
    return rows


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=int, default=31)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--json", type=Path)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        told(measured(wanted.keep or Path(folder), wanted.days), wanted.json)


if __name__ == "__main__":
    main()
