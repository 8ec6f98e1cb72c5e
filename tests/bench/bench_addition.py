"""From the key to the disk: a logged addition; and the collector killed right after it.

    python tests/bench/bench_addition.py [--times 40] [--kills 10] [--json FILE]

The product's collector records a tank that plates; the product's screen runs on its store. An
addition is typed into the screen's own form. From the last key, the time until the screen says
'saved', until a connection of its own finds it in the journal's file, and until the ledger on
the screen has it. Then again with kill -9 to the collector as soon as the screen says 'saved':
after a new start the ledger must hold every amount once.
"""

from __future__ import annotations

import argparse
import asyncio
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2]))
from bench_alarm import HOST, LINE, Device
from table import Measured, told

from linewatch.history.places import places
from linewatch.ui.app import LinewatchApp, Options
from linewatch.wiring.viewer import desk_when_ready

CONFIGURATION = """
[line]
id = "{line}"
name = "Added to"
[[link]]
id = "l"
protocol = "modbus-tcp"
address = "{host}:{port}"
[[device]]
id = "d"
link = "l"
period = "1 s"
[[device.tag]]
measures = "r.current"
read = {{ address = 0, type = "uint16" }}
[[rectifier]]
id = "r"
name = "Rectifier"
feeds = [{{ tank = "nickel-1" }}]
rated_current = "1500 A"
rated_voltage = "12 V"
[[tank]]
id = "nickel-1"
name = "Bright nickel"
kind = "plate"
bath = "nickel"
[[bath]]
id = "nickel"
name = "Bright nickel"
recipe = "nickel-watts"
volume = "2800 L"
[[bath.additive]]
id = "brightener"
name = "Brightener"
dose = "180 mL/kA.h"
least_dose = "1 mL"
"""
LOOK_S = 0.002
AMPERES = 1000


class Works:
    """A device, a store, and a collector that can be killed."""

    def __init__(self, folder: Path, port: int) -> None:
        self.store = folder
        self.file = folder / "line.toml"
        told = CONFIGURATION.format(line=LINE, host=HOST, port=port)
        self.file.write_text(told, encoding="utf-8")

    def start(self) -> subprocess.Popen[bytes]:
        """Start a collector."""
        return subprocess.Popen(
            [
                sys.executable,
                "-m",
                "linewatch",
                "collect",
                str(self.file),
                "--store",
                str(self.store),
            ],
            stdin=subprocess.DEVNULL,
        )

    def requests(self) -> int:
        """Return how many requests are in the journal's file."""
        journal = places(self.store, LINE).journal
        with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as database:
            return int(database.execute("SELECT COUNT(*) FROM requests").fetchone()[0])


def entries(app: LinewatchApp) -> list[float]:
    """Return the amounts in the ledger on the screen [mL]."""
    picture = app.sight.picture
    if picture is None:
        return []
    return [
        each.amount_ml
        for bath in picture.baths
        for additive in bath.additives
        for each in additive.entries
    ]


async def log(app, pilot, amount: str) -> float:
    """Type an addition; return when the last key was pressed [s]."""
    app.said = ""
    for key in ("b", "d", *amount, "tab", "tab", "o", "k"):
        await pilot.press(key)
    await pilot.pause()
    began = time.perf_counter()
    await pilot.press("enter")
    return began


async def until(holds, longest_s: float = 30.0) -> float:
    """Return when something holds [s]."""
    end = time.perf_counter() + longest_s
    while not holds():
        if time.perf_counter() > end:
            raise TimeoutError
        await asyncio.sleep(LOOK_S)
    return time.perf_counter()


async def timed(works: Works, times: int) -> list[tuple[float, float, float]]:
    """Return for each addition: until said to be saved, found on disk, in the ledger [s]."""
    found = []
    desk = await asyncio.to_thread(desk_when_ready, works.store, LINE)
    app = LinewatchApp(desk, Options(initials="MK"))
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause(2.0)
        for number in range(times):
            before, kept = works.requests(), len(entries(app))
            began = await log(app, pilot, f"{100 + number}")
            said = await until(lambda: "saved" in app.said or "done" in app.said)
            # What the screen says is held against the file by another connection.
            is_there = works.requests() == before + 1
            assert is_there, "said to be saved, and not in the file"
            disk = time.perf_counter()
            ledger = await until(lambda k=kept: len(entries(app)) == k + 1)
            found.append((said - began, disk - began, ledger - began))
    return found


async def killed(works: Works, kills: int) -> tuple[int, int]:
    """Return (additions lost, counted twice) after a kill -9 right behind each of them."""
    wanted = []
    collector = works.start()
    for number in range(kills):
        desk = await asyncio.to_thread(desk_when_ready, works.store, LINE, None)
        app = LinewatchApp(desk, Options(initials="MK"))
        async with app.run_test(size=(120, 40)) as pilot:
            await pilot.pause(0.5)
            await log(app, pilot, f"{500 + number}")
            await until(lambda a=app: "saved" in a.said or "done" in a.said)
            collector.kill()
            collector.wait()
        wanted.append(500.0 + number)
        collector = works.start()
    try:
        desk = await asyncio.to_thread(desk_when_ready, works.store, LINE)
        acts = Counter(
            float(act.parts["command"]["amount_ml"])
            for act in await asyncio.to_thread(desk.actions)
            if act.what == "LogAddition" and not act.parts.get("refused")
        )
    finally:
        collector.terminate()
        collector.wait()
    lost = sum(acts[amount] == 0 for amount in wanted)
    return lost, sum(max(0, acts[amount] - 1) for amount in wanted)


async def measure(times: int, kills: int) -> list[Measured]:
    """Measure all and return the table."""
    Device.levels = [AMPERES]
    server = await asyncio.get_running_loop().create_server(Device, HOST, 0)
    port = server.sockets[0].getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        works = Works(Path(folder), port)
        collector = works.start()
        try:
            rows = await timed(works, times)
        finally:
            collector.terminate()
            collector.wait()
        lost, twice = await killed(works, kills)
    server.close()
    said, disk, ledger = ([1e3 * row[k] for row in rows] for k in range(3))
    return [
        Measured(measure="key to 'saved' on screen, median", value=median(said), unit="ms"),
        Measured(
            measure=f"  the longest of {times}", value=max(said), unit="ms", wanted="< 200"
        ),
        Measured(measure="key to seen in the file, longest", value=max(disk), unit="ms"),
        Measured(
            measure="key to the ledger on screen, median", value=median(ledger), unit="ms"
        ),
        Measured(
            measure=f"additions lost by {kills} kills right after 'saved'",
            value=lost,
            unit="",
            wanted="<= 0",
        ),
        Measured(
            measure="additions counted twice by them", value=twice, unit="", wanted="<= 0"
        ),
    ]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Time an addition's way to the disk.")
    parser.add_argument("--times", type=int, default=40)
    parser.add_argument("--kills", type=int, default=10)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    rows = asyncio.run(measure(options.times, options.kills))
    told(rows, options.json)


if __name__ == "__main__":
    main()
