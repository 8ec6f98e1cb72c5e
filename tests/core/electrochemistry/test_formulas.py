"""Formulas by their laws, by second opinions, and by what they refuse."""

import math
import random

import numpy as np
import periodictable
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.electrochemistry import baths, faraday, rinse, thickness
from linewatch.core.electrochemistry.efficiency import Efficiency
from linewatch.core.electrochemistry.metals import METALS, deposit
from linewatch.core.electrochemistry.uncertainty import (
    Budget,
    charge_budget,
    limits_term,
    mass_budget,
    thickness_budget,
)
from linewatch.core.errors import OutsideValidity, Refused

SENSIBLE = st.floats(1e-3, 1e6)
RATIOS = st.floats(0.01, 1.0)
GROWTH = thickness.Growth(
    equivalent_g_per_ah=1.095, density_g_per_cm3=8.907, efficiency=0.95, area_dm2=10.0
)


@pytest.mark.published
@pytest.mark.parametrize("name", METALS)
def test_a_general_library_of_elements_agrees_on_the_molar_mass(name: str):
    metal = METALS[name]
    theirs = getattr(periodictable, metal.symbol).mass

    assert metal.molar_mass_g_per_mol == pytest.approx(theirs, rel=5e-5)


@pytest.mark.published
@pytest.mark.parametrize("name", METALS)
def test_a_general_library_of_elements_lies_within_the_spread_of_densities(name: str):
    metal = METALS[name]
    theirs = getattr(periodictable, metal.symbol).density

    assert metal.density_low_g_per_cm3 <= theirs <= metal.density_high_g_per_cm3


@pytest.mark.parametrize("name", METALS)
def test_every_metal_tells_year_and_source_and_lies_within_its_own_spread(name: str):
    metal = METALS[name]

    assert str(metal.mass_year) in metal.mass_source
    assert metal.density_source
    assert (
        metal.density_low_g_per_cm3 <= metal.density_g_per_cm3 <= metal.density_high_g_per_cm3
    )


def test_only_lead_has_a_molar_mass_that_depends_on_the_ore():
    """CIAAW gives lead as [206.14, 207.94]; half of that over 207.2 is 0.43 %."""
    assert {name for name in METALS if METALS[name].mass_spread_ratio} == {"Pb(II)"}
    solder = deposit({"Sn(II)": 0.6, "Pb(II)": 0.4})
    lead = deposit({"Pb(II)": 1.0})
    assert lead.equivalent_spread_ratio == pytest.approx(0.9 / 207.2)
    # Lead takes 28 % of the solder's charge, so the equivalent doubts 28 % as much.
    assert solder.equivalent_spread_ratio == pytest.approx(0.0012, rel=0.01)


def test_the_doubt_of_leads_molar_mass_is_a_term_of_its_own():
    sure = mass_budget(charge_budget(sensor_class_ratio=0.01), efficiency=1, low=1, high=1)
    lead = mass_budget(
        charge_budget(sensor_class_ratio=0.01),
        efficiency=1.0,
        low=1.0,
        high=1.0,
        equivalent_spread_ratio=0.9 / 207.2,
    )

    assert [term.name for term in lead.terms if term not in sure.terms] == ["molar mass"]


@pytest.mark.published
def test_a_general_library_of_constants_agrees_on_faraday():
    theirs = scipy.constants.physical_constants["Faraday constant"][0]

    assert theirs == pytest.approx(faraday.FARADAY_C_PER_MOL, rel=1e-9)


def test_every_metal_of_the_list_is_there():
    wanted = (
        "Ag(I) Au(I) Au(III) Cd(II) Co(II) Cr(VI) Cr(III) Cu(I) Cu(II) Fe(II) In(III) Ni(II)"
        " Pb(II) Pd(II) Pt(II) Pt(IV) Rh(III) Sn(II) Sn(IV) Zn(II)"
    )

    assert set(METALS) == set(wanted.split())


@given(charge=SENSIBLE, efficiency=RATIOS, name=st.sampled_from(sorted(METALS)))
def test_charge_for_mass_undoes_mass_for_charge(charge: float, efficiency: float, name: str):
    equivalent = faraday.equivalent_g_per_ah(METALS[name])
    mass = faraday.deposited_mass_g(charge, equivalent, efficiency=efficiency)

    assert faraday.charge_for_mass_ah(mass, equivalent, efficiency=efficiency) == pytest.approx(
        charge
    )


@given(charge=SENSIBLE, share=st.floats(0.0, 1.0))
def test_mass_of_two_parts_is_the_mass_of_the_whole(charge: float, share: float):
    whole = faraday.deposited_mass_g(charge, 1.095, efficiency=0.9)
    parts = [
        faraday.deposited_mass_g(charge * part, 1.095, efficiency=0.9)
        for part in (share, 1.0 - share)
    ]

    assert sum(parts) == pytest.approx(whole)


@given(um=st.floats(1e-3, 1e4), area=st.floats(1e-3, 1e5))
def test_thickness_undoes_mass(um: float, area: float):
    mass = thickness.mass_for_thickness_g(um, 8.907, area)

    assert thickness.mean_thickness_um(mass, 8.907, area) == pytest.approx(um)


@given(first=st.floats(0.01, 0.99))
def test_an_alloy_lies_between_its_metals(first: float):
    alloy = deposit({"Sn(II)": first, "Pb(II)": 1.0 - first})
    pure = [deposit({name: 1.0}) for name in ("Sn(II)", "Pb(II)")]

    equivalents = sorted(each.equivalent_g_per_ah for each in pure)
    densities = sorted(each.density_g_per_cm3 for each in pure)
    assert equivalents[0] <= alloy.equivalent_g_per_ah <= equivalents[1]
    assert densities[0] <= alloy.density_g_per_cm3 <= densities[1]


@pytest.mark.parametrize("fractions", [{"Zn(II)": 0.5}, {"Zn(II)": 1.1}, {"Zn(II)": 0.0}])
def test_fractions_that_do_not_add_up_are_refused(fractions: dict[str, float]):
    with pytest.raises(OutsideValidity, match="fraction"):
        deposit(fractions)


BAD = [-1.0, math.nan, math.inf]


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda x: faraday.deposited_mass_g(x, 1.0, efficiency=0.9), "charge"),
        (lambda x: faraday.deposited_mass_g(1.0, x, efficiency=0.9), "equivalent"),
        (lambda x: faraday.deposited_mass_g(1.0, 1.0, efficiency=x), "efficiency"),
        (lambda x: faraday.charge_for_mass_ah(x, 1.0, efficiency=0.9), "mass"),
        (lambda x: faraday.charge_for_mass_ah(1.0, 1.0, efficiency=x), "efficiency"),
        (lambda x: thickness.mean_thickness_um(x, 1.0, 1.0), "mass"),
        (lambda x: thickness.mean_thickness_um(1.0, x, 1.0), "density"),
        (lambda x: thickness.mean_thickness_um(1.0, 1.0, x), "area"),
        (lambda x: thickness.mass_for_thickness_g(x, 1.0, 1.0), "thickness"),
        (lambda x: thickness.thinnest_um(x, distribution_ratio=0.5), "thickness"),
        (lambda x: thickness.thinnest_um(1.0, distribution_ratio=x), "distribution"),
        (lambda x: thickness.rack_area_dm2(x, 1.0), "count"),
        (lambda x: thickness.barrel_area_dm2(x, 1.0), "weight"),
        (lambda x: thickness.current_density_a_per_dm2(1.0, x), "area"),
        (lambda x: thickness.rate_um_per_h(x, GROWTH), "current"),
        (lambda x: baths.additive_dose_ml(x, 100.0), "charge"),
        (lambda x: baths.additive_dose_ml(1.0, x), "dose"),
        (baths.chromic_acid_g, "chromium"),
        (lambda x: baths.drag_out_that_offsets_l(x, 75.0), "gain"),
        (lambda x: baths.acid_consumed_mol(1.0, hydrogen_ratio=x), "hydrogen"),
        (baths.evaporation_l_per_h_m2, "temperature"),
        (lambda x: rinse.rinse_ratio(x, 1), "water"),
        (lambda x: rinse.flow_for_ratio(x, 1), "ratio"),
        (lambda x: limits_term("sensor", x), "sensor"),
    ],
)
def test_a_negative_or_absurd_number_is_refused_by_name(call, named: str, bad: float):
    with pytest.raises(OutsideValidity, match=named):
        call(bad)


@given(ratio=st.floats(1.5, 1e5), stages=st.integers(1, 4))
def test_the_water_for_a_ratio_gives_that_ratio(ratio: float, stages: int):
    water = rinse.flow_for_ratio(ratio, stages)

    assert rinse.rinse_ratio(water, stages) == pytest.approx(ratio, rel=1e-9)


@given(ratio=st.floats(10.0, 1e4), stages=st.integers(1, 3))
def test_another_stage_never_needs_more_water(ratio: float, stages: int):
    assert rinse.flow_for_ratio(ratio, stages + 1) < rinse.flow_for_ratio(ratio, stages)


def test_a_load_steps_a_rinse_up_and_the_flow_brings_it_down():
    step = rinse.rinse_step(
        drag_out_l=0.16, bath_g_per_l=250.0, volume_l=1000.0, flow_l_per_min=10.0
    )

    assert step.rise_g_per_l == pytest.approx(0.04)
    assert step.decay_s == pytest.approx(6000.0)


CURVE = Efficiency(
    value=0.15,
    low=0.12,
    high=0.18,
    curve_a_per_dm2=(10.0, 20.0, 40.0),
    curve_ratio=(0.10, 0.14, 0.20),
)


@given(density=st.floats(10.0, 40.0))
def test_a_curve_stays_between_its_points(density: float):
    assert 0.10 <= CURVE.at(density) <= 0.20


def test_a_curve_meets_its_points():
    assert [CURVE.at(x) for x in (10.0, 15.0, 20.0, 40.0)] == pytest.approx(
        [0.10, 0.12, 0.14, 0.20]
    )


@pytest.mark.parametrize("density", [9.999, 40.001, math.nan, -1.0])
def test_outside_its_curve_an_efficiency_is_refused_not_extrapolated(density: float):
    with pytest.raises(OutsideValidity, match="current density"):
        CURVE.at(density)


@given(densities=st.lists(st.floats(-5.0, 60.0), max_size=20))
def test_many_densities_at_once_give_what_each_gives_alone(densities: list[float]):
    found = CURVE.at_each(np.array(densities))

    for density, ratio in zip(densities, found.tolist(), strict=True):
        if 10.0 <= density <= 40.0:
            assert ratio == CURVE.at(density)
        else:
            assert math.isnan(ratio)


def test_many_densities_without_a_curve_give_the_single_value_but_nothing_stays_nothing():
    found = Efficiency(value=0.95, low=0.9, high=1.0).at_each(np.array([1.0, math.nan]))

    assert found[0] == 0.95
    assert math.isnan(found[1])


def test_without_a_curve_the_single_value_holds():
    assert Efficiency(value=0.95, low=0.93, high=0.97).at(123.0) == 0.95


@pytest.mark.parametrize(
    "parts",
    [
        {"value": 1.2, "low": 0.9, "high": 1.2},
        {"value": 0.5, "low": 0.6, "high": 0.9},
        {
            "value": 0.5,
            "low": 0.4,
            "high": 0.9,
            "curve_a_per_dm2": (1.0,),
            "curve_ratio": (0.5,),
        },
        {
            "value": 0.5,
            "low": 0.4,
            "high": 0.9,
            "curve_a_per_dm2": (2.0, 1.0),
            "curve_ratio": (0.5, 0.6),
        },
    ],
)
def test_an_efficiency_that_contradicts_itself_is_refused(parts):
    with pytest.raises(OutsideValidity):
        Efficiency(**parts)


def test_the_time_to_a_target_is_the_missing_metal_over_the_rate():
    rate = thickness.rate_um_per_h(20.0, GROWTH)

    assert thickness.time_to_target_s(
        target_um=20.0, present_um=8.0, rate_um_per_h=rate, spread_ratio=0.01
    ) == pytest.approx(3600.0 * 12.0 / rate)


def test_a_target_that_is_reached_takes_no_time_even_without_current():
    assert (
        thickness.time_to_target_s(
            target_um=5.0, present_um=5.0, rate_um_per_h=0.0, spread_ratio=9.0
        )
        == 0.0
    )


def test_an_area_that_was_typed_in_too_small_gives_a_figure_and_stops_no_line():
    """A month of 3000 A on what is said to be 1 cm2: absurd, but a figure to be seen."""
    mass_g = faraday.deposited_mass_g(3000.0 * 720.0, 1.095, efficiency=0.95)
    mean_um = thickness.mean_thickness_um(mass_g, 8.907, 0.01)

    assert thickness.thinnest_um(mean_um, distribution_ratio=0.5) < mean_um


@pytest.mark.parametrize(
    ("rate", "spread", "reason"),
    [(0.0, 0.0, "no current"), (10.0, 0.5, "not steady"), (1e-6, 0.0, "too small"),
     (10.0, math.nan, "not steady")],
)  # fmt: skip
def test_a_time_that_would_mean_nothing_is_refused(rate: float, spread: float, reason: str):
    with pytest.raises(Refused, match=reason):
        thickness.time_to_target_s(
            target_um=5.0, present_um=1.0, rate_um_per_h=rate, spread_ratio=spread
        )


def test_terms_add_in_quadrature():
    budget = Budget(terms=(limits_term("a", 0.03 * 3**0.5), limits_term("b", 0.04 * 3**0.5)))

    assert budget.standard_ratio == pytest.approx(0.05)
    assert budget.expanded_ratio == pytest.approx(0.10)


def test_the_stated_uncertainty_holds_the_truth_nine_times_in_ten_but_not_always():
    """200 seeded plants whose sensor, efficiency and area err within their stated limits.

    Each cause is drawn evenly between its limits, as its limit of error says (GUM 4.3.7).
    Over two million draws 96.7 % lie inside; 200 draws scatter by 1.3 % about that.
    """
    draw = random.Random(1)  # noqa: S311 - draws of a test
    sensor, half, area_limit = 0.01, 0.02, 0.03
    mean_efficiency, current_a, area_dm2 = 0.95, 400.0, 120.0
    metal = METALS["Ni(II)"]
    equivalent = faraday.equivalent_g_per_ah(metal)
    budget = thickness_budget(
        mass_budget(
            charge_budget(sensor_class_ratio=sensor),
            efficiency=mean_efficiency,
            low=mean_efficiency - half,
            high=mean_efficiency + half,
        ),
        area_tolerance_ratio=area_limit,
        density_spread_ratio=0.0,
    )
    inside = 0
    for _ in range(200):
        true_um = thickness.mean_thickness_um(
            faraday.deposited_mass_g(
                current_a,
                equivalent,
                efficiency=mean_efficiency + draw.uniform(-half, half),
            ),
            metal.density_g_per_cm3,
            area_dm2 * (1.0 + draw.uniform(-area_limit, area_limit)),
        )
        read_a = current_a * (1.0 + draw.uniform(-sensor, sensor))
        our_um = thickness.mean_thickness_um(
            faraday.deposited_mass_g(read_a, equivalent, efficiency=mean_efficiency),
            metal.density_g_per_cm3,
            area_dm2,
        )
        inside += abs(our_um - true_um) <= budget.expanded_ratio * our_um

    assert 0.90 <= inside / 200 <= 0.99


@pytest.mark.parametrize(
    ("efficiency", "low", "high"), [(0.0, 0.0, 1.0), (0.9, 0.95, 1.0), (math.nan, 0.0, 1.0)]
)
def test_a_mass_without_a_sensible_efficiency_has_no_budget(efficiency, low, high):
    with pytest.raises(OutsideValidity, match="efficiency"):
        mass_budget(
            charge_budget(sensor_class_ratio=0.01), efficiency=efficiency, low=low, high=high
        )


def test_an_offset_of_the_sensor_is_a_term_of_its_own():
    assert len(charge_budget(sensor_class_ratio=0.01, offset_ratio=0.02).terms) == 2


def test_a_metal_balance_is_what_came_less_what_went():
    balance = baths.metal_balance(
        1000.0,
        1.095,
        cathode_efficiency=0.95,
        anode_efficiency=1.0,
        dragged_out_l=2.0,
        concentration_g_per_l=75.0,
        added_g=10.0,
    )

    assert balance.gain_g == pytest.approx(1095.0 - 1040.25 - 150.0 + 10.0)


@pytest.mark.published
@pytest.mark.parametrize(
    ("degf", "litres"), [(140.0, 2.8229), (150.0, 3.9015), (158.0, 5.0543)]
)
def test_evaporation_follows_the_trades_rule(degf: float, litres: float):
    """The rule's own values (common practice); its sources differ by a factor of two."""
    assert baths.evaporation_l_per_h_m2((degf - 32.0) / 1.8) == pytest.approx(litres, rel=1e-3)
