"""The plants that can be run, by name."""

from __future__ import annotations

from linewatch_sim.lines.first import FIRST
from linewatch_sim.rows import LineRow

LINES: dict[str, LineRow] = {"first": FIRST}
