"""Accounts follow the line: live, from memory, through gaps and other configurations."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.commands import HandReading, MarkDummy
from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.line.additions import additions_of
from linewatch.core.ports import Order
from tests.core.line.bathing import BATH, BRIGHTENER, LEVELLER, PLAN, Shop, with_additives

FASTER = replace(BRIGHTENER, dose_ml_per_kah=400.0)


def restarted(shop: Shop, plan=PLAN) -> Shop:
    return Shop(plan, memory=shop.line.memory(), at_s=shop.at_s)


def test_a_dose_is_due_at_its_least_amount_and_no_longer_when_it_went_in():
    shop = Shop()
    news = shop.run(1800)
    due = [each for each in news if each.values.get("what") == "due"]
    assert {each.values["additive"] for each in due} == {"brightener", "leveller", "anodes"}
    alarm = next(each for each in shop.line.picture(shop.at).alarms)
    assert (alarm.id, alarm.kind, alarm.priority) == ("nickel.brightener.due", "found", "low")
    shop.log(shop.additive().owed_ml)
    assert not shop.additive().due
    assert not shop.line.alarms.active[0]


def test_a_dose_can_be_due_by_time():
    hourly = replace(BRIGHTENER, least_dose_ml=1.0, due_at_ml=1000.0, due_every_s=3600.0)
    shop = Shop(with_additives(hourly))
    shop.run(600)
    shop.log(shop.additive().owed_ml)
    shop.run(3000)
    assert not shop.additive().due
    shop.run(660)
    assert shop.additive().due


def test_the_next_dose_is_forecast_from_the_present_rate():
    shop = Shop(with_additives(replace(BRIGHTENER, due_at_ml=60.0)))
    shop.run(3600)
    due_s = (shop.additive().due_utc_ns - shop.at.utc_ns) / 1e9
    assert due_s == pytest.approx(3600.0, rel=0.02)


def test_unmetered_time_makes_the_debt_a_range_and_is_never_dropped():
    shop = Shop()
    shop.run(600)
    assert shop.additive().owed_high_ml == shop.additive().owed_ml
    shop.run(600, r_two__current=None)
    additive = shop.additive()
    # The most that was seen there, 50 A, for the ten minutes that nothing told.
    more = 200.0 * 50.0 * 600.0 / 3_600_000.0
    assert additive.owed_high_ml - additive.owed_ml == pytest.approx(more, rel=0.06)
    shop.run(600, r_two__current=50.0)
    additive = shop.additive()
    assert additive.owed_high_ml - additive.owed_ml == pytest.approx(more, rel=0.06)


def test_dummy_plating_counts_at_its_own_rate():
    shop = Shop()
    shop.run(600)
    before = shop.additive().accrued_ml
    shop.dummy(begins=True)
    shop.run(600)
    shop.dummy(begins=False)
    grown = shop.additive().accrued_ml - before
    assert grown == pytest.approx((100.0 + 0.5 * 50.0) * 600 / 3.6e6 * 200.0, rel=0.02)
    with pytest.raises(Refused, match="it plates no dummies"):
        shop.dummy(begins=False)
    command = MarkDummy(who="MK", tank="nickel", begins=True)
    with pytest.raises(Refused, match="no current is counted there"):
        shop.line.obey(Order(request=1, command=command, at=shop.at))


def test_drag_out_is_counted_by_the_loads_and_area_that_leave():
    by_load = replace(LEVELLER, dose_ml_per_kah=0.0, dose_ml_per_m2=2.0, dose_ml_per_load=1.0)
    shop = Shop(with_additives(by_load))
    for _ in range(3):
        shop.run(60, one__load_present=1.0)
        shop.run(60, one__load_present=0.0)
    assert shop.additive("leveller").accrued_ml == pytest.approx(3 * (2.0 * 2.0 + 1.0))
    assert shop.bath.concentration.dragged_g == pytest.approx(3 * 0.2 * 75.0, rel=1e-3)


def test_a_line_from_memory_has_the_same_accounts_to_the_bit():
    whole = Shop()
    whole.run(1000)
    second = Shop()
    second.run(430)
    second.line = Line(PLAN, second.line.memory())
    second.run(570)
    assert second.line.memory()["study.additions"] == whole.line.memory()["study.additions"]


def test_a_rate_of_another_configuration_holds_from_then_on():
    shop = Shop()
    shop.run(3610)
    before = shop.account().accrued_at(additions_of(shop.line).counts(shop.line, "nickel"))
    other = restarted(shop, with_additives(FASTER))
    account = other.account()
    assert account.accrued == before
    other.run(3610)
    assert other.additive().accrued_ml == pytest.approx(30.0 + 60.0, rel=0.01)


def test_an_additive_that_leaves_the_configuration_keeps_its_history():
    shop = Shop()
    shop.run(3600)
    shop.log(30.0)
    without = restarted(shop, with_additives(LEVELLER))
    without.run(3600)
    kept = without.account()
    assert (kept.dosed_nl, [each.number for each in kept.entries]) == (30_000_000, [1])
    without.log(-30.0, corrects=1, why="other drum")
    back = restarted(without)
    assert back.additive().dosed_ml == 0.0
    assert back.additive().accrued_ml == pytest.approx(30.0, rel=0.01)


def test_a_bath_that_leaves_the_configuration_keeps_its_accounts():
    shop = Shop()
    shop.run(3600)
    shop.log(30.0)
    no_tank = replace(
        PLAN,
        baths=(),
        tanks=tuple(replace(each, bath=None) for each in PLAN.tanks),
        conditions=(),
        fingerprint="c" * 64,
    )
    without = restarted(shop, no_tank)
    without.run(3600)
    assert without.account().dosed_nl == 30_000_000
    back = restarted(without)
    assert back.additive().accrued_ml == pytest.approx(30.0, rel=0.01)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"corrects": 9, "why": "x"}, "no entry 9"),
        ({"corrects": 1}, "say why"),
        ({"corrects": 1, "why": "x", "amount": -5.0}, "it takes back all of it"),
        ({"amount": -5.0}, "choose that entry"),
        ({"additive": "cream"}, "has no 'cream'"),
    ],
)
def test_a_correction_that_corrects_nothing_is_refused(said, why):
    shop = Shop()
    shop.run(3600)
    shop.log(30.0)
    with pytest.raises(Refused, match=why):
        shop.log(said.pop("amount", -30.0), said.pop("additive", "brightener"), **said)


def test_an_entry_is_taken_back_once():
    shop = Shop()
    shop.run(3600)
    shop.log(30.0)
    done = shop.log(-30.0, corrects=1, why="read the wrong jug")
    assert [each.values["what"] for each in done if each.kind is EventKind.ADDITION][-2:] != []
    with pytest.raises(Refused, match="entry 2 took it back already"):
        shop.log(-30.0, corrects=1, why="again")
    with pytest.raises(Refused, match="that is a counter-entry"):
        shop.log(30.0, corrects=2, why="back and forth")


def test_an_analysis_begins_the_metal_anew_and_the_next_tells_what_was_not_explained():
    shop = Shop()
    shop.run(3600)
    predicted = shop.bath.concentration.predicted_g_per_l
    # Anodes dissolve at 100 %, the cathode takes 95 %: the metal climbs.
    assert predicted == pytest.approx(75.0 + 0.05 * 1.095 * 150.0 / 1000.0, rel=1e-3)
    found = HandReading(who="LAB", subject="nickel", kind="metal", value=74.0, unit="g/L")
    shop.line.obey(Order(request=1, command=found, at=shop.at))
    now = shop.bath.concentration
    assert now.predicted_g_per_l == 74.0
    # What the configuration says is of no known time: against it nothing is unexplained.
    assert now.unexplained_g_per_l is None
    shop.run(3600)
    predicted = shop.bath.concentration.predicted_g_per_l
    again = replace(found, value=73.0)
    shop.line.obey(Order(request=2, command=again, at=shop.at))
    now = shop.bath.concentration
    assert now.unexplained_g_per_l == pytest.approx(73.0 - predicted)


def test_what_another_analysis_of_the_configuration_says_begins_the_metal_anew():
    shop = Shop()
    shop.run(3600)
    plan = replace(PLAN, baths=(replace(BATH, metal_g_per_l=70.0),), fingerprint="d" * 64)
    assert restarted(shop, plan).bath.concentration.predicted_g_per_l == 70.0


def test_water_is_told_by_level_and_temperature():
    shop = Shop()
    shop.run(10, one__level=850.0)
    water = shop.bath.water[0]
    assert water.top_up_l == pytest.approx(50.0)
    assert water.evaporates_l_per_h > 0.0
