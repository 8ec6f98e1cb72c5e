"""The whole product on OPC UA against a bare subscription of the library that carries it.

    python tests/bench/bench_opcua.py [--tags 2000] [--seconds 20] [--json FILE]

A server in a process of its own on 127.0.0.1 changes every variable each second. It is read by

* the product: `linewatch collect`, subscribed; every tag with two limits and an alarm for bad
  values, a rectifier for each hundred tags; decoded, judged, integrated and stored at 1 Hz;
* a bare asyncua subscription of the same variables whose handler counts and does no more.

How much of what changed was stored is told by the record alone: every value of a variable says
which change it is, so that whatever lies between two that were stored is counted, and neither
the begin nor the end of a window matters. Where the record of a variable ends before that of
the others, what it lacks counts too.

Both are told in values for each second of a core (user and system time of the process), in
turns, so that what else the machine does meets both.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import logging
import subprocess
import sys
import time
from datetime import timedelta
from functools import partial
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent))
import polars as pl
from asyncua import Client, Server, ua
from collecting import TAGS_A_TANK, collected, tags_of_tank, tank
from serving import serving
from table import Measured, told

HOST = "127.0.0.1"
URI = "urn:example:compared"
LINE = "subscribed"
DEVICES = 4
JUMP, CYCLE, TICK = 37, 101, 0.001
"""The nth change of a variable adds TICK * (n * JUMP % CYCLE) to its number: it never repeats
the value before it, and a value tells n but for whole cycles."""
ROUNDS = 3


async def serve(tags: int) -> None:
    """Serve so many variables, each new every second, until standard input closes."""
    logging.disable(logging.CRITICAL)
    server = Server()
    await server.init()
    server.set_endpoint(f"opc.tcp://{HOST}:0/")
    index = await server.register_namespace(URI)
    nodes = [
        await server.nodes.objects.add_variable(ua.NodeId(f"v{k}", index), f"{index}:v{k}", 0.5)
        for k in range(tags)
    ]
    await server.start()
    port = server.bserver._server.sockets[0].getsockname()[1]
    print(json.dumps(port), flush=True)
    loop = asyncio.get_running_loop()
    ended = loop.run_in_executor(None, sys.stdin.read)
    second, due = 0, time.monotonic()
    while not ended.done():
        second += 1
        for k, node in enumerate(nodes):
            value = ua.DataValue(ua.Variant(100.0 + k + TICK * (second * JUMP % CYCLE)))
            await server.write_attribute_value(node.nodeid, value)
            if k % 100 == 0:
                # Clients are not kept waiting for a whole round.
                await asyncio.sleep(0)
        due += 1.0
        await asyncio.sleep(max(0.0, due - time.monotonic()))
    await server.stop()


def configuration(port: int, tags: int) -> str:
    """Return the configuration of a line with so many tags on one server."""
    rows = [
        f'[line]\nid = "{LINE}"\nname = "Subscribed"\n',
        f'[[link]]\nid = "server"\nprotocol = "opcua"\naddress = "opc.tcp://{HOST}:{port}"',
        f'namespace = "{URI}"\nsecurity = "none"\nsampling = "1 s"\n',
    ]
    tanks, node, number = [], 0, 0
    for device in range(DEVICES):
        rows.append(f'[[device]]\nid = "d{device}"\nlink = "server"\nperiod = "1 s"\n')
        for _ in range(tags // DEVICES // TAGS_A_TANK):
            names = tags_of_tank(number, TAGS_A_TANK)
            for tag in names:
                rows.append(
                    f'[[device.tag]]\nmeasures = "{tag}"\nread = {{ node = "s=v{node}" }}\n'
                )
                node += 1
            tanks.append(tank(number, names))
            number += 1
    return "\n".join((*rows, *tanks))


def stored_ratio(tags: int, seconds: float, store: Path) -> float:
    """Return the share of the changes of so many variables in a record's last seconds [1]."""
    file = store / "readings.parquet"
    subprocess.run(
        [sys.executable, "-m", "linewatch", "export", str(file), "--store", str(store)],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    rows = pl.read_parquet(file).filter(pl.col("value").is_not_nan()).sort("tag", "time")
    # By the times of the values themselves; what came before is the start, no steady state.
    begin = rows["time"].max() - timedelta(seconds=seconds)
    rows = rows.filter(pl.col("time") >= begin)
    change = ((pl.col("value") - pl.col("value").floor()) / TICK).round().cast(pl.Int64)
    step = (change - change.shift(1)) * pow(JUMP, -1, CYCLE) % CYCLE
    rows = rows.with_columns(step.over("tag").alias("step"))
    stored, changed = int((rows["step"] > 0).sum()), int(rows["step"].sum())
    # What is missing at a variable's end, or of one that was never stored, no step tells.
    span = rows.group_by("tag").agg(pl.col("time").max())["time"]
    silent_s = (rows["time"].max() - span).dt.total_seconds()
    lacking = int((silent_s - 1).clip(lower_bound=0).sum())
    lasted_s = int((rows["time"].max() - rows["time"].min()).total_seconds())
    lacking += (tags - span.len()) * lasted_s
    return stored / (changed + lacking)


class Counting:
    """A handler that counts, and looks at nothing."""

    count = 0

    def datachange_notification(self, _node: object, _value: object, _raw: object) -> None:
        """Count one value."""
        self.count += 1


async def bare(port: int, tags: int, seconds: float) -> float:
    """Return values for each second of a core of a bare subscription."""
    logging.disable(logging.CRITICAL)
    async with Client(f"opc.tcp://{HOST}:{port}") as client:
        index = await client.get_namespace_index(URI)
        handler = Counting()
        subscription = await client.create_subscription(1000, handler)
        nodes = [client.get_node(ua.NodeId(f"v{k}", index)) for k in range(tags)]
        await subscription.subscribe_data_change(nodes)
        await asyncio.sleep(3.0)
        count, used = handler.count, time.process_time()
        await asyncio.sleep(seconds)
        used, count = time.process_time() - used, handler.count - count
        await subscription.delete()
    return count / used


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Measure OPC UA, subscribed, to the store.")
    parser.add_argument("--serve", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--tags", type=int, default=2000)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    tags = options.tags - options.tags % (DEVICES * TAGS_A_TANK)
    if options.serve:
        asyncio.run(serve(tags))
        return
    with serving(__file__, "--tags", str(tags)) as port:
        ours, theirs = [], []
        for _ in range(ROUNDS):
            config = configuration(port, tags)
            ours.append(
                collected(
                    config,
                    LINE,
                    tags / DEVICES,
                    options.seconds,
                    partial(stored_ratio, tags, options.seconds),
                )
            )
            theirs.append(asyncio.run(bare(port, tags, options.seconds)))
    our, their = median(each.values_a_core_s for each in ours), median(theirs)
    rows = [
        Measured(
            measure=f"OPC UA, {tags} tags subscribed, to the store, for a core-second",
            value=our,
            unit="values",
            against=f"bare subscription {their:.0f}",
        ),
        Measured(
            measure="  against a bare subscription that only counts",
            value=our / their,
            unit="",
            wanted=">= 0.8",
        ),
        Measured(
            measure="  values stored of those that changed",
            value=100.0 * min(each.stored_ratio or 0.0 for each in ours),
            unit="%",
            wanted=">= 98",
        ),
    ]
    told(rows, options.json)


if __name__ == "__main__":
    main()
