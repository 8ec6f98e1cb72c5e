"""One device's memory: quantities in, registers and bits out, encoded when asked for."""

from __future__ import annotations

import struct
from dataclasses import asdict
from typing import TYPE_CHECKING

from linewatch_sim.rows import COUNTS_4MA, COUNTS_20MA
from linewatch_sim.values import is_open

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch_sim.rows import LineRow, RegisterRow
    from linewatch_sim.values import Get, Values

WORDS = {"bit": 1, "int16": 1, "uint16": 1, "int32": 2, "uint32": 2, "float32": 2}
_LIMITS = {
    "int16": (-0x8000, 0x7FFF),
    "uint16": (0, 0xFFFF),
    "int32": (-0x8000_0000, 0x7FFF_FFFF),
    "uint32": (0, 0xFFFF_FFFF),
}
HALF = 0.5
BROKEN_LOOP_COUNTS = 0
"""What the analogue card shows when no current flows: 0 mA, below every live zero."""


class NoSuchRegister(LookupError):
    """The device has nothing at this address."""


class Memory:
    """What one unit shows."""

    def __init__(self, rows: Iterable[RegisterRow], values: Values) -> None:
        self._bits: dict[tuple[str, int], Get] = {}
        self._words: dict[tuple[str, int], tuple[RegisterRow, Get]] = {}
        self._packed: dict[tuple[str, int], list[tuple[int, Get]]] = {}
        self._end: dict[str, int] = {}
        for row in rows:
            get = values.getter(row.what)
            place = (row.table, row.address)
            if row.table in {"coil", "discrete"}:
                self._bits[place] = get
            elif row.type == "bit":
                self._packed.setdefault(place, []).append((row.bit or 0, get))
            else:
                self._words[place] = (row, get)
            end = row.address + WORDS[row.type]
            self._end[row.table] = max(end, self._end.get(row.table, 0))

    def bits(self, table: str, first: int, count: int) -> list[bool]:
        """Return contacts or coils.

        Raises:
            NoSuchRegister: the span goes beyond the device's memory.
        """
        self._refuse_beyond(table, first, count)
        found = (self._bits.get((table, address)) for address in range(first, first + count))
        return [get is not None and get() > HALF for get in found]

    def words(self, table: str, first: int, count: int) -> bytes:
        """Return registers as they stand on the wire.

        Raises:
            NoSuchRegister: the span goes beyond the device's memory.
        """
        self._refuse_beyond(table, first, count)
        # A value that begins one register earlier reaches in with its second half.
        shown = bytearray(2 * (count + 2))
        for address in range(first - 1, first + count):
            at = 2 * (address - first + 1)
            place = (table, address)
            if place in self._words:
                raw = encoded(*self._words[place])
                shown[at : at + len(raw)] = raw
            elif place in self._packed:
                word = sum((get() > HALF) << bit for bit, get in self._packed[place])
                shown[at : at + 2] = struct.pack(">H", word)
        return bytes(shown[2 : 2 + 2 * count])

    def _refuse_beyond(self, table: str, first: int, count: int) -> None:
        if first + count > self._end.get(table, 0):
            raise NoSuchRegister(f"{table} {first}..{first + count - 1}")


def encoded(row: RegisterRow, get: Get) -> bytes:
    """Return one value's bytes: scaled, limited to what its type holds, in its word order."""
    value = get()
    if row.type == "float32":
        raw = struct.pack(">f", value)
    else:
        whole = _whole(row, value)
        low, high = _LIMITS[row.type]
        size = 2 * WORDS[row.type]
        raw = max(low, min(high, whole)).to_bytes(size, "big", signed=low < 0)
    return raw[2:] + raw[:2] if row.order == "CDAB" else raw


def _whole(row: RegisterRow, value: float) -> int:
    if row.span is not None:
        if is_open(value):
            return BROKEN_LOOP_COUNTS
        low, high = row.span
        share = (value - low) / (high - low)
        # The transmitter stays inside 3.8 to 20.5 mA, as NAMUR NE 43 has it.
        share = max(-0.0125, min(1.03125, share))
        return round(COUNTS_4MA + share * (COUNTS_20MA - COUNTS_4MA))
    if is_open(value):
        open_raw = row.sentinel if row.sentinel is not None else _LIMITS[row.type][1]
        return (
            open_raw - 0x10000
            if row.type == "int16" and open_raw > _LIMITS["int16"][1]
            else open_raw
        )
    return round(value / row.scale)


def memories(line: LineRow, values: Values) -> dict[str, dict[int, Memory]]:
    """Return every unit's memory, by link and unit id."""
    rows: dict[str, dict[int, list[RegisterRow]]] = {link.id: {} for link in line.links}
    for row in line.registers:
        rows[row.link].setdefault(row.unit, []).append(row)
    return {
        link: {unit: Memory(mine, values) for unit, mine in units.items()}
        for link, units in rows.items()
    }


def device_map(line: LineRow) -> list[dict[str, object]]:
    """Return where every quantity stands, for a configuration to be compared with."""
    return [
        asdict(row) | ({"counts": [COUNTS_4MA, COUNTS_20MA]} if row.span is not None else {})
        for row in line.registers
    ] + [asdict(node) for node in line.nodes]
