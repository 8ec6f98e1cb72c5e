"""The plant's OPC UA server, read by the client of a library."""

import math
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime

import pytest
from asyncua import Client, ua

from linewatch_sim.opcua import WRONGS, OpcuaServer
from linewatch_sim.rows import NodeRow

pytestmark = pytest.mark.wire

WATER, AIR = "urn:test:water", "urn:test:air"


def row(node: str, what: str, namespace: str = WATER) -> NodeRow:
    return NodeRow(link="utilities", node=node, what=what, namespace=namespace)


ROWS = (
    row("Neutralise.pH", "neutralise.ph"),
    row("Neutralise.Flow", "neutralise.flow"),
    row("Fan.Running", "fan.running", AIR),
)


class Shown:
    """What the instruments show, in place of a whole plant."""

    def __init__(self) -> None:
        self.now = {"neutralise.ph": 9.1, "neutralise.flow": 80.0, "fan.running": 1.0}

    def getter(self, what: str) -> Callable[[], float]:
        return lambda: self.now[what]


@asynccontextmanager
async def serving(shown: Shown) -> AsyncIterator[OpcuaServer]:
    server = OpcuaServer(ROWS, shown)
    await server.listen()
    try:
        await server.serving()
        yield server
    finally:
        await server.drop()


async def node(client: Client, name: str, uri: str = WATER):
    index = await client.get_namespace_index(uri)
    return client.get_node(ua.NodeId(name, index))


async def read(client: Client, name: str, uri: str = WATER) -> ua.DataValue:
    return await (await node(client, name, uri)).read_data_value(raise_on_bad_status=False)


class Renewed:
    """Waits until the server has told a variable anew."""

    def __init__(self) -> None:
        self.values: list[ua.DataValue] = []

    def datachange_notification(self, _node: object, _value: object, data: object) -> None:
        self.values.append(data.monitored_item.Value)


async def until(client: Client, name: str, holds: Callable[[ua.DataValue], bool]):
    """Read until a value is as it should be; the test's own time limit ends a vain wait."""
    while not holds(data := await read(client, name)):
        pass
    return data


async def test_values_come_with_a_good_status_a_source_time_and_their_unit():
    shown = Shown()
    began = datetime.now(UTC)  # noqa: TID251 - compared with the server's own clock
    async with serving(shown) as server, Client(server.address) as client:
        ph, running = (
            await read(client, "Neutralise.pH"),
            await read(client, "Fan.Running", AIR),
        )
        flow = await node(client, "Neutralise.Flow")
        unit = await (await flow.get_child("0:EngineeringUnits")).read_value()

        assert ph.Value.Value == 9.1
        assert ph.StatusCode.is_good()
        assert ph.SourceTimestamp >= began
        assert running.Value.Value is True
        # UN/ECE Recommendation 20: L2 is litre per minute.
        assert unit.UnitId == int.from_bytes(b"L2", "big")

        shown.now["neutralise.ph"] = 8.7
        await until(client, "Neutralise.pH", lambda data: data.Value.Value == 8.7)


async def test_an_open_sensor_has_a_bad_status_and_no_number_to_believe():
    shown = Shown()
    async with serving(shown) as server, Client(server.address) as client:
        shown.now["neutralise.ph"] = math.nan
        data = await until(client, "Neutralise.pH", lambda d: not d.StatusCode.is_good())

        assert data.StatusCode.value == ua.StatusCodes.BadSensorFailure
        assert (await read(client, "Neutralise.Flow")).StatusCode.is_good()


async def test_what_is_wrong_on_the_way_shows_as_the_standard_has_it():
    signs = {
        "uncertain": lambda d: d.StatusCode.is_uncertain(),
        "bad": lambda d: d.StatusCode.is_bad(),
        "no-source-time": lambda d: d.SourceTimestamp is None,
        "old-source-time": lambda d: d.SourceTimestamp and d.SourceTimestamp.year == 1601,
        "future-source-time": lambda d: (
            d.SourceTimestamp and d.SourceTimestamp > d.ServerTimestamp
            if d.ServerTimestamp
            else d.SourceTimestamp.year > 2026
        ),
    }
    assert set(signs) == set(WRONGS)
    async with serving(Shown()) as server, Client(server.address) as client:
        for wrong in WRONGS:
            server.spoil("neutralise.ph", wrong)
            await until(client, "Neutralise.pH", signs[wrong])
        server.spoil("neutralise.ph", None)
        await until(client, "Neutralise.pH", lambda d: d.StatusCode.is_good())
        with pytest.raises(ValueError, match="none of"):
            server.spoil("neutralise.ph", "tired")
        with pytest.raises(KeyError):
            server.spoil("oven.temperature", "bad")


async def test_an_attempt_to_write_is_refused_and_counted():
    async with serving(Shown()) as server, Client(server.address) as client:
        assert server.writes_refused == 0
        with pytest.raises(ua.UaStatusCodeError):
            await (await node(client, "Neutralise.pH")).write_value(3.0)

        assert server.writes_refused == 1
        assert (await read(client, "Neutralise.pH")).Value.Value == 9.1


async def test_a_forgotten_subscription_falls_silent_while_the_session_goes_on():
    shown, renewed = Shown(), Renewed()
    async with serving(shown) as server, Client(server.address) as client:
        subscription = await client.create_subscription(20, renewed)
        await subscription.subscribe_data_change(await node(client, "Neutralise.pH"))
        await until(client, "Neutralise.pH", lambda _: bool(renewed.values))
        await server.forget_subscriptions()
        told = len(renewed.values)
        shown.now["neutralise.ph"] = 8.0
        await until(client, "Neutralise.pH", lambda d: d.Value.Value == 8.0)

        assert len(renewed.values) == told


async def test_a_restart_keeps_the_port_and_may_turn_the_namespaces_round():
    async with serving(Shown()) as server:
        port = server.port
        async with Client(server.address) as client:
            before = await client.get_namespace_array()
        await server.drop()
        server.reversed_namespaces = True
        await server.listen()
        await server.serving()
        async with Client(server.address) as client:
            after = await client.get_namespace_array()

            assert server.port == port
            assert before != after
            assert sorted(before) == sorted(after)
            assert (await read(client, "Neutralise.pH")).Value.Value == 9.1


async def test_a_server_that_is_dropped_before_it_serves_ends_quietly():
    server = OpcuaServer(ROWS, Shown())
    await server.listen()
    await server.drop()
    with pytest.raises(OSError, match=r"refused|Connect"):
        await Client(server.address, timeout=1.0).connect()
