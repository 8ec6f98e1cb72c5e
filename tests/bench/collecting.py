"""`linewatch collect`, watched from outside: what it uses, what it stores."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import psutil

from linewatch import history
from linewatch.core.errors import StoreUnusable
from linewatch.engine.clock import SystemClock
from linewatch.history.places import places

WARM_S = 8.0
READY_S = 240.0
KINDS = {"flow": "L/min", "volume": "L", "mass": "kg", "conductivity": "uS/cm"}
TAGS_A_TANK = 20
TANKS_A_RECTIFIER = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Collected:
    """What a collector did within a span."""

    share: float
    """Of one core, user and system, the process and its children."""
    values_a_s: float
    """Values stored each second."""
    requests_a_s: float
    memory_mb: float
    poll_s: float | None
    """The longest period reached."""
    stored_ratio: float | None = None
    """Share of what changed that stands in the record, as `look` found it [1]."""

    @property
    def values_a_core_s(self) -> float:
        """Return how many values were read, judged and stored for each second of a core."""
        return self.values_a_s / self.share


def collected(
    configuration: str,
    line_id: str,
    width: float,
    seconds: float,
    look: Callable[[Path], float] | None = None,
) -> Collected:
    """Collect for some seconds of the world, after the collector has settled.

    Args:
        configuration: Text of the configuration.
        line_id: Its line.
        width: Values in a block, on average.
        seconds: How long to measure.
        look: Looks at the store once its collector has ended; see `stored_ratio`.
    """
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder)
        file = store / "line.toml"
        file.write_text(configuration, encoding="utf-8")
        collector = subprocess.Popen(
            [sys.executable, "-m", "linewatch", "collect", str(file), "--store", str(store)],
            stdin=subprocess.DEVNULL,
        )
        try:
            _until_ready(collector, store, line_id)
            # An hour that is closed meanwhile is work of another kind, measured elsewhere.
            _away_from_the_hour(seconds)
            watched = psutil.Process(collector.pid)
            stored, asked = _blocks(store, line_id), _requests(store, line_id)
            used, began = used_s(watched), time.monotonic()
            time.sleep(seconds)
            took, used = time.monotonic() - began, used_s(watched) - used
            with closing(history.open_desk(store, line_id)) as desk:
                poll_s = desk.picture().poll_s
            found = Collected(
                share=used / took,
                values_a_s=(_blocks(store, line_id) - stored) * width / took,
                requests_a_s=(_requests(store, line_id) - asked) / took,
                memory_mb=watched.memory_info().rss / 1e6,
                poll_s=poll_s,
            )
        finally:
            collector.terminate()
            collector.wait()
        return found if look is None else replace(found, stored_ratio=look(store))


def used_s(process: psutil.Process) -> float:
    """Return the seconds of a core that a process and its ended children have used.

    Where the system tells it to the nanosecond, by thread, it is taken from there: the usual
    figure comes in steps of 10 ms, a twentieth of what a small line takes in a measurement.
    """
    times = process.cpu_times()
    children_s = times.children_user + times.children_system
    threads = list(Path(f"/proc/{process.pid}/task").glob("*/schedstat"))
    if not threads:
        return times.user + times.system + children_s
    return sum(int(each.read_text().split()[0]) for each in threads) / 1e9 + children_s


def _until_ready(collector: subprocess.Popen, store: Path, line_id: str) -> None:
    until = time.monotonic() + READY_S
    while not _has_read(store, line_id):
        if collector.poll() is not None:
            raise RuntimeError("the collector has ended")
        if time.monotonic() > until:
            raise RuntimeError(f"the collector has read nothing within {READY_S:g} s")
        time.sleep(0.2)
    time.sleep(WARM_S)


def _away_from_the_hour(seconds: float) -> None:
    left_s = 3600.0 - SystemClock().system_utc_ns() / 1e9 % 3600.0
    if left_s < seconds + 2.0 or left_s > 3600.0 - 2 * WARM_S:
        time.sleep((left_s + 2 * WARM_S) % 3600.0)


def _has_read(store: Path, line_id: str) -> bool:
    try:
        return bool(history.lines(store)) and _requests(store, line_id) > 0
    except StoreUnusable:
        # The store is being made at this instant.
        return False


def _requests(store: Path, line_id: str) -> int:
    with closing(history.open_desk(store, line_id)) as desk:
        picture = desk.picture()
    return sum(link.requests for link in picture.links) if picture is not None else 0


def _blocks(store: Path, line_id: str) -> int:
    """Return how many blocks stand in the journal: what has been stored, not what was read."""
    with closing(sqlite3.connect(places(store, line_id).journal)) as database:
        found: int = database.execute(
            "SELECT count(*) FROM sequence WHERE kind = 0"
        ).fetchone()[0]
    return found


def tags_of_tank(number: int, count: int) -> list[str]:
    """Return the tags of a made-up tank; the first of each fifth is a rectifier's current."""
    names = []
    for k in range(count):
        if k == 0 and number % TANKS_A_RECTIFIER == 0:
            names.append(f"r{number}.current")
        else:
            names.append(f"tank-{number}.{list(KINDS)[k % 4]}.t{k}")
    return names


def tank(number: int, tags: list[str]) -> str:
    """Return the sections of a made-up tank: two limits for each tag, a rectifier for some."""
    names = [tag.partition(".")[2] for tag in tags if tag.startswith("tank-")]
    windows = "\n".join(
        f'[tank.window."{name}"]\nlow = "0 {unit}"\nhigh = "90000 {unit}"\n'
        for name in names
        for unit in (KINDS[name.split(".")[0]],)
    )
    rectifier = ""
    if number % TANKS_A_RECTIFIER == 0:
        rectifier = (
            f'[[rectifier]]\nid = "r{number}"\nname = "R {number}"\n'
            f'feeds = [{{ tank = "tank-{number}" }}]\nrated_current = "9 kA"\n'
            'rated_voltage = "12 V"\n'
        )
    head = f'[[tank]]\nid = "tank-{number}"\nname = "T {number}"\nkind = "plate"\n'
    return f"{head}{windows}\n{rectifier}"
