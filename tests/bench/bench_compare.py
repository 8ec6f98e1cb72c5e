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
import struct
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from bench_modbus import HOST, LINKS
from collecting import TAGS_A_TANK, Collected, collected, tags_of_tank, tank
from serving import serving
from table import Measured, told

DEVICES = Path(__file__).with_name("bench_modbus.py")
FLOATS_A_FRAME = 62
SCRIPT_VALUES = 4000
LINE = "compared"


def configuration(ports: list[int], tags: int) -> str:
    """Return the configuration of a line with so many tags over eight links."""
    rows = [f'[line]\nid = "{LINE}"\nname = "Compared"\n']
    each = tags // len(ports)
    number = 0
    for link, port in enumerate(ports):
        rows.append(
            f'[[link]]\nid = "l{link}"\nprotocol = "modbus-tcp"\n'
            f'address = "{HOST}:{port}"\n\n[[device]]\nid = "d{link}"\n'
            f'link = "l{link}"\nperiod = "1 s"\n'
        )
        tanks, address = [], 0
        for first in range(0, each, TAGS_A_TANK):
            names = tags_of_tank(number, min(TAGS_A_TANK, each - first))
            for tag in names:
                rows.append(
                    f'[[device.tag]]\nmeasures = "{tag}"\n'
                    f'read = {{ address = {address}, type = "float32" }}\n'
                )
                address += 2
            tanks.append(tank(number, names))
            number += 1
        rows += tanks
    return "\n".join(rows)


def product(ports: list[int], tags: int, seconds: float) -> Collected:
    """Collect so many tags at 1 Hz."""
    return collected(configuration(ports, tags), LINE, tags / LINKS, seconds)


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


def compared(ports: list[int], found: Collected, tags: int, seconds: float) -> list:
    """Compare the product with the script and with the bare exchange."""
    script_rate = asyncio.run(awaited_script(ports, SCRIPT_VALUES))
    blocking_rate = script(ports, SCRIPT_VALUES)
    bare_share = asyncio.run(bare(ports, found.requests_a_s, seconds))
    bare_rate = found.values_a_s / bare_share
    return [
        Measured(
            measure=f"{tags} tags, {LINKS} links: read to stored, for a core-second",
            value=found.values_a_core_s,
            unit="values",
            against=f"script {script_rate:.0f} or {blocking_rate:.0f}, bare {bare_rate:.0f}",
        ),
        Measured(
            measure="  against the short script over asyncio",
            value=found.values_a_core_s / script_rate,
            unit="",
            wanted=">= 20",
        ),
        Measured(
            measure="  against the same over the blocking client",
            value=found.values_a_core_s / blocking_rate,
            unit="",
            wanted=">= 20",
        ),
        Measured(
            measure="  against a bare exchange of the same frames",
            value=found.values_a_core_s / bare_rate,
            unit="",
            wanted=">= 0.25",
        ),
    ]


def growth(sizes: list[int], found: list[Collected]) -> list[Measured]:
    """Hold each size against the straight line through the first two."""
    rows = []
    for name, unit, factor in (("share", "% core", 100.0), ("memory_mb", "MB", 1.0)):
        first, second = getattr(found[0], name), getattr(found[1], name)
        slope = (second - first) / (sizes[1] - sizes[0])
        for size, each in zip(sizes, found, strict=True):
            line = first + slope * (size - sizes[0])
            rows.append(
                Measured(
                    measure=f"{size} tags at 1 Hz: {name.split('_')[0]}",
                    value=factor * getattr(each, name),
                    unit=unit,
                    against=f"straight line {factor * line:.3g}",
                )
            )
            if size > sizes[1]:
                rows.append(
                    Measured(
                        measure="  against the straight line through the first two",
                        value=getattr(each, name) / line,
                        unit="",
                        wanted="<= 1",
                    )
                )
    rows += [
        Measured(
            measure=f"{size} tags at 1 Hz: period reached",
            value=each.poll_s,
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
    with serving(DEVICES) as every_port:
        ports = every_port[:LINKS]
        found = [product(ports, tags, options.seconds) for tags in options.tags]
        at = options.tags.index(10000) if 10000 in options.tags else len(found) - 1
        rows = compared(ports, found[at], options.tags[at], options.seconds)
        if len(found) > 1:
            rows += growth(options.tags, found)
    told(rows, options.json)


if __name__ == "__main__":
    main()
