"""On the plant: a trouble that shows in many signals is one call for attention.

The plant runs without sockets, and its instruments' values are fed to the line.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from linewatch import config
from linewatch.core.events import EventKind
from linewatch.core.line.machine import Line
from linewatch.core.readings import Moment, Quality, Readings
from linewatch_sim.plant import Plant
from linewatch_sim.troubles import done

ROOT = Path(__file__).parents[2]
NS = 10**9
PLAN = config.read(ROOT / "config" / "demo.toml").plan
LEARNS_S = 600.0


class Works:
    """The plant and a line that is fed with what it shows.

    Args:
        memory: What an earlier line remembered.
    """

    STEP_S = 2.0

    def __init__(self) -> None:
        self.plant = Plant("works", seed=1)
        self.line = Line(PLAN)
        self.now_s = 0.0
        self.said: dict[str, float] = {}
        """By tag, what an instrument shows in place of the plant's value."""
        self.lost: set[str] = set()
        """Links over which nothing comes."""
        self.announced: list[str] = []
        self._reads = [
            (layout, [self.plant.values.getter(tag) for tag in layout.tags])
            for layout in PLAN.layouts
        ]

    def go_on(self, for_s: float, *, restarts: bool = False) -> list[str]:
        """Let the plant run; return what was announced, doses that fell due left out."""
        self.announced = []
        for step in range(round(for_s / self.STEP_S)):
            self.now_s += self.STEP_S
            self.plant.works.advance_to(self.now_s, coarsely=True)
            if restarts and step % 50 == 0:
                self.line = Line(PLAN, self.line.memory())
            for layout, reads in self._reads:
                self._receive(layout, [read() for read in reads])
        return self.announced

    def _receive(self, layout, reads) -> None:
        at_ns = round(self.now_s * NS)
        shown = [self.said.get(t, v) for t, v in zip(layout.tags, reads, strict=True)]
        value = np.array(shown)
        quality = np.where(np.isnan(value), Quality.SENSOR_FAULT, Quality.GOOD)
        if layout.link in self.lost:
            value[:], quality[:] = np.nan, Quality.NOT_CONNECTED
        block = Readings(
            layout=layout,
            utc_ns=at_ns,
            mono_ns=at_ns,
            value=value,
            quality=quality.astype(np.uint8),
        )
        self.announced += [
            str(event.values["alarm"])
            for event in self.line.receive(block)
            if event.kind is EventKind.ALARM
            and event.values.get("move") == "occur"
            and not str(event.values["alarm"]).endswith(".due")
        ]

    def begin(self, trouble: str) -> None:
        import asyncio

        asyncio.run(done(self.plant.trouble_named(trouble).begin(self.plant)))

    def behind(self, cause: str) -> set[str]:
        picture = self.line.picture(self.at)
        return {each.id for each in picture.alarms if each.behind == cause}

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=round(self.now_s * NS), mono_ns=round(self.now_s * NS))

    def standing(self) -> set[str]:
        return {
            each.id
            for each in self.line.picture(self.at).alarms
            if each.state in {"unacknowledged", "acknowledged"} and not each.id.endswith(".due")
        }


@pytest.mark.parametrize("restarts", [False, True])
def test_a_reversed_rectifier_is_told_once_by_its_polarity(restarts):
    works = Works()
    works.go_on(LEARNS_S)
    works.begin("polarity-wrong")

    assert works.go_on(900.0, restarts=restarts) == ["rectifier-zinc-3.polarity"]
    assert works.behind("rectifier-zinc-3.polarity") == {
        "rectifier-zinc-3.voltage.low",
        "rectifier-zinc-3.voltage.low-low",
    }


def test_low_volts_that_are_not_reversed_wait_for_no_rule():
    works = Works()
    works.go_on(LEARNS_S)
    works.go_on(600.0)
    assert works.line.positions.present["zinc-3"]
    works.said["rectifier-zinc-3.voltage"] = 0.1

    assert "rectifier-zinc-3.voltage.low" in works.go_on(20.0)


def test_volts_that_are_reversed_for_a_moment_only_are_told_by_nothing():
    works = Works()
    works.go_on(LEARNS_S + 600.0)
    right = works.line.good("rectifier-zinc-3.voltage")
    works.said["rectifier-zinc-3.voltage"] = -4.0
    told = works.go_on(14.0)
    works.said["rectifier-zinc-3.voltage"] = right
    told += works.go_on(120.0)

    assert [each for each in told if "voltage" in each or "polarity" in each] == []


def test_a_pulled_probe_is_told_alone_and_what_is_judged_by_it_stands_behind():
    works = Works()
    works.go_on(LEARNS_S)
    works.begin("probe-pulled-out")

    assert works.go_on(1800.0) == ["electroclean.probe-out"]
    assert works.behind("electroclean.probe-out") == {
        "electroclean.temperature.low",
        "electroclean.temperature.deviation",
    }


def test_a_probe_that_is_put_back_leaves_nothing_behind():
    works = Works()
    works.go_on(LEARNS_S)
    whole = works.line.good("electroclean.temperature")
    works.begin("probe-pulled-out")
    works.go_on(900.0)
    works.said["electroclean.temperature"] = whole

    assert works.go_on(600.0) == []
    assert works.standing() == set()
    assert works.behind("electroclean.probe-out") == set()


def test_a_heater_that_fails_with_its_probe_whole_is_told():
    works = Works()
    works.STEP_S = 10.0
    works.go_on(LEARNS_S)
    works.begin("heater-fails")

    assert "nickel-2.heat-lost" in works.go_on(3600.0)


def test_a_broken_glass_explains_the_swings_that_are_judged_by_it():
    works = Works()
    works.STEP_S = 10.0
    works.go_on(LEARNS_S)
    works.begin("ph-glass-broken")
    works.go_on(900.0)

    assert "discharge.glass-broken" in works.standing()
    assert "discharge.ph-swings" not in works.standing()


def test_of_a_unit_that_repeats_its_values_what_was_judged_by_them_goes_behind_it():
    works = Works()
    works.STEP_S = 10.0
    works.go_on(2070.0)
    works.begin("unit-repeats")
    works.go_on(600.0)

    mine = {each for each in works.standing() if each.startswith("rectifier-nickel-1")}
    assert mine == {"rectifier-nickel-1.unit-still"}
    assert works.behind("rectifier-nickel-1.unit-still") == {"rectifier-nickel-1.off-set-point"}


def test_a_gateway_that_is_lost_is_one_alarm_and_none_when_it_is_back():
    works = Works()
    works.go_on(LEARNS_S)
    works.lost.add("rack-rectifiers")

    assert works.go_on(60.0) == ["rack-rectifiers.lost"]
    tags = {t for each in PLAN.layouts if each.link == "rack-rectifiers" for t in each.tags}
    assert works.behind("rack-rectifiers.lost") >= {f"{tag}.bad-quality" for tag in tags}
    works.lost.clear()
    assert works.go_on(120.0) == []
    assert works.standing() == set()
    assert works.behind("rack-rectifiers.lost") == set()
