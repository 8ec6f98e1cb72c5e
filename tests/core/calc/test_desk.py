"""The desk's calculator: worked examples from outside, units both ways, refusals by name."""

import contextlib
import dataclasses
import json
import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core import units
from linewatch.core.calc import CALCULATIONS, Answer, work_out
from linewatch.core.errors import LinewatchError, OutsideValidity, Refused, UnitMismatch

ROWS: dict[str, Any] = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}
STANDS_IN = {"charge": "2400 A.h", "area": "50 dm2", "current-density": "4 A/dm2"}
"""One way to give what can be given in several."""


def example(name: str) -> dict[str, str]:
    """Return a question that is made of the examples the calculation itself shows."""
    asked = {each.name: each.example for each in CALCULATIONS[name].inputs}
    chosen = {
        each.name: each.example for each in CALCULATIONS[name].inputs if not each.is_optional
    }
    alternatives = ["current-density"] if name == "time" else ["charge", "area"]
    return chosen | {each: STANDS_IN[each] for each in alternatives if each in asked}


def value(answers: tuple[Answer, ...], name: str) -> float:
    return next(each.value for each in answers if each.name == name)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_the_examples_a_calculation_shows_work(name: str):
    done = work_out(name, example(name))

    assert all(math.isfinite(each.value) for each in done.answers)
    assert done.explanation.value == done.answers[0].value
    assert done.explanation.unit == done.answers[0].unit
    assert CALCULATIONS[name].formula
    assert CALCULATIONS[name].sources


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_example_of_an_input_can_be_read(name: str):
    for each in CALCULATIONS[name].inputs:
        if each.kind == "quantity":
            assert math.isfinite(units.parse(each.example, each.unit))


@pytest.mark.parametrize("name", CALCULATIONS)
def test_an_answer_is_plain_data_for_scripts(name: str):
    text = json.dumps(dataclasses.asdict(work_out(name, example(name))), allow_nan=False)

    assert json.loads(text)["answers"]


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_answer_has_the_same_meaning_in_us_units(name: str):
    for each in work_out(name, example(name)).answers:
        us = each.shown_in("us")
        assert units.convert(us.value, us.unit, each.unit) == pytest.approx(each.value)
        assert each.shown_in("metric") == each


@pytest.mark.published
def test_the_worked_rack_of_nickel():
    """20 µm on 12.5 m2 at 96 % and 4 A/dm2."""
    check = ROWS["ex.ni_rack"]
    shared = {"metal": "Ni(II)", "efficiency": "96 %", "thickness": "20 um"}

    current = work_out("current", {"current-density": "4 A/dm2", "area": "12.5 m2"})
    charge = work_out("charge", {**shared, "area": "12.5 m2"})
    time = work_out("time", {**shared, "current-density": "4 A/dm2"})

    found = [each.answers[0].value for each in (current, charge, time)]
    assert found == pytest.approx(check["value"], rel=check["rel_tol"])


@pytest.mark.published
def test_the_worked_dose():
    check = ROWS["dose.worked"]
    done = work_out("dose", {"rate": "150 mL/kA.h", "current": "2400 A", "time": "7.5 h"})

    assert done.answers[0].value == pytest.approx(check["value"], rel=check["rel_tol"])


@pytest.mark.published
def test_the_worked_alloy_tells_its_parts():
    check = ROWS["alloy.znni14.worked"]
    done = work_out("mass", {"metal": "Zn-14Ni", "efficiency": "50 %", "charge": "1 kA.h"})

    found = [each.value for each in done.answers[:3]]
    assert found == pytest.approx(check["value"], rel=check["rel_tol"])


@pytest.mark.published
@pytest.mark.parametrize(
    ("metal", "row"),
    [("Ni(II)", "ahft2mil.Ni.2"), ("Zn(II)", "ahft2mil.Zn.2"), ("Cr(VI)", "ahft2mil.Cr.6")],
)
def test_the_charge_for_a_mil_on_a_square_foot(metal: str, row: str):
    check = ROWS[row]
    answers = work_out("equivalent", {"metal": metal}).answers

    found = value(answers, "charge for 1 mil on 1 ft²")
    assert found == pytest.approx(check["value"], rel=check["rel_tol"])


@pytest.mark.published
def test_the_printed_rinse_of_one_gallon_in_two_thousand():
    check = ROWS["rinse.exact.1"]
    done = work_out("rinse", {"water": "2000 gal/h", "drag-out": "1 gal/h", "stages": "1"})

    assert done.answers[0].value == pytest.approx(check["value"], rel=check["rel_tol"])


@pytest.mark.published
def test_the_worked_growth_of_a_nickel_bath():
    check = ROWS["metal.ni_growth"]
    question = {
        "metal": "Ni(II)",
        "efficiency": "95.5 %",
        "anode-efficiency": "100 %",
        "charge": "10 kA.h",
        "volume": "4000 L",
    }
    done = work_out("metal-balance", question)
    offset = work_out("metal-balance", question | {"drag-out": "6.5698 L", "bath": "75 g/L"})

    found = [each.value for each in done.answers[:2]]
    assert found == pytest.approx(check["value"][:2], rel=check["rel_tol"])
    # metal.ni_dragout: this drag-out takes the gain away.
    assert offset.answers[0].value == pytest.approx(0.0, abs=492.73 * 1e-4)


@given(charge=st.floats(0.1, 1e6), percent=st.floats(1.0, 100.0), area=st.floats(0.1, 1e4))
def test_the_charge_for_a_thickness_undoes_the_thickness_of_a_charge(
    charge: float, percent: float, area: float
):
    shared = {"metal": "Cu(II)", "efficiency": f"{percent!r} %", "area": f"{area!r} dm2"}
    mean_um = work_out("thickness", shared | {"charge": f"{charge!r} A.h"}).answers[0].value
    if mean_um > 1e5:
        return

    back = work_out("charge", shared | {"thickness": f"{mean_um!r} um"}).answers[0].value
    assert back == pytest.approx(charge, rel=1e-9)


@given(feet=st.floats(1.0, 1e3), minutes=st.floats(1.0, 600.0))
def test_us_units_in_give_what_metric_units_give(feet: float, minutes: float):
    shared = {"metal": "Ni", "efficiency": "0.95", "current": "100 A"}
    us = work_out(
        "thickness", shared | {"time": f"{minutes!r} min", "area": f"{feet!r} ft2"}
    ).answers[0]
    metric = work_out(
        "thickness",
        shared | {"time": f"{minutes * 60!r} s", "area": f"{feet * 0.09290304!r} m2"},
    ).answers[0]

    assert us.value == pytest.approx(metric.value, rel=1e-12)


def test_an_area_comes_from_a_rack_or_from_a_barrel():
    rack = work_out(
        "current-density", {"current": "102 A", "parts": "120", "area-per-part": "0.85 dm2"}
    )
    barrel = work_out(
        "current-density",
        {"current": "102 A", "weight": "60 kg", "area-per-weight": "8 dm2/kg"},
    )

    assert rack.answers[0].value == pytest.approx(1.0)
    assert barrel.answers[0].value == pytest.approx(102.0 / 480.0)


def test_a_time_comes_from_a_current_density_or_from_current_and_area():
    shared = {"metal": "Ni", "efficiency": "95 %", "thickness": "12 um"}
    density = work_out("time", shared | {"current-density": "4 A/dm2"})
    current = work_out("time", shared | {"current": "200 A", "area": "50 dm2"})

    assert current.answers == density.answers


def test_a_bath_tells_what_stays_in_the_last_rinse_and_what_is_carried_out():
    rinse = work_out(
        "rinse",
        {"water": "99 L/h", "drag-out": "1 L/h", "stages": "1", "bath": "75 g/L"},
    )
    carried = work_out("drag-out", {"area": "1 m2", "film": "80 mL/m2", "bath": "75 g/L"})

    assert value(rinse.answers, "in the last stage") == pytest.approx(0.75)
    assert value(carried.answers, "carried out") == pytest.approx(6.0)


def test_the_thinnest_place_is_told_only_where_its_factor_is_known():
    question = example("thickness")
    with_factor = work_out("thickness", question | {"distribution": "0.6"}).answers

    assert value(with_factor, "thinnest place") == pytest.approx(0.6 * with_factor[0].value)
    names = [each.name for each in work_out("thickness", question).answers]
    assert "thinnest place" not in names


def test_a_doubt_is_told_only_where_limits_of_error_are_given():
    """GUM: each limit over the square root of three, squares added, times two."""
    question = {"metal": "Ni", "efficiency": "90 %", "charge": "100 A.h"}
    sure = work_out("mass", question).answers[0]
    doubted = work_out(
        "mass", question | {"sensor-error": "1 %", "efficiency-error": "1.8 %"}
    ).answers[0]

    assert sure.plus_or_minus is None
    assert doubted.plus_or_minus == pytest.approx(
        doubted.value * 2.0 * math.hypot(0.01, 0.018 / 0.9) / math.sqrt(3.0)
    )


def test_the_doubt_of_a_thickness_holds_area_and_density():
    question = example("thickness") | {"area-error": "5 %"}
    done = work_out("thickness", question)

    assert done.explanation.budget is not None
    assert {term.name for term in done.explanation.budget.terms} == {"area", "density"}
    us = done.answers[0].shown_in("us")
    assert us.plus_or_minus is not None
    assert us.plus_or_minus / us.value == pytest.approx(
        done.explanation.budget.expanded_ratio, rel=1e-9
    )


@pytest.mark.parametrize(
    ("name", "texts", "words"),
    [
        ("weight", {}, "use one of mass, thickness"),
        ("mass", {}, "charge is missing|metal is missing"),
        ("mass", {"metal": "Ni", "charge": "1 A.h"}, "efficiency is missing"),
        ("mass", {"metal": "Ni", "efficiency": "1", "current": "1 A"}, "time is missing"),
        (
            "time",
            {"metal": "Ni", "efficiency": "1", "thickness": "1 um"},
            "current-density is missing",
        ),
        ("mass", example("mass") | {"current": "1 A", "time": "1 h"}, "not both"),
        ("mass", example("mass") | {"colour": "red"}, "no input 'colour'"),
        ("time", example("time") | {"current": "5 A", "area": "1 dm2"}, "not both"),
        ("time", example("time") | {"area": "1 dm2"}, "not both"),
        ("thickness", {**example("thickness"), "parts": "3"}, "not both"),
        (
            "metal-balance",
            example("metal-balance") | {"drag-out": "1 L"},
            "bath is missing",
        ),
    ],
)
def test_a_question_that_cannot_be_answered_says_what_is_missing(
    name: str, texts: dict[str, str], words: str
):
    with pytest.raises(Refused, match=words):
        work_out(name, texts)


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("mass", {"charge": "-1 A.h"}, "charge is -1 A·h; valid from 0"),
        ("mass", {"charge": "1e300 A.h"}, "charge is 1e\\+300 A·h; valid from 0 to 1e\\+10"),
        ("mass", {"efficiency": "101 %"}, "efficiency is 101 %; valid from 0 to 100"),
        ("mass", {"efficiency": "-1 %"}, "efficiency"),
        ("mass", {"sensor-error": "-1 %"}, "sensor-error is -1 %; valid from 0 to 100"),
        ("thickness", {"area": "0 dm2"}, "area is 0 dm2"),
        ("thickness", {"area": "1e9 m2"}, "area"),
        ("thickness", {"distribution": "0"}, "distribution factor"),
        ("charge", {"thickness": "-2 um"}, "thickness is -2 µm"),
        ("charge", {"thickness": "12 m"}, "thickness is 12000000 µm; valid from 0 to 100000"),
        ("charge", {"efficiency": "0 %"}, "efficiency is 0"),
        ("time", {"current-density": "0 A/dm2"}, "current density"),
        ("time", {"thickness": "0 um"}, "thickness"),
        ("time", {"efficiency": "0 %"}, "efficiency"),
        ("current", {"current-density": "-4 A/dm2"}, "current density"),
        ("current-density", {"current": "1e9 A"}, "current is 1e\\+09 A"),
        ("rinse", {"stages": "0"}, "stages"),
        ("rinse", {"stages": "11"}, "stages is 11; valid from 1 to 10"),
        ("rinse", {"drag-out": "0 L/h"}, "drag-out"),
        ("rinse-water", {"ratio": "1"}, "rinse ratio is 1"),
        ("evaporation", {"temperature": "-300 degC"}, "temperature is -300 degC"),
        ("drag-out", {"film": "0 mL/m2"}, "film"),
        ("metal-balance", {"volume": "0 L"}, "volume"),
    ],
)
def test_an_absurd_number_is_refused_by_name_and_range(
    name: str, change: dict[str, str], words: str
):
    with pytest.raises(OutsideValidity, match=words):
        work_out(name, example(name) | change)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"charge": "nan A.h"}, "charge"),
        ({"charge": "inf A.h"}, "charge"),
        ({"charge": "5 V"}, "V is a voltage"),
        ({"charge": "5"}, "no unit"),
        ({"efficiency": "95"}, "95 %"),
        ({"metal": "Cu"}, r"Cu\(I\) or Cu\(II\)"),
        ({"metal": "unobtainium"}, "use one of"),
    ],
)
def test_a_text_that_is_no_quantity_is_refused_with_a_remedy(
    change: dict[str, str], words: str
):
    with pytest.raises(UnitMismatch, match=words):
        work_out("mass", example("mass") | change)


@given(
    name=st.sampled_from(sorted(CALCULATIONS)),
    which=st.integers(0, 20),
    text=st.one_of(st.text(max_size=12), st.floats().map(lambda x: f"{x} A.h"), st.just("")),
)
def test_no_text_ever_ends_in_anything_but_an_answer_or_a_refusal(
    name: str, which: int, text: str
):
    asked = CALCULATIONS[name].inputs
    with contextlib.suppress(LinewatchError):
        done = work_out(name, example(name) | {asked[which % len(asked)].name: text})
        assert all(math.isfinite(each.value) for each in done.answers)


@pytest.mark.parametrize("metal", ["ni", "NI", "nickel", "Nickel", "ni(ii)", "Ni"])
def test_a_metal_is_named_as_people_type_it(metal):
    given = {"charge": "2400 A.h", "efficiency": "95 %"}
    told = work_out("mass", {"metal": metal, **given})
    assert told.answers == work_out("mass", {"metal": "Ni(II)", **given}).answers
    assert work_out("mass", {"metal": "ZN-14NI", **given}).answers


def test_a_metal_that_is_none_lists_names_that_are_taken():
    with pytest.raises(UnitMismatch) as refused:
        work_out("mass", {"metal": "cheese"})
    names = refused.value.remedy.removeprefix("use one of ").split(", ")
    assert {"Ni", "Zn", "Cu(I)", "Cu(II)", "brass"} <= set(names)
    for name in names:
        work_out("mass", {"metal": name, "charge": "1 A.h", "efficiency": "95 %"})


def test_what_is_refused_is_told_in_the_unit_that_was_typed():
    given = {"metal": "Ni", "charge": "2400 A.h"}
    with pytest.raises(OutsideValidity, match="efficiency is 120 %; valid from 0 to 100"):
        work_out("mass", {**given, "efficiency": "120 %"})
    with pytest.raises(UnitMismatch, match=r"'2\.5' is no whole number"):
        work_out("rinse", {"stages": "2.5"})
    with pytest.raises(OutsideValidity, match="valid from 1 to 1000000"):
        work_out("rinse", {"stages": "0"})
    with pytest.raises(UnitMismatch, match="thousands without a comma"):
        work_out("mass", {**given, "charge": "2,400 A.h"})


def test_units_are_written_as_on_the_screen():
    assert units.symbol("um/h") == "µm/h"
    assert units.symbol("floz") == "fl oz"
    assert units.parse("2 fl oz", "floz") == 2.0
