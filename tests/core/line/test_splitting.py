"""One rectifier on two tanks: whose charge it is goes by what hangs there."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.commands import LoadCard
from linewatch.core.line import Line
from linewatch.core.loads.why import why
from tests.core.line import bathing
from tests.core.line.test_loads import PLAN, STEP_S, Shop, card

ONE, TWO = bathing.PLAN.rectifiers
SHARED = replace(PLAN, rectifiers=(replace(ONE, feeds=(("one", 0.5), ("two", 0.5))),))


def area(load: str, dm2: float) -> LoadCard:
    return card(load=load, area_dm2=dm2)


def both(shop: Shop, seconds: int = 3600) -> None:
    """Let load 7 into one, load 8 into two, both at once, under 100 A."""
    shop.run(10, one__load_number=7.0, two__load_number=8.0)
    shop.run(seconds, one__load_present=1.0, two__load_present=1.0, r_one__current=100.0)
    shop.run(20, one__load_present=0.0, two__load_present=0.0, r_one__current=0.0)


def charge_ah(shop: Shop, number: str) -> float:
    return shop.record(number).stays[-1].charge_ah


def test_two_loads_on_one_rectifier_share_its_charge_by_area():
    shop = Shop(SHARED)
    shop.say(area("7", 30.0))
    shop.say(area("8", 90.0))
    both(shop)

    assert charge_ah(shop, "7") == pytest.approx(25.0, rel=0.01)
    assert charge_ah(shop, "8") == pytest.approx(75.0, rel=0.01)
    # Equal density: equal thickness.
    seven, eight = (shop.record(each).stays[-1] for each in "78")
    assert seven.thickness_um == pytest.approx(eight.thickness_um, rel=1e-6)
    assert (seven.shared_with, eight.shared_with) == ("8", "7")
    notes = why(shop.record("7"))[0].notes
    assert "shared by area with load 8, on the same rectifier" in notes


def test_a_load_that_hangs_alone_received_everything():
    shop = Shop(SHARED)
    shop.run(10, one__load_number=7.0)
    shop.run(3600, one__load_present=1.0, r_one__current=100.0)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)

    assert charge_ah(shop, "7") == pytest.approx(100.0, rel=0.01)
    assert shop.record("7").stays[-1].shared_with == ""


def test_a_load_that_comes_later_shares_only_from_then_on():
    shop = Shop(SHARED)
    shop.say(area("7", 30.0))
    shop.say(area("8", 90.0))
    shop.run(10, one__load_number=7.0, two__load_number=8.0)
    shop.run(3600, one__load_present=1.0, r_one__current=100.0)
    shop.run(3600, two__load_present=1.0)
    shop.run(20, one__load_present=0.0, two__load_present=0.0, r_one__current=0.0)

    assert charge_ah(shop, "7") == pytest.approx(125.0, rel=0.01)
    assert charge_ah(shop, "8") == pytest.approx(75.0, rel=0.01)


def test_where_an_area_is_not_known_the_configured_shares_hold():
    feeds = (("one", 0.8), ("two", 0.2))
    plan = replace(
        SHARED,
        rectifiers=(replace(ONE, feeds=feeds),),
        parts=(),
        tanks=tuple(replace(tank, area_dm2=None) for tank in SHARED.tanks),
    )
    shop = Shop(plan)
    both(shop)

    assert charge_ah(shop, "7") == pytest.approx(80.0, rel=0.01)
    assert charge_ah(shop, "8") == pytest.approx(20.0, rel=0.01)


def test_a_shared_load_is_less_sure_by_the_doubt_of_both_areas():
    alone, beside = Shop(SHARED), Shop(SHARED)
    beside.say(area("7", 50.0))
    beside.say(area("8", 50.0))
    both(beside)
    alone.say(area("7", 50.0))
    alone.run(10, one__load_number=7.0)
    alone.run(3600, one__load_present=1.0, r_one__current=50.0)
    alone.run(20, one__load_present=0.0, r_one__current=0.0)
    sure, unsure = (shop.record("7").stays[-1] for shop in (alone, beside))

    assert "shared by area" in unsure.doubts
    assert "shared by area" not in sure.doubts
    # Half of it is another's: (1 - 1/2) of the two limits of 1 %, as a rectangle (JCGM 100).
    ratio = unsure.charge_pm_ah / unsure.charge_ah
    before = sure.charge_pm_ah / sure.charge_ah
    assert ratio**2 - before**2 == pytest.approx((2 * 0.01 / 3**0.5) ** 2, rel=0.05)


def test_the_screen_shows_what_the_record_will_say():
    shop = Shop(SHARED)
    shop.say(area("7", 30.0))
    shop.say(area("8", 90.0))
    shop.run(10, one__load_number=7.0, two__load_number=8.0)
    shop.run(3600, one__load_present=1.0, two__load_present=1.0, r_one__current=100.0)
    shown = {
        tank.load.number: tank.load.charge_ah
        for tank in shop.line.picture(shop.at).tanks
        if tank.load is not None
    }
    shop.run(20, one__load_present=0.0, two__load_present=0.0)

    assert shown["7"] == pytest.approx(charge_ah(shop, "7"), rel=0.01)
    assert shown["8"] == pytest.approx(charge_ah(shop, "8"), rel=0.01)


@given(
    areas=st.tuples(*[st.floats(1.0, 500.0)] * 2),
    comes=st.tuples(*[st.integers(0, 20)] * 2),
    stays=st.tuples(*[st.integers(1, 20)] * 2),
)
def test_what_loads_share_adds_up_to_what_the_rectifier_gave_while_any_hung_there(
    areas, comes, stays
):
    shop = Shop(SHARED)
    for number, dm2 in zip("78", areas, strict=True):
        shop.say(area(number, dm2))
    shop.run(10, one__load_number=7.0, two__load_number=8.0)
    for step in range(42):
        there = [come <= step < come + stay for come, stay in zip(comes, stays, strict=True)]
        shop.run(
            STEP_S,
            one__load_present=float(there[0]),
            two__load_present=float(there[1]),
            r_one__current=60.0 if any(there) else 0.0,
        )
    shop.run(20, one__load_present=0.0, two__load_present=0.0, r_one__current=0.0)
    given_ah = shop.line.rectifiers["r-one"].ledger.cathodic
    from linewatch.core.integration.charge import uas

    got = charge_ah(shop, "7") + charge_ah(shop, "8")
    # Between two loads a last sample may still flow while nothing hangs there.
    assert got <= uas(given_ah) / 3.6e9 + 1e-6
    assert got == pytest.approx(uas(given_ah) / 3.6e9, abs=2 * 60.0 * STEP_S / 3600)


def test_what_is_shared_goes_on_through_a_restart():
    whole, halves = Shop(SHARED), Shop(SHARED)
    for shop in (whole, halves):
        shop.say(area("7", 30.0))
        shop.say(area("8", 90.0))
        shop.run(10, one__load_number=7.0, two__load_number=8.0)
        shop.run(1800, one__load_present=1.0, two__load_present=1.0, r_one__current=100.0)
    halves.line = Line(SHARED, halves.line.memory())
    for shop in (whole, halves):
        shop.run(1800)
        shop.run(20, one__load_present=0.0, two__load_present=0.0, r_one__current=0.0)

    assert charge_ah(halves, "7") == pytest.approx(charge_ah(whole, "7"), rel=1e-3)
