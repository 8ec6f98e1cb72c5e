"""A load between two tanks: from where, since when, and to where."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.commands import BakeLoad
from linewatch.core.line import Line
from tests.core.line.test_loads import DARK, PLAN, Shop
from tests.core.line.test_ways import WAY, hanging, learned

BARE = replace(PLAN, routes=(), parts=())


def ways(shop) -> list[tuple]:
    shown = shop.line.picture(shop.at).ways
    return [(each.load, each.before, each.to, round(each.out_s)) for each in shown]


def test_a_load_in_a_tank_is_on_no_way():
    shop = Shop()
    shop.run(10, rinse__load_number=7.0)
    shop.run(60, rinse__load_present=1.0)

    assert ways(shop) == []


def test_a_load_that_was_lifted_out_goes_where_its_route_says():
    shop = Shop()
    shop.stay("rinse", 7)

    ((load, before, to, out_s),) = ways(shop)
    assert (load, before, to) == ("7", "rinse", ("one",))
    assert out_s == pytest.approx(20, abs=10)
    (shown,) = shop.line.picture(shop.at).ways
    assert shown.part == "Pin"
    assert shown.since_utc_ns == shop.at.utc_ns - round(shown.out_s * 10**9)


def test_where_a_load_came_in_it_is_no_more_on_its_way():
    shop = Shop()
    shop.stay("rinse", 7)
    shop.run(10, one__load_number=7.0)
    shop.run(20, one__load_present=1.0)

    assert ways(shop) == []


def test_a_load_without_a_number_is_on_its_way_too():
    shop = Shop(DARK)
    shop.run(60, rinse__load_present=1.0)
    shop.run(20, rinse__load_present=0.0)

    ((_, before, to, _),) = ways(shop)
    assert (before, to) == ("rinse", ("one",))


def test_where_no_route_is_known_a_load_goes_where_all_others_went():
    shop = Shop(BARE)
    shop.stay("rinse", 7)
    assert [each[2] for each in ways(shop)] == [()]
    for number in (7, 8):
        shop.stay("one", number)
        shop.stay("rinse", number + 1)

    assert ("9", "rinse", ("one",)) in [each[:3] for each in ways(shop)]


def test_a_load_whose_route_is_done_or_that_is_baked_is_on_no_way():
    shop = Shop()
    shop.stay("two", 7)
    assert [each[2] for each in ways(shop)] == [("oven",)]

    shop.say(BakeLoad(who="MK", load="7", oven="oven"))
    assert ways(shop) == []
    shop.say(BakeLoad(who="MK", load="7", is_in=False))
    assert ways(shop) == []


def test_where_loads_end_their_way_they_are_on_none():
    shop = learned(2)
    assert ways(shop) == []

    shop.load(3.0, way=WAY[:3])
    assert [each[:3] for each in ways(shop)] == [("3", "acid", ("rinse-b",))]


def test_after_half_an_hour_nobody_looks_for_a_load():
    shop = Shop()
    shop.stay("rinse", 7)
    shop.run(1700)
    assert len(ways(shop)) == 1
    shop.run(200)

    assert ways(shop) == []


def test_a_load_on_its_way_survives_a_restart():
    shop = Shop()
    shop.stay("rinse", 7)
    before = ways(shop)
    shop.line = Line(PLAN, shop.line.memory())

    assert ways(shop) == before


def test_a_way_is_late_from_when_its_alarm_would_say_so_and_not_before():
    shop = learned(8)
    shop.dip("acid", 9.0, air_s=40)
    (early,) = shop.line.picture(shop.at).ways
    assert early.allowed_s is not None
    assert not early.is_late

    shop.run(round(early.allowed_s) - 40 + 2)
    (late,) = shop.line.picture(shop.at).ways
    assert late.is_late


def test_time_in_which_nobody_would_have_seen_it_come_in_makes_no_load_late():
    shop = learned(8)
    shop.dip("acid", 9.0, air_s=20)
    shop.silent = {"rinse-b"}
    shop.run(200)
    shop.silent = set()
    shop.run(2)
    (shown,) = shop.line.picture(shop.at).ways

    assert shown.out_s > shown.allowed_s
    assert shown.unseen_s > 100.0
    assert not shown.is_late


def test_a_load_that_was_told_to_hang_is_late():
    shop = hanging()
    (shown,) = shop.line.picture(shop.at).ways

    assert shown.hangs
    assert shown.is_late


def test_where_nothing_is_known_of_what_is_usual_nothing_is_late():
    shop = Shop()
    shop.stay("rinse", 7)
    shop.run(1000)
    (shown,) = shop.line.picture(shop.at).ways

    assert shown.allowed_s is None
    assert not shown.is_late
