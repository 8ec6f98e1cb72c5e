"""An explanation in plain text, enough to work the figure out again by hand."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.electrochemistry.uncertainty import COVERAGE, with_its_digits
from linewatch.core.readings import QUALITY_WORDS, Quality

if TYPE_CHECKING:
    from linewatch.core.electrochemistry.explanation import Explanation, GivenInput


UNSURE: Final = 3
"""Digits of a figure of a line of which nobody says how sure it is. Common practice."""


def in_words(why: Explanation, *, system: str = "metric", digits: int = 6) -> str:
    """Return an explanation as lines of text.

    Args:
        why: The explanation.
        system: Of units.
        digits: Of the figure where nobody says how sure it is.
    """
    told = quantity(why.value, why.unit, system, why.plus_or_minus, digits)
    if why.most is not None:
        most = quantity(why.most, why.unit, system, None, digits)
        told = f"{told.partition(' ')[0]} to {most}"
    from linewatch.core.reasons import bound_of

    rows = [f"{why.figure}: {bound_of(why)}{told}"]
    rows.append(f"  formula   {why.formula}")
    rows += [f"  {_input(each, system)}" for each in why.inputs]
    rows += [
        f"  constant  {each.symbol} = {each.value:.6g} {each.unit} ({each.name}; {each.source})"
        for each in why.constants
    ]
    if why.budget is not None:
        rows += [
            f"  doubt     {term.name}: {100.0 * COVERAGE * term.standard_ratio:.3g} % (k = 2)"
            + (f" ({term.source})" if term.source else "")
            for term in why.budget.terms
        ]
        rows.append(f"  ± (k = 2) {100.0 * why.budget.expanded_ratio:.3g} %")
    if why.source:
        rows.append(f"  source    {why.source}")
    rows += [f"  note      {note}" for note in why.notes]
    return "\n".join(rows)


def quantity(
    value: float, unit: str, system: str, doubt: float | None = None, digits: int = 6
) -> str:
    """Return a quantity with its unit, in a system of units, with its ± if there is one."""
    shown = units.shown_unit(unit, system)
    number = units.convert(value, unit, shown)
    tail = f" {units.symbol(shown)}" if shown else ""
    if not doubt:
        return f"{float(f'{number:.{digits}g}'):.6g}{tail}"
    scaled = doubt * units.UNITS[unit].factor / units.UNITS[shown].factor
    told, pm = with_its_digits(number, scaled)
    return f"{told} ± {pm}{tail}"


def _input(each: GivenInput, system: str) -> str:
    parts = [each.source]
    if each.quality is not None:
        parts.append(QUALITY_WORDS[Quality(each.quality)])
    if each.utc_ns is not None:
        parts.append(time.strftime("%H:%M:%S", time.localtime(each.utc_ns / 1e9)))
    told = quantity(each.value, each.unit, system)
    return f"input     {each.symbol} = {told} ({each.name}; {', '.join(parts)})"
