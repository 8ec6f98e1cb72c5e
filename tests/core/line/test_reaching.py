"""A load that is thick enough says since when: the moment stands, and time over grows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.line import Line
from linewatch.core.line.loads import Loads
from tests.core.line.test_loads import NS, PLAN, ROUTE, Shop, card

ALONE = replace(PLAN, routes=(replace(ROUTE, steps=ROUTE.steps[:2]),))
"""One stay gives the whole layer of 8 µm."""
TO_TARGET_S = 8.0e-4 * 1e4 * 8.908 / (58.6934 / (2 * 26.8015) * 0.95 * 100.0) * 3600.0
"""8 µm of nickel on 100 dm2 at 100 A and 95 % by Faraday's law [s]. 58.6934 g/mol: CIAAW;
26.8015 A h/mol: CODATA; 8.908 g/cm3: as the library has it."""


def plated(seconds: int) -> Shop:
    shop = Shop(ALONE)
    shop.say(card(part="pin", amount=50.0))
    shop.run(10, one__load_number=7.0)
    shop.run(seconds, one__load_present=1.0, r_one__current=100.0)
    return shop


def pull_s(shop: Shop) -> float:
    """Return how long ago the load should have been pulled [s]."""
    (load,) = [each.load for each in shop.line.picture(shop.at).tanks if each.load]
    assert load.pull_utc_ns is not None
    return (shop.at.utc_ns - load.pull_utc_ns) / NS


def came_in_s(shop: Shop) -> float:
    return shop.line.studies.of(Loads).stays["one"].since_ns / NS


def test_the_time_over_a_target_grows_from_the_moment_when_it_was_reached():
    shop = plated(3600)
    reached_s = came_in_s(shop) + TO_TARGET_S
    assert pull_s(shop) == pytest.approx(shop.at_s - reached_s, abs=30.0)

    for _ in range(4):
        before_s = pull_s(shop)
        shop.run(100)
        assert pull_s(shop) - before_s == pytest.approx(100.0)


def test_the_moment_stands_when_the_current_is_off_or_lower():
    shop = plated(3600)
    before_s = pull_s(shop)
    shop.run(300, r_one__current=0.0)
    shop.run(300, r_one__current=20.0)

    assert pull_s(shop) - before_s == pytest.approx(600.0)


def test_time_to_a_target_and_time_over_it_meet():
    shop = plated(round(TO_TARGET_S) - 100)
    ahead = []
    for _ in range(20):
        shop.run(10)
        ahead.append(pull_s(shop) - shop.at_s)

    assert max(ahead) - min(ahead) < 15.0


def test_the_moment_survives_a_restart_bit_for_bit():
    shop = plated(3600)
    shop.line = Line(ALONE, shop.line.memory())
    again = plated(3600)

    assert pull_s(shop) == pull_s(again)
    assert shop.line.memory() == again.line.memory()


def test_a_larger_load_on_its_card_is_not_thick_enough_any_more():
    shop = plated(3600)
    shop.say(card(part="pin", amount=100.0, why="counted"))
    shop.run(60)

    assert pull_s(shop) < 0.0
