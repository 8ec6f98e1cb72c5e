"""One simulated day of the whole works over sockets: what grows, and what does not.

    python tests/bench/bench_day.py [--hours 24] [--speed 100] [--json FILE]

Plant and collector run as in the demonstration. Each hour of line time tells the collector's
resident memory, its open files, its threads, the size of the database and of its write-ahead
log, and the files of the archive.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import psutil

sys.path.insert(0, str(Path(__file__).parent))
from bench_demo import ROOT, wait_for_picture
from table import Measured, told

from linewatch import config, history
from linewatch.history.places import places

HOUR_NS = 3600 * 10**9


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """What stood at the end of an hour of line time."""

    memory_mb: float
    handles: int
    threads: int
    journal_mb: float
    wal_mb: float
    archive_mb: float
    files: int
    poll_s: float


def look(store: Path, line_id: str, process: psutil.Process, poll_s: float) -> Hour:
    """Return what stands now."""
    there = places(store, line_id)
    wal = there.journal.with_name(there.journal.name + "-wal")
    filed = [file for file in there.folder.rglob("*.parquet") if file.is_file()]
    return Hour(
        memory_mb=process.memory_info().rss / 1e6,
        handles=process.num_fds(),
        threads=process.num_threads(),
        journal_mb=there.journal.stat().st_size / 1e6,
        wal_mb=wal.stat().st_size / 1e6 if wal.exists() else 0.0,
        archive_mb=sum(file.stat().st_size for file in filed) / 1e6,
        files=len(filed),
        poll_s=poll_s,
    )


def run(hours: int, speed: float) -> list[Hour]:
    """Live through so many hours; return each."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder)
        plant = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "linewatch_sim",
                "--until-stdin-closes",
                "--speed",
                str(speed),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        links = json.loads(plant.stdout.readline())["links"]
        works = config.read(ROOT / "config" / "demo.toml").with_addresses(links)
        file = store / "demo.toml"
        file.write_text(works.text, encoding="utf-8")
        collector = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "linewatch",
                "collect",
                str(file),
                "--store",
                str(store),
                "--speed",
                str(speed),
            ],
            stdin=subprocess.DEVNULL,
        )
        try:
            wait_for_picture(store, works.plan.line_id)
            return _hours(store, works.plan.line_id, psutil.Process(collector.pid), hours)
        finally:
            collector.terminate()
            collector.wait()
            plant.stdin.close()
            plant.wait()


def _hours(store: Path, line_id: str, process: psutil.Process, hours: int) -> list[Hour]:
    found: list[Hour] = []
    with closing(history.open_desk(store, line_id)) as desk:
        began_ns = desk.picture().mono_ns
        while len(found) < hours:
            time.sleep(0.5)
            picture = desk.picture()
            if picture.mono_ns >= began_ns + (len(found) + 1) * HOUR_NS:
                found.append(look(store, line_id, process, picture.poll_s or 0.0))
                print(f"hour {len(found)}: {found[-1]}", file=sys.stderr, flush=True)
    return found


def rows_of(found: list[Hour], speed: float) -> list[Measured]:
    """Return the table: the last hour against the second, and against the middle one."""
    middle = found[len(found) // 2 - 1]
    second, last = found[min(1, len(found) - 1)], found[-1]
    most_wal = max(each.wal_mb for each in found)
    return [
        Measured(
            measure=f"{len(found)} h over sockets at speed {speed:g}: memory, last hour",
            value=last.memory_mb / second.memory_mb,
            unit="x second",
            wanted="< 1.1",
            against=f"{second.memory_mb:.1f} MB, then {last.memory_mb:.1f} MB",
        ),
        Measured(
            measure="  memory, last hour against the middle one",
            value=last.memory_mb / middle.memory_mb,
            unit="x middle",
            wanted="< 1.05",
            against=f"{middle.memory_mb:.1f} MB, then {last.memory_mb:.1f} MB",
        ),
        Measured(
            measure="  open files more than in the second hour",
            value=last.handles - second.handles,
            unit="",
            wanted="<= 0",
        ),
        Measured(
            measure="  threads more than in the second hour",
            value=last.threads - second.threads,
            unit="",
            wanted="<= 0",
        ),
        Measured(
            measure="  write-ahead log, largest", value=most_wal, unit="MB", wanted="< 64"
        ),
        Measured(
            measure="  database, last hour",
            value=last.journal_mb,
            unit="MB",
            against=f"second {second.journal_mb:.1f} MB",
        ),
        Measured(measure="  archive", value=last.archive_mb, unit="MB"),
        Measured(measure="  files of the archive", value=last.files, unit="", wanted="< 200"),
        Measured(measure="  period reached", value=last.poll_s, unit="s"),
    ]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Live through a day of the works.")
    parser.add_argument("--hours", type=int, default=24)
    parser.add_argument("--speed", type=float, default=100.0)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    rows = rows_of(run(options.hours, options.speed), options.speed)
    told(rows, options.json)


if __name__ == "__main__":
    main()
