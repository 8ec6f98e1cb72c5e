"""One shape for every measured figure, so that one command can print one table."""

from __future__ import annotations

import json
import platform
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib import metadata
from pathlib import Path

LIBRARIES = ("numpy", "polars", "pymodbus", "asyncua", "textual", "msgspec")


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


def told(rows: Sequence[Measured], file: Path | None = None) -> None:
    """Print the table, and write it as JSON if a file is wanted."""
    print(text(rows))
    if file is not None:
        parts = {"with": versions(), "figures": [asdict(row) for row in rows]}
        file.write_text(json.dumps(parts, indent=1), encoding="utf-8")


def read(file: Path) -> list[Measured]:
    """Return the figures that `told` wrote."""
    figures = json.loads(file.read_text(encoding="utf-8"))["figures"]
    return [Measured(**figure) for figure in figures]


def versions() -> dict[str, str]:
    """Return what the figures were measured with."""
    found = {each: metadata.version(each) for each in LIBRARIES}
    return {"system": platform.system(), "python": platform.python_version(), **found}
