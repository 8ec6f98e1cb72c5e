"""Where a tag stands in its device, in the style of the device's manual.

Manuals count registers from 0 or from 1, or write the table's figure in front of a number
from 1: 40001 is the first holding register in five figures, 400001 in six; 3… are input
registers, 1… discrete inputs, 0… coils. On the wire every table begins at 0.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from linewatch.config.faults import alternatives, shown
from linewatch.config.quantities import quantity
from linewatch.core import units
from linewatch.core.measurements import MEASUREMENTS

if TYPE_CHECKING:
    from linewatch.config.faults import Faults
    from linewatch.config.model import DeviceSection, LinkSection, Read, Signal, TagSection

_FIGURE = {"coil": 0, "discrete": 1, "input": 3, "holding": 4}
_REGISTERS = {
    "int32": 2,
    "uint32": 2,
    "float32": 2,
    "bcd32": 2,
    "int64": 4,
    "uint64": 4,
    "float64": 4,
}
_LAST = 65535
_NODE = re.compile(
    r"i=\d{1,10}|s=.{1,4096}|g=[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}"
    r"|b=(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?"
)
_FIVE_FIGURES = (40001, 30001)


def registers(read: Read) -> int:
    """Return how many registers (or bits of a bit table) a value takes."""
    if read.table in {"coil", "discrete"}:
        return 1
    return read.length if read.type == "text" else _REGISTERS.get(read.type, 1)


def first_address(base: int, table: str) -> int:
    """Return what a device's manual calls the first address of a table."""
    if base in {0, 1}:
        return base
    step = 10_000 if base in _FIVE_FIGURES else 100_000
    return _FIGURE[table] * step + 1


def _places(base: int) -> int:
    """Return how many addresses of a table the style can write."""
    return 9999 if base in _FIVE_FIGURES else _LAST + 1


def wire_address(device: DeviceSection, read: Read) -> int:
    """Return the address on the wire, from 0; 0 if the tag has none."""
    if read.address is None:
        return 0
    return max(0, read.address - first_address(device.base, read.table))


def check_read(
    device: DeviceSection, tag: TagSection, link: LinkSection | None, key: str, faults: Faults
) -> None:
    """Refuse a `read` that its link's protocol cannot carry out or that means nothing."""
    if link is not None and link.protocol == "opcua":
        _check_node(tag.read, link, f"{key}.read", faults)
    elif link is not None:
        _check_register(device, tag.read, key, faults)
    _check_meaning(tag, key, faults)


def _check_node(read: Read, link: LinkSection, key: str, faults: Faults) -> None:
    if read.node is None:
        faults.add(f"{key}.node", "missing", 'an OPC UA item has a node: "s=Bath.pH"')
    elif not _NODE.fullmatch(read.node):
        remedy = 'write "s=Bath.pH", "i=1042", "g=…" or "b=…", and name its `namespace`'
        faults.add(f"{key}.node", f"{shown(read.node)} is no node id", remedy)
    if read.namespace is None and link.namespace is None:
        remedy = f"name the node's namespace URI here or as `namespace` of link {link.id}"
        faults.add(f"{key}.namespace", "missing", remedy)
    for name in ("address", "signal", "sensor"):
        if getattr(read, name) is not None:
            faults.add(f"{key}.{name}", "an OPC UA item has none", "leave it out")


def _check_register(device: DeviceSection, read: Read, key: str, faults: Faults) -> None:
    for name in ("node", "sampling", "queue"):
        if getattr(read, name) is not None:
            faults.add(f"{key}.read.{name}", "only OPC UA has one", "write an `address`")
    if read.address is None:
        faults.add(f"{key}.read.address", "missing", "write the register's address")
        return
    bits = read.table in {"coil", "discrete"}
    if "type" not in read.model_fields_set and not bits:
        faults.add(f"{key}.read.type", "missing", "there is no safe guess: see the manual")
    if bits and "type" in read.model_fields_set and read.type != "bit":
        faults.add(
            f"{key}.read.type", f"a {read.table} is a bit", 'leave it out or write "bit"'
        )
    if read.type == "bit" and read.bit is None and not bits:
        faults.add(f"{key}.read.bit", "missing", "say which bit, 0 to 15")
    first = first_address(device.base, read.table)
    last = first + min(_places(device.base), _LAST + 1) - registers(read)
    if not first <= read.address <= last:
        faults.add(
            f"{key}.read.address",
            f"{read.address} is no {read.table} address of a device with base {device.base}",
            f"it lies from {first} to {last}",
        )


def _check_meaning(tag: TagSection, key: str, faults: Faults) -> None:
    read = tag.read
    kind = tag.measures.split(".")[1]
    if kind not in MEASUREMENTS:
        return
    unit = MEASUREMENTS[kind].unit
    if read.unit is not None:
        _check_unit(read.unit, unit, f"{key}.read.unit", faults)
    if read.signal is not None:
        _check_signal(read.signal, unit, f"{key}.read.signal", faults)
    if read.scale == 0:
        faults.add(f"{key}.read.scale", "0 makes every value the same", "write the factor")
    if read.sensor is not None:
        _check_sensor(read, unit, f"{key}.read", faults)


def _check_unit(written: str, unit: str, key: str, faults: Faults) -> None:
    found, dimension = units.find(written), units.UNITS[unit].dimension
    if found is None or found.dimension != dimension:
        known = [name for name, row in units.UNITS.items() if row.dimension == dimension]
        happened = f"no {dimension} in {shown(written)}"
        faults.add(key, happened, alternatives(written, known, "unit"))


def _check_signal(signal: Signal, unit: str, key: str, faults: Faults) -> None:
    low = quantity(signal.low, unit, f"{key}.low", faults)
    high = quantity(signal.high, unit, f"{key}.high", faults)
    if low is not None and low == high:
        faults.add(key, "spans nothing", "let low and high differ")
    if signal.counts_at_4ma == signal.counts_at_20ma:
        faults.add(key, "both counts are the same", "let them differ")


def _check_sensor(read: Read, unit: str, key: str, faults: Faults) -> None:
    if unit != "degC":
        faults.add(f"{key}.sensor", "the tag is no temperature", "leave `sensor` out")
    if str(read.sensor).startswith("tc-") and read.cold_junction is None:
        faults.add(
            f"{key}.cold_junction",
            "missing",
            "name the tag that measures the terminal's temperature",
        )
