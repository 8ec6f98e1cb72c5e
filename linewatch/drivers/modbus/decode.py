"""From registers to numbers in engineering units, a whole block at a time. Pure.

Rule 1: only finite, plausible numbers leave; everything else is NaN with its reason.
Rule 2: the order of bytes is an order of indices: each value's bytes are gathered most
        significant first, whatever the device's order, and read as one big-endian array.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linewatch.config.addresses import registers
from linewatch.core import units
from linewatch.core.readings import Quality
from linewatch.drivers.modbus.planner import Plan, Request, Span
from linewatch.drivers.modbus.question import BIT_FUNCTIONS
from linewatch.drivers.modbus.sensors import Loop, Resistance, Thermocouple, sensor_of
from linewatch.drivers.text import text_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from linewatch.config.links import TagRead
    from linewatch.config.model import Read
    from linewatch.core.readings import Qualities, Values

FUNCTIONS = {"coil": 1, "discrete": 2, "holding": 3, "input": 4}
_BIG_ENDIAN = {
    "int16": ">i2",
    "uint16": ">u2",
    "int32": ">i4",
    "uint32": ">u4",
    "int64": ">i8",
    "uint64": ">u8",
    "float32": ">f4",
    "float64": ">f8",
    "bit": ">u2",
}
_BCD = ("bcd16", "bcd32")
LAST_DIGIT = 9


def spans_of(tags: Sequence[TagRead]) -> tuple[Span, ...]:
    """Return where the values of a layout stand, one span a column."""
    return tuple(
        Span(
            function=FUNCTIONS[tag.read.table],
            address=tag.address,
            count=registers(tag.read),
            column=column,
        )
        for column, tag in enumerate(tags)
    )


def byte_places(read: Read, start: int) -> list[int]:
    """Return where a value's bytes lie, most significant first, from byte `start` on."""
    if read.table in {"coil", "discrete"}:
        return [start]
    count = registers(read)
    words = list(range(count))
    is_text = read.type == "text"
    if read.order in {"CDAB", "DCBA"} and not is_text:
        words.reverse()
    within = (1, 0) if read.order in {"BADC", "DCBA"} else (0, 1)
    return [start + 2 * word + byte for word in words for byte in within]


@dataclass(frozen=True, slots=True)
class _Group:
    """Values of one type: decoded in one go."""

    type: str
    columns: NDArray[np.intp]
    places: NDArray[np.intp]
    """Shape (values, bytes of a value)."""
    sentinels: tuple[tuple[NDArray[np.intp], float | int], ...]
    """Rows of the group, and the raw value that means 'no value' there."""


class Sheet:
    """The bytes that one poll brought, each request's at its own place."""

    def __init__(self, size: int, columns: int) -> None:
        self.bytes = bytearray(size)
        self.quality = np.zeros(columns, dtype=np.uint8)

    def fail(self, spans: Iterable[Span], quality: Quality) -> None:
        """Mark values that did not come."""
        for span in spans:
            self.quality[span.column] = quality


class Decoder:
    """Decodes one layout, polled by one plan.

    Args:
        tags: The layout's tags, in order of columns.
        plan: The requests that bring them.
    """

    def __init__(self, tags: Sequence[TagRead], plan: Plan) -> None:
        self.plan = plan
        self._tags = tags
        self._offsets: list[tuple[Request, int]] = []
        self._offset_of: dict[int, int] = {}
        """By identity of a request of the plan, which the plan keeps."""
        size = 0
        starts: dict[int, int] = {}
        for request in plan.requests:
            self._offsets.append((request, size))
            self._offset_of[id(request)] = size
            scale = _scale(request.function)
            for span in request.spans:
                starts[span.column] = size + scale * (span.address - request.address)
            size += scale * request.count
        self._size = size
        self._groups = _groups(tags, starts)
        self._texts = [
            (column, np.array(byte_places(tags[column].read, start), dtype=np.intp))
            for column, start in starts.items()
            if tags[column].read.type == "text"
        ]
        self._bits = _bits(tags)
        self._scale = np.array([tag.read.scale for tag in tags])
        self._offset = np.array([tag.read.offset for tag in tags])
        sensors = [(column, sensor_of(tag)) for column, tag in enumerate(tags)]
        self._sensors = [
            (column, sensor)
            for column, sensor in sensors
            if isinstance(sensor, Loop | Resistance)
        ]
        self._couples = [
            (column, sensor) for column, sensor in sensors if isinstance(sensor, Thermocouple)
        ]
        self._plain = np.array([not isinstance(each, Thermocouple) for _, each in sensors])
        self._column = {tag.tag: column for column, tag in enumerate(tags)}
        self._factor, self._shift = _conversion(tags)
        self._low = np.array([tag.low for tag in tags])
        self._high = np.array([tag.high for tag in tags])

    def sheet(self) -> Sheet:
        """Return an empty sheet; values that the plan does not ask for are marked refused."""
        sheet = Sheet(self._size, len(self._tags))
        sheet.fail(self.plan.holes, Quality.REFUSED)
        return sheet

    def put(self, sheet: Sheet, request: Request, payload: bytes) -> None:
        """Lay down the answer to a request, or to a part of one."""
        scale = _scale(request.function)
        if scale == 1:
            # Coils and inputs come eight to a byte, the lowest address lowest.
            bits = np.unpackbits(np.frombuffer(payload, np.uint8), bitorder="little")
            payload = bits[: request.count].tobytes()
        whole = self._offset_of.get(id(request))
        if whole is not None:
            sheet.bytes[whole : whole + len(payload)] = payload
            return
        for planned, offset in self._offsets:
            if (
                planned.function == request.function
                and planned.address <= request.address
                and request.end <= planned.end
            ):
                start = offset + scale * (request.address - planned.address)
                sheet.bytes[start : start + len(payload)] = payload

    def decoded(
        self, sheet: Sheet, junction: Callable[[str], tuple[float, int]]
    ) -> tuple[Values, Qualities]:
        """Return values and qualities, shape (tags,).

        Args:
            sheet: What came.
            junction: Returns temperature [degC] and quality of a cold junction's tag.
        """
        raw = np.frombuffer(bytes(sheet.bytes), dtype=np.uint8)
        value = np.zeros(len(self._tags))
        quality = sheet.quality
        # What a faulty device sends may overflow on its way; the marks below see to it.
        with np.errstate(all="ignore"):
            for group in self._groups:
                _decode(group, raw, value, quality)
            for column, places in self._texts:
                value[column] = _number(raw[places].tobytes())
            for column, bit in self._bits:
                value[column] = (int(value[column]) >> bit) & 1
            value = value * self._scale + self._offset
            for column, sensor in self._sensors:
                if quality[column] < Quality.BAD:
                    value[column], quality[column] = sensor.sensed(float(value[column]))
            value = value * self._factor + self._shift
            self._judge(value, quality, self._plain)
            for column, couple in self._couples:
                self._sense(column, couple, value, quality, junction)
            self._judge(value, quality, ~self._plain)
        value[quality >= Quality.BAD] = np.nan
        return value, quality

    def _judge(self, value: Values, quality: Qualities, where: NDArray[np.bool_]) -> None:
        """Mark what is no number, or cannot be this measurement."""
        _mark(quality, where & ~np.isfinite(value), Quality.MALFORMED)
        _mark(
            quality, where & ((value < self._low) | (value > self._high)), Quality.OUT_OF_RANGE
        )

    def _sense(
        self,
        column: int,
        couple: Thermocouple,
        value: Values,
        quality: Qualities,
        junction: Callable[[str], tuple[float, int]],
    ) -> None:
        """Turn a thermocouple's voltage into a temperature."""
        if quality[column] >= Quality.BAD:
            return
        beside = self._column.get(couple.cold_junction)
        if beside is not None:
            cold_degc, cold_quality = float(value[beside]), int(quality[beside])
        else:
            cold_degc, cold_quality = junction(couple.cold_junction)
        if cold_quality >= Quality.BAD:
            quality[column] = cold_quality
        else:
            value[column], quality[column] = couple.sensed(float(value[column]), cold_degc)


def _scale(function: int) -> int:
    """Return how many bytes of a sheet an address takes."""
    return 1 if function in BIT_FUNCTIONS else 2


def _groups(tags: Sequence[TagRead], starts: dict[int, int]) -> list[_Group]:
    by_type: dict[str, list[int]] = {}
    for column in starts:
        read = tags[column].read
        kind = "coil" if read.table in {"coil", "discrete"} else read.type
        if kind != "text":
            by_type.setdefault(kind, []).append(column)
    return [
        _Group(
            type=kind,
            columns=np.array(columns, dtype=np.intp),
            places=np.array(
                [byte_places(tags[column].read, starts[column]) for column in columns],
                dtype=np.intp,
            ),
            sentinels=_sentinels(kind, [tags[column].read.sentinels for column in columns]),
        )
        for kind, columns in by_type.items()
    ]


def _sentinels(
    kind: str, values: Sequence[tuple[int, ...]]
) -> tuple[tuple[NDArray[np.intp], float | int], ...]:
    rows: dict[float | int, list[int]] = {}
    for row, each in enumerate(values):
        for sentinel in each:
            rows.setdefault(_as_read(kind, sentinel), []).append(row)
    return tuple((np.array(each, dtype=np.intp), sentinel) for sentinel, each in rows.items())


def _as_read(kind: str, sentinel: int) -> float | int:
    """Return a sentinel as the type reads it: 32768 and -32768 are one int16."""
    if not kind.startswith(("int", "uint")):
        return float(sentinel)
    bits = int(kind.removeprefix("u").removeprefix("int"))
    wrapped = sentinel & ((1 << bits) - 1)
    if kind.startswith("int") and wrapped >> (bits - 1):
        return wrapped - (1 << bits)
    return wrapped


def _decode(group: _Group, raw: NDArray[np.uint8], value: Values, quality: Qualities) -> None:
    gathered = raw[group.places]
    if group.type in _BCD:
        digits = np.stack([gathered >> 4, gathered & 0xF], axis=-1)
        digits = digits.reshape(len(gathered), -1)
        # A nibble above 9 shows while the device's display is being written.
        wrong = np.any(digits > LAST_DIGIT, axis=1)
        numbers = digits @ 10.0 ** np.arange(digits.shape[1] - 1, -1, -1)
        _mark_at(quality, group.columns[wrong], Quality.MALFORMED)
    elif group.type == "coil":
        numbers = gathered[:, 0]
    else:
        numbers = gathered.view(_BIG_ENDIAN[group.type])[:, 0]
    for rows, sentinel in group.sentinels:
        hit = numbers[rows] == sentinel
        _mark_at(quality, group.columns[rows[hit]], Quality.SENSOR_FAULT)
    value[group.columns] = numbers


def _mark_at(quality: Qualities, columns: NDArray[np.intp], reason: Quality) -> None:
    """Give a reason where there is none yet."""
    if len(columns):
        quality[columns] = np.where(quality[columns] >= Quality.BAD, quality[columns], reason)


def _mark(quality: Qualities, where: NDArray[np.bool_], reason: Quality) -> None:
    np.putmask(quality, where & (quality < Quality.BAD), reason)


def _bits(tags: Sequence[TagRead]) -> list[tuple[int, int]]:
    return [
        (column, tag.read.bit or 0)
        for column, tag in enumerate(tags)
        if tag.read.type == "bit" and tag.read.table in {"holding", "input"}
    ]


def _conversion(tags: Sequence[TagRead]) -> tuple[Values, Values]:
    """Return factor and shift from each value's own unit to the measurement's."""
    factor, shift = np.ones(len(tags)), np.zeros(len(tags))
    for column, tag in enumerate(tags):
        if sensor_of(tag) is None and tag.read.unit not in {None, tag.unit}:
            own = tag.read.unit or tag.unit
            shift[column] = units.convert(0.0, own, tag.unit)
            factor[column] = units.convert(1.0, own, tag.unit) - shift[column]
    return factor, shift


def _number(raw: bytes) -> float:
    """Return the number that a device sends as text; NaN if the text is none."""
    text = text_of(raw)
    try:
        return float(text) if text.isascii() and "_" not in text else float("nan")
    except ValueError:
        return float("nan")
