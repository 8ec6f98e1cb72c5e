"""Input power, modules and barrels on an invented line: found, told, remembered."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linewatch.core.line import Line
from linewatch.core.line.counting import rectifiers
from linewatch.core.line.health import health_of
from linewatch.core.plan import ConditionPlan, TurningPlan, Window
from linewatch.core.ports import RunStart
from linewatch.core.readings import Layout, Moment, Quality, Readings
from linewatch.core.rules.health import HEALTH
from tests.core.line import bathing

NS = 10**9
STEP_S = 5
KINDS = ("current", "voltage", "power", "current.module-1", "current.module-2")
TAGS = (*(f"r-one.{kind}" for kind in KINDS), "one.load-present")
LAYOUT = Layout(link="bus", device="all", tags=TAGS, period_ns=STEP_S * NS)


def tag(name: str):
    kind = name.split(".")[1]
    return replace(
        bathing.tag(f"{name.split('.', maxsplit=1)[0]}.{kind}"),
        id=name,
        window=Window(),
        period_ns=STEP_S * NS,
        stale_after_ns=3 * STEP_S * NS,
    )


PLAN = replace(
    bathing.PLAN,
    layouts=(LAYOUT,),
    tags={name: tag(name) for name in TAGS},
    tanks=(
        replace(
            bathing.tank("one"),
            windows={},
            area_dm2=100.0,
            turning=TurningPlan(speed_per_min=6.0),
        ),
    ),
    rectifiers=(
        replace(bathing.PLAN.rectifiers[0], rated_current_a=1000.0, rated_voltage_v=10.0),
    ),
    conditions=tuple(
        ConditionPlan(
            id=f"r-one.{rule.name}",
            tag=f"r-one.{rule.name}",
            kind="found",
            limit=rule.limit,
            title=rule.title,
        )
        for rule in HEALTH
    ),
)


class Shop:
    """A barrel under loads of ten minutes, with whatever a test makes of its unit."""

    def __init__(self, memory=None, at_s: int = 0) -> None:
        self.line = Line(PLAN, memory)
        self.at_s = at_s
        self.chance = np.random.default_rng(at_s + 1)
        self.losses = 1.0
        self.swing = 0.03
        self.share = 0.5
        self.step_ratio = 1.0
        self.stay_s, self.cycle_s = 600, 720
        if memory is None:
            start = RunStart(run_id="r", at=self.at, fingerprint=PLAN.fingerprint, speed=1.0)
            self.line.begin(start)

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=bathing.UTC_NS + self.at_s * NS, mono_ns=self.at_s * NS)

    def run(self, hours: float) -> None:
        for _ in range(round(hours * 3600 / STEP_S)):
            self._step()

    def _step(self) -> None:
        since_s = self.at_s % self.cycle_s
        on = (30 if self.stay_s > 120 else 5) <= since_s < self.stay_s
        mean = (300.0, 400.0, 500.0)[self.at_s // self.cycle_s % 3] if on else 0.0
        mean *= self.step_ratio
        turn = self.swing * np.sin(2.0 * np.pi * self.at_s / 37.0)
        amperes = mean * (1.0 + turn + self.chance.normal(0.0, 0.003))
        volts = 1.2 + 0.006 * mean if on else 0.3
        out_w = amperes * volts
        lost_w = self.losses * (80.0 + 1.1 * amperes + 3e-4 * amperes**2)
        power = (out_w + lost_w) / 1000.0 * (1.0 + self.chance.normal(0.0, 0.003))
        modules = [amperes * self.share, amperes * (1.0 - self.share)]
        value = np.array([amperes, volts, power, *modules, float(since_s < self.stay_s + 15)])
        self.line.receive(
            Readings(
                layout=LAYOUT,
                utc_ns=self.at.utc_ns,
                mono_ns=self.at.mono_ns,
                value=value,
                quality=np.full(len(TAGS), int(Quality.GOOD), dtype=np.uint8),
            )
        )
        self.at_s += STEP_S

    def standing(self) -> set[str]:
        return {
            each.id.partition(".")[2]
            for each in self.line.picture(self.at).alarms
            if each.state == "unacknowledged"
        }

    def unit(self):
        return self.line.picture(self.at).rectifiers[0]


@pytest.fixture(scope="module")
def learned():
    shop = Shop()
    shop.run(8.0)
    return shop.line.memory(), shop.at_s


@pytest.fixture
def shop(learned):
    return Shop(*learned)


def test_a_healthy_unit_is_learned_told_in_words_and_nothing_is_found(shop):
    shop.run(2.0)

    assert shop.standing() == set()
    told = dict(shop.unit().health)
    assert "is usual there" in told["efficiency"]
    assert told["sharing"] == "usual shares 50 %, 50 %"
    assert told["barrel"].startswith("swings by ")


def test_losses_that_grow_are_found_and_say_by_how_much(shop):
    shop.losses = 1.4
    shop.run(2.0)

    assert shop.standing() == {"efficiency-drifts"}
    (found,) = shop.unit().findings
    assert "W of losses" in found
    assert shop.unit().attention >= 15.0


def test_a_module_that_takes_too_little_is_found_within_two_loads_and_ends(shop):
    shop.share = 0.3
    shop.run(0.4)
    assert "shares-badly" in shop.standing()
    assert any("module 1 gives 30 %" in text for text in shop.unit().findings)
    shop.share = 0.5
    shop.run(0.4)
    assert "shares-badly" not in shop.standing()


def test_a_contact_that_wears_and_a_rhythm_that_is_lost_are_two_findings(shop):
    shop.swing = 0.06
    shop.run(1.5)
    assert "contact-wears" in shop.standing()
    assert "rhythm-lost" not in shop.standing()


def test_a_barrel_that_stands_is_found_by_its_current_alone(shop):
    shop.swing = 0.0
    shop.run(0.4)
    assert shop.standing() == {"rhythm-lost"}


def test_loads_of_two_minutes_teach_a_rhythm_and_tell_that_it_is_lost():
    shop = Shop()
    shop.stay_s, shop.cycle_s = 105, 600
    shop.run(4.0)
    assert health_of(shop.line).units["r-one"].turn.model
    assert shop.standing() == set()
    shop.swing = 0.0
    shop.run(1.0)
    assert shop.standing() == {"rhythm-lost"}


def test_the_current_of_a_module_is_never_taken_for_that_of_its_rectifier():
    assert rectifiers(PLAN)["r-one"].current.id == "r-one.current"
    tags = {name: each for name, each in PLAN.tags.items() if name != "r-one.current"}
    assert rectifiers(replace(PLAN, tags=tags))["r-one"].current is None


def test_all_goes_on_through_a_restart_and_an_older_memory_is_taken(shop):
    shop.run(0.5)
    memory = shop.line.memory()
    again = Line(PLAN, memory)
    assert health_of(again).remember() == health_of(shop.line).remember()
    older = health_of(again).remember()
    for each in older["units"].values():
        for watch in ("power", "sharing", "turn"):
            del each[watch]
    fresh = Line(PLAN)
    health_of(fresh).recall(older)
    assert health_of(fresh).units["r-one"].power.points == []
    assert health_of(fresh).units["r-one"].starts == health_of(again).units["r-one"].starts


def test_a_set_point_that_is_changed_in_mid_load_is_no_wear(shop):
    shop.run(0.1)
    shop.step_ratio = 0.6
    shop.run(0.05)
    assert "contact-wears" not in shop.standing()
    shop.run(1.0)
    assert shop.standing() == set()
