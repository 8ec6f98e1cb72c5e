"""A load on hold is in the picture until somebody decides otherwise."""

from __future__ import annotations

from linewatch.core.commands import DecideLoad
from linewatch.core.line import Line
from linewatch.core.line.loads import GONE_NS, KEPT, Loads, loads_of
from tests.core.line.test_loads import NS, PLAN, Shop


def decide(decision: str, why: str = "thin at the tip", load: str = "7") -> DecideLoad:
    return DecideLoad(who="AB", load=load, decision=decision, why=why)


def held(shop: Shop) -> list[tuple[str, str, str]]:
    return [(each.load, each.who, each.why) for each in shop.line.picture(shop.at).held]


def left_with_a_hold() -> Shop:
    shop = Shop()
    shop.stay("one", 7)
    shop.say(decide("held"))
    return shop


def test_a_load_on_hold_stands_in_the_picture_though_nothing_about_it_was_odd():
    shop = left_with_a_hold()

    (hold,) = shop.line.picture(shop.at).held
    assert (hold.load, hold.who, hold.why) == ("7", "AB", "thin at the tip")
    assert (hold.part, hold.tank, hold.is_number_reused) == ("Pin", "one", False)


def test_a_load_that_still_hangs_in_its_tank_can_be_on_hold():
    shop = Shop()
    shop.run(10, one__load_number=7.0)
    shop.run(60, one__load_present=1.0)
    shop.say(decide("held"))

    assert held(shop) == [("7", "AB", "thin at the tip")]


def test_another_decision_ends_a_hold():
    shop = left_with_a_hold()
    shop.say(decide("released", "measured again"))

    assert held(shop) == []


def test_a_hold_survives_a_restart():
    shop = left_with_a_hold()
    shop.line = Line(PLAN, shop.line.memory())

    assert held(shop) == [("7", "AB", "thin at the tip")]


def test_a_hold_is_not_forgotten_however_many_loads_leave_after_it():
    shop = left_with_a_hold()
    for number in range(100, 100 + KEPT + 5):
        shop.stay("rinse", number, 10)

    assert held(shop) == [("7", "AB", "thin at the tip")]
    assert len(loads_of(shop.line).trips) <= KEPT + 1
    shop.say(decide("scrap"))
    assert held(shop) == []


def test_a_hold_outlives_its_number_and_ends_for_the_load_that_was_held():
    shop = left_with_a_hold()
    shop.at_s += GONE_NS // NS + 60
    shop.stay("one", 7)
    (hold,) = shop.line.picture(shop.at).held
    assert hold.is_number_reused

    shop.say(decide("released", "measured again"))

    assert held(shop) == []
    assert shop.record(trip=1).decision == "released"
    assert shop.record(trip=2).decision == ""
    assert "the load before this one" in shop.events[-1].text


def test_a_memory_that_knows_no_holds_takes_them_from_its_loads():
    shop = left_with_a_hold()
    kept = dict(loads_of(shop.line).remember())
    del kept["holds"]
    loads = Loads(PLAN)
    loads.recall(kept)

    assert list(loads.holding.holds) == ["7"]
