"""kill -9 and power cuts, many times: what was shown as stored must be there afterwards.

    python tests/bench/bench_kill.py [--times 200] [--json FILE]

A third of the kills hit a line that records three seconds a batch, a third one that records
half an hour a batch, so that hours are being archived all the while, and a third a plated line
whose record is fed to the real `Line` again each time. For the power cuts see
tests/history/dropped_writes.py: every write that had not been synced is dropped by chance.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2]))

from table import Measured, told

from linewatch.history import rerun
from linewatch.history.places import places
from tests.history import dropped_writes
from tests.history.counting_line import LINE
from tests.history.inspect_record import look
from tests.history.killing import PLATED, killed_once
from tests.history.plated_line import plan

Table = list[Measured]


def kills(folder: Path, times: int, blocks: int, words: str) -> Table:
    """Kill a line again and again, on one store."""
    chance = random.Random(blocks)  # noqa: S311 - chance, no secret
    faults = back = lost = 0
    furthest = behind = 0
    for number in range(times):
        if number % 50 == 0:
            # A long record makes each look at it longer, and shows nothing more.
            shutil.rmtree(folder, ignore_errors=True)
            furthest = 0
        last, notes = killed_once(folder, chance, blocks)
        found = look(folder)
        faults += bool(found.faults)
        back += found.last < max(last, furthest)
        lost += found.notes < notes
        behind = max(behind, found.last - last)
        furthest = found.last
    return [
        _none(f"{words}: records that contradict themselves", faults, times),
        _none(f"{words}: totals that went back", back, times),
        _none(f"{words}: people's actions lost", lost, times),
        Measured(
            measure=f"{words}: stored, but not yet shown, at most",
            value=behind / blocks,
            unit="batches",
        ),
    ]


def plated_kills(folder: Path, times: int) -> Table:
    """Kill a collector of a plated line; feed its record to the line again each time."""
    chance = random.Random(5)  # noqa: S311 - chance, no secret
    faults = back = lost = replayed = 0
    for number in range(times):
        if number % 10 == 0:
            shutil.rmtree(folder, ignore_errors=True)
        charge, actions = killed_once(folder, chance, script=PLATED)
        verdict = rerun.verify(folder, "plated", lambda _: plan())
        with closing(sqlite3.connect(places(folder, "plated").journal)) as database:
            row = database.execute("SELECT parts FROM totals WHERE subject = 'r2'").fetchone()
        faults += not verdict.holds
        back += json.loads(row[0])["cathodic_uas"] < charge
        lost += verdict.people < actions
        replayed += verdict.entries
    words = "kills of a plated line"
    return [
        _none(f"{words}: replay differs from what was stored", faults, times),
        _none(f"{words}: totals that went back", back, times),
        _none(f"{words}: people's actions lost", lost, times),
        Measured(measure=f"{words}: entries fed again", value=float(replayed), unit=""),
    ]


def power_cuts(folder: Path, times: int) -> Table:
    """Cut the power at random moments."""
    store, images = folder / "store", folder / "images"
    subprocess.run(
        [
            sys.executable,
            dropped_writes.__file__,
            str(store),
            str(images),
            "1",
            str(times),
        ],
        check=True,
    )
    faults = back = lost = 0
    for number in range(times):
        image = images / str(number)
        shown = json.loads((places(image, LINE).folder / "expected.json").read_text())
        found = look(image)
        faults += bool(found.faults)
        back += found.last < shown["last"]
        lost += found.notes < shown["notes"]
    return [
        _none("power cuts: records that contradict themselves", faults, times),
        _none("power cuts: totals that went back", back, times),
        _none("power cuts: people's actions lost", lost, times),
    ]


def _none(words: str, count: int, times: int) -> Measured:
    return Measured(
        measure=words,
        value=float(count),
        unit="",
        wanted="<= 0",
        against=f"{times} times",
    )


def main(times: int = 200) -> Table:
    """Kill and cut, and return the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        return [
            *kills(folder / "short", times - 2 * (times // 3), 3, "kills"),
            *kills(folder / "long", times // 3, 1800, "kills while archiving"),
            *plated_kills(folder / "plated", times // 3),
            *power_cuts(folder, times),
        ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    figures = main(asked.times)
    told(figures, asked.json)
