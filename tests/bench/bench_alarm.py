"""From a condition that has become true to the alarm's line on the screen, at speed 1.

    python tests/bench/bench_alarm.py [--times 30] [--json FILE]

A device of our own on 127.0.0.1 lets one value after the other step out of its window. The
product's collector polls it once a second and announces without a delay; the product's screen
runs on the collector's store. The time from the step in the device to the alarm's text in what
the screen shows is taken, the wait for the next poll included.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

sys.path.insert(0, str(Path(__file__).parents[2]))
from linewatch.ui.app import LinewatchApp, Options
from linewatch.wiring.viewer import desk_when_ready
from tests.ui.seen import text_of

HOST = "127.0.0.1"
LINE = "stepped"
GOOD_MM, LOW_MM = 900, 500
LOOK_S = 0.01
REST_S = 1.5
"""Between two steps, and a random part of a second more, so that polls are met anywhere."""


class Device(asyncio.Protocol):
    """Answers with its registers."""

    levels: list[int]

    def connection_made(self, transport) -> None:
        self._transport = transport

    def data_received(self, data: bytes) -> None:
        unit, function, address, count = struct.unpack(">BBHH", data[6:12])
        values = struct.pack(f">{count}H", *self.levels[address : address + count])
        body = bytes([unit, function, len(values)]) + values
        self._transport.write(data[:4] + struct.pack(">H", len(body)) + body)


def configuration(port: int, tanks: int) -> str:
    """Return a line of tanks, each with a level and a limit that is announced at once."""
    rows = [
        f'[line]\nid = "{LINE}"\nname = "Stepped"\n',
        f'[[link]]\nid = "l"\nprotocol = "modbus-tcp"\naddress = "{HOST}:{port}"\n',
        '[[device]]\nid = "d"\nlink = "l"\nperiod = "1 s"\n',
    ]
    rows += [
        f'[[device.tag]]\nmeasures = "tank-{n}.level"\n'
        f'read = {{ address = {n}, type = "uint16" }}\n'
        for n in range(tanks)
    ]
    rows += [
        f'[[tank]]\nid = "tank-{n}"\nname = "T {n}"\nkind = "plate"\n'
        '[tank.window.level]\nlow = "800 mm"\n'
        '[[tank.alarm]]\nwhen = "low"\nof = "level"\non_delay = "0 s"\n'
        for n in range(tanks)
    ]
    return "\n".join(rows)


async def measure(times: int) -> list[float]:
    """Return each time from step to screen [s]."""
    levels = [GOOD_MM] * times
    Device.levels = levels
    loop = asyncio.get_running_loop()
    server = await loop.create_server(Device, HOST, 0)
    port = server.sockets[0].getsockname()[1]
    chance = random.Random(1)  # noqa: S311 - chance, no secret
    took = []
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder)
        file = store / "line.toml"
        file.write_text(configuration(port, times), encoding="utf-8")
        collector = subprocess.Popen(  # noqa: ASYNC220 - nothing else runs as yet
            [sys.executable, "-m", "linewatch", "collect", str(file), "--store", str(store)],
            stdin=subprocess.DEVNULL,
        )
        try:
            desk = await asyncio.to_thread(desk_when_ready, store, LINE)
            app = LinewatchApp(desk, Options())
            async with app.run_test(size=(160, 50)) as pilot:
                await pilot.pause(2.0)
                for n in range(times):
                    await pilot.pause(REST_S + chance.random())
                    wanted = f"T {n}: level low: {LOW_MM + n} mm"
                    began = time.perf_counter()
                    levels[n] = LOW_MM + n
                    while wanted not in text_of(app):  # noqa: ASYNC110 - it is what is measured
                        await asyncio.sleep(LOOK_S)
                    took.append(time.perf_counter() - began)
        finally:
            collector.terminate()
            collector.wait()
            server.close()
    return took


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Time an alarm's way to the screen.")
    parser.add_argument("--times", type=int, default=30)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    took = asyncio.run(measure(options.times))
    rows = [
        Measured(measure="step in the device to alarm on screen, median", value=median(took),
                 unit="s"),
        Measured(measure=f"  the longest of {len(took)}", value=max(took), unit="s",
                 wanted="< 1.5"),
    ]  # fmt: skip
    told(rows, options.json)


if __name__ == "__main__":
    main()
