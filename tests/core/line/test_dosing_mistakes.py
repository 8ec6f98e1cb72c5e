"""Mistakes that shops make with doses: each tried, and prevented or said.

One test a mistake. Where no signal can tell, the screen says so; those tests are in
tests/ui/test_baths_view.py and are named here.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.plan import ConditionPlan
from tests.core.line.bathing import (
    ANODES,
    BRIGHTENER,
    LEVELLER,
    PLAN,
    SALT,
    Shop,
    with_additives,
)

ML_PER_AS = 200.0 / 3_600_000.0


def test_two_people_who_dose_the_same_debt_at_shift_change_are_told_of_each_other():
    shop = Shop()
    shop.run(1800)
    shop.log(shop.additive().owed_ml, who="AB")
    shop.run(600)
    with pytest.raises(Refused, match="AB logged 15 mL 10 min ago"):
        shop.log(15.0, who="CD")


def test_a_dose_that_was_written_down_but_never_made_can_be_taken_back_whole():
    # Whether it went in no signal tells; the bath's page says so.
    shop = Shop()
    shop.run(1800)
    owed = shop.account().owed_at(shop.account().seen)
    shop.log(15.0)
    shop.log(-15.0, corrects=1, why="written, not made")
    account = shop.account()
    assert account.owed_at(account.seen) >= owed
    assert account.dosed_nl == 0
    assert [each.number for each in account.entries] == [1, 2]


def test_a_meter_that_is_reset_without_a_dose_takes_no_debt_away():
    shop = Shop()
    shop.run(600, r_one__charge_meter=500.0)
    before = shop.additive().owed_ml
    shop.run(60, r_one__charge_meter=0.0)
    assert shop.additive().owed_ml > before


def test_a_meter_that_rolls_over_is_neither_negative_nor_huge():
    shop = Shop()
    shop.run(60, r_one__charge_meter=999.9)
    shop.wait(3600)
    shop.run(60, r_one__charge_meter=99.9)
    owed = shop.additive().owed_ml
    assert owed == pytest.approx(200.0 * 0.1, rel=0.1)


def test_creep_of_an_idle_rectifier_is_not_plating():
    shop = Shop()
    shop.run(30, r_one__current=0.3, r_two__current=0.0)
    assert shop.additive().accrued_ml == pytest.approx(0.0, abs=1e-9)
    shop.run(10, one__load_present=0.0, r_one__current=3.0)
    before = shop.additive().accrued_ml
    shop.run(600)
    bath = shop.bath
    assert shop.additive().accrued_ml == before
    assert bath.idle_ah == pytest.approx(3.0 * 610 / 3600, rel=0.03)
    assert shop.additive().owed_high_ml > shop.additive().owed_ml


def test_two_rectifiers_of_one_bath_are_one_debt():
    shop = Shop()
    shop.run(3601)
    assert shop.additive().accrued_ml == pytest.approx(200.0 * 0.150, rel=1e-6)
    assert shop.bath.charge_ah == pytest.approx(150.0, rel=1e-6)


@pytest.mark.parametrize("factor", [60.0, 1000.0, 1 / 60.0, 3785.4, 10.0])
def test_a_dose_in_the_wrong_unit_is_far_from_the_usual_one_and_needs_a_reason(factor):
    shop = Shop(with_additives(BRIGHTENER.__class__(
        id="brightener", name="Brightener", dose_ml_per_kah=200.0)))  # fmt: skip
    for _ in range(3):
        shop.run(3700)
        shop.log(30.0)
    shop.run(3700)
    with pytest.raises(Refused, match="a usual dose is 30 mL: look at the unit"):
        shop.log(30.0 * factor)


def test_a_lot_that_was_logged_as_another_additive_is_asked_about():
    shop = Shop()
    shop.run(3600)
    shop.log(30.0, lot="B-17")
    with pytest.raises(Refused, match="logged before as nickel/brightener"):
        shop.log(13.0, "leveller", lot="b-17 ")


def test_before_a_brightener_is_blamed_four_things_are_looked_at():
    shop = Shop()
    shop.run(60, one__temperature=52.0)
    looked_at = shop.bath.looked_at
    assert [each.partition(":")[0] for each in looked_at] == [
        "temperature",
        "pH",
        "contact",
        "metal",
    ]
    assert "low in Nickel one" in looked_at[0]
    with pytest.raises(Refused, match=r"nothing is owed"):
        shop.log(300.0)


def test_after_an_overdose_it_is_told_how_long_plating_uses_it_up():
    shop = Shop()
    shop.run(3600)
    shop.log(130.0, why="jug slipped")
    shop.run(900)
    additive = shop.additive()
    assert additive.owed_ml < 0.0
    per_s = 150.0 * ML_PER_AS
    assert additive.used_up_in_s == pytest.approx(-additive.owed_ml / per_s, rel=0.02)


@pytest.mark.parametrize(
    ("shown", "says"),
    [
        ({"one__temperature": 50.0}, "temperature low"),
        ({"one__level": 700.0}, "level low"),
        ({"r_one__current": 0.0, "r_two__current": 0.0}, "no current for"),
    ],
)
def test_a_cold_low_or_resting_bath_keeps_its_debt(shown, says):
    shop = Shop()
    shop.run(3600)
    shop.run(1200, **shown)
    owed = shop.additive().owed_ml
    with pytest.raises(Refused, match=says):
        shop.log(30.0)
    assert shop.additive().owed_ml == owed


def test_a_second_dose_beyond_the_debt_says_that_the_rate_is_wrong():
    shop = Shop()
    shop.run(3600)
    shop.log(60.0, why="panel was dull")
    shop.run(3700)
    with pytest.raises(Refused, match="twice the same way"):
        shop.log(60.0)


def test_every_dose_carries_the_rate_and_the_configuration_in_force():
    shop = Shop()
    shop.run(3600)
    logged = next(each for each in shop.log(30.0) if each.values.get("what") == "logged")
    assert logged.kind is EventKind.ADDITION
    assert logged.values["rate_ml_per_kah"] == 200.0
    assert logged.values["configuration"] == PLAN.fingerprint
    assert logged.values["who"] == "MK"


def test_missing_water_shows_as_a_higher_concentration_and_no_metal():
    shop = Shop()
    shop.run(60)
    at_level = shop.bath.concentration
    shop.run(60, one__level=800.0)
    low = shop.bath.concentration
    assert low.by_level
    assert low.solution_l == pytest.approx(900.0)
    assert low.predicted_g_per_l == pytest.approx(
        at_level.predicted_g_per_l * 1000.0 / 900.0, rel=1e-3
    )


def test_solution_that_runs_out_takes_its_metal_along_until_an_analysis_tells():
    told = ConditionPlan(id="one.level-runs-out", tag="one.level-runs-out", kind="found")
    shop = Shop(replace(PLAN, conditions=(*PLAN.conditions, told)))
    shop.run(60)
    before = shop.bath.concentration
    loses = shop.line.alarms.number["one.level-runs-out"]
    shop.line.alarms.active[loses] = True
    shop.run(60, one__level=700.0)
    shop.line.alarms.active[loses] = False
    shop.run(60, one__level=700.0)
    after = shop.bath.concentration

    assert (after.has_lost, after.by_level) == (True, False)
    assert after.predicted_g_per_l == pytest.approx(before.predicted_g_per_l, rel=1e-3)


def test_reverse_charge_is_counted_apart_and_owes_nothing():
    shop = Shop()
    shop.run(60, r_one__current=0.0, r_two__current=0.0)
    before = shop.additive().accrued_ml
    shop.run(600, r_one__current=-100.0)
    assert shop.additive().accrued_ml == before
    assert shop.bath.reverse_ah == pytest.approx(100.0 * 600 / 3600, rel=0.01)


def test_a_debt_of_a_whole_night_is_not_dosed_in_one_shot():
    shop = Shop()
    shop.run(3600, r_one__current=5000.0)
    assert shop.additive().owed_ml > 900.0
    assert shop.additive().next_ml == 500.0
    shop.log(500.0)
    assert shop.additive().next_ml == 0.0
    with pytest.raises(Refused, match="within the hour"):
        shop.log(400.0)


def test_what_the_laboratory_adds_pays_the_debt_first():
    shop = Shop()
    shop.run(3600)
    owed = shop.additive().owed_ml
    shop.log(20.0, who="LAB")
    assert shop.additive().owed_ml == pytest.approx(owed - 20.0, abs=1e-6)


def test_a_volume_says_where_it_comes_from_or_that_nobody_measured_it():
    # The words are drawn by the bath's page; the picture carries the source.
    assert Shop().bath.concentration.volume_from == ""
    assert Shop().bath.concentration.usual_l == 1000.0


def test_anodes_that_are_hung_are_no_metal_in_the_bath_but_salts_are():
    shop = Shop(with_additives(BRIGHTENER, LEVELLER, SALT, ANODES))
    shop.run(60)
    before = shop.bath.concentration
    shop.log(5000.0, "anodes", why="baskets filled")
    assert shop.bath.concentration.predicted_g_per_l == before.predicted_g_per_l
    shop.log(1000.0, "salt", why="metal was low")
    after = shop.bath.concentration
    assert after.predicted_g_per_l - before.predicted_g_per_l == pytest.approx(0.223, rel=1e-6)
    assert after.salts_g == pytest.approx(223.0)


def test_charge_of_dummies_and_of_empty_tanks_is_kept_and_marked_apart():
    shop = Shop()
    shop.run(600)
    shop.dummy(begins=True)
    shop.run(600)
    shop.run(600, one__load_present=0.0)
    bath = shop.bath
    assert bath.dummies == ("two",)
    assert bath.dummy_ah > 0.0
    assert bath.idle_ah > 0.0
    assert bath.product_ah + bath.dummy_ah + bath.idle_ah == pytest.approx(
        bath.charge_ah, abs=1e-9
    )
