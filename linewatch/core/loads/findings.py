"""What was found by looking at a load, or by measuring it: a quantity has a known unit."""

from __future__ import annotations

import re
from typing import Final

from linewatch.core import units
from linewatch.core.errors import Refused

MEASURED: Final[dict[str, tuple[str, str]]] = {
    "thickness": ("length", '"8.4 um"'),
    "salt spray": ("time", '"96 h"'),
}
"""What is measured, by what was looked at: its dimension, and how it is written."""
_FIGURES = re.compile(r"^[<>~≈≥≤+-]?\s*\d(?:[\d.,;:/ ±+-]|to\b|and\b|\.\.)*")
"""One number or several: '8.4', '7.9 to 8.4', '8.4 ± 0.3', '8.1, 8.6, 8.4'."""


def check_finding(load: str, what: str, found: str) -> None:
    """Say whether what was found can be written down; words are taken as they are.

    Raises:
        Refused: a figure has no unit, or one in which such a thing is not measured.
    """
    measured = next((row for name, row in MEASURED.items() if name in what.casefold()), None)
    figures, written = figures_and_unit(found)
    if measured is None or not figures:
        return
    dimension, example = measured
    unit = units.find(written) if written else None
    if unit is not None and unit.dimension == dimension:
        return
    asked = f"note what was found on load {load}"
    if not written:
        raise Refused(asked, f"{found.strip()!r} has no unit; write it as {example}")
    why = "is not known" if unit is None else f"is a {unit.dimension}, not a {dimension}"
    raise Refused(asked, f"the unit {written!r} {why}; write it as {example}")


def figures_and_unit(found: str) -> tuple[str, str]:
    """Return the figures of a finding and the unit behind them; '' for what it has not.

    Examples:
        >>> figures_and_unit("7.9 to 8.4 um (XRF)"), figures_and_unit("good")
        (('7.9 to 8.4', 'um'), ('', ''))
    """
    figures = _FIGURES.match(found.strip())
    if figures is None:
        return "", ""
    written = found.strip()[figures.end() :].strip().split(" ")[0].strip("(),;.")
    return figures[0].strip(), written
