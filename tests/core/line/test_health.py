"""The study of rectifiers on an invented line: what it learns, tells, forgets and remembers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linewatch.core.commands import MarkMeter, TakeOutOfService
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.line.health import health_of
from linewatch.core.plan import ConditionPlan, Window
from linewatch.core.ports import Order, RunStart
from linewatch.core.readings import Layout, Moment, Quality, Readings
from linewatch.core.rules.health import HEALTH
from tests.core.line import bathing

NS = 10**9
STEP_S = 15
UNITS = ("r-one", "r-two")
KINDS = ("current", "voltage", "ripple", "heat-sink")
TAGS = (
    *(f"{unit}.{kind}" for unit in UNITS for kind in KINDS),
    "one.load-present",
    "two.load-present",
    "one.temperature",
)
LAYOUT = Layout(link="bus", device="all", tags=TAGS, period_ns=STEP_S * NS)
CONDITIONS = tuple(
    ConditionPlan(
        id=f"{unit}.{rule.name}",
        tag=f"{unit}.{rule.name}",
        kind="found",
        limit=rule.limit,
        title=rule.title,
        cause=rule.cause,
        action=rule.action,
    )
    for unit in UNITS
    for rule in HEALTH
) + tuple(
    ConditionPlan(id=f"{tag}.bad-quality", tag=tag, kind="bad-quality")
    for tag in TAGS
    if tag.startswith(UNITS)
)
PLAN = replace(
    bathing.PLAN,
    layouts=(LAYOUT,),
    tags={
        name: replace(bathing.tag(name), window=Window(), period_ns=STEP_S * NS)
        for name in TAGS
    },
    tanks=tuple(
        replace(bathing.tank(name), windows={}, area_dm2=100.0) for name in ("one", "two")
    ),
    rectifiers=tuple(
        replace(
            each,
            rated_current_a=1000.0,
            rated_voltage_v=10.0,
            pulses=6,
            area_tolerance_ratio=0.02,
        )
        for each in bathing.PLAN.rectifiers
    ),
    conditions=CONDITIONS,
)


class Shop:
    """Two units under loads of ten minutes, with whatever a test makes of their signals."""

    def __init__(self, seed: int = 1) -> None:
        self.line = Line(PLAN)
        self.at_s = 0
        self.chance = np.random.default_rng(seed)
        self.events: list = []
        start = RunStart(run_id="r", at=self.at, fingerprint=PLAN.fingerprint, speed=1.0)
        self.events += self.line.begin(start)
        self.slope = 0.6
        self.v0 = 1.2
        self.ripple = 9.0
        self.jump_v = 0.0
        self.digits = 3
        self.is_silent = False

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=bathing.UTC_NS + self.at_s * NS, mono_ns=self.at_s * NS)

    def run(self, hours: float) -> list:
        news: list = []
        for _ in range(round(hours * 3600 / STEP_S)):
            news += self._step()
        self.events += news
        return news

    def _step(self) -> list:
        phase = self.at_s % 720
        on = 30 <= phase < 600
        load = self.at_s // 720
        # Set points of three kinds, so that the current varies by more than 30 %.
        amperes = (300.0, 400.0, 500.0)[load % 3] if on else 0.0
        volts = (self.v0 + self.slope * amperes / 100.0) * (1 + self.chance.normal(0, 0.002))
        volts = volts + self.jump_v if on else 0.3
        values = [
            amperes,
            round(volts, self.digits),
            self.ripple * (1 + self.chance.normal(0, 0.02)) if on else 0.0,
            40.0,
        ] * 2
        if self.is_silent:
            values = [None] * 8
        values += [float(phase < 615), float(phase < 615), 60.0]
        value = np.array([np.nan if v is None else v for v in values])
        quality = np.where(np.isnan(value), int(Quality.NO_ANSWER), 0).astype(np.uint8)
        block = Readings(
            layout=LAYOUT,
            utc_ns=self.at.utc_ns,
            mono_ns=self.at.mono_ns,
            value=value,
            quality=quality,
        )
        self.at_s += STEP_S
        return self.line.receive(block)

    def say(self, command) -> None:
        self.events += self.line.obey(Order(request=1, command=command, at=self.at))

    def standing(self) -> set[str]:
        return {
            each.id
            for each in self.line.picture(self.at).alarms
            if each.state == "unacknowledged"
        }

    def unit(self, name: str = "r-one"):
        return next(each for each in self.line.picture(self.at).rectifiers if each.id == name)


@pytest.fixture(scope="module")
def learned():
    shop = Shop()
    shop.run(12.0)
    return shop.line.memory(), shop.at_s


@pytest.fixture
def shop(learned):
    made = Shop(seed=2)
    made.line = Line(PLAN, learned[0])
    made.at_s = learned[1]
    return made


def test_a_healthy_line_is_learned_and_nothing_is_found(shop):
    shop.run(6.0)

    assert shop.standing() == set()
    told = dict(shop.unit().health)
    assert told["cell"].startswith("level") or "V = 1.2" in told["cell"]
    assert "learned at" in told["ripple"]
    assert told["efficiency"] == "no input power is read"
    assert shop.unit().attention < 10.0


def test_what_could_not_be_read_is_no_evidence_against_a_unit(shop):
    shop.run(0.5)
    before = shop.unit().attention
    shop.is_silent = True
    shop.run(0.1)

    unread = {f"r-one.{kind}.bad-quality" for kind in ("current", "voltage")}
    assert unread <= shop.standing()
    assert shop.unit().attention == before
    shop.is_silent = False
    shop.run(0.1)
    assert shop.unit().attention == pytest.approx(before, abs=5.0)


def test_a_lost_device_is_found_within_a_minute_of_running_with_its_likeness(shop):
    shop.run(0.05)
    shop.ripple = 40.0
    shop.run(60 / 3600)

    assert "r-one.ripple-fault" in shop.standing()
    (found,) = [text for text in shop.unit().findings if "ripple" in text]
    assert "as one device open" in found or "as one phase lost" in found
    assert shop.unit().attention >= 30.0
    told = [each for each in shop.events if each.kind is EventKind.FINDING]
    assert {each.subject for each in told} == set(UNITS)


def test_ripple_that_becomes_well_again_is_over(shop):
    shop.ripple = 40.0
    shop.run(0.2)
    shop.ripple = 9.0
    shop.run(0.5)

    assert "r-one.ripple-fault" not in shop.standing()
    assert shop.unit().findings == ()


def test_a_slow_rise_of_the_volts_is_found_and_says_how_much_and_since_when(shop):
    began_ns = shop.at.utc_ns
    for _ in range(10):
        shop.slope *= 1.015
        shop.run(0.2)
    shop.run(2.0)

    assert "r-one.cell-rises" in shop.standing()
    assert any("load after load" in text for text in shop.unit().findings)
    assert health_of(shop.line).units["r-one"].cell.since_ns >= 0
    assert shop.at.utc_ns > began_ns


def test_a_jump_within_a_load_is_found_at_once(shop):
    shop.run(0.1)
    shop.jump_v = 0.5
    shop.run(0.05)

    assert "r-one.cell-steps" in shop.standing()


def test_bad_and_missing_values_find_nothing(shop):
    line = shop.line
    for _ in range(600):
        value = np.full(len(TAGS), np.nan)
        quality = np.full(len(TAGS), int(Quality.SENSOR_FAULT), dtype=np.uint8)
        block = Readings(
            layout=LAYOUT,
            utc_ns=shop.at.utc_ns,
            mono_ns=shop.at.mono_ns,
            value=value,
            quality=quality,
        )
        shop.at_s += STEP_S
        line.receive(block)

    assert not [
        each
        for each in shop.standing()
        if each.rpartition(".")[2] in {rule.name for rule in HEALTH}
    ]


def test_whole_volts_widen_what_is_usual_and_find_nothing_by_themselves():
    shop = Shop()
    shop.digits = 0
    shop.run(12.0)
    assert not shop.standing()
    cell = health_of(shop.line).units["r-one"].cell
    assert cell.resolution_v == 1.0
    assert cell.line[2] >= 1.0 / 12**0.5
    shop.slope *= 1.05
    shop.run(3.0)
    assert "r-one.cell-rises" not in shop.standing()


def test_a_unit_that_was_serviced_is_learned_anew_and_its_findings_are_over(shop):
    shop.ripple = 40.0
    shop.run(0.2)
    assert "r-one.ripple-fault" in shop.standing()
    shop.ripple = 12.0
    shop.say(MarkMeter(who="MK", rectifier="r-one", what="serviced", why="new device"))

    assert "r-one.ripple-fault" not in shop.standing()
    assert dict(shop.unit().health)["ripple"] == "is being learned"
    assert health_of(shop.line).units["r-one"].base_utc_ns == shop.at.utc_ns
    shop.run(0.5)
    assert "r-one.ripple-fault" not in shop.standing()


def test_nothing_is_learned_of_a_unit_out_of_service(shop):
    shop.say(TakeOutOfService(who="MK", subject="r-one", why="new bars"))
    before = health_of(shop.line).units["r-one"].cell.remember()
    shop.slope = 2.0
    shop.run(2.0)

    assert health_of(shop.line).units["r-one"].cell.remember() == before


def test_what_was_learned_goes_on_through_a_restart(shop):
    whole = Shop(seed=2)
    whole.line = Line(PLAN, shop.line.memory())
    whole.at_s = shop.at_s
    shop.run(1.0)
    again = Line(PLAN, shop.line.memory())
    assert health_of(again).remember() == health_of(shop.line).remember()
