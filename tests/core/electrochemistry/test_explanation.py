"""A figure's explanation is enough to work the figure out again."""

import math

import pytest

from linewatch.core.electrochemistry import explanation, faraday, thickness
from linewatch.core.electrochemistry.explanation import Explanation, GivenInput
from linewatch.core.electrochemistry.metals import deposit
from linewatch.core.electrochemistry.uncertainty import charge_budget

CHARGE = GivenInput(
    name="cathodic charge",
    symbol="Q",
    value=250.0,
    unit="A.h",
    source="rectifier-2.current",
    quality=0,
    utc_ns=1_700_000_000_000_000_000,
)
EFFICIENCY = GivenInput(name="efficiency", symbol="η", value=0.95, unit="", source="the bath")
AREA = GivenInput(name="area", symbol="A", value=120.0, unit="dm2", source="the load")
ALLOY = deposit({"Zn(II)": 0.86, "Ni(II)": 0.14})
NICKEL = deposit({"Ni(II)": 1.0})


def by_symbol(why: Explanation) -> dict[str, float]:
    return {each.symbol: each.value for each in (*why.constants, *why.inputs)}


def test_a_mass_can_be_worked_out_again_from_its_explanation():
    mass_g = faraday.deposited_mass_g(250.0, NICKEL.equivalent_g_per_ah, efficiency=0.95)
    why = explanation.explain_mass(mass_g, NICKEL, inputs=(CHARGE, EFFICIENCY))

    told = by_symbol(why)
    again_g = told["M(Ni)"] / (told["n(Ni)"] * told["F"]) * told["η"] * told["Q"]
    assert again_g == pytest.approx(why.value, rel=1e-12)


def test_the_thickness_of_an_alloy_can_be_worked_out_again_from_its_explanation():
    mass_g = faraday.deposited_mass_g(250.0, ALLOY.equivalent_g_per_ah, efficiency=0.95)
    mean_um = thickness.mean_thickness_um(mass_g, ALLOY.density_g_per_cm3, 120.0)
    why = explanation.explain_thickness(mean_um, ALLOY, inputs=(CHARGE, EFFICIENCY, AREA))

    told = by_symbol(why)
    parts = ("Zn", "Ni")
    k = 1.0 / sum(told[f"w({part})"] / told[f"k({part})"] for part in parts)
    rho = 1.0 / sum(told[f"w({part})"] / told[f"ρ({part})"] for part in parts)
    again_um = 100.0 * k * told["η"] * told["Q"] / (rho * told["A"])
    assert again_um == pytest.approx(why.value, rel=1e-12)
    assert (told["k"], told["ρ"]) == pytest.approx((k, rho))


def test_every_constant_has_a_source():
    constants = explanation.constants_of(ALLOY, with_density=True)

    assert all(each.source for each in constants)
    assert "2019" in constants[0].source


def test_the_plus_or_minus_is_twice_the_standard_uncertainty():
    """JCGM 100:2008 6.2: k = 2; 4.3.7: limits of error over the square root of three."""
    why = explanation.explain_charge(CHARGE, budget=charge_budget(sensor_class_ratio=0.03))

    assert why.plus_or_minus == pytest.approx(250.0 * 2.0 * 0.03 / math.sqrt(3.0))


def test_without_a_budget_nobody_says_how_sure_a_figure_is():
    assert explanation.explain_charge(CHARGE).plus_or_minus is None


def test_an_input_keeps_its_quality_and_time():
    why = explanation.explain_charge(CHARGE, notes=("metered 3.2 h, unmetered 0 h",))

    assert (why.inputs[0].quality, why.inputs[0].utc_ns) == (0, 1_700_000_000_000_000_000)
    assert why.notes == ("metered 3.2 h, unmetered 0 h",)


@pytest.mark.parametrize(
    ("why", "unit"),
    [
        (explanation.explain_rate(52.0, NICKEL, inputs=(EFFICIENCY, AREA)), "um/h"),
        (explanation.explain_time_to_target(600.0, inputs=(AREA,)), "s"),
        (explanation.explain_current_density(4.0, inputs=(AREA,)), "A/dm2"),
        (explanation.explain_dose(2700.0, inputs=(CHARGE,)), "mL"),
    ],
)
def test_each_figure_tells_formula_unit_and_source(why: Explanation, unit: str):
    assert why.unit == unit
    assert why.formula
    assert why.source
    assert why.inputs
