"""Charge, metal, voltage and ripple of the plant against values from outside."""

from typing import Any

import numpy as np
import pytest

from linewatch_sim.faraday import COULOMB_PER_MOL, gram_per_ah
from linewatch_sim.ripple import CURVES
from linewatch_sim.works import FINE_S, Works

METALS = {
    "Ni(II)": "Ni.2",
    "Cu(I)": "Cu.1",
    "Cu(II)": "Cu.2",
    "Zn(II)": "Zn.2",
    "Cr(III)": "Cr.3",
}


@pytest.mark.published
@pytest.mark.parametrize("metal", METALS)
def test_an_ampere_hour_lays_down_its_equivalent(
    metal: str, check_values: dict[str, dict[str, Any]]
) -> None:
    row = check_values[f"ece.{METALS[metal]}"]  # IUPAC atomic weights and SI constants
    assert gram_per_ah([(metal, 1.0)]) == pytest.approx(row["value"], rel=row["rel_tol"])


@pytest.mark.published
def test_the_faraday_constant_is_that_of_the_si(
    check_values: dict[str, dict[str, Any]],
) -> None:
    row = check_values["const.F"]  # SI brochure, 9th edition
    assert pytest.approx(row["value"], rel=row["rel_tol"]) == COULOMB_PER_MOL


@pytest.mark.parametrize("angle", ["30", "41p41", "60"])
def test_ripple_of_a_phase_controlled_bridge(
    angle: str, check_values: dict[str, dict[str, Any]]
) -> None:
    row = check_values[f"ripple.scr.{angle}"]  # derived from the wave, on a resistance
    share, ripple = row["value"]
    mean, curve = CURVES[6, 0]
    # Straight lines between points a degree apart add a little to the row's tolerance.
    assert np.interp(share, mean, curve) / 100.0 == pytest.approx(
        ripple, abs=row["abs_tol"] + 1e-3
    )


def test_a_lost_device_leaves_five_sixths_and_a_lost_phase_two_thirds() -> None:
    # Integrals of the cosine over what still conducts: 5/6 and 2/3, whatever the voltage.
    assert CURVES[6, 1][0][-1] == pytest.approx(5.0 / 6.0, abs=2e-3)
    assert CURVES[6, 2][0][-1] == pytest.approx(2.0 / 3.0, abs=2e-3)


def test_charge_is_the_time_integral_of_the_current(first: Works) -> None:
    share = first.electrics.share
    total = np.zeros(len(first.line.tanks))
    for step in range(1, 6001):
        first.advance_to(step * FINE_S)
        total += np.abs(first.electrics.current_a) @ share * FINE_S / 3600.0
    assert total.sum() > 100.0
    np.testing.assert_allclose(first.cathodic_ah + first.anodic_ah, total, rtol=1e-9, atol=1e-9)


def test_metal_is_charge_times_equivalent_times_the_bath_s_efficiency(first: Works) -> None:
    first.advance_to(3600.0, coarsely=True)
    cells = {cell.id: cell for cell in first.line.cells}
    tanks = list(first.solutions.ids)
    for rectifier in first.line.rectifiers:
        cell, tank = cells[rectifier.cell], tanks.index(rectifier.feeds[0][0])
        usual = first.cathodic_ah[tank] * gram_per_ah(cell.deposit) * cell.efficiency_ratio
        # Ramps run below the usual density, where the efficiency is a little other.
        assert first.metal_g[tank] == pytest.approx(usual, rel=3e-3)


def test_electrocleaning_is_anodic_and_lays_nothing_down(first: Works) -> None:
    first.advance_to(1800.0, coarsely=True)
    tank = list(first.solutions.ids).index("electroclean")
    assert first.anodic_ah[tank] > 10.0
    assert first.cathodic_ah[tank] == 0.0
    assert first.metal_g[tank] == 0.0


def test_a_meter_starts_over_at_its_modulus(first: Works) -> None:
    unit = list(first.electrics.ids).index("rectifier-nickel-2")
    shown = []
    for minute in range(120):
        first.advance_to(60.0 * minute, coarsely=True)
        shown.append(first.electrics.shown_meter_ah(unit))
    assert max(shown) < 1000.0
    assert min(np.diff(shown)) < -900.0
    # Rollover put right, the meter has counted whole ampere-hours of what truly passed.
    counted = np.mod(shown[-1] - shown[0], 1000.0)
    tank = list(first.solutions.ids).index("nickel-2")
    assert counted == pytest.approx(first.cathodic_ah[tank] % 1000.0, abs=1.0)


def test_a_unit_at_its_voltage_limit_gives_less_than_it_is_set_to(first: Works) -> None:
    unit = list(first.electrics.ids).index("rectifier-nickel-1")
    first.electrics.wrong.solution_factor[unit] = 4.0
    first.advance_to(120.0)
    while first.electrics.set_a[unit] == 0.0 or first.electrics.at_limit[unit] == 0.0:
        first.advance_to(first.line_s + 1.0, coarsely=True)
    rated_v = first.line.rectifiers[unit].rated_v
    assert first.electrics.voltage_v[unit] == pytest.approx(rated_v, rel=0.02)
    assert first.electrics.current_a[unit] < 0.8 * first.electrics.set_a[unit]


def test_a_colder_bath_takes_more_volts_at_the_same_current(first: Works) -> None:
    first.advance_to(100.0)
    unit = list(first.electrics.ids).index("rectifier-nickel-1")
    temperature = first.solutions.temperature_degc.copy()
    warm, _ = first.electrics._terminal(temperature)
    cold, _ = first.electrics._terminal(temperature - 5.0)
    # 1.5 to 2 % a kelvin on the solution's part of the voltage (common practice)
    row = first.line.cells[2]
    density = first.electrics.current_a[unit] / first.electrics.area_dm2[unit]
    part = row.solution_v_per_a_per_dm2 * density
    assert 0.075 * part < cold[unit] - warm[unit] < 0.10 * part


def test_swapped_leads_show_a_negative_current_and_count_as_anodic(first: Works) -> None:
    unit = list(first.electrics.ids).index("rectifier-nickel-1")
    first.electrics.wrong.reversed[unit] = 1.0
    first.advance_to(900.0, coarsely=True)
    tank = list(first.solutions.ids).index("nickel-1")
    assert first.anodic_ah[tank] > 50.0
    assert first.cathodic_ah[tank] == 0.0
