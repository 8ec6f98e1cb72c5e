"""One shape for every measured figure, so that one command can print one table."""

from __future__ import annotations

import json
import platform
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One figure."""

    measure: str
    value: float
    unit: str
    against: str = ""
    """What it is compared with, in the same run."""
    wanted: str = ""
    """At least or at most what: '>= 20', '< 10'."""

    @property
    def holds(self) -> bool | None:
        """Say whether the figure is what was wanted; None if nothing was."""
        if not self.wanted:
            return None
        sign, limit = self.wanted.split()
        bound = float(limit)
        return {
            ">=": self.value >= bound,
            "<=": self.value <= bound,
            "<": self.value < bound,
            ">": self.value > bound,
        }[sign]


def text(rows: Sequence[Measured]) -> str:
    """Return the table, one line a figure."""
    lines = [f"{'measure':<58}{'value':>12} {'unit':<10}{'wanted':>10}  holds  against"]
    for row in rows:
        holds = {True: "yes", False: "NO", None: "-"}[row.holds]
        lines.append(
            f"{row.measure:<58}{row.value:>12.4g} {row.unit:<10}{row.wanted:>10}"
            f"  {holds:<5}  {row.against}"
        )
    return "\n".join(lines)


def write(rows: Sequence[Measured], file: Path) -> None:
    """Write the table as JSON, with the machine's kind and Python's version."""
    machine = {"python": platform.python_version(), "system": platform.system()}
    parts = {"machine": machine, "figures": [asdict(row) for row in rows]}
    file.write_text(json.dumps(parts, indent=1), encoding="utf-8")
