"""What linewatch tells of rinses and levels, against the plant's own truth.

The plant counts by arithmetic of its own: what film each load carries, what it dilutes, what
evaporates. It runs here without sockets, and its instruments' values are fed to the line.
"""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from linewatch import config
from linewatch.core.events import Event, EventKind
from linewatch.core.line.levels import levels_of
from linewatch.core.line.machine import Line
from linewatch.core.line.rinses import rinses_of
from linewatch.core.readings import Quality, Readings
from linewatch_sim.plant import Plant

ROOT = Path(__file__).parents[2]
NS = 10**9
STEP_S, HOUR_S = 10.0, 3600.0
READ = ("conductivity", "flow", "level", "temperature", "load-present", "load-number")


class Fed:
    """The plant, and lines that are fed with what it shows."""

    def __init__(self) -> None:
        self.plant = Plant("works", seed=3)
        self.plan = config.read(ROOT / "config" / "demo.toml").plan
        self.lines = [Line(self.plan)]
        self.events: list[list[Event]] = [[]]
        self.films: dict[str, dict[str, float]] = defaultdict(dict)
        """Of each load in each tank, by number [mL]."""
        self.now_s = 0.0
        self.filled_in_hour_l = np.zeros(len(self.plant.works.loads.tanks))
        self._reads = [
            (layout, [self.plant.values.getter(tag) for tag in layout.tags])
            for layout in self.plan.layouts
            if any(tag.partition(".")[2] in READ for tag in layout.tags)
        ]

    def go_on(self, for_s: float) -> None:
        works = self.plant.works
        for _ in range(round(for_s / STEP_S)):
            self.now_s += STEP_S
            works.advance_to(self.now_s, coarsely=True)
            for index, name in enumerate(works.loads.tanks):
                number = str(int(works.loads.load[index]))
                self.films[name][number] = 1000.0 * float(works.loads.film_l[index])
            if self.now_s <= HOUR_S:
                self.filled_in_hour_l += works.solutions._filling() * STEP_S / 60.0
            at_ns = round(self.now_s * NS)
            for layout, reads in self._reads:
                value = np.array([read() for read in reads])
                quality = np.where(np.isnan(value), Quality.SENSOR_FAULT, Quality.GOOD)
                block = Readings(
                    layout=layout,
                    utc_ns=at_ns,
                    mono_ns=at_ns,
                    value=value,
                    quality=quality.astype(np.uint8),
                )
                for line, told in zip(self.lines, self.events, strict=True):
                    told.extend(line.receive(block))

    def of_water(self, which: int, what: str) -> list[Event]:
        return [
            each
            for each in self.events[which]
            if each.kind is EventKind.WATER and each.values["what"] == what
        ]


@cache
def fed() -> Fed:
    """Return an hour and a half; after 50 minutes a second line goes on by memory."""
    found = Fed()
    found.go_on(3000.0)
    found.lines.append(Line(found.plan, found.lines[0].memory()))
    found.events.append(list(found.events[0]))
    found.go_on(2400.0)
    return found


def test_each_film_lies_inside_its_own_range():
    told = fed().of_water(0, "rinse")
    outside = [
        (each.subject, each.values["load"], each.values["film_ml"], true_ml)
        for each in told
        if isinstance(film := each.values["film_ml"], float)
        and (true_ml := fed().films[each.subject].get(str(each.values["load"]))) is not None
        and abs(film - true_ml) > float(each.values["film_pm_ml"] or 0.0)
    ]
    assert len(told) > 90
    assert outside == []


def test_every_rinse_of_the_works_is_told_of():
    rinses = {each.tank: each for each in rinses_of(fed().lines[0])}
    assert len(rinses) == 11
    for rinse in rinses.values():
        assert rinse.film_ml is not None
        assert rinse.loads >= 5


def test_water_is_told_by_decay_as_its_meter_reads():
    for rinse in rinses_of(fed().lines[0]):
        if rinse.tank == "hot-rinse":
            # What evaporates there leaves its salts behind: less runs over than runs in.
            continue
        told, pm = rinse.decay_flow_l_per_min, rinse.decay_flow_pm_l_per_min
        assert told is not None
        assert pm is not None
        assert told == pytest.approx(rinse.flow_l_per_min, abs=pm)
        assert pm < 0.1 * told


def test_what_falls_is_what_the_plant_evaporates_whatever_is_filled_in():
    works = fed().plant.works
    evaporates = dict(
        zip(works.loads.tanks, works.solutions._evaporated_l_per_h.tolist(), strict=True)
    )
    line = fed().lines[0]
    levels = {each.tank: each for each in levels_of(line, rinses_of(line))}
    for name in ("nickel-1", "nickel-4", "soak-clean-1", "chromium", "barrel-nickel", "zinc-2"):
        assert levels[name].falls_l_per_h == pytest.approx(evaporates[name], rel=0.07, abs=0.3)


def test_what_is_topped_up_is_what_the_plant_fills_in():
    told = {
        each.subject: float(each.values["topped_up_l"] or 0.0)
        for each in fed().of_water(0, "level")
    }
    names = fed().plant.works.loads.tanks
    filled = dict(zip(names, fed().filled_in_hour_l.tolist(), strict=True))
    surface = {each.id: each.surface_m2 or 0.0 for each in fed().plan.tanks}
    del told["hot-rinse"]  # what runs through it hides what is filled in
    for name, litres in told.items():
        # A filling may have come after the level was seen last without work.
        assert litres <= filled[name] + 2.5 * surface[name], name
        assert litres >= filled[name] - 10.0 * surface[name], name
    assert sum(told.values()) == pytest.approx(sum(filled[name] for name in told), rel=0.3)


def test_a_restart_goes_on_to_the_bit():
    first, second = fed().events
    assert len(first) == len(second)
    assert [each for each in first if each.kind is EventKind.WATER] == [
        each for each in second if each.kind is EventKind.WATER
    ]
    one, other = fed().lines
    rinses = rinses_of(one)
    assert rinses == rinses_of(other)
    assert levels_of(one, rinses) == levels_of(other, rinses)
