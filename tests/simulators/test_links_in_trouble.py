"""Troubles of the works' links, seen from the other end of the wire."""

import asyncio
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

import pytest
from asyncua import Client, ua

from linewatch_sim.lines.works import NODES as WORKS_NODES
from linewatch_sim.modbus import crc16
from linewatch_sim.plant import Plant

pytestmark = pytest.mark.wire

NICKEL_1, NICKEL_4 = 16, 19
"""Units behind the rack rectifiers' gateway."""


class Master:
    """A serial master on a socket, no cleverer than the frame."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter):
        self.reader, self.writer = reader, writer

    def ask(self, unit: int) -> None:
        body = struct.pack(">BBHH", unit, 3, 0, 8)
        self.writer.write(body + crc16(body))

    async def heard(self) -> bytes:
        return await asyncio.wait_for(self.reader.readexactly(5 + 16), 5.0)


@asynccontextmanager
async def master(plant: Plant) -> AsyncIterator[Master]:
    host, _, port = plant.links["rack-rectifiers"].rpartition(":")
    reader, writer = await asyncio.open_connection(host, int(port))
    try:
        yield Master(reader, writer)
    finally:
        writer.close()
        with suppress(ConnectionError):
            await writer.wait_closed()


@asynccontextmanager
async def client(plant: Plant) -> AsyncIterator[Client]:
    await plant.opcua["services"].serving()
    async with Client(plant.links["services"], timeout=5.0) as reader:
        yield reader


async def read(reader: Client, what: str) -> ua.DataValue:
    row = next(row for row in WORKS_NODES if row.what == what)
    index = await reader.get_namespace_index(row.namespace)
    node = reader.get_node(ua.NodeId(row.node, index))
    return await node.read_data_value(raise_on_bad_status=False)


def go_on(plant: Plant, line_s: float) -> None:
    """Let the plant hurry ahead of its clock."""
    plant.works.advance_to(plant.works.line_s + line_s, coarsely=True)


async def test_a_silent_unit_leaves_its_neighbours_alone():
    async with Plant("works") as plant, master(plant) as asking:
        await plant.trouble("unit-silent")
        asking.ask(NICKEL_1)
        asking.ask(NICKEL_4)
        assert (await asking.heard())[0] == NICKEL_4

        await plant.clear("unit-silent")
        asking.ask(NICKEL_1)
        assert (await asking.heard())[0] == NICKEL_1


async def test_a_frozen_unit_repeats_itself_to_the_last_digit_while_others_go_on():
    async with Plant("works") as plant, master(plant) as asking:

        async def asked(unit: int) -> bytes:
            asking.ask(unit)
            return await asking.heard()

        first = await asked(NICKEL_4)
        await plant.trouble("unit-frozen")
        moving = await asked(NICKEL_1)
        go_on(plant, 120.0)

        assert await asked(NICKEL_4) == first
        assert await asked(NICKEL_1) != moving
        await plant.clear("unit-frozen")
        assert await asked(NICKEL_4) != first


async def test_a_gateway_that_drops_hangs_up_and_comes_back_on_its_port():
    async with Plant("works") as plant:
        address = plant.links["rack-rectifiers"]
        async with master(plant) as asking:
            await plant.trouble("gateway-drops")
            asking.ask(NICKEL_1)
            with pytest.raises((ConnectionError, asyncio.IncompleteReadError)):
                await asking.heard()
        with pytest.raises(OSError, match=r"refused|Connect"):
            await master(plant).__aenter__()
        await plant.clear("gateway-drops")
        assert plant.links["rack-rectifiers"] == address
        async with master(plant) as asking:
            asking.ask(NICKEL_1)
            assert (await asking.heard())[0] == NICKEL_1


async def test_frozen_services_live_on_with_values_and_times_that_stand_still():
    async with Plant("works") as plant, client(plant) as reader:
        await plant.trouble("services-frozen")
        for _ in range(20):
            # What was being written when it froze is written by now.
            first = await read(reader, "neutralise.ph")
        go_on(plant, 60.0)

        assert await read(reader, "neutralise.ph") == first
        assert plant.values.getter("neutralise.ph")() != first.Value.Value


async def test_an_uncertain_value_says_so_itself():
    async with Plant("works") as plant, client(plant) as reader:
        assert (await read(reader, "discharge.ph")).StatusCode.is_good()
        await plant.trouble("value-uncertain")
        while not (await read(reader, "discharge.ph")).StatusCode.is_uncertain():
            pass
        assert (await read(reader, "neutralise.ph")).StatusCode.is_good()


async def test_a_lost_subscription_falls_silent_while_reading_goes_on():
    told: list[object] = []

    class Told:
        def datachange_notification(self, _node: object, value: object, _data: object) -> None:
            told.append(value)

    async with Plant("works") as plant, client(plant) as reader:
        row = next(row for row in WORKS_NODES if row.what == "neutralise.ph")
        index = await reader.get_namespace_index(row.namespace)
        subscription = await reader.create_subscription(20, Told())
        await subscription.subscribe_data_change(
            reader.get_node(ua.NodeId(row.node, index)), sampling_interval=20
        )
        while not told:
            await read(reader, "neutralise.ph")
        await plant.trouble("subscription-lost")
        count, last = len(told), (await read(reader, "neutralise.ph")).Value.Value
        while (await read(reader, "neutralise.ph")).Value.Value == last:
            pass

        assert len(told) == count


async def test_services_that_drop_are_gone_and_come_back_on_their_port():
    async with Plant("works") as plant:
        address = plant.links["services"]
        async with client(plant) as reader:
            await read(reader, "neutralise.ph")
        await plant.trouble("services-drop")
        with pytest.raises(OSError, match=r"refused|Connect"):
            await Client(address, timeout=1.0).connect()
        await plant.clear("services-drop")

        assert plant.links["services"] == address
        async with client(plant) as reader:
            assert (await read(reader, "neutralise.ph")).StatusCode.is_good()
