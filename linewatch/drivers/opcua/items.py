"""What is wanted of a server: one item a tag, and where each stands in the blocks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core import units

if TYPE_CHECKING:
    from linewatch.config.links import LinkSettings, TagRead


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One tag as a server's node."""

    tag: str
    namespace: str
    """URI of the node's namespace: its index may change with every start of the server."""
    node: str
    """Id within the namespace: 's=Bath.pH'."""
    unit: str
    """Unit of the value that the server sends, before `factor` and `offset`, as configured."""
    unit_is_stated: bool
    """Whether the configuration states that unit, or it is only taken from the tag's kind."""
    factor: float
    """Value in the tag's unit = sent x factor + offset."""
    offset: float
    low: float
    """Lowest plausible value, in the tag's unit."""
    high: float
    period_ns: int
    sentinels: frozenset[float] = frozenset()
    bit: int | None = None
    sampling_s: float | None = None
    """How often the server should look at it, if the configuration says so [wall time]."""
    queue: int | None = None
    """How many changes the server should keep, if the configuration says so."""


def item_of(read: TagRead, link_namespace: str) -> Item:
    """Return a tag as a server's node."""
    wire = read.read
    factor, offset = wire.scale, wire.offset
    if wire.unit is not None:
        # A unit is a straight line: two points tell it.
        zero = units.convert(0.0, wire.unit, read.unit)
        slope = units.convert(1.0, wire.unit, read.unit) - zero
        factor, offset = factor * slope, offset * slope + zero
    return Item(
        tag=read.tag,
        namespace=wire.namespace or link_namespace,
        node=wire.node or "",
        unit=wire.unit or read.unit,
        unit_is_stated=wire.unit is not None or wire.scale != 1.0 or wire.offset != 0.0,
        factor=factor,
        offset=offset,
        low=read.low,
        high=read.high,
        period_ns=read.period_ns,
        sentinels=frozenset(float(each) for each in wire.sentinels),
        bit=wire.bit,
        sampling_s=None if wire.sampling is None else wire.sampling / 1000.0,
        queue=wire.queue,
    )


def items_of(settings: LinkSettings) -> tuple[Item, ...]:
    """Return the items of a link, in the order of its devices and tags."""
    namespace = settings.link.namespace or ""
    return tuple(item_of(tag, namespace) for device in settings.devices for tag in device.tags)
