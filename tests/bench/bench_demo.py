"""What the running demonstration costs, and how fast it is there.

    python tests/bench/bench_demo.py [seconds]

Starts the plant and the collector as the demo does, and a screen on a pseudo-terminal; waits
until it is warm, then measures both over the seconds given (30).
"""

from __future__ import annotations

import argparse
import json
import os
import pty
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

import psutil

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

from linewatch import config, history

STARTS = 5
ROOT = Path(__file__).parents[2]
MOST_OF_A_CORE = {"collector": "< 10", "screen": "< 8"}


def main(seconds: float) -> list[Measured]:
    """Measure and return the table."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder)
        plant = subprocess.Popen(
            [sys.executable, "-m", "linewatch_sim", "--until-stdin-closes"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        links = json.loads(plant.stdout.readline())["links"]
        works = config.read(ROOT / "config" / "demo.toml").with_addresses(links)
        file = store / "demo.toml"
        file.write_text(works.text, encoding="utf-8")
        collector = subprocess.Popen(
            [sys.executable, "-m", "linewatch", "collect", str(file), "--store", str(store)],
            stdin=subprocess.DEVNULL,
        )
        try:
            wait_for_picture(store, works.plan.line_id)
            rows = measure(store, works.plan.line_id, collector.pid, seconds)
            return [*starting(store, works.plan.line_id), *rows]
        finally:
            collector.terminate()
            collector.wait()
            plant.stdin.close()
            plant.wait()


def wait_for_picture(store: Path, line_id: str) -> None:
    """Wait until the collector shows a picture."""
    while True:
        if history.lines(store) and history.open_desk(store, line_id).picture() is not None:
            return
        time.sleep(0.05)


def starting(store: Path, line_id: str) -> list[Measured]:
    """Measure how soon a screen is there, against an interpreter that imports its toolkit."""
    ours, bare = [], []
    for _ in range(STARTS):
        began = time.monotonic()
        screen, drawn = start_screen(store, line_id)
        if not drawn.first.wait(20.0):
            raise RuntimeError("no live screen within 20 s")
        ours.append(time.monotonic() - began)
        screen.kill()
        screen.wait()
        began = time.monotonic()
        subprocess.run([sys.executable, "-c", "import textual"], check=True)
        bare.append(time.monotonic() - began)
    our, their = median(ours), median(bare)
    return [
        Measured(
            measure="attach: start to first live screen",
            value=our,
            unit="s",
            against=f"import textual {their:.2f} s",
            wanted="< 5",
        ),
        Measured(
            measure='  against python -c "import textual"',
            value=our / their,
            unit="times",
            wanted="<= 3",
        ),
    ]


def measure(store: Path, line_id: str, collector_id: int, seconds: float) -> list[Measured]:
    """Measure collector and screen over some seconds."""
    screen, drawn = start_screen(store, line_id)
    drawn.first.wait(20.0)
    time.sleep(5.0)
    watched = {
        "collector": psutil.Process(collector_id),
        "screen": psutil.Process(screen.pid),
    }
    before = {name: sum(process.cpu_times()[:2]) for name, process in watched.items()}
    bytes_before = drawn.count
    time.sleep(seconds)
    rows = []
    for name, process in watched.items():
        used = sum(process.cpu_times()[:2]) - before[name]
        memory_mb = process.memory_info().rss / 1e6
        rows += [
            Measured(
                measure=f"{name}: processor",
                value=100 * used / seconds,
                unit="% core",
                wanted=MOST_OF_A_CORE[name],
            ),
            Measured(measure=f"{name}: resident", value=memory_mb, unit="MB", wanted="< 200"),
        ]
    rate = (drawn.count - bytes_before) / seconds * 60.0 / 1e6
    rows.append(
        Measured(
            measure="screen: written to the terminal of 160x50",
            value=rate,
            unit="MB/min",
            wanted="< 1.5",
        )
    )
    screen.terminate()
    screen.wait()
    return rows


class Drawn:
    """Counts what a screen writes to its terminal."""

    def __init__(self, master: int) -> None:
        self.count = 0
        self.first = threading.Event()
        self._master = master
        self._seen = b""
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                piece = os.read(self._master, 65536)
            except OSError:
                return
            self.count += len(piece)
            self._seen = (self._seen + piece)[-400_000:]
            # A live screen shows a figure with its unit.
            if "°C".encode() in self._seen:
                self.first.set()


def start_screen(store: Path, line_id: str) -> tuple[subprocess.Popen[bytes], Drawn]:
    """Start a screen of 160 x 50 on a pseudo-terminal."""
    import fcntl
    import struct
    import termios

    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 50, 160, 0, 0))
    environment = os.environ | {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
    screen = subprocess.Popen(
        [sys.executable, "-m", "linewatch", "view", "--store", str(store), "--line", line_id],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env=environment,
        start_new_session=True,
    )
    os.close(slave)
    return screen, Drawn(master)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seconds", nargs="?", type=float, default=30.0)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    told(main(asked.seconds), asked.json)
