"""Looking at a device before it is part of a line. It reads; it never writes."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from pydantic import ValidationError

from linewatch.config.model import DeviceSection, LinkSection
from linewatch.core.errors import Refused
from linewatch.engine.clock import SystemClock

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from linewatch.drivers.modbus.plausible import Candidate
    from linewatch.drivers.modbus.probing import Stretch

MOST_ADDRESSES = 2000
LAST = 65535
ID = "probe"
SILENT = (
    "see that --unit is the device's own, that it speaks --protocol, on a serial line that"
    " --baud and --parity are its own; then wait longer with --timeout"
)


def probed(
    address: str,
    link: Mapping[str, object],
    device: Mapping[str, object],
    where: tuple[str, int, int],
) -> str:
    """Return what a Modbus device gives of a range, with every plausible reading.

    Raises:
        LinkLost: nobody listens, or the connection ends.
        Refused: an option cannot be meant.
    """
    from linewatch.drivers.modbus import probing

    settings = _link(address, link)
    unit = _device(address, device)
    found = asyncio.run(probing.probe(settings, unit, *where, SystemClock()))
    table = where[0]
    rows = [f"{address} unit {unit.unit}, {table} table, addresses as they go over the wire"]
    for stretch in found:
        rows += stretch_rows(stretch, table)
    return "\n".join(rows)


def stretch_rows(stretch: Stretch, table: str) -> Iterator[str]:
    """Yield what a stretch of addresses gave: a row a register, then a guess as a block."""
    from linewatch.drivers.modbus.plausible import candidates
    from linewatch.drivers.modbus.probing import probed_block
    from linewatch.drivers.modbus.question import Failure

    last = stretch.first + stretch.count - 1
    if stretch.refused:
        hint = f"; {SILENT}" if stretch.refused.startswith(Failure.SILENT) else ""
        yield f"{stretch.first}..{last}: {stretch.refused}{hint}"
        return
    if table in {"coil", "discrete"}:
        yield f"{stretch.first}..{last}: {' '.join(str(bit) for bit in stretch.words)}"
        return
    best: tuple[int, Candidate] | None = None
    for place, word in enumerate(stretch.words):
        address = stretch.first + place
        ways = candidates(stretch.words[place : place + 4])
        yield f"{address:>6}  {word:04X}  {_readings(ways)}"
        if best is None and ways and ways[0].is_plausible and word:
            best = (address, ways[0])
    if best is not None:
        address, way = best
        yield (
            f"\na guess at {address}, for a [[device]]; other readings stand above, and only a"
            " look at the device tells which is true:\n"
        )
        yield probed_block(table, address, way.type, way.order)


def _readings(ways: Sequence[Candidate]) -> str:
    """Return every plausible way to read some words; types that agree are named together."""
    types: dict[tuple[int, str, float, str], list[str]] = {}
    for way in ways:
        if way.is_plausible or way.note:
            key = (way.words, way.order, way.value, way.note)
            types.setdefault(key, []).append(way.type)
    return "  ".join(
        f"{'/'.join(some)}{'' if order == 'ABCD' else ' ' + order} {value:.6g}"
        + (f" ({note})" if note else "")
        for (_, order, value, note), some in types.items()
    )


def surveyed(address: str, timeout: str) -> str:
    """Return the variables of an OPC UA server, with blocks ready for a configuration.

    Raises:
        LinkLost: nobody answers, or the session ends.
        Refused: an option cannot be meant.
    """
    from linewatch.drivers.opcua.survey import survey, surveyed_block

    settings = _link(address, {"protocol": "opcua", "timeout": timeout})
    found = asyncio.run(survey(settings, SystemClock()))
    rows = [f"{address}: {len(found.variables)} variables"]
    for each in found.variables:
        unit = f" {each.unit}" if each.unit else ""
        rows.append(f"{each.path} = {each.value}{unit} ({each.quality})")
        if each.is_number:
            rows.append(surveyed_block(each))
    if not found.is_whole:
        rows.append("there are more; only these were listed")
    return "\n".join(rows)


def _link(address: str, parts: Mapping[str, object]) -> LinkSection:
    try:
        return LinkSection.model_validate({"id": ID, "address": address, **parts})
    except ValidationError as error:
        raise Refused(f"probe {address}", _said(error)) from error


def _device(address: str, parts: Mapping[str, object]) -> DeviceSection:
    try:
        return DeviceSection.model_validate({"id": ID, "link": ID, **parts})
    except ValidationError as error:
        raise Refused(f"probe {address}", _said(error)) from error


def _said(error: ValidationError) -> str:
    return "; ".join(f"{each['loc'][0]}: {each['msg']}" for each in error.errors())
