"""The plants that can be run, by name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch_sim.lines.first import FIRST
from linewatch_sim.lines.first_troubles import FIRST_TROUBLES
from linewatch_sim.lines.works import WORKS
from linewatch_sim.lines.works_troubles import WORKS_TROUBLES

if TYPE_CHECKING:
    from linewatch_sim.rows import LineRow
    from linewatch_sim.troubles import Trouble

LINES: dict[str, tuple[LineRow, tuple[Trouble, ...]]] = {
    "first": (FIRST, FIRST_TROUBLES),
    "works": (WORKS, WORKS_TROUBLES),
}
"""A plant and what may go wrong on it."""
