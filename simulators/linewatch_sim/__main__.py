"""Run a plant: `python -m linewatch_sim`.

The first line on standard output is one JSON object that tells where everything listens.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import os
import signal
import sys
import threading
from typing import TYPE_CHECKING

from linewatch_sim.control import Control
from linewatch_sim.lines import LINES
from linewatch_sim.plant import Plant
from linewatch_sim.registers import device_map
from linewatch_sim.troubles import BadMoment, UnknownTrouble, planned

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

WRONG_USE = 2
FASTEST = 1000.0


def _arguments(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="linewatch_sim", description="A plating plant that is not there, on real sockets."
    )
    parser.add_argument("--line", choices=tuple(LINES), default="works", help="which plant")
    parser.add_argument("--speed", type=float, default=1.0, help="line time runs so fast")
    parser.add_argument("--seed", type=int, default=1, help="of all that is left to chance")
    parser.add_argument(
        "--trouble",
        action="append",
        default=[],
        metavar="NAME@TIME",
        help="let something go wrong at a line time: heater-fails@5min, gateway-drops@90s+1min",
    )
    parser.add_argument("--troubles", action="store_true", help="list what may go wrong")
    parser.add_argument("--map", action="store_true", help="print where every quantity stands")
    parser.add_argument(
        "--until-stdin-closes", action="store_true", help="end with the process that started it"
    )
    return parser.parse_args(words)


def _when_stdin_closes(call: Callable[[], None]) -> None:
    def watch() -> None:
        with contextlib.suppress(OSError):
            while os.read(0, 4096):
                pass
        call()

    threading.Thread(target=watch, name="standard input", daemon=True).start()


def _when_told_to_end(call: Callable[[], None]) -> None:
    for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            with contextlib.suppress(ValueError, OSError):
                signal.signal(number, lambda *_: call())


async def _run(plant: Plant, *, until_stdin_closes: bool) -> None:
    loop, stop = asyncio.get_running_loop(), asyncio.Event()

    def end() -> None:
        # The loop may have ended already: then there is nothing left to stop.
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(stop.set)

    _when_told_to_end(end)
    if until_stdin_closes:
        _when_stdin_closes(end)
    async with plant, Control(plant) as control:
        ready = {"ready": True, "links": dict(plant.links), "control": control.address}
        print(json.dumps(ready), flush=True)
        await stop.wait()


def main(words: Sequence[str] | None = None) -> int:
    """Run a plant until it is told to end; return the exit code."""
    asked = _arguments(words)
    line, troubles = LINES[asked.line]
    if asked.troubles:
        for trouble in troubles:
            print(f"{trouble.name:24} {trouble.group:14} {trouble.tells}")
        return 0
    if asked.map:
        print(json.dumps(device_map(line), indent=1))
        return 0
    if not 0.0 < asked.speed <= FASTEST:
        print(f"--speed {asked.speed:g} is not between 0 and {FASTEST:g}", file=sys.stderr)
        return WRONG_USE
    try:
        plant = Plant(
            asked.line,
            speed=asked.speed,
            seed=asked.seed,
            troubles=[planned(text) for text in asked.trouble],
        )
    except (UnknownTrouble, BadMoment) as error:
        print(error, file=sys.stderr)
        return WRONG_USE
    asyncio.run(_run(plant, until_stdin_closes=asked.until_stdin_closes))
    return 0


if __name__ == "__main__":
    sys.exit(main())
