"""Quantities as people write them, in the unit of the measurement that they stand with."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linewatch.core import units
from linewatch.core.errors import UnitMismatch

if TYPE_CHECKING:
    from linewatch.config.faults import Faults


def quantity(text: str | None, unit: str, key: str, faults: Faults) -> float | None:
    """Return a quantity in `unit`; None if there is none, or if it is faulty."""
    if text is None:
        return None
    try:
        value = units.parse(text, unit)
    except UnitMismatch as mismatch:
        faults.add(key, str(mismatch))
        return None
    return _finite(value, text, key, faults)


def difference(text: str | None, unit: str, key: str, faults: Faults) -> float | None:
    """Return a difference in `unit`: "2 K" of a temperature is 2, not -271.15."""
    if text is None:
        return None
    try:
        value = units.parse_difference(text, unit)
    except UnitMismatch as mismatch:
        faults.add(key, str(mismatch))
        return None
    if value < 0:
        faults.add(key, f"{text!r} is negative", "write how far, without a sign")
        return None
    return _finite(value, text, key, faults)


def _finite(value: float, text: str, key: str, faults: Faults) -> float | None:
    if math.isfinite(value):
        return value
    faults.add(key, f"{text!r} is no finite number")
    return None
