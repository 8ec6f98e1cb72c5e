"""Slow leaks on the plant: none told in healthy days, and 3 mm/h told within six hours.

    python tests/bench/bench_leaks.py [--days 30] [--seeds 1] [--scatter MM] [--step MM]
    python tests/bench/bench_leaks.py --leak 3 [--seeds 1 2 3] [--scatter MM] [--step MM]

The plant is driven without sockets, whole, in coarse steps; of the line only the library's
rules look, and only blocks with levels, temperatures and stations are fed, so that a month
takes a quarter of an hour of processor. Loads change their size each quarter of an hour.
A leak opens in every tank at once after 22 hours, each behind its own top-up. `--scatter` and
`--step` make every level probe as poor as that.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from bench_rules import Works, of_library

from linewatch.core.line.rules import Rules
from linewatch.core.line.studies import Studies

READ = ("level", "temperature", "load-present")
RULE = ".leaks-slowly"
LEARNS_H = 22.0
TELLS_H = 6.0
QUARTER_S = 900.0


class Levels(Works):
    """The works of which only levels are looked at.

    Args:
        seed: Seed of all that is left to chance.
        scatter_mm: Standard deviation of every level probe [mm].
        step_mm: Smallest step that it shows [mm]; 0: none.
    """

    def __init__(self, seed: int, scatter_mm: float, step_mm: float) -> None:
        super().__init__(seed)
        self.line.studies = Studies(self.line.plan, every=(Rules(self.line.plan),))
        self._reads = [
            (layout, [self._get(tag, scatter_mm, step_mm) for tag in layout.tags])
            for layout in self.line.plan.layouts
            if any(tag.partition(".")[2] in READ for tag in layout.tags)
        ]
        self.chance = np.random.default_rng(seed)
        loads: Any = self.plant.works.parts["loads"]
        self.sizes = loads.wrong.size_factor
        self.watched = sorted(
            each.id
            for each in self.line.plan.conditions
            if each.kind == "found" and each.id.endswith(RULE)
        )

    def _get(self, tag: str, scatter_mm: float, step_mm: float):
        get = self.plant.values.getter(tag)
        if not tag.endswith(".level") or not (scatter_mm or step_mm):
            return get

        def poor() -> float:
            value = get() + self.chance.normal(0.0, scatter_mm)
            return round(value / step_mm) * step_mm if step_mm else value

        return poor

    def told(self, hours: float) -> dict[str, float]:
        """Go on for a time; return the leaks that were told, each with when first [h]."""
        found: dict[str, float] = {}
        for _ in range(round(hours * 3600.0 / QUARTER_S)):
            self.sizes[:] = self.chance.uniform(0.85, 1.15, len(self.sizes))
            for each in of_library(self.go_on(QUARTER_S)):
                if each.alarm.endswith(RULE):
                    found.setdefault(each.alarm, each.at_s / 3600.0)
        return found

    def leak(self, mm_per_h: float) -> None:
        """Let every tank leak from now on."""
        works = self.plant.works
        surface_m2 = np.array([tank.surface_m2 for tank in works.line.tanks])
        works.solutions.wrong.leak_l_per_min[:] = mm_per_h * surface_m2 / 60.0


def main() -> None:
    """Print what was told."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    parser.add_argument("--leak", type=float, metavar="MM_PER_H")
    parser.add_argument("--scatter", type=float, default=0.0)
    parser.add_argument("--step", type=float, default=0.0)
    asked = parser.parse_args()
    for seed in asked.seeds:
        works = Levels(seed, asked.scatter, asked.step)
        if asked.leak is None:
            found = works.told(24.0 * asked.days)
            print(f"seed {seed}: {len(found)} told in {asked.days:g} days of"
                  f" {len(works.watched)} tanks: {found}", flush=True)  # fmt: skip
            continue
        early = works.told(LEARNS_H)
        works.leak(asked.leak)
        found = works.told(TELLS_H)
        after = sorted(at - LEARNS_H for at in found.values())
        missing = [each for each in works.watched if each not in found]
        print(f"seed {seed}: {len(found)} of {len(works.watched)} told within {TELLS_H:g} h,"
              f" median {np.median(after):.1f} h, longest {max(after):.1f} h; before: {early};"
              f" not told: {missing}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
