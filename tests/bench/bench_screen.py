"""What the screen costs in a real terminal of 160 x 50: `python tests/bench/bench_screen.py`.

A screen runs in a pseudo-terminal on an invented line of 34 positions and about 2,000 tags,
all of which change once a second. Measured from outside: processor time, memory, bytes to the
terminal, the time from a key to the last byte of its drawing, what is written while nothing but
the clock changes, and whether the screen lives through sizes from 1x1 to 300x100.
"""

from __future__ import annotations

import argparse
import asyncio
import gc
import os
import pty
import select
import signal
import statistics
import subprocess
import sys
import termios
import time
from pathlib import Path

import psutil

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.bench import table

ROOT = Path(__file__).parents[2]
TAGS = 2000
WIDTH, HEIGHT = 160, 50
KEYS = 200
READY = b"Invented works"
QUIET_S = 0.006
"""So long without a byte, and a drawing is over."""
SIZES = ((1, 1), (20, 5), (300, 100), (2, 200), (80, 24), (160, 50))

CHILD = """
import sys, time
from dataclasses import replace
from linewatch.ui.start import run_app
from tests.ui import invented

def widened(picture):
    each = {tags} // len(picture.tanks)
    tanks = []
    for index, tank in enumerate(picture.tanks):
        more = dict(tank.figures)
        while len(more) < each:
            name = f"pressure.{{len(more)}}"
            value = 2.0 + (picture.utc_ns // 10**9 + len(more)) % 7 / 10
            more[name] = invented.figure(f"{{tank.id}}.{{name}}", value, now=picture.utc_ns)
        tanks.append(replace(tank, figures=more))
    return replace(picture, tanks=tuple(tanks))

class Live(invented.InventedDesk):
    pictures = [widened(invented.line(long=True, second=second)) for second in range(8)]
    second = 0
    def picture(self):
        now = time.time_ns()
        if {still}:
            self.shown = replace(self.pictures[0], utc_ns=now // 10**9 * 10**9)
            return self.shown
        if now // 10**9 != self.second:
            self.second = now // 10**9
            self.shown = replace(self.pictures[self.second % 8], utc_ns=now)
        return self.shown

sys.exit(run_app(Live(None), theme="night", is_plain=False))
"""


class Terminal:
    """A screen in a pseudo-terminal, and what it wrote."""

    def __init__(self, *, still: bool = False) -> None:
        self.master, slave = pty.openpty()
        termios.tcsetwinsize(slave, (HEIGHT, WIDTH))
        begun_s = time.perf_counter()
        self.process = subprocess.Popen(
            [sys.executable, "-c", CHILD.format(tags=TAGS, still=still)],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            cwd=ROOT,
            env={**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
        )
        os.close(slave)
        self.watched = psutil.Process(self.process.pid)
        self.bytes_read = 0
        seen = b""
        while READY not in seen:
            seen += self.read(10.0)
        self.first_s = time.perf_counter() - begun_s

    def read(self, within_s: float) -> bytes:
        """Return what is written within some time; empty if nothing is."""
        if not select.select([self.master], [], [], within_s)[0]:
            return b""
        got = os.read(self.master, 1 << 16)
        self.bytes_read += len(got)
        return got

    def drain(self, seconds: float) -> None:
        """Read for some time, as a terminal does."""
        until_s = time.perf_counter() + seconds
        while (left_s := until_s - time.perf_counter()) > 0:
            self.read(left_s)

    def cpu_s(self) -> float:
        """Return the processor time used so far."""
        used = self.watched.cpu_times()
        return used.user + used.system

    def key_ms(self, key: bytes) -> float:
        """Return the time from a key to the last byte of what it draws."""
        while self.read(0.02):
            pass
        begun_s = time.perf_counter()
        os.write(self.master, key)
        got, last_s = self.read(2.0), time.perf_counter()
        while got:
            if got := self.read(QUIET_S):
                last_s = time.perf_counter()
        return (last_s - begun_s) * 1000.0

    def resize(self, width: int, height: int) -> None:
        """Give the terminal another size, as a person who pulls at its corner does."""
        termios.tcsetwinsize(self.master, (height, width))
        self.process.send_signal(signal.SIGWINCH)
        self.drain(0.3)

    def close(self) -> None:
        """End the screen."""
        self.process.terminate()
        while self.process.poll() is None:
            try:
                self.read(0.1)
            except OSError:
                # The terminal's other end is closed: the screen is on its way out.
                self.process.wait()
        os.close(self.master)


def measure(seconds: float) -> list[table.Measured]:
    """Return every figure."""
    screen = Terminal()
    try:
        screen.drain(3.0)
        cpu_s, read = screen.cpu_s(), screen.bytes_read
        screen.drain(seconds)
        steady_cpu = (screen.cpu_s() - cpu_s) / seconds
        steady_bytes = (screen.bytes_read - read) / seconds
        keys = [screen.key_ms(b"\x1b[B" if n % 30 < 15 else b"\x1b[A") for n in range(KEYS)]
        views = [
            screen.key_ms(key) for _ in range(10) for key in (b"a", b"r", b"b", b"p", b"l")
        ]
        resident_mb = screen.watched.memory_info().rss / 1e6
        drawn = resized(screen)
    finally:
        screen.close()
    keys.sort()
    of_keys = f"{KEYS} keys, {TAGS} tags changing each second"
    return [
        table.Measured(
            measure="screen: start to first frame",
            value=screen.first_s * 1000,
            unit="ms",
            wanted="< 5000",
        ),
        table.Measured(
            measure="screen: processor, all figures changing at 1 Hz",
            value=steady_cpu * 100,
            unit="% of core",
            wanted="< 8",
            against=f"{WIDTH}x{HEIGHT}",
        ),
        table.Measured(
            measure="screen: to the terminal",
            value=steady_bytes * 60 / 1e6,
            unit="MB/min",
            wanted="< 1.5",
        ),
        table.Measured(
            measure="screen: key to painted, median",
            value=statistics.median(keys),
            unit="ms",
            wanted="< 30",
            against=of_keys,
        ),
        table.Measured(
            measure="screen: key to painted, 99th percentile",
            value=keys[int(len(keys) * 0.99)],
            unit="ms",
            wanted="< 80",
            against=of_keys,
        ),
        table.Measured(
            measure="screen: another view painted, median",
            value=statistics.median(views),
            unit="ms",
            wanted="< 80",
        ),
        table.Measured(
            measure="screen: drawn again after each of the sizes that it was given",
            value=drawn,
            unit="",
            wanted=f">= {len(SIZES)}",
        ),
        table.Measured(
            measure="screen: to the terminal while nothing but the clock changes",
            value=still_mb_per_min(seconds),
            unit="MB/min",
            wanted="< 0.05",
        ),
        table.Measured(
            measure="screen: resident memory", value=resident_mb, unit="MB", wanted="< 200"
        ),
    ]


def resized(screen: Terminal) -> int:
    """Return after how many sizes, 1x1 to 300x100, the screen drew and lived."""
    drawn = 0
    for width, height in SIZES:
        before = screen.bytes_read
        screen.resize(width, height)
        drawn += screen.process.poll() is None and screen.bytes_read > before
    return drawn


def still_mb_per_min(seconds: float) -> float:
    """Return what is written while the figures stand still."""
    screen = Terminal(still=True)
    try:
        screen.drain(3.0)
        before = screen.bytes_read
        screen.drain(seconds)
        return (screen.bytes_read - before) * 60 / seconds / 1e6
    finally:
        screen.close()


def shift(pictures: int) -> list[table.Measured]:
    """Return how memory grows while a screen without a terminal draws a shift's pictures."""
    from dataclasses import replace

    from tests.ui import invented
    from tests.ui.seen import app_on

    ready = [invented.troubled(long=True, second=second) for second in range(60)]
    desk = invented.InventedDesk(ready[0])
    app = app_on(desk)
    watched = psutil.Process()
    resident_mb: list[float] = []

    async def watch() -> None:
        async with app.run_test(size=(WIDTH, HEIGHT)) as pilot:
            await pilot.pause()
            for number in range(pictures):
                utc_ns = invented.NOON + number * invented.S
                desk.shown = replace(ready[number % 60], utc_ns=utc_ns)
                app.pull()
                await asyncio.sleep(0)
                if number % 100 == 0:
                    name = ("line", "alarms", "tank", "trend", "events")[number // 100 % 5]
                    app.live.go(name, "tank nickel-1" if name in {"tank", "trend"} else "")
                    await pilot.pause()
                if (number + 1) % (pictures // 10) == 0:
                    gc.collect()
                    resident_mb.append(watched.memory_info().rss / 1e6)

    asyncio.run(watch())
    return [
        table.Measured(
            measure=f"screen: memory after {pictures} pictures, over that after a fifth",
            value=resident_mb[-1] - resident_mb[1],
            unit="MB",
            wanted="< 5",
            against=f"{resident_mb[1]:.1f} MB",
        )
    ]


def main() -> int:
    """Print the table; with --json also write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument(
        "--shift", type=int, default=0, metavar="PICTURES", help="28800 are 8 hours at 1 Hz"
    )
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = measure(asked.seconds)
    if asked.shift:
        rows += shift(asked.shift)
    table.told(rows, asked.json)
    return 0 if all(row.holds is not False for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
