"""Signals that stand for something else: a loop current, a resistance, a thermocouple."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from linewatch.core import units
from linewatch.core.errors import OutsideValidity
from linewatch.core.instruments import loop, rtd, thermocouple
from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from linewatch.config.links import TagRead

NAN = float("nan")
_PT100 = "pt100-ohm"


@dataclass(frozen=True, slots=True)
class Loop:
    """A 4-20 mA input, judged by NAMUR NE 43."""

    counts_at_4ma: float
    counts_at_20ma: float
    low: float
    high: float

    def sensed(self, counts: float) -> tuple[float, Quality]:
        """Return what the loop current stands for, with its quality."""
        share = (counts - self.counts_at_4ma) / (self.counts_at_20ma - self.counts_at_4ma)
        loop_ma = loop.ZERO_MA + share * (loop.FULL_MA - loop.ZERO_MA)
        if loop.has_failed(loop_ma):
            return NAN, Quality.SENSOR_FAULT
        saturated = loop.is_beyond_range(loop_ma)
        quality = Quality.SOURCE_DOUBTFUL if saturated else Quality.GOOD
        return loop.from_loop(loop_ma, self.low, self.high), quality


@dataclass(frozen=True, slots=True)
class Resistance:
    """A Pt100 whose resistance is read."""

    def sensed(self, resistance_ohm: float) -> tuple[float, Quality]:
        """Return temperature [degC] and quality."""
        try:
            return rtd.temperature_degc(resistance_ohm), Quality.GOOD
        except OutsideValidity:
            return NAN, Quality.SENSOR_FAULT


@dataclass(frozen=True, slots=True)
class Thermocouple:
    """A thermocouple whose voltage is read."""

    kind: str
    """Type letter."""
    cold_junction: str
    """Tag of the terminals' temperature."""

    def sensed(self, voltage_mv: float, cold_degc: float) -> tuple[float, Quality]:
        """Return temperature [degC] and quality."""
        try:
            hot_degc = thermocouple.temperature_degc(
                self.kind, voltage_mv, cold_junction_degc=cold_degc
            )
        except OutsideValidity:
            return NAN, Quality.SENSOR_FAULT
        return hot_degc, Quality.GOOD


Sensor: TypeAlias = "Loop | Resistance | Thermocouple"


def sensor_of(tag: TagRead) -> Sensor | None:
    """Return what converts a tag's scaled register, or None if it is the value itself.

    Raises:
        ValueError: a thermocouple without the tag of its cold junction.
    """
    read = tag.read
    if read.signal is not None:
        return Loop(
            counts_at_4ma=read.signal.counts_at_4ma,
            counts_at_20ma=read.signal.counts_at_20ma,
            low=units.parse(read.signal.low, tag.unit),
            high=units.parse(read.signal.high, tag.unit),
        )
    if read.sensor is None:
        return None
    if read.sensor == _PT100:
        return Resistance()
    if read.cold_junction is None:
        raise ValueError(f"{tag.tag}: a thermocouple has a cold junction; name its tag")
    return Thermocouple(
        kind=read.sensor.split("-")[1].upper(), cold_junction=read.cold_junction
    )
