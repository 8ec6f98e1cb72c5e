"""The cell line, its refusals, and drops of copper."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from linewatch.core.diagnostics.cell import (
    CellLine,
    bus_drop_v,
    contact_loss_w,
    fit_cell_line,
    temperature_factor,
)
from linewatch.core.errors import OutsideValidity, Refused

CHECKS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}


def points(rise_degc: float = 0.0, slope: float = 0.65, wild: int = 0):
    """Return working points of a made-up cell with a logarithmic overvoltage."""
    draw = np.random.default_rng(5)
    density = draw.uniform(1.5, 5.0, 200)
    warmth = 60.0 + rise_degc * np.linspace(0.0, 1.0, 200)
    solution = slope * density * np.exp(-0.0175 * (warmth - 60.0))
    volts = 1.1 + 0.06 * np.log(density) + solution + draw.normal(0.0, 0.01, 200)
    volts[:wild] += 3.0
    return density, volts, warmth


def fit(*made, area: float = 0.03) -> CellLine:
    return fit_cell_line(*made, area_tolerance_ratio=area)


def test_the_slope_of_a_cell_is_found_though_its_overvoltage_is_no_straight_line():
    line = fit(*points())

    assert line.slope_ohm_dm2 == pytest.approx(0.65, rel=0.05)
    assert line.slope_low_ohm_dm2 <= line.slope_ohm_dm2 <= line.slope_high_ohm_dm2
    assert line.spread_v < 0.03


def test_a_fifth_of_wild_points_does_not_move_it():
    assert fit(*points(wild=40)).slope_ohm_dm2 == pytest.approx(0.65, rel=0.08)


def test_a_bath_that_warms_up_meanwhile_does_not_look_like_a_better_contact():
    assert fit(*points(rise_degc=6.0)).slope_ohm_dm2 == pytest.approx(
        0.65 * temperature_factor(63.0, 60.0), rel=0.05
    )


def test_a_worse_contact_shows_as_a_steeper_line():
    good, worse = fit(*points()), fit(*points(slope=0.65 * 1.15))

    assert worse.slope_ohm_dm2 / good.slope_ohm_dm2 == pytest.approx(1.15, rel=0.03)


def test_the_line_expects_what_it_was_fitted_to():
    line = fit(*points())

    assert line.voltage_v(4.0, 60.0) == pytest.approx(
        1.1 + 0.06 * math.log(4.0) + 2.6, abs=0.05
    )


def test_a_line_through_one_working_point_is_refused():
    density, volts, warmth = points()

    with pytest.raises(Refused, match="varied by"):
        fit(4.0 + 0.01 * density, volts, warmth)


def test_too_few_points_are_refused_and_bad_ones_do_not_count():
    density, volts, warmth = points()
    volts[10:] = np.nan

    with pytest.raises(Refused, match="only 10 good points"):
        fit(density, volts, warmth)


def test_an_area_that_is_not_known_is_refused():
    with pytest.raises(Refused, match="area is known to 8%"):
        fit(*points(), area=0.08)
    with pytest.raises(OutsideValidity, match="area"):
        fit(*points(), area=math.nan)


@pytest.mark.published
def test_copper_has_the_standards_resistivity():
    check = CHECKS["bus.resistivity"]

    assert bus_drop_v(1.0, 1.0, 1e6) == pytest.approx(check["value"], rel=check["rel_tol"])


@pytest.mark.published
def test_the_old_rule_of_a_thousand_amperes_a_square_inch():
    check = CHECKS["bus.drop_1000Ain2"]

    assert 1e3 * bus_drop_v(1000.0, 1.0, 645.16) == pytest.approx(
        check["value"], rel=check["rel_tol"]
    )


@pytest.mark.published
def test_the_worked_bus_bar():
    check = CHECKS["bus.worked"]
    drop = bus_drop_v(5000.0, 10.0, 5.0 * 645.16)

    assert [drop, drop * 5000.0] == pytest.approx(check["value"], rel=check["rel_tol"])


def test_a_contact_of_ten_millivolts_at_five_thousand_amperes_makes_fifty_watts():
    assert contact_loss_w(5000.0, 2e-6) == pytest.approx(CHECKS["bus.contact"]["value"])


@pytest.mark.parametrize(
    "call",
    [
        lambda: contact_loss_w(math.inf, 1.0),
        lambda: contact_loss_w(1.0, -1.0),
        lambda: bus_drop_v(math.nan, 1.0, 1.0),
        lambda: bus_drop_v(1.0, -1.0, 1.0),
        lambda: bus_drop_v(1.0, 1.0, 0.0),
    ],
)
def test_absurd_numbers_are_refused(call):
    with pytest.raises(OutsideValidity):
        call()
