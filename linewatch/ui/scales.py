"""In which unit a quantity is shown: metric or US, by key. Stored values never change."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from linewatch.core import units
from linewatch.core.measurements import MEASUREMENTS

METRIC: Final = "metric"
US: Final = "us"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How one kind of quantity is shown."""

    label: str
    """The unit as people write it."""
    decimals: int
    factor: float = 1.0
    offset: float = 0.0

    def shown(self, value: float) -> float:
        """Return a stored value in the unit shown."""
        return value * self.factor + self.offset

    def stored(self, value: float) -> float:
        """Return a shown value in the unit stored."""
        return (value - self.offset) / self.factor

    def span(self, difference: float) -> float:
        """Return a stored difference, such as an uncertainty, in the unit shown."""
        return difference * self.factor


LABELS: Final[dict[str, str]] = {
    "A/dm2": "A/dm²",
    "A/ft2": "A/ft²",
    "um/h": "µm/h",
    "pH": "",
    "1/min": "/min",
    "floz": "fl oz",
}
"""How a unit is written where that differs from its symbol."""

US_DECIMALS: Final[dict[str, int]] = {
    "degF": 1,
    "in": 1,
    "mil": 3,
    "gal": 0,
    "floz": 1,
    "gal/min": 1,
    "A/ft2": 1,
    "ft2": 2,
    "oz/gal": 2,
    "oz": 1,
    "lb": 1,
    "psi": 1,
    "inH2O": 2,
    "mil/h": 3,
}
"""Decimals in US units, where one more or less says as much as the metric figure."""

OTHER_DECIMALS: Final[dict[str, int]] = {
    "um": 2,
    "A/dm2": 2,
    "g": 0,
    "mL": 0,
    "g/L": 1,
    "L": 0,
}
"""Decimals of what is worked out and so has no row among the measurements."""


def scale(kind: str, system: str) -> Scale:
    """Return how a kind of measurement is shown; a twin's suffix is looked through."""
    measurement = MEASUREMENTS.get(kind.partition(".")[0])
    if measurement is None:
        return Scale(label="", decimals=2)
    return _scale(measurement.unit, measurement.decimals, system)


def scale_of_unit(unit: str, system: str) -> Scale:
    """Return how a worked-out quantity of a unit is shown."""
    return _scale(unit, OTHER_DECIMALS.get(unit, 2), system)


@lru_cache(maxsize=256)
def _scale(unit: str, decimals: int, system: str) -> Scale:
    shown = units.shown_unit(unit, system)
    label = LABELS.get(shown, units.symbol(shown))
    if shown == unit:
        return Scale(label=label, decimals=decimals)
    zero = units.convert(0.0, unit, shown)
    return Scale(
        label=label,
        decimals=US_DECIMALS.get(shown, decimals),
        factor=units.convert(1.0, unit, shown) - zero,
        offset=zero,
    )
