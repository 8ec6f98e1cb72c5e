"""Sessions begin, break and end as they should: identity, silence, limits, closing."""

import asyncio
import time

import numpy as np
import pytest
from asyncua import ua
from asyncua.common.utils import ServiceError
from asyncua.server.internal_session import InternalSession

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality
from linewatch.drivers import open_driver
from linewatch.drivers.opcua import nodes
from linewatch.drivers.opcua.driver import OpcuaDriver
from tests.drivers.opcua.plant import BATH, WATER, Plant, settings_for, until
from tests.drivers.opcua.proxy import Proxy

pytestmark = pytest.mark.wire

BATH_T = {"nickel-1.temperature": {"node": "s=T"}}
BOTH_T = {**BATH_T, "sump.temperature": {"node": "s=T", "namespace": WATER}}


async def lost(driver: OpcuaDriver) -> LinkLost:
    """Return how a driver loses its link; the test's own time limit ends the wait."""
    with pytest.raises(LinkLost) as raised:
        async for _ in driver.readings():
            pass
    return raised.value


async def test_namespaces_in_another_order_lead_to_the_same_tank(clock):
    """Ids are resolved by URI anew in every session; an index is worth nothing."""
    first = Plant(BATH, WATER)
    first.add("T", 48.0)
    first.add("T", 61.0, WATER)
    index, port = first.index[BATH], first.port
    async with OpcuaDriver(settings_for(first.address, BOTH_T), clock) as driver:
        before = await anext(driver.readings())
        first.stop()
        error = await lost(driver)
    second = Plant(WATER, BATH, port=port)
    second.add("T", 48.0)
    second.add("T", 61.0, WATER)
    assert second.index[BATH] != index

    async with OpcuaDriver(settings_for(second.address, BOTH_T), clock) as driver:
        after = await anext(driver.readings())
    second.stop()

    assert error.link == "ua"
    assert before.value.tolist() == after.value.tolist() == [48.0, 61.0]
    assert after.quality.tolist() == [Quality.GOOD] * 2


async def test_an_item_that_became_another_is_foreign(plant, make):
    """The same id now carries another name: a person must look first."""
    plant.add("Swap", 48.0, browse="Bath 1")
    tags = {"nickel-1.temperature": {"node": "s=Swap"}, "a.ph": {"node": "s=pH"}}
    async with make(tags) as driver:
        block = await anext(driver.readings())
        assert block.quality[0] == Quality.GOOD
    plant.remove("Swap")
    plant.add("Swap", 61.0, browse="Bath 2")

    async with make(tags) as driver:
        plant.write("Swap", 62.0)
        blocks = [await anext(driver.readings()) for _ in range(4)]

    assert all(block.quality[0] == Quality.FOREIGN for block in blocks)
    assert all(np.isnan(block.value[0]) for block in blocks)
    assert blocks[-1].quality[1] == Quality.GOOD
    assert driver.picture().reason == (
        "1 changed: nickel-1.temperature (name 'Bath 1' became 'Bath 2')"
    )


async def test_a_name_that_steers_terminals_is_shown_without_doing_so(plant, make):
    plant.add("Ill", 1.0, browse="A\x1b[2J\x1b]0;t\x07B")
    tags = {"a.temperature": {"node": "s=Ill"}}
    async with make(tags) as driver:
        await anext(driver.readings())
    plant.remove("Ill")
    plant.add("Ill", 1.0, browse="C\u009b2JD")

    async with make(tags) as driver:
        await anext(driver.readings())
        reason = driver.picture().reason

    assert "became" in reason
    assert not any(character in reason for character in "\x1b\x07\u009b")


async def test_a_unit_that_is_not_the_one_taken_for_granted_is_foreign(plant, make):
    plant.add("Warm", 140.0)
    plant.add_unit("Warm", 4604232)  # FAH, by the algorithm of OPC 10000-8, 5.6.3.3
    async with make({"a.temperature": {"node": "s=Warm"}}) as driver:
        taken_for_celsius = await anext(driver.readings())
        reason = driver.picture().reason
    async with make({"a.temperature": {"node": "s=Warm", "unit": "degF"}}) as driver:
        stated = await anext(driver.readings())

    assert taken_for_celsius.quality[0] == Quality.FOREIGN
    assert "it is in degF, taken for degC; state `unit` in its read" in reason
    assert stated.value[0] == pytest.approx(60.0)


async def test_what_is_missing_is_named_and_the_rest_is_read(plant, make):
    tags = {
        "a.temperature": {"node": "s=T"},
        "a.ph": {"node": "s=Nothing"},
        "a.level": {"node": "s=T", "namespace": "urn:nowhere"},
    }
    async with make(tags) as driver:
        block = await anext(driver.readings())
        reason = driver.picture().reason

    assert block.quality.tolist() == [Quality.GOOD, Quality.REFUSED, Quality.REFUSED]
    assert np.isnan(block.value[1:]).all()
    assert "a.ph (BadNodeIdUnknown)" in reason
    assert "a.level (no namespace urn:nowhere)" in reason


async def test_what_was_missing_is_read_once_it_is_there(plant, make):
    tags = {"a.temperature": {"node": "s=Late"}}
    async with make(tags, cross_check="100 ms") as driver:
        first = await anext(driver.readings())
        plant.add("Late", 33.0)
        await until(driver, lambda block: block.value[0] == 33.0)
        while driver.picture().reason:
            await anext(driver.readings())
        plant.write("Late", 34.0)
        await until(driver, lambda block: block.value[0] == 34.0)

    assert first.quality[0] == Quality.REFUSED


async def test_a_forgotten_subscription_is_noticed_though_the_session_is_well(plant, make):
    async with make(BATH_T, timeout="200 ms") as driver:
        await anext(driver.readings())

        async def forget() -> None:
            service = plant.server.iserver.subscription_service
            await service.delete_subscriptions(list(service.subscriptions))

        plant.run(forget())
        error = await lost(driver)

    assert "the subscription has been silent for" in error.happened or (
        "ended the subscription" in error.happened
    )


async def test_a_collector_that_stood_does_not_take_its_own_silence_for_the_servers(
    make, clock, monkeypatch
):
    async with make(BATH_T, cross_check="100 ms") as driver:
        await anext(driver.readings())
        asked, wall_s = driver.picture().requests, clock.wall_s
        monkeypatch.setattr(clock, "wall_s", lambda: wall_s() + 60.0)
        # Two more looks at the server: a link lost by the first would raise here.
        while driver.picture().requests < asked + 6:
            await anext(driver.readings())

    assert driver.picture().state == "connected"


async def test_a_change_that_the_subscription_misses_is_read(plant, make):
    """The item is no longer sampled, while the subscription lives on."""
    async with make(BATH_T, cross_check="200 ms") as driver:
        plant.write("T", 48.0)
        await until(driver, lambda block: block.value[0] == 48.0)

        async def stop_sampling() -> None:
            for (
                subscription
            ) in plant.server.iserver.subscription_service.subscriptions.values():
                items = subscription.monitored_item_srv
                for handle in list(items._monitored_datachange):
                    items.aspace.delete_datachange_callback(handle)

        plant.run(stop_sampling())
        plant.write("T", 57.0)

        block = await until(driver, lambda block: block.value[0] == 57.0)
        while not driver.picture().reason:
            await anext(driver.readings())
        reason = driver.picture().reason

    assert block.quality[0] == Quality.GOOD
    assert reason == "its subscription misses 1: nickel-1.temperature"


async def test_a_slow_read_never_covers_a_younger_notification(plant, make):
    """Laws of the newest reading stand in its own file; here only that both ways work."""
    async with make(BATH_T, cross_check="50 ms") as driver:
        for value in range(30, 50):
            plant.write("T", float(value))
        block = await until(driver, lambda block: block.value[0] == 49.0)

    assert block.quality[0] == Quality.GOOD


async def test_a_server_that_stops_is_a_lost_link(clock):
    plant = Plant()
    plant.add("T", 48.0)
    async with OpcuaDriver(settings_for(plant.address, BATH_T), clock) as driver:
        await anext(driver.readings())
        plant.stop()
        error = await lost(driver)

    assert error.link == "ua"
    assert driver.picture().failures or error.happened


async def test_swallowed_packets_are_noticed_and_do_not_hold_up_the_end(plant, clock):
    async with Proxy(plant.port) as proxy:
        settings = settings_for(proxy.address, BATH_T, timeout="200 ms")
        driver = OpcuaDriver(settings, clock)
        async with driver:
            await anext(driver.readings())
            proxy.swallow()
            error = await lost(driver)
            ending_s = time.monotonic()
        ending_s = time.monotonic() - ending_s

    assert "no answer within 0.2 s" in error.happened or "silent" in error.happened
    assert ending_s < 2.0
    assert driver.picture().failures


async def test_a_cut_connection_is_a_lost_link(plant, clock):
    async with (
        Proxy(plant.port) as proxy,
        OpcuaDriver(settings_for(proxy.address, BATH_T), clock) as driver,
    ):
        await anext(driver.readings())
        proxy.cut()
        error = await lost(driver)

    assert error.link == "ua"


async def test_nobody_listening_is_a_lost_link(clock):
    async with Proxy(1) as proxy:
        port = proxy.port
    settings = settings_for(f"opc.tcp://127.0.0.1:{port}", BATH_T)

    with pytest.raises(LinkLost) as raised:
        async with OpcuaDriver(settings, clock):
            raise AssertionError("connected to nobody")

    assert raised.value.doing == "connecting"
    assert not raised.value.lasting


async def test_a_listener_that_says_nothing_is_a_lost_link(clock):
    async def say_nothing(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read()
        writer.close()

    server = await asyncio.start_server(say_nothing, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    settings = settings_for(f"opc.tcp://127.0.0.1:{port}", BATH_T, timeout="100 ms")
    async with server:
        with pytest.raises(LinkLost, match="no answer within"):
            async with OpcuaDriver(settings, clock):
                raise AssertionError("connected to nobody")


@pytest.mark.parametrize(
    "banner", [b"HTTP/1.0 400 Bad Request\r\n\r\n", b"\x00" * 64, b"ERRF\x10\x00\x00\x00"]
)
async def test_something_else_on_the_port_is_a_lost_link(clock, banner):
    async def greet(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(banner)
        await reader.read()
        writer.close()

    server = await asyncio.start_server(greet, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    settings = settings_for(f"opc.tcp://127.0.0.1:{port}", BATH_T, timeout="100 ms")
    async with server:
        with pytest.raises(LinkLost):
            async with OpcuaDriver(settings, clock):
                raise AssertionError("connected to something else")


async def test_a_server_without_a_free_session_says_so(plant, make, monkeypatch):
    async def refuse(*_: object, **__: object) -> None:
        raise ServiceError(ua.StatusCodes.BadTooManySessions)

    monkeypatch.setattr(InternalSession, "create_session", refuse)

    with pytest.raises(LinkLost, match=r"no session left.*BadTooManySessions"):
        async with make(BATH_T):
            raise AssertionError("got a session")


async def test_a_server_that_takes_few_nodes_at_once_is_asked_in_parts(
    plant, make, monkeypatch
):
    """It refuses more than 50 and does not say so before."""
    for number in range(120):
        plant.add(f"Many {number}", float(number))
    whole = InternalSession.read
    asked: list[int] = []

    async def read(self, params):
        asked.append(len(params.NodesToRead))
        if len(params.NodesToRead) > 50:
            raise ServiceError(ua.StatusCodes.BadTooManyOperations)
        return await whole(self, params)

    monkeypatch.setattr(InternalSession, "read", read)
    tags = {f"a.temperature.n{number}": {"node": f"s=Many {number}"} for number in range(120)}

    async with make(tags, timeout="4 s") as driver:
        block = await anext(driver.readings())

    assert block.value.tolist() == [float(number) for number in range(120)]
    assert (block.quality == Quality.GOOD).all()
    # Found out once, then remembered.
    assert [count for count in asked if count > 50] == [120, 60]


async def test_a_server_that_takes_not_even_one_node_is_a_lost_link(plant, make, monkeypatch):
    whole = InternalSession.read

    async def read(self, params):
        if self.external:
            raise ServiceError(ua.StatusCodes.BadTooManyOperations)
        return await whole(self, params)

    monkeypatch.setattr(InternalSession, "read", read)

    with pytest.raises(LinkLost, match="the server takes not even one"):
        async with make(BATH_T):
            raise AssertionError("read something")


async def test_fewer_answers_than_questions_are_not_put_in_order_by_guessing(
    plant, make, monkeypatch
):
    whole = InternalSession.read

    async def read(self, params):
        answers = await whole(self, params)
        return answers[:-1] if len(answers) > 1 else answers

    monkeypatch.setattr(InternalSession, "read", read)

    with pytest.raises(LinkLost, match=r"\d answers to \d questions"):
        async with make(BOTH_T):
            raise AssertionError("guessed")


async def test_a_server_without_namespaces_is_a_lost_link(plant, make, monkeypatch):
    whole = InternalSession.read

    async def read(self, params):
        answers = await whole(self, params)
        if params.NodesToRead[0].NodeId == nodes.NAMESPACES:
            return [ua.DataValue(ua.Variant(None))]
        return answers

    monkeypatch.setattr(InternalSession, "read", read)

    with pytest.raises(LinkLost, match="it names none"):
        async with make(BATH_T):
            raise AssertionError("went on")


async def test_namespaces_that_change_in_mid_session_end_it(clock):
    plant = Plant()
    plant.add("T", 48.0)
    settings = settings_for(plant.address, BATH_T, cross_check="100 ms")
    async with OpcuaDriver(settings, clock) as driver:
        await anext(driver.readings())
        plant.run(plant.server.register_namespace("urn:test:new"))

        error = await lost(driver)
    plant.stop()

    assert error.happened == "the server's namespaces have changed"


async def test_a_slow_server_is_called_slow(plant, make, monkeypatch):
    whole = InternalSession.read

    async def read(self, params):
        await asyncio.sleep(0.25)
        return await whole(self, params)

    monkeypatch.setattr(InternalSession, "read", read)

    async with make(BATH_T, timeout="400 ms") as driver:
        await anext(driver.readings())
        picture = driver.picture()

    assert picture.state == "slow"
    assert picture.response_ms > 200


async def test_what_the_server_samples_more_slowly_than_asked_is_told(plant, make, monkeypatch):
    whole = InternalSession.create_monitored_items

    async def create(self, params):
        results = await whole(self, params)
        for each in results:
            each.RevisedSamplingInterval = 5000.0
        return results

    monkeypatch.setattr(InternalSession, "create_monitored_items", create)

    async with make(BATH_T) as driver:
        await anext(driver.readings())
        reason = driver.picture().reason

    assert reason == "it samples 1 only every 5 s"


async def test_two_thousand_items_arrive_whole(clock):
    async def limit(server) -> None:
        node = server.get_node(
            ua.ObjectIds.Server_ServerCapabilities_OperationLimits_MaxNodesPerRead
        )
        await node.write_value(ua.UInt32(700))

    plant = Plant(prepare=limit)

    async def add() -> None:
        for number in range(2000):
            await plant.server.nodes.objects.add_variable(
                plant.node(f"N{number}"), f"{plant.index[BATH]}:N{number}", float(number % 300)
            )

    plant.run(add())
    tags = {f"a.temperature.n{number}": {"node": f"s=N{number}"} for number in range(2000)}
    async with OpcuaDriver(settings_for(plant.address, tags, timeout="4 s"), clock) as driver:
        first = await anext(driver.readings())
        for number in (0, 999, 1999):
            plant.write(f"N{number}", 300.5)
        last = await until(driver, lambda block: (block.value == 300.5).sum() == 3)
    plant.stop()

    assert first.value.tolist() == [float(number % 300) for number in range(2000)]
    assert np.flatnonzero(last.value == 300.5).tolist() == [0, 999, 1999]


async def test_the_end_closes_the_session_at_the_server(plant, make):
    def sessions() -> int:
        return len(plant.server.iserver.subscription_service.subscriptions)

    before = sessions()
    async with make(BATH_T) as driver:
        await anext(driver.readings())
        during = sessions()

    assert (during, sessions()) == (before + 1, before)


async def test_a_driver_that_could_not_begin_leaves_nothing_behind(plant, make, monkeypatch):
    async def refuse(*_: object, **__: object) -> None:
        raise ServiceError(ua.StatusCodes.BadTooManySubscriptions)

    monkeypatch.setattr(InternalSession, "create_subscription", refuse)

    with pytest.raises(LinkLost, match="BadTooManySubscriptions"):
        async with make(BATH_T):
            raise AssertionError("got a subscription")


async def test_only_reading_services_leave_the_machine(plant, clock):
    """Every request's type, as the bytes say it; OPC 10000-6, annex A."""
    reading = {
        428: "GetEndpoints",
        461: "CreateSession",
        467: "ActivateSession",
        473: "CloseSession",
        446: "OpenSecureChannel",
        452: "CloseSecureChannel",
        631: "Read",
        554: "TranslateBrowsePathsToNodeIds",
        787: "CreateSubscription",
        751: "CreateMonitoredItems",
        826: "Publish",
    }
    async with Proxy(plant.port) as proxy:
        settings = settings_for(proxy.address, BOTH_T, cross_check="100 ms")
        async with OpcuaDriver(settings, clock) as driver:
            for _ in range(6):
                await anext(driver.readings())
        sent = bytes(proxy.sent)

    kinds = set()
    while sent:
        kind, length = sent[:4], int.from_bytes(sent[4:8], "little")
        if kind == b"MSGF":
            # Header 8, channel 4, token 4, sequence 8; then the four-byte id of the request.
            assert sent[24:26] == b"\x01\x00"
            kinds.add(int.from_bytes(sent[26:28], "little"))
        else:
            assert kind in {b"HELF", b"OPNF", b"CLOF"}
        sent = sent[length:]

    assert kinds <= set(reading)
    assert {631, 751, 826} <= kinds


async def test_the_endpoint_list_may_name_a_host_that_nobody_resolves(clock):
    async def announce(server) -> None:
        server.set_endpoint("opc.tcp://plc-internal:4840/")
        server.socket_address = ("127.0.0.1", 0)

    plant = Plant(prepare=announce)
    plant.add("T", 48.0)
    async with OpcuaDriver(settings_for(plant.address, BATH_T), clock) as driver:
        block = await anext(driver.readings())
    plant.stop()

    assert block.value[0] == 48.0


async def test_a_session_that_the_server_forgot_is_a_lost_link(plant, make, monkeypatch):
    async with make(BATH_T, timeout="100 ms") as driver:
        await anext(driver.readings())

        whole = InternalSession.read

        async def read(self, params):
            # The server reads through a session of its own, too; that one goes on.
            if self.external:
                raise ServiceError(ua.StatusCodes.BadSessionIdInvalid)
            return await whole(self, params)

        monkeypatch.setattr(InternalSession, "read", read)

        error = await lost(driver)

    assert "no longer knows the session (BadSessionIdInvalid)" in error.happened
    assert driver.picture().failures == {"refused": 1}


async def test_a_notification_that_cannot_be_taken_is_not_silence(plant, make):
    """What a callback raises is swallowed; a value would stand still and look good."""
    async with make(BATH_T) as driver:
        plant.write("T", 48.0)
        await until(driver, lambda block: block.value[0] == 48.0)
        driver._told(99, ua.DataValue(ua.Variant(1.0)))

        with pytest.raises(IndexError):
            async for _ in driver.readings():
                pass


async def test_a_bug_in_a_drivers_task_is_not_silence(make):
    """Whatever ends a task ends the driver, so that somebody hears of it."""
    driver = make(BATH_T)
    async with driver:
        await anext(driver.readings())
        driver._newest = None

        with pytest.raises(AttributeError):
            async for _ in driver.readings():
                pass


async def test_the_end_comes_within_two_seconds_though_a_cancellation_is_swallowed(make):
    """`asyncio.wait_for` of Python 3.11 can swallow one; the flag and the socket do not."""
    driver = make(BATH_T)
    async with driver:
        await anext(driver.readings())

        async def deaf() -> None:
            while not driver._stopping:
                try:
                    await asyncio.sleep(0.05)
                except asyncio.CancelledError:
                    continue

        driver._tasks.append(asyncio.create_task(deaf()))
        started_s = time.monotonic()

    assert time.monotonic() - started_s < 2.0
    assert all(task.done() for task in driver._tasks)


async def test_a_driver_is_found_by_its_protocols_name(plant, clock):
    settings = settings_for(plant.address, BOTH_T)

    async with open_driver(settings, clock) as driver:
        assert driver.layouts == settings.devices[0].layouts
        assert (await anext(driver.readings())).quality.tolist() == [Quality.GOOD] * 2
