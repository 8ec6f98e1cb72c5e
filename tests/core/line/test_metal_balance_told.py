"""An analysis of the metal begins its account anew, and tells of the time before it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.commands import LogAnalysis
from linewatch.core.laboratory.estimates import intervals
from linewatch.core.plan import DepositPlan
from tests.core.line import bathing
from tests.core.line.test_loads import PLAN, Shop

BATH = replace(PLAN.baths[0], metal_g_per_l=70.0, volume_l=100.0, drag_out_ml_per_m2=100.0)
WITH_METAL = replace(PLAN, baths=(BATH,))


def found(value: float, unit: str = "g/L", substance: str = "ni") -> LogAnalysis:
    return LogAnalysis(who="LB", subject=BATH.id, substance=substance, value=value, unit=unit)


def predicted(shop: Shop) -> float:
    (bath,) = shop.line.picture(shop.at).baths
    return bath.concentration.predicted_g_per_l


def test_a_laboratorys_metal_begins_the_account_anew_in_any_unit():
    assert isinstance(BATH.deposit, DepositPlan)
    shop = Shop(WITH_METAL)
    shop.run(60)
    shop.say(found(68.0))
    assert predicted(shop) == pytest.approx(68.0, abs=0.1)
    shop.say(found(71_000.0, "mg/L"))
    assert predicted(shop) == pytest.approx(71.0, abs=0.1)
    # Another substance is no metal of this bath.
    shop.say(found(40.0, substance="boric acid"))
    assert predicted(shop) == pytest.approx(71.0, abs=0.1)


def test_the_time_between_two_analyses_is_told_with_all_that_went_in_and_out():
    shop = Shop(WITH_METAL)
    shop.run(60)
    shop.say(found(70.0))
    assert intervals(shop.events, BATH.id) == []
    shop.stay("one", 7, seconds=3600, current=100.0)
    shop.say(found(69.0))
    (told,) = intervals(shop.events, BATH.id)

    laid_g = 100.0 * 1.0949 * bathing.BATH.deposit.efficiency.value
    assert told.laid_g == pytest.approx(laid_g, rel=0.02)
    assert told.carried_g > 0.0
    assert (told.before_g, told.found_g) == (7000.0, pytest.approx(6900.0, rel=1e-3))
