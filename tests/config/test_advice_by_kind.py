"""What alarms say fits the position that they are about."""

import pytest

from linewatch.config.advice import advice
from linewatch.config.library import shipped
from linewatch.config.works import read
from linewatch.core.plan import TANK_KINDS

PLAN = read(shipped() / "demo.toml").plan
BY_ID = {each.id: each for each in PLAN.conditions}
KIND = {tank.id: tank.kind for tank in PLAN.tanks}
WORDS = {
    # what only some kinds of position can suffer: the words, and the kinds
    "cleaner": {"clean", "electroclean"},
    "plated past": {"strike", "plate", "cell"},
    "pits": {"strike", "plate", "cell"},
    "passivates crack": {"dry"},
    "parts suffer": set(TANK_KINDS) - {"rinse", "dry", "bake"},
    "water boils off": set(TANK_KINDS) - {"dry", "bake"},
    "stays bare": set(TANK_KINDS) - {"treat", "extract", "supply", "dry", "bake"},
    "filter stops": set(),
}


@pytest.mark.parametrize("words", WORDS)
def test_a_consequence_is_one_that_its_kind_of_position_can_suffer(words):
    for each in PLAN.conditions:
        kind = KIND.get(each.id.partition(".")[0])
        if kind is not None and words in each.consequence:
            assert kind in WORDS[words], each.id


def test_a_nickel_bath_that_cools_says_what_becomes_of_its_deposit():
    assert "cleaner" not in BY_ID["nickel-1.heat-lost"].consequence
    assert "burns early" in BY_ID["nickel-1.heat-lost"].consequence
    assert "cleaner" in BY_ID["soak-clean-1.heat-lost"].consequence


def test_a_load_overdue_is_told_differently_in_a_rinse_a_dryer_a_bath_and_an_acid():
    places = ("rinse", "dry", "plate", "activate", "clean", "passivate", "bake", "load")
    said = {each: advice(each, "load-present", "overdue") for each in places}
    assert len({each.consequence for each in said.values()}) == len(places)
    for each in ("rinse", "dry", "bake", "load"):
        assert "to its rinse" not in said[each].action


def test_the_unit_of_a_cleaner_lays_down_no_metal():
    for name in ("fault.discrete", "open-circuit", "set-low", "at-voltage-limit"):
        cleans = BY_ID[f"rectifier-electroclean.{name}"].consequence
        plates = BY_ID[f"rectifier-nickel-1.{name}"].consequence
        assert cleans != plates

    assert "will not stick" in BY_ID["rectifier-electroclean.open-circuit"].consequence


def test_air_and_filter_of_one_tank_are_not_told_alike():
    assert "filter" not in BY_ID["nickel-2.pressure.air.high"].cause
    assert "filter" in BY_ID["nickel-2.pressure.filter.high"].cause
    assert "strike" in BY_ID["copper-strike.left-too-soon"].consequence
