"""The plant's Modbus servers, read by a Modbus client that somebody else wrote."""

import asyncio
import contextlib
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from pymodbus import FramerType
from pymodbus.client import AsyncModbusTcpClient
from pymodbus.exceptions import ModbusIOException

from linewatch_sim.modbus import crc16
from linewatch_sim.plant import Plant
from linewatch_sim.registers import WORDS
from linewatch_sim.rows import COUNTS_4MA, COUNTS_20MA, RegisterRow
from linewatch_sim.troubles import planned

pytestmark = pytest.mark.wire


@asynccontextmanager
async def client_of(plant: Plant, link: str) -> AsyncIterator[AsyncModbusTcpClient]:
    host, _, port = plant.links[link].rpartition(":")
    framer = FramerType.RTU if link == "rectifiers" else FramerType.SOCKET
    client = AsyncModbusTcpClient(
        host, port=int(port), framer=framer, timeout=0.3, retries=0, reconnect_delay=0
    )
    assert await client.connect()
    try:
        yield client
    finally:
        client.close()


async def shown(client: AsyncModbusTcpClient, row: RegisterRow) -> float:
    """Read one row as a person with the manual would."""
    if row.table == "discrete":
        answer = await client.read_discrete_inputs(row.address, count=1, device_id=row.unit)
        return float(answer.bits[0])
    read = (
        client.read_holding_registers if row.table == "holding" else client.read_input_registers
    )
    answer = await read(row.address, count=WORDS[row.type], device_id=row.unit)
    assert not answer.isError()
    words = answer.registers[::-1] if row.order == "CDAB" else answer.registers
    raw = struct.pack(f">{len(words)}H", *words)
    if row.type == "float32":
        return float(struct.unpack(">f", raw)[0])
    if row.type == "bit":
        return float(words[0] >> (row.bit or 0) & 1)
    whole = int.from_bytes(raw, "big", signed=row.type.startswith("int"))
    if row.span is not None:
        low, high = row.span
        return low + (whole - COUNTS_4MA) / (COUNTS_20MA - COUNTS_4MA) * (high - low)
    return whole * row.scale


async def test_every_quantity_on_the_wire_is_what_the_plant_holds() -> None:
    async with Plant("first", speed=1.0) as plant:
        for link in plant.links:
            async with client_of(plant, link) as client:
                for row in plant.works.line.registers:
                    if row.link != link:
                        continue
                    seen = await shown(client, row)
                    held = plant.values.getter(row.what)()
                    # The plant goes on while it is asked: currents wander by their noise.
                    near = {"current": 0.03, "voltage": 0.03, "ripple": 0.1}
                    kind = row.what.split(".")[1]
                    assert seen == pytest.approx(
                        held, rel=near.get(kind, 1e-3), abs=2.0 * max(row.scale, 0.1)
                    ), row.what


async def test_a_request_to_write_is_refused_and_counted() -> None:
    async with Plant("first") as plant:
        for link, unit in (("tank-io", 1), ("rectifiers", 11)):
            async with client_of(plant, link) as client:
                one = await client.write_register(0, 1, device_id=unit)
                many = await client.write_registers(0, [1, 2], device_id=unit)
                coil = await client.write_coil(0, value=True, device_id=unit)
                assert [a.exception_code for a in (one, many, coil)] == [1, 1, 1]
            assert plant.wire()[link]["writes_refused"] == 3


async def test_beyond_a_device_s_memory_is_an_illegal_address() -> None:
    async with Plant("first") as plant, client_of(plant, "tank-io") as client:
        answer = await client.read_holding_registers(5000, count=1, device_id=1)
        assert answer.exception_code == 2


async def test_a_silent_unit_leaves_its_neighbours_undisturbed() -> None:
    async with Plant("first") as plant:
        await plant.trouble("unit-silent")
        async with client_of(plant, "rectifiers") as client:
            with pytest.raises(ModbusIOException):
                await client.read_holding_registers(0, count=4, device_id=13)
            answer = await client.read_holding_registers(0, count=4, device_id=14)
            assert not answer.isError()
            await plant.clear("unit-silent")
            answer = await client.read_holding_registers(0, count=4, device_id=13)
            assert not answer.isError()


async def test_a_gateway_that_drops_refuses_until_it_comes_back_on_its_port() -> None:
    async with Plant("first") as plant:
        host, _, port = plant.links["rectifiers"].rpartition(":")
        reader, writer = await asyncio.open_connection(host, int(port))
        await plant.trouble("gateway-drops")
        with contextlib.suppress(ConnectionResetError):
            assert await reader.read(1) == b""
        writer.close()
        with pytest.raises(ConnectionRefusedError):
            await asyncio.open_connection(host, int(port))
        await plant.clear("gateway-drops")
        assert plant.links["rectifiers"] == f"{host}:{port}"
        async with client_of(plant, "rectifiers") as client:
            assert not (await client.read_holding_registers(0, count=1, device_id=11)).isError()


async def test_requests_in_one_packet_are_answered_in_order() -> None:
    async with Plant("first") as plant:
        host, _, port = plant.links["rectifiers"].rpartition(":")
        reader, writer = await asyncio.open_connection(host, int(port))
        requests = [struct.pack(">BBHH", unit, 3, 0, 1) for unit in (14, 11, 13)]
        writer.write(b"".join(body + crc16(body) for body in requests))
        answers = [await reader.readexactly(7) for _ in requests]
        assert [answer[0] for answer in answers] == [14, 11, 13]
        writer.close()
        await writer.wait_closed()


async def test_an_open_sensor_shows_its_sentinel() -> None:
    async with Plant("first") as plant:
        await plant.trouble("sensor-opens")
        row = next(r for r in plant.works.line.registers if r.what == "nickel-1.temperature")
        async with client_of(plant, "tank-io") as client:
            answer = await client.read_holding_registers(row.address, count=1, device_id=1)
            assert answer.registers == [0x8000]


async def test_a_trouble_begins_and_ends_at_its_line_time() -> None:
    plan = planned("heater-fails@1min+1min")
    async with Plant("first", speed=300.0, troubles=[plan]) as plant:
        nickel = list(plant.works.solutions.ids).index("nickel-2")
        share = plant.works.solutions.wrong.heater_share
        async with client_of(plant, "tank-io") as client:
            seen = []
            while plant.works.line_s < 150.0:
                await client.read_holding_registers(0, count=1, device_id=1)
                seen.append((plant.works.line_s, float(share[nickel])))
        # The plant looks at its plan every 50 ms of wall time, here 15 s of line time.
        assert all(value == 1.0 for at, value in seen if at < 60.0)
        assert any(value == 0.0 for at, value in seen if 60.0 <= at < 125.0)
        assert seen[-1][1] == 1.0
