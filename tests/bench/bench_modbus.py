"""What reading Modbus costs, how fast it is flat out, and what a million near-answers do.

    python tests/bench/bench_modbus.py [--seconds 20] [--frames 1000000] [--json FILE]

The devices run in a process of their own, on 127.0.0.1. Rates are compared within one run, in
turns, with a bare loop over pymodbus' client and with a bare exchange over asyncio's streams.
"""

from __future__ import annotations

import argparse
import asyncio
import importlib.util
import json
import struct
import sys
import time
from pathlib import Path
from statistics import median

import numpy as np
import psutil

sys.path.insert(0, str(Path(__file__).parent))
from serving import serving
from table import Measured, told

from linewatch.config.links import DevicePoll, LinkSettings, TagRead
from linewatch.config.model import DeviceSection, LinkSection, Read
from linewatch.core.readings import Layout
from linewatch.drivers import open_driver
from linewatch.drivers.modbus.book import Book
from linewatch.drivers.modbus.exchange import Conversation
from linewatch.drivers.modbus.question import Answer, Question
from linewatch.drivers.modbus.rtu import crc
from linewatch.engine.clock import NS, SystemClock

HOST = "127.0.0.1"
LINKS = 8
FLOATS = 10_000
REGISTERS = 125
ROUNDS = 5
ROUND_S = 1.0


class Device(asyncio.Protocol):
    """Answers every request for registers at once, always with the same values."""

    def __init__(self, *, rtu: bool) -> None:
        self._rtu = rtu
        self._replies: dict[bytes, bytes] = {}

    def connection_made(self, transport) -> None:
        self._transport = transport

    def data_received(self, data: bytes) -> None:
        key = data if self._rtu else data[6:]
        reply = self._replies.get(key)
        if reply is None:
            reply = self._replies[key] = self._reply(data)
        self._transport.write(reply if self._rtu else data[:2] + reply)

    def _reply(self, data: bytes) -> bytes:
        unit, function, address, count = struct.unpack(
            ">BBHH", data[:6] if self._rtu else data[6:]
        )
        # Float n stands in registers 2n and 2n + 1.
        first = address // 2
        values = np.arange(first, first + count // 2 + 1, dtype=">f4").tobytes()
        body = bytes([unit, function, 2 * count]) + values[: 2 * count].ljust(2 * count, b"\0")
        if self._rtu:
            return body + crc(body)
        return struct.pack(">HH", 0, len(body)) + body


async def serve() -> None:
    """Serve devices until standard input closes; print their ports first."""
    loop = asyncio.get_running_loop()
    ports = []
    for rtu in [False] * LINKS + [True]:
        server = await loop.create_server(lambda rtu=rtu: Device(rtu=rtu), HOST, 0)
        ports.append(server.sockets[0].getsockname()[1])
    sys.stdout.write(json.dumps(ports) + "\n")
    sys.stdout.flush()
    await loop.run_in_executor(None, sys.stdin.read)


def link_of_floats(number: int, port: int) -> LinkSettings:
    """A link with its share of the floats, polled once a second."""
    count = FLOATS // LINKS
    tags = tuple(
        TagRead(
            tag=f"t{number}-{n}.count",
            unit="",
            low=-1e9,
            high=1e9,
            period_ns=NS,
            read=Read(address=2 * n, type="float32"),
            address=2 * n,
        )
        for n in range(count)
    )
    layout = Layout(
        link=f"l{number}", device="d", tags=tuple(tag.tag for tag in tags), period_ns=NS
    )
    device = DeviceSection(id="d", link=f"l{number}")
    return LinkSettings(
        link=LinkSection(id=f"l{number}", protocol="modbus-tcp", address=f"{HOST}:{port}"),
        devices=(DevicePoll(device=device, tags=tags, layouts=(layout,)),),
    )


async def steady(ports: list[int], seconds: float) -> list[Measured]:
    """Poll all floats at 1 Hz; measure this process' share of a core."""
    clock = SystemClock()
    blocks = 0
    expected = np.arange(FLOATS // LINKS, dtype=float)

    async def watch(number: int, port: int) -> None:
        nonlocal blocks
        async with open_driver(link_of_floats(number, port), clock) as driver:
            async for readings in driver.readings():
                blocks += 1
                if blocks <= LINKS:
                    assert np.array_equal(readings.value, expected)

    tasks = [asyncio.create_task(watch(n, port)) for n, port in enumerate(ports)]
    await asyncio.sleep(2.0)
    before, start_cpu, start = blocks, time.process_time(), time.perf_counter()
    await asyncio.sleep(seconds)
    share = 100.0 * (time.process_time() - start_cpu) / (time.perf_counter() - start)
    polled = (blocks - before) / LINKS / seconds
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return [
        Measured(
            measure=f"{FLOATS} floats in {LINKS} links at 1 Hz: share of a core",
            value=share,
            unit="%",
            wanted="< 5",
        ),
        Measured(measure="  polls reached", value=polled, unit="1/s", wanted=">= 0.95"),
    ]


async def ours(port: int, seconds: float, *, rtu: bool) -> float:
    """Return requests a second of our own exchange, guard and owner included."""
    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    link = LinkSection(id="l", protocol=protocol, address=f"{HOST}:{port}", timeout="1 s")
    clock = SystemClock()
    conversation = Conversation(link, clock, Book(link, clock), print)
    question = Question(unit=1, function=3, address=0, count=REGISTERS)
    await conversation.open()
    await conversation.ask(question, 1.0)
    count, start = 0, time.perf_counter()
    while time.perf_counter() - start < seconds:
        verdict = await conversation.ask(question, 1.0)
        assert isinstance(verdict, Answer)
        count += 1
    took = time.perf_counter() - start
    await conversation.close()
    return count / took


async def bare_pymodbus(port: int, seconds: float, *, rtu: bool) -> float:
    """Return requests a second of a bare loop over pymodbus' client."""
    from pymodbus import FramerType
    from pymodbus.client import AsyncModbusTcpClient

    framer = FramerType.RTU if rtu else FramerType.SOCKET
    client = AsyncModbusTcpClient(HOST, port=port, framer=framer, retries=0)
    await client.connect()
    count, start = 0, time.perf_counter()
    while time.perf_counter() - start < seconds:
        reply = await client.read_holding_registers(0, count=REGISTERS, device_id=1)
        assert len(reply.registers) == REGISTERS
        count += 1
    took = time.perf_counter() - start
    client.close()
    return count / took


async def bare_asyncio(port: int, seconds: float, *, rtu: bool) -> float:
    """Return exchanges a second over asyncio's streams, nothing looked at."""
    reader, writer = await asyncio.open_connection(HOST, port)
    body = struct.pack(">BBHH", 1, 3, 0, REGISTERS)
    frame = body + crc(body) if rtu else struct.pack(">HHH", 1, 0, 6) + body
    size = (5 if rtu else 9) + 2 * REGISTERS
    count, start = 0, time.perf_counter()
    while time.perf_counter() - start < seconds:
        writer.write(frame)
        await reader.readexactly(size)
        count += 1
    took = time.perf_counter() - start
    writer.close()
    await writer.wait_closed()
    return count / took


async def flat_out(port: int, *, rtu: bool) -> list[Measured]:
    """Compare the three, in turns."""
    rates: dict[str, list[float]] = {"ours": [], "pymodbus": [], "asyncio": []}
    for _ in range(ROUNDS):
        rates["ours"].append(await ours(port, ROUND_S, rtu=rtu))
        rates["pymodbus"].append(await bare_pymodbus(port, ROUND_S, rtu=rtu))
        rates["asyncio"].append(await bare_asyncio(port, ROUND_S, rtu=rtu))
    our, theirs, bare = (median(each) for each in rates.values())
    kind = "RTU over TCP" if rtu else "TCP"
    return [
        Measured(
            measure=f"{kind}, {REGISTERS} registers, flat out",
            value=our,
            unit="1/s",
            against=f"pymodbus {theirs:.0f}, asyncio {bare:.0f}",
        ),
        Measured(
            measure="  against a bare pymodbus loop",
            value=our / theirs,
            unit="",
            wanted=">= 0.6",
        ),
        Measured(measure="  against a bare asyncio exchange", value=our / bare, unit=""),
    ]


def near_answers(frames: int) -> list[Measured]:
    """Put mutated frames through both guards; a second opinion judges."""
    file = Path(__file__).parents[1] / "drivers" / "modbus" / "fuzz_modbus_guard.py"
    spec = importlib.util.spec_from_file_location("fuzz_modbus_guard", file)
    fuzz = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = fuzz
    spec.loader.exec_module(fuzz)
    runs = [fuzz.Fuzz(1, rtu=rtu) for rtu in (False, True)]
    process = psutil.Process()
    for run in runs:
        for _ in range(min(10_000, frames // 4)):
            run.step()
    before = process.memory_info().rss
    for run in runs:
        while run.report.frames < frames // 2:
            run.step()
    grown_mb = (process.memory_info().rss - before) / 1e6
    total = sum(run.report.frames for run in runs)
    near = sum(run.report.nearly_right for run in runs)
    wrong = [line for run in runs for line in run.report.wrong]
    refused = [line for run in runs for line in run.report.clean_refused]
    for line in (wrong + refused)[:20]:
        print(line)
    return [
        Measured(measure="frames through the guards", value=total, unit=""),
        Measured(
            measure="  sound, but of another unit, function, count, exchange",
            value=100 * near / total,
            unit="%",
            wanted=">= 50",
        ),
        Measured(measure="  accepted wrongly", value=len(wrong), unit="", wanted="<= 0"),
        Measured(
            measure="  clean answers not accepted", value=len(refused), unit="", wanted="<= 0"
        ),
        Measured(measure="  growth of memory", value=grown_mb, unit="MB", wanted="< 5"),
    ]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Measure the Modbus drivers.")
    parser.add_argument("--serve", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--frames", type=int, default=100_000)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    if options.serve:
        asyncio.run(serve())
        return
    with serving(__file__) as ports:
        rows = [
            *asyncio.run(steady(ports[:LINKS], options.seconds)),
            *asyncio.run(flat_out(ports[0], rtu=False)),
            *asyncio.run(flat_out(ports[-1], rtu=True)),
            *near_answers(options.frames),
        ]
    told(rows, options.json)


if __name__ == "__main__":
    main()
