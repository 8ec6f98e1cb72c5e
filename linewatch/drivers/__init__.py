"""Instrument to readings: one package a protocol, found by name.

Drivers read and report. They do not retry, filter, alarm or remember.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Protocol, cast

if TYPE_CHECKING:
    from linewatch.config.links import LinkSettings
    from linewatch.core.ports import Clock, Driver

_MODULES = {
    "modbus-tcp": "linewatch.drivers.modbus.driver",
    "modbus-rtu-over-tcp": "linewatch.drivers.modbus.driver",
    "modbus-rtu": "linewatch.drivers.modbus.driver",
    "opcua": "linewatch.drivers.opcua.driver",
}
PROTOCOLS = tuple(_MODULES)
"""Every protocol that a link can have."""


class _DriverModule(Protocol):
    def open_driver(self, settings: LinkSettings, clock: Clock) -> Driver: ...


def open_driver(settings: LinkSettings, clock: Clock) -> Driver:
    """Return a fresh driver for a link; entering it connects.

    Args:
        settings: The link with its devices and tags.
        clock: The time.

    Raises:
        ValueError: no driver has the protocol's name.
    """
    protocol = settings.link.protocol
    if protocol not in _MODULES:
        raise ValueError(
            f"link.{settings.link.id}.protocol: no driver {protocol!r};"
            f" use one of {', '.join(PROTOCOLS)}"
        )
    # Imported here, so that a line without OPC UA never pays for it.
    module = cast("_DriverModule", import_module(_MODULES[protocol]))
    return module.open_driver(settings, clock)
