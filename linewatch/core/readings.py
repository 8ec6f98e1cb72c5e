"""What one poll brought: several tags, one moment, and how far to trust each.

Rule 1: a value whose quality is BAD is NaN; nothing may turn it back into a number.
Rule 2: silence is a sample. A tag that could not be read stands in the block all the same.
Rule 3: the top two bits of a quality are its severity, as in OPC UA Part 4 (10000-4) 7.39.1,
        table 180: 00 good, 01 uncertain, 10 bad. The lower bits say why.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Values: TypeAlias = "NDArray[np.float64]"
Qualities: TypeAlias = "NDArray[np.uint8]"
Times: TypeAlias = "NDArray[np.int64]"


class Quality(IntEnum):
    """How far a value can be trusted, and why no further.

    `quality < UNCERTAIN` is good, `quality >= BAD` is bad. Only good values are integrated,
    judged or shown as figures; an uncertain value is shown with its mark, and judged only
    where a condition says so.
    """

    GOOD = 0x00
    BY_HAND = 0x01
    """Typed in by a person, with initials."""
    UNCERTAIN = 0x40
    LAST_KNOWN = 0x41
    """The device is busy or silent for a moment; this is its last good value."""
    SOURCE_DOUBTFUL = 0x42
    """The device itself calls the value uncertain."""
    IMPLAUSIBLE_STEP = 0x43
    DOUBTED = 0x44
    """Good as it was read, but something found says that it cannot be: a probe that hangs in
    the air, one that no longer moves. Only a picture says so; what is recorded is what was
    read."""
    BAD = 0x80
    NO_ANSWER = 0x81
    """The unit did not answer; its neighbours on the link may be well."""
    NOT_CONNECTED = 0x82
    """The whole link is down."""
    REFUSED = 0x83
    """The device answered with an exception."""
    BUSY = 0x84
    SENSOR_FAULT = 0x85
    """Open or short sensor, a sentinel value, a loop current outside NAMUR NE 43."""
    OUT_OF_RANGE = 0x86
    """Outside what the measurement can be; see core/measurements.py and the configuration."""
    MALFORMED = 0x87
    """Bytes that are no value of the stated type: NaN, infinity, a BCD nibble above 9."""
    STALE = 0x88
    """Nothing new for longer than the measurement allows."""
    SOURCE_BAD = 0x89
    """The device itself calls the value bad."""
    FOREIGN = 0x8A
    """The item behind the name is not the one that was configured."""
    OUT_OF_SERVICE = 0x8B
    NOT_YET = 0x8C
    """Never read since the start."""


QUALITY_WORDS: dict[Quality, str] = {
    Quality.GOOD: "good",
    Quality.BY_HAND: "by hand",
    Quality.UNCERTAIN: "uncertain",
    Quality.LAST_KNOWN: "last known",
    Quality.SOURCE_DOUBTFUL: "device doubts it",
    Quality.IMPLAUSIBLE_STEP: "implausible step",
    Quality.DOUBTED: "an alarm doubts it",
    Quality.BAD: "bad",
    Quality.NO_ANSWER: "no answer",
    Quality.NOT_CONNECTED: "not connected",
    Quality.REFUSED: "refused",
    Quality.BUSY: "device busy",
    Quality.SENSOR_FAULT: "sensor fault",
    Quality.OUT_OF_RANGE: "out of range",
    Quality.MALFORMED: "malformed",
    Quality.STALE: "stale",
    Quality.SOURCE_BAD: "device says bad",
    Quality.FOREIGN: "another item",
    Quality.OUT_OF_SERVICE: "out of service",
    Quality.NOT_YET: "not yet read",
}
"""One word or two for each quality, as screen, alarms and records say it."""


# Plain numbers: these two are asked for every figure of every picture.
_UNCERTAIN, _BAD = int(Quality.UNCERTAIN), int(Quality.BAD)


def is_good(quality: int) -> bool:
    """Say whether a quality is good."""
    return quality < _UNCERTAIN


def is_bad(quality: int) -> bool:
    """Say whether a quality is bad."""
    return quality >= _BAD


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One instant on both clocks. The two are never mixed."""

    utc_ns: int
    """Wall time [ns since the Unix epoch]: for the record, never for a duration."""
    mono_ns: int
    """Line time [ns]; never runs back. Every duration and integral comes from it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Which tag stands in which column of a block: immutable and named.

    History refers to a layout by the text of its parts, so that a configuration edit cannot
    relabel the past.
    """

    link: str
    """Id of the link that brings the block."""
    device: str
    """Id of the device that is polled."""
    tags: tuple[str, ...]
    """Tag ids in column order: 'nickel-1.temperature'."""
    period_ns: int
    """How often a block is due [ns of line time]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What one poll of one device brought: several tags, one moment."""

    layout: Layout
    utc_ns: int
    """Wall time of receipt [ns since the Unix epoch]."""
    mono_ns: int
    """Line time of receipt [ns]. Stamped after the answer, so never fresher than the values."""
    value: Values
    """In each tag's own unit, shape (tags,); NaN where the quality is BAD."""
    quality: Qualities
    """Of `Quality`, shape (tags,)."""
    source_utc_ns: Times | None = None
    """When each value arose by its source's own clock [ns since the Unix epoch], where a
    protocol tells and the clock is believable; the time of receipt elsewhere. Shape (tags,)."""

    @staticmethod
    def silence(layout: Layout, at: Moment, quality: Quality) -> Readings:
        """Return a block in which every tag is bad for one reason.

        Args:
            layout: The block's layout.
            at: The moment at which the silence was noticed.
            quality: Why; must be a bad quality.

        Returns:
            The block: all NaN.

        Raises:
            ValueError: `quality` is not bad.
        """
        if not is_bad(quality):
            raise ValueError(f"silence cannot be {quality.name}")
        count = len(layout.tags)
        return Readings(
            layout=layout,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            value=np.full(count, np.nan),
            quality=np.full(count, quality, dtype=np.uint8),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Several blocks of one layout, in order of time: what replay feeds, many at a time."""

    layout: Layout
    utc_ns: Times
    """Shape (times,)."""
    mono_ns: Times
    """Shape (times,), never falling."""
    value: Values
    """Shape (times, tags)."""
    quality: Qualities
    """Shape (times, tags)."""
