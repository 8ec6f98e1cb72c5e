"""What a person types into a form, understood or refused in a sentence. Pure."""

from __future__ import annotations

import math
from typing import Final

from linewatch.core import units
from linewatch.core.errors import LinewatchError
from linewatch.core.measurements import MEASUREMENTS

LONGEST_INITIALS: Final = 8
LONGEST_TEXT: Final = 500


class NotUnderstood(LinewatchError, ValueError):
    """An entry cannot be meant.

    Args:
        entry: What was typed.
        remedy: What to type instead.
    """

    def __init__(self, entry: str, remedy: str) -> None:
        super().__init__(entry, remedy)
        self.entry = entry
        self.remedy = remedy

    def __str__(self) -> str:
        return self.remedy


def initials(entry: str) -> str:
    """Return initials.

    Raises:
        NotUnderstood: there are none, or they are no letters and digits.
    """
    said = entry.strip()
    if not said or len(said) > LONGEST_INITIALS or not said.isalnum():
        raise NotUnderstood(entry, f"one to {LONGEST_INITIALS} letters, as MK")
    return said.upper()


def words(entry: str) -> str:
    """Return a reason or a note.

    Raises:
        NotUnderstood: nothing was written, or too much.
    """
    said = entry.strip()
    if not said:
        raise NotUnderstood(entry, "write a few words")
    if len(said) > LONGEST_TEXT:
        raise NotUnderstood(entry, f"at most {LONGEST_TEXT} characters")
    return said


def anything(entry: str) -> str:
    """Return what was written, which may be nothing.

    Raises:
        NotUnderstood: too much was written.
    """
    return words(entry) if entry.strip() else ""


def _quantity(entry: str, unit: str) -> float:
    said = entry.strip().replace(",", ".")
    if not said:
        raise NotUnderstood(entry, f"a number, with or without its unit: 12 {unit}")
    try:
        value = float(said)
    except ValueError:
        try:
            value = units.parse(said, unit)
        except LinewatchError as error:
            raise NotUnderstood(entry, str(error)) from error
    if not math.isfinite(value):
        raise NotUnderstood(entry, "a number that is finite")
    return value


def amount_ml(entry: str, system: str = "metric", measure: str = "mL") -> float:
    """Return a dose [mL, or g of what is weighed]; a bare number is in the unit on screen.

    Raises:
        NotUnderstood: it is no amount, nothing, or less than nothing.
    """
    shown = units.shown_unit(measure, system)
    value = _quantity(entry, shown)
    dose = units.convert(value, shown, measure)
    if not dose > 0.0:
        raise NotUnderstood(entry, "an amount above 0; to take an entry back, see the footer")
    return dose


def how_many(entry: str) -> float | None:
    """Return how many pieces or kilograms; None for nothing.

    Raises:
        NotUnderstood: it is no number above 0.
    """
    return _above_nothing(entry, "1", "a number of pieces, or kilograms") or None


def area_dm2(entry: str, system: str = "metric") -> float | None:
    """Return an area [dm2]; a bare number is in the unit on screen, nothing is None.

    Raises:
        NotUnderstood: it is no area above 0.
    """
    shown = units.shown_unit("dm2", system)
    value = _above_nothing(entry, shown, f"an area in {units.symbol(shown)}, above 0")
    return units.convert(value, shown, "dm2") if value else None


def _above_nothing(entry: str, unit: str, remedy: str) -> float:
    """Return a number above 0; 0 if nothing was typed."""
    if not entry.strip():
        return 0.0
    value = _quantity(entry, unit)
    if not value > 0.0:
        raise NotUnderstood(entry, remedy)
    return value


def minutes(entry: str) -> float:
    """Return how long to shelve [s]; a bare number is minutes.

    Raises:
        NotUnderstood: it is no time, or not a positive one.
    """
    value_s = _quantity(entry, "min") * 60.0
    if not value_s > 0.0:
        raise NotUnderstood(entry, "minutes, more than 0")
    return value_s


def reading(entry: str, kind: str, system: str = "metric") -> float:
    """Return a hand reading in the measurement's own unit.

    Raises:
        NotUnderstood: it is no number of that dimension, or no plausible one.
    """
    row = MEASUREMENTS[kind]
    shown = units.shown_unit(row.unit, system)
    value = units.convert(_quantity(entry, shown), shown, row.unit)
    if not row.low <= value <= row.high:
        raise NotUnderstood(
            entry, f"{row.label} lies from {row.low:g} to {row.high:g} {row.unit}"
        )
    return value


def measured_kind(entry: str) -> str:
    """Return a row of the measurements by its name or label.

    Raises:
        NotUnderstood: there is no such row.
    """
    said = entry.strip().lower()
    for row in MEASUREMENTS.values():
        if said in {row.kind, row.label.lower()}:
            return row.kind
    near = [row.kind for row in MEASUREMENTS.values() if said and row.kind.startswith(said)]
    if len(near) == 1:
        return near[0]
    raise NotUnderstood(entry, "one of temperature, level, ph, conductivity, orp, flow, ...")
