"""Efficiency and drag-out anew, from what analyses found between them. Offered, never applied.

The metal in a bath after each analysis is what it was before the first, plus what anodes and
salts brought, less what the charge laid down and what work carried out:

    M_n = M_0 + B_n - x L_n - y D_n + error of the analysis

with L and D summed up as the line counted them with its configured efficiency and drag-out.
x and y are the factors by which these must be corrected, found by least squares.

Rule 1: where charge and carried-out area have always gone together, their two factors cannot
        be told apart: then nothing is offered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

WHAT: Final = "balance"
LEAST: Final = 6
"""Analyses beyond the first."""
LARGEST_CONDITION: Final = 300.0
"""Of the scaled columns; beyond it the factors are each other's doubt. Our own choice."""
SURE: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """What went in and out between two analyses, as the line counted it [g]."""

    found_g: float
    """Metal in the bath by the later analysis."""
    before_g: float
    """By the earlier one."""
    brought_g: float
    """By anodes and salts."""
    laid_g: float
    carried_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Factors on what is configured, each with its half width at 95 %."""

    laid_factor: float
    laid_pm: float
    carried_factor: float
    carried_pm: float
    analyses: int
    spread_g: float
    """Standard deviation of one analysis, by what is left over [g of metal in the bath]."""


def intervals(events: Iterable[Event], bath: str) -> list[Interval]:
    """Return the intervals that were told of a bath, oldest first."""
    return [
        Interval(
            **{
                name: float(event.values.get(name) or 0.0)
                for name in ("found_g", "before_g", "brought_g", "laid_g", "carried_g")
            }
        )
        for event in events
        if event.kind is EventKind.ANALYSIS
        and event.subject == bath
        and event.values.get("what") == WHAT
    ]


def estimate(told: Sequence[Interval]) -> Estimate:
    """Return what the analyses of a bath say of its efficiency and drag-out.

    Raises:
        Refused: too few analyses, or the two cannot be told apart.
    """
    asked = "estimate efficiency and drag-out"
    if len(told) < LEAST:
        there = f"there are {len(told) + 1}" if told else "there is one at most"
        raise Refused(asked, f"{LEAST + 1} analyses of the metal are needed, {there}")
    brought, laid, carried = (
        np.concatenate([[0.0], np.cumsum([getattr(each, name) for each in told])])
        for name in ("brought_g", "laid_g", "carried_g")
    )
    metal = np.array([told[0].before_g, *(each.found_g for each in told)])
    if not carried[-1] > 0.0 or not laid[-1] > 0.0:
        raise Refused(asked, "nothing was laid down, or the drag-out is not configured")
    rows = np.column_stack([np.ones(metal.size), -laid / laid[-1], -carried / carried[-1]])
    if np.linalg.cond(rows) > LARGEST_CONDITION:
        raise Refused(
            asked,
            "charge and loads have always gone together; dummy plating or loads of another kind"
            " between two analyses tell them apart",
        )
    found, _, _, _ = np.linalg.lstsq(rows, metal - brought, rcond=None)
    left = metal - brought - rows @ found
    freedom = metal.size - rows.shape[1]
    variance = float(left @ left) / freedom
    spread = np.sqrt(variance * np.diag(np.linalg.inv(rows.T @ rows)))
    # Imported here: SciPy costs a tenth of a second at start.
    from scipy.stats import t

    width = float(t.ppf(0.5 + SURE / 2.0, freedom))
    return Estimate(
        laid_factor=float(found[1] / laid[-1]),
        laid_pm=float(width * spread[1] / laid[-1]),
        carried_factor=float(found[2] / carried[-1]),
        carried_pm=float(width * spread[2] / carried[-1]),
        analyses=metal.size,
        spread_g=variance**0.5,
    )
