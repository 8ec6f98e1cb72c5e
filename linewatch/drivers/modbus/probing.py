"""Reading a device that nobody has a map of: which addresses it gives, and what stands there.

Only questions that read; one at a time; a refused range is halved until the refused
addresses are known, or until enough has been asked.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.config.blocks import tag_block
from linewatch.config.links import DevicePoll, LinkSettings
from linewatch.drivers.modbus.decode import FUNCTIONS
from linewatch.drivers.modbus.driver import ModbusDriver
from linewatch.drivers.modbus.question import (
    BIT_FUNCTIONS,
    EXCEPTION_WORDS,
    Answer,
    Broken,
    Question,
    Refusal,
    Verdict,
)

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from linewatch.config.model import DeviceSection, LinkSection
    from linewatch.core.ports import Clock

MOST_QUESTIONS = 200
"""A device of which every second register is a hole would otherwise be asked for hours."""
_HALVED = {2, 3}
"""Refusals for the address or the count: fewer may be given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Neighbouring addresses that were given, or that were not."""

    first: int
    """On the wire, from 0."""
    count: int
    words: tuple[int, ...] = ()
    """Registers, or bits as 0 and 1; empty if they were not given."""
    refused: str = ""
    """Why not."""


async def probe(
    link: LinkSection, device: DeviceSection, table: str, first: int, count: int, clock: Clock
) -> tuple[Stretch, ...]:
    """Connect to a device and read a range of one of its tables.

    Raises:
        LinkLost: nobody listens, or the connection ends.
    """
    settings = LinkSettings(
        link=link, devices=(DevicePoll(device=device, tags=(), layouts=()),)
    )
    driver = ModbusDriver(settings, clock)
    async with driver:
        return await stretches(
            driver.ask,
            Question(
                unit=device.unit,
                function=FUNCTIONS[table],
                address=first,
                count=min(count, device.largest_block),
                answers_as=device.answers_as_unit,
            ),
            count,
        )


async def stretches(
    ask: Callable[[Question], Awaitable[Verdict]], start: Question, count: int
) -> tuple[Stretch, ...]:
    """Return what a unit gives of a range.

    Args:
        ask: Puts one question.
        start: The first question; its count is the largest block to ask for.
        count: How many addresses in all.

    Raises:
        LinkLost: the connection ends.
    """
    found: list[Stretch] = []
    left = [
        (address, min(start.count, start.address + count - address))
        for address in range(start.address, start.address + count, start.count)
    ]
    asked = 0
    while left:
        address, some = left.pop(0)
        if asked >= MOST_QUESTIONS:
            found.append(Stretch(first=address, count=some, refused="not asked any more"))
            continue
        asked += 1
        verdict = await ask(
            Question(
                unit=start.unit,
                function=start.function,
                address=address,
                count=some,
                answers_as=start.answers_as,
                identity=start.identity,
            )
        )
        if isinstance(verdict, Refusal) and verdict.code in _HALVED and some > 1:
            half = some // 2
            left[:0] = [(address, half), (address + half, some - half)]
            continue
        found.append(stretch_of(start.function, address, some, verdict))
    return _joined(found)


def stretch_of(function: int, address: int, count: int, verdict: Verdict) -> Stretch:
    """Return what an answer says of some addresses."""
    match verdict:
        case Answer(payload=payload):
            return Stretch(first=address, count=count, words=_words(function, payload, count))
        case Refusal(code=code):
            why = EXCEPTION_WORDS.get(code, "refused")
            return Stretch(first=address, count=count, refused=f"{why} (exception {code})")
        case Broken(failure=failure, text=text):
            why = text if text.startswith(str(failure)) else f"{failure}: {text}"
            return Stretch(first=address, count=count, refused=why)


def _words(function: int, payload: bytes, count: int) -> tuple[int, ...]:
    if function in BIT_FUNCTIONS:
        return tuple(payload[place // 8] >> place % 8 & 1 for place in range(count))
    return struct.unpack(f">{count}H", payload)


def _joined(found: list[Stretch]) -> tuple[Stretch, ...]:
    """Join neighbours that were both given, or refused for one reason."""
    joined: list[Stretch] = []
    for each in found:
        last = joined[-1] if joined else None
        if last is not None and last.refused == each.refused:
            joined[-1] = Stretch(
                first=last.first,
                count=last.count + each.count,
                words=last.words + each.words,
                refused=last.refused,
            )
        else:
            joined.append(each)
    return tuple(joined)


def probed_block(table: str, address: int, type_: str, order: str) -> str:
    """Return a configuration block for an address, ready but for the name of its quantity.

    Args:
        table: Table of the address.
        address: As the device's manual has it.
        type_: What the person found it to be.
        order: Order of its bytes.
    """
    read: dict[str, object] = {"address": address, "type": type_}
    if table != "holding":
        read = {"table": table, **read}
    if order != "ABCD":
        read["order"] = order
    return tag_block({"measures": "tank.quantity", "read": read}, "which tank, which quantity")
