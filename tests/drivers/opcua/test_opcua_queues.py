"""Changes that come faster than a server publishes: asked for, heard, or their loss is told."""

import pytest
from asyncua import ua
from asyncua.server.internal_session import InternalSession
from asyncua.server.subscription_service import SubscriptionService

from linewatch.core.readings import Quality
from tests.drivers.opcua.plant import until

pytestmark = pytest.mark.wire

BATH_T = {"bath.temperature": {"node": "s=T"}}


@pytest.fixture
def publishes_each_second(monkeypatch):
    """A server that publishes no oftener than once a second, whatever is asked."""
    whole = SubscriptionService.create_subscription

    async def create(self, params, *arguments, **options):
        params.RequestedPublishingInterval = max(1000.0, params.RequestedPublishingInterval)
        return await whole(self, params, *arguments, **options)

    monkeypatch.setattr(SubscriptionService, "create_subscription", create)


async def test_as_many_changes_are_asked_for_as_the_server_can_see(
    plant, make, publishes_each_second, monkeypatch
):
    whole = InternalSession.create_monitored_items
    asked, filters = [], []

    async def create(self, params):
        asked.extend(
            (each.RequestedParameters.SamplingInterval, each.RequestedParameters.QueueSize)
            for each in params.ItemsToCreate
        )
        filters.extend(each.RequestedParameters.Filter for each in params.ItemsToCreate)
        return await whole(self, params)

    monkeypatch.setattr(InternalSession, "create_monitored_items", create)
    tags = {
        "bath.temperature": {"node": "s=T"},
        "bath.level": {"node": "s=Level", "sampling": "200 ms"},
        "bath.ph": {"node": "s=pH", "sampling": "500 ms", "queue": 7},
    }

    async with make(tags, sampling="100 ms") as driver:
        await anext(driver.readings())
        reason = driver.picture().reason

    assert asked == [(100.0, 10), (200.0, 5), (500.0, 7)]
    # Ranges and dead bands are the plan's own: a server may refuse a filter, or not mean it.
    assert not any(isinstance(each, ua.DataChangeFilter) for each in filters)
    assert "it publishes 3 only every 1 s; of the changes between, the newest counts" in reason


async def test_a_server_that_keeps_fewer_changes_than_asked_is_told(
    plant, make, publishes_each_second, monkeypatch
):
    monkeypatch.setattr(plant.server.iserver, "max_monitored_item_queue_size", 1)

    async with make(BATH_T, sampling="100 ms") as driver:
        await anext(driver.readings())
        for step in range(10):
            plant.write("T", 40.0 + step)
        block = await until(driver, lambda block: block.value[0] == 49.0)
        reason = driver.picture().reason
    plant.write("T", 48.0)

    assert block.value[0] == 49.0
    assert "it keeps 1 of 10 changes of 1: bath.temperature; the others are lost" in reason


async def test_changes_that_a_server_says_it_dropped_are_counted(plant, make):
    overflow = 0x0480  # OPC 10000-4, 7.39.1: info type 'data value' with the overflow bit

    async with make(BATH_T) as driver:
        await anext(driver.readings())
        plant.write("T", 47.5, status=overflow)
        block = await until(driver, lambda block: block.value[0] == 47.5)
        reason = driver.picture().reason
    plant.write("T", 48.0)

    assert block.quality[0] == Quality.GOOD
    assert "it dropped changes 1 times: bath.temperature" in reason
