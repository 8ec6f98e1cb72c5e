"""Where each trouble shows, and after how long.

    python tests/bench/bench_troubles.py [--for 25min] [--speed 60] [--at 2min] [NAME ...]

Runs the works once undisturbed, then once for each trouble, and tells the first alarm or
change of a link that the undisturbed run did not have, with its delay in line time.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from linewatch import history
from linewatch.core import units
from linewatch.core.events import EventKind

NS = 10**9
ROW = re.compile(r"^(\S+)\s+([a-z-]+)\s+(.*)$")


def troubles() -> list[tuple[str, str]]:
    """Return every trouble's name and group."""
    done = subprocess.run(
        [sys.executable, "-m", "linewatch_sim", "--line", "works", "--troubles"],
        capture_output=True,
        text=True,
        check=True,
    )
    found = [ROW.match(line) for line in done.stdout.splitlines()]
    return [(match[1], match[2]) for match in found if match]


def told(name: str, span: str, speed: str, at: str) -> dict[str, float]:
    """Return the first line time [s] of each alarm and link state of one run."""
    with tempfile.TemporaryDirectory() as folder:
        asked = ["--trouble", f"{name}@{at}"] if name else []
        subprocess.run(
            [
                sys.executable,
                *("-m", "linewatch", "demo", "--headless", "--json"),
                *("--for", span, "--speed", speed, "--store", folder, *asked),
            ],
            capture_output=True,
            check=True,
        )
        store = Path(folder)
        desk = history.open_desk(store, history.lines(store)[0])
        first: dict[str, float] = {}
        number, begin_ns = 0, None
        while True:
            stored = desk.changes(number, 1000)
            if not stored:
                break
            for each in stored:
                number, event = each.number, each.event
                begin_ns = begin_ns if begin_ns is not None else event.mono_ns
                shown = _shown(event)
                if shown:
                    first.setdefault(shown, (event.mono_ns - begin_ns) / NS)
        picture = desk.picture()
        for link in picture.links if picture is not None else ():
            for unit in link.units_silent:
                first.setdefault(f"link {link.id}: {unit} silent", 0.0)
        return first


def _shown(event: object) -> str:
    values = event.values
    if event.kind is EventKind.ALARM and values.get("from") == "normal":
        return str(values.get("alarm"))
    if event.kind in {EventKind.METER_DRIFT, EventKind.METER_RESET, EventKind.FINDING}:
        return f"{event.kind} {event.subject}"
    return ""


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*")
    parser.add_argument("--for", dest="span", default="25min")
    parser.add_argument("--speed", default="60")
    parser.add_argument("--at", default="2min")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    chosen = [row for row in troubles() if not asked.names or row[0] in asked.names]
    usual = told("", asked.span, asked.speed, asked.at)
    at_s = units.parse(asked.at, "s")

    def one(row: tuple[str, str]) -> dict[str, object]:
        seen = told(row[0], asked.span, asked.speed, asked.at)
        new = {key: s - at_s for key, s in seen.items() if key not in usual and s >= at_s}
        return {
            "trouble": row[0],
            "group": row[1],
            "shown": dict(sorted(new.items(), key=_when)),
        }

    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(one, chosen))
    for each in found:
        shown = list(each["shown"].items())
        first = f"{shown[0][0]} after {shown[0][1]:.0f} s" if shown else "NOT SHOWN AS AN ALARM"
        more = f", {len(shown) - 1} more" if len(shown) > 1 else ""
        print(f"{each['trouble']:<24}{each['group']:<15}{first}{more}")
    if asked.json:
        asked.json.write_text(json.dumps(found, indent=1), encoding="utf-8")


def _when(item: tuple[str, float]) -> float:
    return item[1]


if __name__ == "__main__":
    main()
