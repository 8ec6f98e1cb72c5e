"""Which things' figures are worked out, and which are told whole by the picture."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.cli.explanations import in_words
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
    figures = [each.figure for each in explain(plan, shown(plan), f"bath {bath.id}")][:2]
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


def shop_with_a_hole():
    """Return the picture of a line of which an hour was metered, and half an hour was not."""
    shop = bathing.Shop(bathing.PLAN)
    shop.run(3600)
    shop.run(1800, r_one__current=None, r_one__charge_meter=None)
    return shop.line.picture(shop.at)


def test_a_bath_tells_the_range_that_is_owed_its_metal_and_what_is_in_it():
    picture = shop_with_a_hole()
    (bath,) = picture.baths
    additive = bath.additives[0]
    assert additive.owed_high_ml > additive.owed_ml
    found = {each.figure: each for each in explain(bathing.PLAN, picture, f"bath {bath.id}")}
    owed = found[f"additive owed: {additive.name}"]
    assert (owed.value, owed.most) == (additive.owed_ml, additive.owed_high_ml)
    by = {each.symbol: each.value for each in owed.inputs}
    worked_out = by["r"] * by["Q"] / 1000.0 + by.get("V_other", 0.0) - by["V_dosed"]
    assert worked_out == pytest.approx(additive.owed_ml, abs=0.5)
    assert "not certain" in owed.notes[0]
    assert f"{additive.owed_high_ml:.3g}" in in_words(owed, digits=3).splitlines()[0]
    metal = found[f"deposited {bath.metal.deposit}"]
    assert metal.value == bath.metal.mass_g
    assert metal.plus_or_minus == pytest.approx(bath.metal.uncertainty_g)


def test_the_metal_predicted_in_a_bath_can_be_worked_out_again_by_hand():
    shop = bathing.Shop()
    shop.run(7200)
    picture = shop.line.picture(shop.at)
    told = explain(bathing.PLAN, picture, "bath nickel")[-1]
    by = {each.symbol: each.value for each in told.inputs}
    grams = by["c0"] * by["V0"] + by["m_anodes"] + by["m_salts"]
    grams -= by["m_laid"] + by["m_dragged"]
    assert told.value == pytest.approx(grams / by["V"])
    assert told.value == picture.baths[0].concentration.predicted_g_per_l
    assert by["m_laid"] > 0.0
    assert "loads that left" in {each.source for each in told.inputs}
    bath = picture.baths[0]
    unknown = replace(bath.concentration, drag_out_ml_per_m2=None)
    picture = replace(picture, baths=(replace(bath, concentration=unknown),))
    told = explain(bathing.PLAN, picture, "bath nickel")[-1]
    assert "drag-out is not known: left out" in {each.source for each in told.inputs}


@pytest.mark.parametrize(("reverses", "count"), [(False, 1), (True, 0)])
def test_metal_through_which_current_flowed_the_wrong_way_is_the_most_unless_it_is_meant_to(
    reverses, count
):
    plan = replace(
        bathing.PLAN,
        rectifiers=tuple(replace(each, reverses=reverses) for each in bathing.PLAN.rectifiers),
    )
    picture = shown(plan)
    tank = next(each for each in picture.tanks if each.metal is not None)
    charge = replace(tank.charge, cathodic_ah=15.5, anodic_ah=320.0)
    back = replace(tank, charge=charge, metal=replace(tank.metal, mass_g=18.2))
    found = explain(plan, replace(picture, tanks=(back,)), f"tank {tank.id}")
    metal = next(each for each in found if each.figure.startswith("deposited"))

    most = [note for note in metal.notes if note.startswith("At most: 320.0 A·h flowed")]
    assert len(most) == count
    assert (": at most " in in_words(metal).partition("\n")[0]) is bool(count)
