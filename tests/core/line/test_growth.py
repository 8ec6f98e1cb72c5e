"""Current density and deposition rate: only where a load hangs and a current flows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.reasons import explain
from tests.core.line import bathing


def metal(shop: bathing.Shop):
    return shop.line.picture(shop.at).tanks[0].metal


def test_without_a_load_in_the_tank_there_is_no_density_and_no_rate():
    shop = bathing.Shop()
    shop.run(60)
    loaded = metal(shop)
    # 100 A on 200 dm2; 1.095 g/A·h of nickel at 95 %, 8.908 g/cm3 (CRC Handbook).
    assert loaded.current_density_a_per_dm2 == pytest.approx(0.5)
    assert loaded.rate_um_per_h == pytest.approx(0.5 * 1.095 * 0.95 / 8.908 * 100.0, rel=2e-3)
    shop.run(60, one__load_present=0.0)
    empty = metal(shop)
    assert (empty.current_density_a_per_dm2, empty.rate_um_per_h) == (None, None)
    figures = [why.figure for why in explain(shop.plan, shop.line.picture(shop.at), "one")]
    assert figures
    assert not {"current density", "deposition rate"} & set(figures)


def test_a_current_below_the_sensors_cutoff_has_no_density_though_a_load_hangs():
    shop = bathing.Shop()
    shop.run(60, r_one__current=0.4)
    resting = metal(shop)
    assert (resting.current_density_a_per_dm2, resting.rate_um_per_h) == (None, None)
    # Beyond the cutoff of 0.5 A it counts.
    shop.run(60, r_one__current=0.6)
    assert metal(shop).current_density_a_per_dm2 == pytest.approx(0.003)


def test_density_and_rate_are_told_with_their_doubt():
    shop = bathing.Shop()
    shop.run(60, r_one__current=123.456)
    told = {why.figure: why for why in explain(shop.plan, shop.line.picture(shop.at), "one")}
    density, rate = told["current density"], told["deposition rate"]
    # Sensor 0.5 % and area 5 %, both limits of error: a rectangle's half width over the root
    # of three, in quadrature, doubled (JCGM 100:2008, 4.3.7 and 6.2).
    assert density.budget.expanded_ratio == pytest.approx(
        2.0 * ((0.005**2 + 0.05**2) / 3.0) ** 0.5, rel=1e-6
    )
    assert rate.budget.expanded_ratio > density.budget.expanded_ratio


def test_density_is_explained_by_the_area_of_the_load_that_hangs_there():
    shop = bathing.Shop()
    shop.run(60)
    picture = shop.line.picture(shop.at)
    tank = picture.tanks[0]
    load = replace(tank.load, area_dm2=160.0, area_tolerance_ratio=0.2)
    metal_of_load = replace(tank.metal, current_density_a_per_dm2=100.0 / 160.0)
    seen = replace(picture, tanks=(replace(tank, load=load, metal=metal_of_load),))
    told = {why.figure: why for why in explain(shop.plan, seen, "one")}
    density = told["current density"]
    inputs = {each.symbol: each.value for each in density.inputs}
    assert inputs["I"] / inputs["A"] == pytest.approx(density.value)
    assert density.budget.expanded_ratio == pytest.approx(
        2.0 * ((0.005**2 + 0.2**2) / 3.0) ** 0.5, rel=1e-6
    )
    # A load is told with what the line itself knows of it.
    assert (tank.load.area_dm2, tank.load.area_tolerance_ratio) == (200.0, None)


def test_a_load_of_whose_time_too_much_was_not_metered_tells_how_much():
    shop = bathing.Shop()
    shop.run(300)
    assert shop.line.picture(shop.at).tanks[0].load.unmetered_s == 0.0
    shop.run(300, r_one__current=None, r_one__charge_meter=None)
    load = shop.line.picture(shop.at).tanks[0].load
    assert load.unmetered_s == pytest.approx(300.0, abs=20.0)
    assert f"{load.unmetered_s:.0f} s of its time here were not metered" in load.pull_refused
