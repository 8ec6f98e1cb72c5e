"""Signals that stand for something else: a loop current, a resistance, a thermocouple.

References:
    NAMUR NE 43 (2003): a loop current of 3.6 mA or less, or of 21.0 mA or more, is a failure
    signal; measured values lie from 3.8 to 20.5 mA.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from linewatch.core import units
from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from linewatch.config.links import TagRead

NAN = float("nan")
FAILURE_LOW_MA = 3.6
FAILURE_HIGH_MA = 21.0


class Sensor(Protocol):
    """Turns a scaled register into a value in the measurement's unit."""

    cold_junction: str | None

    def sensed(self, number: float, cold_degc: float) -> tuple[float, Quality]:
        """Return value and quality."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A 4-20 mA input."""

    counts_at_4ma: float
    counts_at_20ma: float
    low: float
    high: float
    cold_junction: str | None = None

    def sensed(self, number: float, cold_degc: float) -> tuple[float, Quality]:  # noqa: ARG002
        """Return what the loop current stands for."""
        ratio = (number - self.counts_at_4ma) / (self.counts_at_20ma - self.counts_at_4ma)
        current_ma = 4.0 + 16.0 * ratio
        if not FAILURE_LOW_MA < current_ma < FAILURE_HIGH_MA:
            return NAN, Quality.SENSOR_FAULT
        return self.low + ratio * (self.high - self.low), Quality.GOOD


@dataclass(frozen=True, slots=True)
class Unknown:
    """A sensor that nothing here can convert."""

    cold_junction: str | None = None

    def sensed(self, number: float, cold_degc: float) -> tuple[float, Quality]:  # noqa: ARG002
        """Return no value."""
        return NAN, Quality.SENSOR_FAULT


def sensor_of(tag: TagRead) -> Sensor | None:
    """Return what converts a tag's scaled register, or None if it is the value itself."""
    read = tag.read
    if read.signal is not None:
        return Loop(
            counts_at_4ma=read.signal.counts_at_4ma,
            counts_at_20ma=read.signal.counts_at_20ma,
            low=units.parse(read.signal.low, tag.unit),
            high=units.parse(read.signal.high, tag.unit),
        )
    if read.sensor is not None:
        return Unknown()
    return None
