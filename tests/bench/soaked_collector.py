"""A collector that tells of itself and can be ill-treated: for `bench_soak.py` alone.

    python tests/bench/soaked_collector.py FILE STORE SPEED AHEAD_NS

Runs the product's own `collect`, with its own configuration and store. Besides, it obeys one
JSON object a line on standard input and answers on standard output: it sets the wall clock of
this process forward or back, lets the database find its disk full and empty again, and tells
what it counted and what it holds. It ends when its standard input closes.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import sys
import threading
import time
from pathlib import Path

import psutil

ROOM_PAGES = 2
ROOMY_PAGES = 1_000_000
_real_ns = time.time_ns


class WallClock:
    """The wall clock of this process: the system's, and what somebody set it ahead by."""

    def __init__(self, ahead_ns: int) -> None:
        self.ahead_ns = ahead_ns

    def time_ns(self) -> int:
        """Return the wall time [ns since the Unix epoch]."""
        return _real_ns() + self.ahead_ns


class Soaked:
    """The running collector, as it is asked."""

    def __init__(self, wall: WallClock) -> None:
        self.wall = wall
        self.engine = None
        self.journal = None

    def obey(self, asked: dict) -> dict:
        """Return the answer to one question; in the loop's own thread."""
        do = {"step": self._step, "full": self._full, "room": self._room, "tell": self._tell}
        return do[asked["do"]](asked)

    def _step(self, asked: dict) -> dict:
        self.wall.ahead_ns += round(asked["by_s"] * 1e9)
        return {"ahead_ns": self.wall.ahead_ns}

    def _full(self, _: dict) -> dict:
        def limit(draft) -> None:
            (pages,) = draft.database.execute("PRAGMA page_count").fetchone()
            draft.database.execute(f"PRAGMA max_page_count = {pages + ROOM_PAGES}")

        self.journal.post(limit)
        return {}

    def _room(self, _: dict) -> dict:
        # Not through the queue: its writer waits for room.
        self.journal._database.execute(f"PRAGMA max_page_count = {ROOMY_PAGES}")
        return {}

    def _tell(self, _: dict) -> dict:
        engine, process = self.engine, psutil.Process()
        if engine is None:
            return {"has_begun": False}
        picture = engine.picture()
        read_s = {
            each.id: engine.clock.wall_at(picture.mono_ns - (picture.utc_ns - read.good_utc_ns))
            for each in picture.rectifiers
            if (read := each.figures.get("current")) is not None and read.good_utc_ns
        }
        return {
            "has_begun": True,
            "wall_s": engine.clock.wall_at(picture.mono_ns),
            "poll_s": picture.poll_s,
            "tasks": len(asyncio.all_tasks()),
            "threads": threading.active_count(),
            "handles": process.num_fds(),
            "memory_mb": process.memory_info().rss / 1e6,
            "recording": picture.recording.running,
            "dropped": picture.recording.dropped,
            "links": {link.id: link.state for link in picture.links},
            "rectifiers": {
                each.id: {"read_s": read_s.get(each.id), "rated_a": each.rated_current_a}
                | _charge(each.charge)
                for each in picture.rectifiers
            },
            "tanks": {
                tank.id: {"rectifiers": tank.rectifiers, **_charge(tank.charge)}
                | (_metal(tank.metal) if tank.metal is not None else {})
                for tank in picture.tanks
                if tank.charge is not None
            },
        }


def _charge(charge) -> dict:
    return {
        "cathodic_ah": charge.cathodic_ah,
        "anodic_ah": charge.anodic_ah,
        "pm_ah": charge.uncertainty_ah,
        "anodic_pm_ah": charge.anodic_uncertainty_ah,
        "metered_s": charge.metered_s,
        "recovered_s": charge.recovered_s,
        "unmetered_s": charge.unmetered_s,
        "elapsed_s": charge.elapsed_s,
    }


def _metal(metal) -> dict:
    return {
        "metal_g": metal.mass_g,
        "metal_pm_g": metal.uncertainty_g,
        "metal_refused": metal.refused,
    }


async def live(file: Path, store: Path, speed: float, wall: WallClock) -> None:
    """Collect until standard input closes."""
    from linewatch import config, history
    from linewatch.core.alarms.alarm import By
    from linewatch.wiring.collector import collect

    soaked, loop, stop = Soaked(wall), asyncio.get_running_loop(), asyncio.Event()
    open_journal = history.open_journal

    def opened(*arguments, **named):
        soaked.journal = open_journal(*arguments, **named)
        return soaked.journal

    history.open_journal = opened

    def answer(line: str) -> None:
        sys.stdout.write(json.dumps(soaked.obey(json.loads(line))) + "\n")
        sys.stdout.flush()

    def listen() -> None:
        with contextlib.suppress(RuntimeError):
            for line in sys.stdin:
                loop.call_soon_threadsafe(answer, line)
            loop.call_soon_threadsafe(stop.set)

    threading.Thread(target=listen, name="standard input", daemon=True).start()

    def began(engine) -> None:
        soaked.engine = engine

    works = config.read(file)
    await collect(works, store, speed=speed, by=By("bench"), stop=stop, began=began)


def main(arguments: list[str]) -> None:
    """Run the collector that was asked for."""
    file, store, speed, ahead_ns = arguments
    wall = WallClock(int(ahead_ns))
    # Before anything of the product is loaded: whoever keeps the clock keeps this one.
    time.time_ns = wall.time_ns
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    for chatty in ("pymodbus", "asyncua", "asyncio"):
        logging.getLogger(chatty).setLevel(logging.ERROR)
    asyncio.run(live(Path(file), Path(store), float(speed), wall))


if __name__ == "__main__":
    main(sys.argv[1:])
