"""What a driver is told: one link with its devices and tags, in wire terms.

Drivers see this and the core's layouts; they never see the file, the tanks or the limits.
"""

from __future__ import annotations

from dataclasses import dataclass

from linewatch.config.model import DeviceSection, LinkSection, Read
from linewatch.core.readings import Layout


@dataclass(frozen=True, slots=True, kw_only=True)
class TagRead:
    """How one tag is read and turned into a number."""

    tag: str
    """Tag id."""
    unit: str
    """Unit of the tag's measurement: what the driver must deliver."""
    low: float
    """Lowest plausible value; outside: OUT_OF_RANGE."""
    high: float
    """Highest plausible value."""
    period_ns: int
    read: Read
    """As it is written; `read.address` is in the style of the device's manual."""
    address: int = 0
    """Modbus address on the wire, from 0, whatever the manual's style."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DevicePoll:
    """One device: its section and its tags, each with the layout column that it fills."""

    device: DeviceSection
    tags: tuple[TagRead, ...]
    layouts: tuple[Layout, ...]
    """One per distinct period; every tag of the device stands in exactly one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSettings:
    """One link with all that is behind it."""

    link: LinkSection
    devices: tuple[DevicePoll, ...]
