"""From a status, a value and a source time to a reading.

Rule 1: a bad status has no value, whatever the server sent with it.
Rule 2: only finite numbers leave; truths are 1 and 0; everything else is malformed.
Rule 3: our own time of receipt always stands; the source's time only where it is believable.

References:
    OPC 10000-4, 7.39: the top two bits of a status are its severity, the lower 16 bits say
    more about the value and change nothing about what the status is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from linewatch.drivers.opcua.items import Item

_CODE_BITS = 0xFFFF0000
# OPC 10000-4, 7.39.1: the info type of a data value, and its overflow bit.
_INFO_BITS = 0x0C00
_OF_A_VALUE = 0x0400
_OVERFLOW = 0x0080
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

# Codes from the OPC Foundation's StatusCode.csv.
_BY_CODE: dict[int, Quality] = {
    0x00000000: Quality.GOOD,
    0x00960000: Quality.BY_HAND,  # GoodLocalOverride: somebody forces the value at the device
    0x408F0000: Quality.LAST_KNOWN,  # UncertainNoCommunicationLastUsableValue
    0x40900000: Quality.LAST_KNOWN,  # UncertainLastUsableValue
    0x80050000: Quality.NO_ANSWER,  # BadCommunicationError
    0x800A0000: Quality.NO_ANSWER,  # BadTimeout
    0x80310000: Quality.NO_ANSWER,  # BadNoCommunication
    0x808A0000: Quality.NO_ANSWER,  # BadNotConnected
    0x80320000: Quality.NOT_YET,  # BadWaitingForInitialData
    0x803C0000: Quality.OUT_OF_RANGE,  # BadOutOfRange
    0x808C0000: Quality.SENSOR_FAULT,  # BadSensorFailure
    0x808D0000: Quality.OUT_OF_SERVICE,  # BadOutOfService
    0x80330000: Quality.REFUSED,  # BadNodeIdInvalid
    0x80340000: Quality.REFUSED,  # BadNodeIdUnknown
    0x80350000: Quality.REFUSED,  # BadAttributeIdInvalid
    0x803A0000: Quality.REFUSED,  # BadNotReadable
    0x801F0000: Quality.REFUSED,  # BadUserAccessDenied
}
_BY_SEVERITY = (Quality.GOOD, Quality.SOURCE_DOUBTFUL, Quality.SOURCE_BAD, Quality.SOURCE_BAD)


def quality_of(status: int) -> Quality:
    """Return how far a value with this status can be trusted, and why no further."""
    return _BY_CODE.get(status & _CODE_BITS, _BY_SEVERITY[status >> 30 & 3])


def overflowed(status: int) -> bool:
    """Say whether a server tells with a value that it had to drop older ones before it."""
    return status & _INFO_BITS == _OF_A_VALUE and bool(status & _OVERFLOW)


def number_of(value: object) -> float | None:
    """Return a value as a finite number; None if it is none."""
    if isinstance(value, bool):
        return 1.0 if value else 0.0
    if isinstance(value, int | float):
        try:
            number = float(value)
        except OverflowError:
            return None
        return number if math.isfinite(number) else None
    return None


@dataclass(frozen=True, slots=True)
class Meant:
    """A value in the tag's own unit with its quality; NaN where it is bad."""

    value: float
    quality: Quality


def meant(item: Item, status: int, value: object) -> Meant:
    """Return what a server's answer means for an item."""
    quality = quality_of(status)
    if quality >= Quality.BAD:
        return Meant(math.nan, quality)
    number = number_of(value)
    if number is None:
        return Meant(math.nan, Quality.MALFORMED)
    if number in item.sentinels:
        return Meant(math.nan, Quality.SENSOR_FAULT)
    if item.bit is not None:
        if not number.is_integer():
            return Meant(math.nan, Quality.MALFORMED)
        number = float(int(number) >> item.bit & 1)
    scaled = number * item.factor + item.offset
    if not item.low <= scaled <= item.high:
        return Meant(math.nan, Quality.OUT_OF_RANGE)
    return Meant(scaled, quality)


def utc_ns_of(time: datetime | None) -> int | None:
    """Return a source time [ns since the Unix epoch]; None if there is none."""
    if time is None:
        return None
    aware = time if time.tzinfo is not None else time.replace(tzinfo=UTC)
    return (aware - _EPOCH) // timedelta(microseconds=1) * 1000


def believed_ns(source_ns: int | None, received_ns: int, tolerance_ns: int) -> int | None:
    """Return a source time if it lies within the tolerance of our own; None otherwise."""
    if source_ns is None or abs(source_ns - received_ns) > tolerance_ns:
        return None
    return source_ns
