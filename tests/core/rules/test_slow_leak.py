"""Whether a slow leak is told from evaporation: by load and top-up, and with a coarse probe.

The tank is made up here by its own arithmetic: it evaporates by a rate that drifts, its level
valve opens 8 mm under its height and shuts at it, loads of unlike size hang in it for five
minutes each, and its probe scatters and shows whole steps.
"""

from dataclasses import dataclass
from math import pi, sin
from random import Random

import pytest

from linewatch.core.rules.leaks import slow_leak
from linewatch.core.rules.rule import LOOK_S, Kept, Seen

DEGC = 60.0
LEARNS_H = 20.0


@dataclass
class Tank:
    """A bath with a level probe; all of it in millimetres and hours."""

    seed: int
    top_up_mm_per_h: float = 160.0
    scatter_mm: float = 0.05
    step_mm: float = 0.3
    leak_mm_per_h: float = 0.0
    now_s: float = 0.0
    level_mm: float = 900.0
    fills: bool = False

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)  # noqa: S311 - a made-up tank
        self.evaporates = self.chance.uniform(2.0, 9.0)
        self.hangs_mm = 8.0

    def look(self) -> Seen:
        """Go on by one look, and return what a rule sees."""
        self.now_s += LOOK_S
        hours = LOOK_S / 3600.0
        drift = 1.0 + 0.1 * sin(2.0 * pi * self.now_s / 86400.0)
        self.level_mm -= (self.evaporates * drift + self.leak_mm_per_h) * hours
        self.fills = self.level_mm < 892.0 or (self.fills and self.level_mm < 900.0)
        self.level_mm += self.top_up_mm_per_h * hours if self.fills else 0.0
        phase_s = self.now_s % 300.0
        is_in = phase_s < 270.0
        if phase_s < LOOK_S:
            self.hangs_mm = self.chance.uniform(6.0, 9.0)
        shown = self.level_mm + (self.hangs_mm if is_in else 0.0)
        shown += self.chance.gauss(0.0, self.scatter_mm)
        return Seen(
            now_s=self.now_s,
            value={
                "level": round(shown / self.step_mm) * self.step_mm,
                "temperature": DEGC + self.chance.uniform(-0.6, 0.6),
            },
            work=is_in,
            since_s=phase_s + 15.0 if is_in else phase_s - 270.0 + 15.0,
            limit=2.0,
        )


def told_after_h(tank: Tank, kept: Kept, most_h: float) -> tuple[float | None, Kept]:
    """Return after how long a leak was told [h]; None: it was not."""
    began_s = tank.now_s
    while tank.now_s - began_s < most_h * 3600.0:
        told, kept = slow_leak(tank.look(), kept)
        if told is not None and told.is_there:
            return (tank.now_s - began_s) / 3600.0, kept
    return None, kept


@pytest.mark.parametrize("top_up_mm_per_h", [0.0, 160.0], ids=["no-top-up", "top-up"])
def test_three_millimetres_an_hour_are_told_within_six_hours(top_up_mm_per_h: float) -> None:
    for seed in range(12):
        tank = Tank(seed, top_up_mm_per_h=top_up_mm_per_h)
        early, kept = told_after_h(tank, (), LEARNS_H)
        assert early is None, (seed, early)
        tank.leak_mm_per_h = 3.0
        after_h, _ = told_after_h(tank, kept, 6.0)
        assert after_h is not None, seed


def test_no_leak_is_told_in_thirty_healthy_days() -> None:
    for seed in range(2):
        after_h, _ = told_after_h(Tank(seed), (), 30.0 * 24.0)
        assert after_h is None, (seed, after_h)


def test_a_probe_too_coarse_to_tell_tells_nothing() -> None:
    tank = Tank(1, scatter_mm=3.0, step_mm=1.0)
    early, kept = told_after_h(tank, (), 2.0 * LEARNS_H)
    assert early is None
    assert told_after_h(tank, kept, 48.0)[0] is None


def test_what_a_larger_load_displaces_is_no_leak() -> None:
    tank = Tank(4)
    _, kept = told_after_h(tank, (), LEARNS_H)
    tank.chance = Random(5)  # noqa: S311
    for _ in range(3000):
        seen = tank.look()
        assert seen.value["level"] is not None
        if seen.work:
            # Loads that hang ten times as deep, and more unlike one another.
            seen.value = {**seen.value, "level": seen.value["level"] + 9.0 * tank.hangs_mm}
        told, kept = slow_leak(seen, kept)
        assert told is None or not told.is_there
