"""Every measurement, one after the other: one table, and one file of JSON.

    python tests/bench/run.py [--quick] [--only NAME ...] [--json FILE]

Each is a program of its own and can be run alone; see its first lines. With --quick the long
ones are left out. What else the machine does spoils times; ratios suffer less.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, read, text, versions

from linewatch.engine.clock import SystemClock

HERE = Path(__file__).parent
QUICK = (
    ("bench_demo.py", "20"),
    ("bench_line.py",),
    ("bench_screen.py",),
    ("bench_modbus.py", "--seconds", "10", "--frames", "50000"),
    ("bench_compare.py", "--seconds", "10"),
    ("bench_opcua.py", "--seconds", "10"),
    ("bench_history.py", "--quick"),
)
LONG = (
    ("bench_demo.py",),
    ("bench_line.py",),
    ("bench_screen.py",),
    ("bench_alarm.py",),
    ("bench_modbus.py",),
    ("bench_compare.py", "--tags", "200", "1000", "10000", "50000"),
    ("bench_opcua.py",),
    ("bench_history.py",),
    ("bench_kill.py",),
    ("bench_addition.py",),
    ("bench_truth.py",),
    ("bench_loads.py",),
    ("bench_day.py",),
    ("bench_soak.py",),
    ("bench_health.py",),
    ("bench_inspector.py",),
)


def main(*, quick: bool, only: list[str], file: Path | None) -> int:
    """Run them, print the table; return how many failed or fell short."""
    programs = [each for each in (QUICK if quick else LONG) if not only or each[0] in only]
    figures: list[tuple[str, Measured]] = []
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, *arguments in programs:
            command = " ".join((name, *arguments))
            print(f"\n{command}", flush=True)
            out = Path(folder) / f"{name}.json"
            done = subprocess.run(
                [sys.executable, str(HERE / name), *arguments, "--json", str(out)], check=False
            )
            failed += done.returncode != 0
            figures += [(command, row) for row in (read(out) if out.exists() else ())]
    rows = [row for _, row in figures]
    print(f"\n{text(rows)}")
    if file is not None:
        parts = {
            "with": versions(),
            "at": datetime.fromtimestamp(SystemClock().system_utc_ns() / 1e9, UTC)
            .date()
            .isoformat(),
            "figures": [{"command": command, **asdict(row)} for command, row in figures],
        }
        file.write_text(json.dumps(parts, indent=1), encoding="utf-8")
    return failed + sum(1 for row in rows if row.holds is False)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="leave the long ones out")
    parser.add_argument(
        "--only",
        nargs="+",
        default=[],
        metavar="NAME",
        type=lambda name: f"{name.removesuffix('.py')}.py",
        choices=sorted({each[0] for each in (*QUICK, *LONG)}),
        help="bench_line, bench_screen ...",
    )
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    sys.exit(main(quick=asked.quick, only=asked.only, file=asked.json))
