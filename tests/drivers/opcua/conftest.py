"""One server a module, and drivers for it."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from linewatch.drivers.opcua.driver import OpcuaDriver
from linewatch.engine.clock import SystemClock
from tests.drivers.opcua.plant import WATER, Plant, settings_for


@pytest.fixture(scope="module")
def plant() -> Iterator[Plant]:
    """One server for a module, with a few variables that tests may change."""
    plant = Plant()
    for name, value in (("T", 48.0), ("pH", 4.1), ("Level", 850.0), ("Run", True)):
        plant.add(name, value)
    plant.add("T", 61.0, WATER)
    yield plant
    plant.stop()


@pytest.fixture
def clock() -> SystemClock:
    """The system's clock."""
    return SystemClock()


@pytest.fixture
def make(plant: Plant, clock: SystemClock) -> Callable[..., OpcuaDriver]:
    """Return a driver for some tags of the module's server."""

    def make(tags: dict[str, dict[str, Any]], **options: Any) -> OpcuaDriver:
        address = options.pop("address", plant.address)
        return OpcuaDriver(settings_for(address, tags, **options), clock)

    return make
