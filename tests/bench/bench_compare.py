"""The whole product against a short script and against the bare socket; and how it grows.

    python tests/bench/bench_compare.py [--tags 200 1000 10000] [--seconds 20] [--json FILE]

The same devices, in a process of their own on 127.0.0.1, are read by

* the product: `linewatch collect` with a configuration file of its own, every tag with two
  limits and an alarm for bad values, a rectifier for each hundred tags; read, decoded, judged,
  integrated and stored at 1 Hz;
* the short script that a shop would write instead: one value after the other over pymodbus,
  each appended to a CSV file, flat out; over its asyncio client, then over its blocking one;
* a bare asyncio exchange of the frames that the product sends, at 1 Hz; nothing is looked at.

All three are told in values for each second of a core (user and system time of the process).
"""

from __future__ import annotations

import argparse
import asyncio
import csv
import json
import sqlite3
import struct
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import psutil

sys.path.insert(0, str(Path(__file__).parent))
from bench_modbus import HOST, LINKS
from table import Measured, text, write

from linewatch import history
from linewatch.history.places import places

DEVICES = Path(__file__).with_name("bench_modbus.py")
KINDS = {"flow": "L/min", "volume": "L", "mass": "kg", "conductivity": "uS/cm"}
TAGS_A_TANK = 20
TANKS_A_RECTIFIER = 5
FLOATS_A_FRAME = 62
WARM_S = 8.0
SCRIPT_VALUES = 4000
LINE = "compared"


def configuration(ports: list[int], tags: int) -> str:
    """Return the configuration of a line with so many tags over eight links."""
    rows = [f'[line]\nid = "{LINE}"\nname = "Compared"\n']
    each = tags // len(ports)
    tank = 0
    for number, port in enumerate(ports):
        rows.append(
            f'[[link]]\nid = "l{number}"\nprotocol = "modbus-tcp"\n'
            f'address = "{HOST}:{port}"\n\n[[device]]\nid = "d{number}"\n'
            f'link = "l{number}"\nperiod = "1 s"\n'
        )
        tanks, measured = [], 0
        while measured < each:
            names = []
            for k in range(min(TAGS_A_TANK, each - measured)):
                if k == 0 and tank % TANKS_A_RECTIFIER == 0:
                    tag = f"r{tank}.current"
                else:
                    names.append(f"{list(KINDS)[k % 4]}.t{k}")
                    tag = f"tank-{tank}.{names[-1]}"
                rows.append(
                    f'[[device.tag]]\nmeasures = "{tag}"\n'
                    f'read = {{ address = {2 * measured}, type = "float32" }}\n'
                )
                measured += 1
            tanks.append((tank, names))
            tank += 1
        rows += [_tank(which, names) for which, names in tanks]
    return "\n".join(rows)


def _tank(number: int, names: list[str]) -> str:
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


def _used_s(process: psutil.Process) -> float:
    times = process.cpu_times()
    return times.user + times.system + times.children_user + times.children_system


def product(ports: list[int], tags: int, seconds: float) -> dict[str, float]:
    """Collect at 1 Hz; return share of a core, memory, values stored, lateness and frames."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder)
        file = store / "line.toml"
        file.write_text(configuration(ports, tags), encoding="utf-8")
        collector = subprocess.Popen(
            [sys.executable, "-m", "linewatch", "collect", str(file), "--store", str(store)],
            stdin=subprocess.DEVNULL,
        )
        try:
            watched = psutil.Process(collector.pid)
            while not (history.lines(store) and _requests(store) > 0):
                if collector.poll() is not None:
                    raise RuntimeError("the collector has ended")
                time.sleep(0.2)
            time.sleep(WARM_S)
            stored, frames, used = _blocks(store), _requests(store), _used_s(watched)
            began = time.monotonic()
            time.sleep(seconds)
            took = time.monotonic() - began
            used = _used_s(watched) - used
            frames = (_requests(store) - frames) / took
            values = (_blocks(store) - stored) * (tags / LINKS)
            with closing(history.open_desk(store, LINE)) as desk:
                poll_s = desk.picture().poll_s
            return {
                "share": used / took,
                "values": values / took,
                "value_rate": values / used,
                "frames": frames,
                "memory_mb": watched.memory_info().rss / 1e6,
                "poll_s": poll_s,
            }
        finally:
            collector.terminate()
            collector.wait()


def _requests(store: Path) -> int:
    with closing(history.open_desk(store, LINE)) as desk:
        picture = desk.picture()
    return sum(link.requests for link in picture.links) if picture is not None else 0


def _blocks(store: Path) -> int:
    """Return how many blocks stand in the journal: what has been stored, not what was read."""
    with closing(sqlite3.connect(places(store, LINE).journal)) as database:
        found: int = database.execute(
            "SELECT count(*) FROM sequence WHERE kind = 0"
        ).fetchone()[0]
    return found


def script(ports: list[int], values: int) -> float:
    """Return values for each second of a core of the short script."""
    from pymodbus.client import ModbusTcpClient

    clients = [ModbusTcpClient(HOST, port=port) for port in ports]
    for client in clients:
        client.connect()
    with (
        tempfile.TemporaryDirectory() as folder,
        Path(Path(folder) / "log.csv").open("a", encoding="utf-8", newline="") as file,
    ):
        rows = csv.writer(file)
        began = time.process_time()
        for n in range(values):
            client = clients[n % len(clients)]
            reply = client.read_holding_registers(2 * (n % 100), count=2, device_id=1)
            value = client.convert_from_registers(reply.registers, client.DATATYPE.FLOAT32)
            rows.writerow([time.monotonic(), n, value])
            file.flush()
        used = time.process_time() - began
    for client in clients:
        client.close()
    return values / used


async def awaited_script(ports: list[int], values: int) -> float:
    """Return values for each second of a core of the short script over asyncio."""
    from pymodbus.client import AsyncModbusTcpClient

    clients = [AsyncModbusTcpClient(HOST, port=port) for port in ports]
    for client in clients:
        await client.connect()
    with tempfile.TemporaryDirectory() as folder:
        file = (Path(folder) / "log.csv").open("a", encoding="utf-8", newline="")
        with file:
            rows = csv.writer(file)
            began = time.process_time()
            for n in range(values):
                client = clients[n % len(clients)]
                reply = await client.read_holding_registers(2 * (n % 100), count=2, device_id=1)
                value = client.convert_from_registers(reply.registers, client.DATATYPE.FLOAT32)
                rows.writerow([time.monotonic(), n, value])
                file.flush()
            used = time.process_time() - began
    for client in clients:
        client.close()
    return values / used


async def bare(ports: list[int], frames: float, seconds: float) -> float:
    """Exchange so many frames a second, once a second; return the share of a core."""
    count = round(frames / len(ports))
    request = struct.pack(">HHHBBHH", 1, 0, 6, 1, 3, 0, 2 * FLOATS_A_FRAME)
    size = 9 + 4 * FLOATS_A_FRAME

    async def poll(port: int) -> None:
        reader, writer = await asyncio.open_connection(HOST, port)
        due = time.monotonic()
        while due < end:
            for _ in range(count):
                writer.write(request)
                await reader.readexactly(size)
            due += 1.0
            await asyncio.sleep(max(0.0, due - time.monotonic()))
        writer.close()
        await writer.wait_closed()

    began = time.monotonic()
    end = began + seconds
    used = time.process_time()
    await asyncio.gather(*(poll(port) for port in ports))
    return (time.process_time() - used) / (time.monotonic() - began)


def compared(ports: list[int], found: dict[str, float], tags: int, seconds: float) -> list:
    """Compare the product with the script and with the bare exchange."""
    script_rate = asyncio.run(awaited_script(ports, SCRIPT_VALUES))
    blocking_rate = script(ports, SCRIPT_VALUES)
    bare_share = asyncio.run(bare(ports, found["frames"], seconds))
    bare_rate = found["values"] / bare_share
    return [
        Measured(
            measure=f"{tags} tags, {LINKS} links: read to stored, for a core-second",
            value=found["value_rate"],
            unit="values",
            against=f"script {script_rate:.0f} or {blocking_rate:.0f}, bare {bare_rate:.0f}",
        ),
        Measured(
            measure="  against the short script over asyncio",
            value=found["value_rate"] / script_rate,
            unit="",
            wanted=">= 20",
        ),
        Measured(
            measure="  against the same over the blocking client",
            value=found["value_rate"] / blocking_rate,
            unit="",
            wanted=">= 20",
        ),
        Measured(
            measure="  against a bare exchange of the same frames",
            value=found["value_rate"] / bare_rate,
            unit="",
            wanted=">= 0.25",
        ),
    ]


def growth(sizes: list[int], found: list[dict[str, float]]) -> list[Measured]:
    """Hold each size against the straight line through the first two."""
    rows = []
    for name, unit, factor in (("share", "% core", 100.0), ("memory_mb", "MB", 1.0)):
        first, second = found[0][name], found[1][name]
        slope = (second - first) / (sizes[1] - sizes[0])
        for size, each in zip(sizes, found, strict=True):
            line = first + slope * (size - sizes[0])
            rows.append(
                Measured(
                    measure=f"{size} tags at 1 Hz: {name.split('_')[0]}",
                    value=factor * each[name],
                    unit=unit,
                    against=f"straight line {factor * line:.3g}",
                )
            )
            if size > sizes[1]:
                rows.append(
                    Measured(
                        measure="  against the straight line through the first two",
                        value=each[name] / line,
                        unit="",
                        wanted="<= 1",
                    )
                )
    rows += [
        Measured(
            measure=f"{size} tags at 1 Hz: period reached",
            value=each["poll_s"],
            unit="s",
            wanted="<= 1.05",
        )
        for size, each in zip(sizes, found, strict=True)
    ]
    return rows


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Measure the whole product.")
    parser.add_argument("--tags", type=int, nargs="+", default=[200, 1000, 10000])
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    devices = subprocess.Popen(
        [sys.executable, str(DEVICES), "--serve"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        ports = json.loads(devices.stdout.readline())[:LINKS]
        found = [product(ports, tags, options.seconds) for tags in options.tags]
        at = options.tags.index(10000) if 10000 in options.tags else len(found) - 1
        rows = compared(ports, found[at], options.tags[at], options.seconds)
        if len(found) > 1:
            rows += growth(options.tags, found)
    finally:
        devices.stdin.close()
        devices.wait()
    print(text(rows))
    if options.json:
        write(rows, options.json)


if __name__ == "__main__":
    main()
