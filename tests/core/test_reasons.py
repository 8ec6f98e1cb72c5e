"""Which things' figures are worked out, and which are told whole by the picture."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.errors import Refused
from linewatch.core.reasons import explain
from tests.core.line import bathing


def shown(plan=bathing.PLAN):
    shop = bathing.Shop(plan)
    return shop.line.picture(shop.at)


@pytest.mark.parametrize(
    "about", ["alarm any.thing.low", "additive nickel/brightener", "tag x.ph"]
)
def test_what_the_picture_tells_whole_is_not_called_unknown(about):
    assert explain(bathing.PLAN, shown(), about) == []


def test_a_thing_that_is_not_there_is_refused_with_those_that_are():
    with pytest.raises(Refused, match="there is no such thing"):
        explain(bathing.PLAN, shown(), "tank nowhere")


def test_each_additive_of_a_bath_is_owed_under_its_own_name():
    bath = bathing.PLAN.baths[0]
    first = bath.additives[0]
    two = replace(bath, additives=(first, replace(first, id="second", name="Leveller")))
    plan = replace(bathing.PLAN, baths=(two,))
    figures = [each.figure for each in explain(plan, shown(plan), f"bath {bath.id}")]
    assert figures == [f"additive owed: {first.name}", "additive owed: Leveller"]


def test_what_is_explained_is_called_as_people_call_it_with_the_id_of_what_is_typed():
    plan = replace(
        bathing.PLAN,
        tanks=tuple(replace(each, number="7", name="Bright") for each in bathing.PLAN.tanks),
        rectifiers=tuple(replace(each, name="Old unit") for each in bathing.PLAN.rectifiers),
    )
    picture = shown(plan)
    tank = next(each for each in picture.tanks if each.charge is not None)
    unit = tank.rectifiers[0]

    why = explain(plan, picture, f"tank {tank.id}")[0]
    assert why.figure == "cathodic charge through 7 Bright"
    assert f"Old unit ({unit}.current)" in why.inputs[0].source
    assert explain(plan, picture, unit)[0].figure == "cathodic charge through Old unit"
    with pytest.raises(Refused, match=rf"7 Bright \({tank.id}\)"):
        explain(plan, picture, "nowhere")


def test_a_charge_and_a_metal_that_miss_something_say_how_much_and_times_add_up():
    picture = shown()
    tank = next(each for each in picture.tanks if each.metal is not None)
    charge = replace(
        tank.charge,
        cathodic_ah=290.7,
        metered_s=6205.4,
        recovered_s=0.0,
        unmetered_s=1.2,
        elapsed_s=6206.6,
        missed_ah=1756.0,
    )
    metal = replace(tank.metal, mass_g=304.0, uncertainty_g=4.0, missed_g=1920.0)
    short = replace(tank, charge=charge, metal=metal)
    told = {
        each.figure: each.notes
        for each in explain(bathing.PLAN, replace(picture, tanks=(short,)), f"tank {tank.id}")
    }
    by_charge = next(notes for figure, notes in told.items() if "charge" in figure)
    assert "Metered 6206 s" in by_charge[0]
    assert "unmetered 1 s of 6207 s" in by_charge[0]
    assert "At least: up to 1756 A·h more" in by_charge[1]
    by_metal = next(notes for figure, notes in told.items() if figure.startswith("deposited"))
    assert "At least: up to 1920 g more" in by_metal[-1]
