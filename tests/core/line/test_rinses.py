"""Rinses on an invented line: two counterflow stages, stepped here by their own balance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linewatch.core.commands import HandReading
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.line.rinses import Rinses, rinses_of
from linewatch.core.plan import ConditionPlan, LinePlan, RinsePlan, TagPlan, TankPlan, Window
from linewatch.core.ports import Order, RunStart
from linewatch.core.readings import Layout, Moment, Quality, Readings
from linewatch.core.water.rinse_page import verdict, water_words
from linewatch.core.water.rinse_record import by_kind, carried
from linewatch.core.water.rinsing import DOUBTED, UNSURE, WRONG_LIQUID

NS = 10**9
STEP_S, TAKT_S = 10, 300
UTC_NS = 1_772_000_000 * NS
FILM_L, VOLUME_L, FLOW, FEED_US, BATH_US = 0.2, 200.0, 4.0, 300.0, 60_000.0
TAGS = (
    "bath.conductivity",
    "first.conductivity",
    "last.conductivity",
    "last.flow",
    "bath.load-present",
    "first.load-present",
    "last.load-present",
    "bath.load-number",
    "first.load-number",
    "last.load-number",
)
LAYOUT = Layout(link="bus", device="all", tags=TAGS, period_ns=STEP_S * NS)


def tag(name: str) -> TagPlan:
    subject, kind = name.split(".")
    return TagPlan(
        id=name,
        subject=subject,
        kind=kind,
        low=0.0,
        high=1e7,
        period_ns=STEP_S * NS,
        stale_after_ns=3 * STEP_S * NS,
    )


def rinse(name: str, high: float, known: RinsePlan) -> TankPlan:
    return TankPlan(
        id=name,
        name=name,
        kind="rinse",
        track="rack",
        volume_l=VOLUME_L,
        area_dm2=250.0,
        windows={"conductivity": Window(high=high)},
        rinse=known,
    )


PLAN = LinePlan(
    line_id="invented",
    name="Invented",
    fingerprint="a" * 64,
    layouts=(LAYOUT,),
    tags={name: tag(name) for name in TAGS},
    tanks=(
        TankPlan(id="bath", name="Bath", kind="plate", track="rack", area_dm2=250.0),
        rinse("first", 2000.0, RinsePlan(fed_from="last", water_us=FEED_US)),
        rinse("last", 320.0, RinsePlan(water_us=FEED_US)),
    ),
    rectifiers=(),
    baths=(),
    conditions=(),
)


class Shop:
    """Three tanks through which a load goes each takt, and the line that reads them."""

    def __init__(self, plan: LinePlan = PLAN, flow: float = FLOW) -> None:
        self.line = Line(plan)
        self.flow, self.now_s = flow, 0
        self.us = {"bath": BATH_US, "first": 1200.0, "last": 320.0}
        self.shown: dict[str, float | None] = {}
        self.events = list(
            self.line.begin(
                RunStart(run_id="r", at=self.at, fingerprint=plan.fingerprint, speed=1.0)
            )
        )
        self.takt_s = TAKT_S

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=UTC_NS + self.now_s * NS, mono_ns=self.now_s * NS)

    def run(self, hours: float, **shown: float | None) -> list:
        self.shown |= {name.replace("__", "."): each for name, each in shown.items()}
        news = []
        for _ in range(round(hours * 3600 / STEP_S)):
            self.now_s += STEP_S
            phase = self.now_s % self.takt_s
            if phase == 0:
                self._carry()
            self._flow()
            news += self.line.receive(self._block(phase))
        self.events += news
        return news

    def _carry(self) -> None:
        """Each load takes a film of its last tank along."""
        first, last = self.us["first"], self.us["last"]
        self.us["last"] += FILM_L / VOLUME_L * (first - last)
        self.us["first"] += FILM_L / VOLUME_L * (BATH_US - first)

    def _flow(self) -> None:
        share = self.flow * STEP_S / 60.0 / VOLUME_L
        self.us["first"] += share * (self.us["last"] - self.us["first"])
        self.us["last"] += share * (FEED_US - self.us["last"])

    def _block(self, phase: int) -> Readings:
        is_in = float(phase < self.takt_s - 20)
        number = self.now_s // self.takt_s
        told: dict[str, float | None] = {
            f"{tank}.conductivity": us for tank, us in self.us.items()
        }
        told["last.flow"] = self.flow
        for behind, tank in enumerate(("bath", "first", "last")):
            told[f"{tank}.load-present"] = is_in
            told[f"{tank}.load-number"] = is_in * (1000 + number - behind)
        told |= self.shown
        value = np.array([np.nan if told[name] is None else told[name] for name in TAGS], float)
        quality = np.where(np.isnan(value), int(Quality.NO_ANSWER), 0).astype(np.uint8)
        return Readings(
            layout=LAYOUT,
            utc_ns=self.at.utc_ns,
            mono_ns=self.at.mono_ns,
            value=value,
            quality=quality,
        )

    def picture(self, tank: str):
        return next(each for each in rinses_of(self.line) if each.tank == tank)


def of_water(events: list) -> list:
    return [each for each in events if each.kind is EventKind.WATER]


@pytest.fixture(scope="module")
def steady() -> Shop:
    shop = Shop()
    shop.run(12.0)
    return shop


def test_films_of_both_stages_are_told_and_the_dilute_one_is_surer(steady: Shop):
    rows = {tank: carried(steady.events, tank)[-20:] for tank in ("first", "last")}
    for tank, told in rows.items():
        assert len(told) == 20, tank
        for each in told:
            assert each.film_ml is not None
            assert abs(each.film_ml - 1000.0 * FILM_L) <= each.film_pm_ml
            assert each.film_ml_per_m2 == pytest.approx(each.film_ml / 2.5, rel=0.1)
            assert each.load
    sure = {tank: told[-1].film_pm_ml / told[-1].film_ml for tank, told in rows.items()}
    assert sure["last"] < 0.35 < sure["first"]


def test_the_source_of_a_load_is_the_tank_that_it_was_in(steady: Shop):
    assert {each.source for each in carried(steady.events, "last")[5:]} == {"first"}
    assert {each.source for each in carried(steady.events, "first")[5:]} == {"bath"}
    (kind,) = by_kind(carried(steady.events, "first")[5:])
    assert "from bath" in kind.name


def test_stages_are_held_against_theory(steady: Shop):
    first = steady.picture("first")
    assert first.next_stage == "last"
    # Water over drag-out is 4 / 0.04; of two stages the first is 1 + Q/D times as dirty.
    assert first.theory_ratio == pytest.approx(101.0, rel=0.03)
    assert first.ratio == pytest.approx(first.theory_ratio, rel=0.15)
    assert verdict(first) == ""


def test_the_water_of_the_last_stage_is_told_by_its_decay(steady: Shop):
    last = steady.picture("last")
    assert last.decay_flow_l_per_min == pytest.approx(FLOW, abs=last.decay_flow_pm_l_per_min)
    assert "may be saved" in water_words(last)


def test_stages_that_stand_the_wrong_way_round_are_said_to():
    shop = Shop()
    shop.run(2.0, first__conductivity=350.0, last__conductivity=900.0)
    assert "wrong way" in verdict(shop.picture("first"))


def test_a_step_over_a_gap_is_not_told():
    shop = Shop()
    shop.run(2.0)
    gap = shop.run(1.0, first__conductivity=None)
    assert carried(gap, "first") == []
    assert len(carried(gap, "last")) >= 10
    back = shop.run(1.0, first__conductivity=shop.us["first"])
    # A probe that stands still sees no step; but it is a step that is seen: none.
    assert all(abs(each.step_us) < 1e-6 for each in carried(back, "first"))


def test_loads_that_follow_too_fast_are_not_told_apart():
    shop = Shop()
    shop.takt_s = 100
    shop.run(2.0)
    assert of_water(shop.events) == []


def test_without_knowing_the_bath_no_drag_out_is_told_until_somebody_reads_it():
    tags = {name: each for name, each in PLAN.tags.items() if name != "bath.conductivity"}
    shop = Shop(replace(PLAN, tags=tags))
    shop.run(1.5, bath__conductivity=None)
    told = carried(shop.events, "first")
    assert told
    assert all(each.film_ml is None and each.step_us > 0.0 for each in told)
    assert any("what Bath conducts" in each for each in shop.picture("first").missing)

    reading = HandReading(
        who="AB", subject="bath", kind="conductivity", value=60.0, unit="mS/cm"
    )
    shop.line.obey(Order(request=1, command=reading, at=shop.at))
    news = carried(shop.run(1.0), "first")
    assert news[-1].source_from == "read by hand"
    assert abs((news[-1].film_ml or 0.0) - 1000.0 * FILM_L) <= (news[-1].film_pm_ml or 0.0)
    assert shop.picture("first").missing == ()


def test_a_rinse_that_is_dirty_says_how_many_left_it_so():
    shop = Shop(flow=1.0)
    shop.run(10.0)
    first = shop.picture("first")
    assert first.beyond > 0
    assert f"{first.beyond} of {first.loads} loads left it above its limit" in verdict(first)


def test_what_is_remembered_goes_on_to_the_bit():
    one = Shop()
    one.run(1.37)
    again = Line(PLAN, one.line.memory())
    other = Shop()
    other.__dict__.update({**one.__dict__, "us": dict(one.us), "line": again, "events": []})
    assert one.run(1.0) == other.run(1.0)
    assert rinses_of(one.line) == rinses_of(again)


# What teaches nothing.


def watched(*rules: str) -> LinePlan:
    """The plan, with alarms of some rules on the first rinse."""
    probe = replace(PLAN.tags["first.conductivity"], window=Window(high=2000.0))
    return replace(
        PLAN,
        tags={**PLAN.tags, probe.id: probe},
        conditions=tuple(
            ConditionPlan(
                id=f"first.{name}.found", tag=f"first.{name}", kind="found", limit=1.0
            )
            for name in rules
        ),
    )


def test_the_load_that_a_wrong_liquid_met_is_not_known_and_those_after_it_are():
    shop = Shop(watched("wrong-liquid"))
    shop.run(4.0)
    before = shop.picture("first")
    assert before.untold == 0
    shop.run(0.03)
    shop.us["first"] += 6000.0
    events = shop.run(1.5)
    assert any(each.values.get("alarm") == "first.wrong-liquid.found" for each in events)
    spoilt, *others = carried(events, "first")
    assert (spoilt.why, spoilt.film_ml, spoilt.film_ml_per_m2) == (WRONG_LIQUID, None, None)
    # The rinse is far from clean, and yet the step of each load that follows is seen.
    assert len(others) > 10
    assert {each.why for each in others} == {""}
    for each in others:
        assert abs(each.film_ml - 1000.0 * FILM_L) <= each.film_pm_ml
    after = shop.picture("first")
    assert after.step_us == pytest.approx(before.step_us, rel=0.15)
    assert after.untold == 1
    assert f"1 of {after.loads} loads" in after.untold_words
    assert WRONG_LIQUID in after.untold_words
    assert "whose step was told" in after.over_loads


def test_what_came_in_while_an_alarm_doubts_the_probe_is_not_known():
    shop = Shop(watched("rinse-probe-still"))
    shop.run(2.0)
    before = shop.picture("first")
    stuck = carried(shop.run(2.0, first__conductivity=shop.us["first"]), "first")
    back = carried(shop.run(2.0, first__conductivity=None), "first")
    assert back == []
    assert {each.why for each in stuck[-5:]} == {DOUBTED}
    assert shop.picture("first").step_us == pytest.approx(before.step_us, rel=1e-3)


def test_a_step_that_is_not_beyond_its_doubt_teaches_nothing_and_no_doubt_is_negative():
    shop = Shop()
    chance = np.random.default_rng(3)
    for _ in range(int(6.0 * 3600 / STEP_S)):
        shop.run(STEP_S / 3600.0, first__conductivity=5000.0 + 800.0 * chance.standard_normal())
    told = carried(shop.events, "first")
    unsure = [each for each in told if each.why == UNSURE]
    assert len(unsure) > 5
    assert all(each.film_ml is None for each in unsure)
    assert all(each.film_pm_ml >= 0.0 for each in told if not each.why)
    first = shop.picture("first")
    assert first.step_us is None or first.step_us > 0.0
    assert (first.film_pm_ml or 0.0) >= 0.0
    if first.step_us is None:
        assert water_words(first) == ""


def test_means_of_an_older_memory_over_such_steps_are_forgotten():
    shop = Shop()
    shop.run(3.0)
    study = shop.line.studies.of(Rinses)
    kept = {name: dict(row) for name, row in study.remember().items()}
    for row in kept.values():
        del row["untold"], row["why"], row["has_jumped"], row["jumped_s"]
    kept["first"]["means"] = kept["first"]["means"] | {"step_us": -903.0, "film_low": 4.0}
    again = Rinses(PLAN)
    again.recall(kept)
    assert {"step_us", "film_low", "per_m2_high"}.isdisjoint(again.rinse["first"].means)
    assert "exit_us" in again.rinse["first"].means
    assert again.rinse["last"].means == study.rinse["last"].means


def test_a_record_of_an_earlier_version_is_read_without_its_nonsense(steady: Shop):
    event = next(each for each in of_water(steady.events) if each.subject == "first")
    nonsense = {
        "step_us": -7028.0,
        "step_pm_us": 14705.0,
        "film_ml": -601.0,
        "film_pm_ml": -601.0,
    }
    values = {key: each for key, each in event.values.items() if key != "why"} | nonsense
    old, new = carried([replace(event, values=values), event], "first")
    assert (old.why, old.film_ml, old.film_pm_ml) == (UNSURE, None, None)
    kinds = by_kind([old, new])
    assert [(each.loads, each.film_ml) for each in kinds] == [(1, new.film_ml)]
