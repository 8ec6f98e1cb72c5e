"""Heat, level, conductivity and the movement of loads in the simulated tanks."""

import numpy as np
import pytest

from linewatch_sim.lines import LINES
from linewatch_sim.solutions import evaporation_l_per_h_m2
from linewatch_sim.works import Works

HOUR_S = 3600.0


def place(works: Works, tank: str) -> int:
    return list(works.solutions.ids).index(tank)


@pytest.mark.published
@pytest.mark.parametrize(("degc", "litres"), [(26.7, 0.69), (82.2, 12.2)])
def test_still_water_evaporates_as_measured(degc: float, litres: float) -> None:
    # EPA 625/8-82-008, as quoted: litres an hour and square metre; last digit as printed
    found = float(evaporation_l_per_h_m2(np.array([degc]))[0])
    assert found == pytest.approx(litres, rel=0.02)


def test_thermostats_keep_every_heated_tank_near_its_set_point(first: Works) -> None:
    heated = [k for k, row in enumerate(first.line.tanks) if row.set_degc and not row.is_air]
    set_degc = np.array([first.line.tanks[k].set_degc for k in heated])
    switched = np.zeros(len(heated))
    before = first.solutions.heater_on[heated].copy()
    for minute in range(150):
        first.advance_to(60.0 * minute, coarsely=True)
        away = first.solutions.temperature_degc[heated] - set_degc
        assert np.abs(away).max() < 2.5
        switched += first.solutions.heater_on[heated] != before
        before = first.solutions.heater_on[heated].copy()
    assert (switched >= 2).all()


def test_a_heater_that_fails_lets_the_bath_cool_by_what_its_surface_loses(first: Works) -> None:
    nickel = place(first, "nickel-2")
    first.solutions.wrong.heater_share[nickel] = 0.0
    # No load and no current: only the surface and the walls take heat.
    first.loads.wrong.moving[:] = 0.0
    first.electrics.wrong.enabled[:] = 0.0
    start = float(first.solutions.temperature_degc[nickel])
    first.advance_to(HOUR_S, coarsely=True)
    fell = start - float(first.solutions.temperature_degc[nickel])
    # 2 to 5 K an hour at 55 to 65 degC for a tank a metre deep (EPA82 and arithmetic)
    assert 2.0 < fell < 5.5


def test_a_cold_load_cools_its_tank_by_the_heat_that_it_takes_up() -> None:
    works = Works(LINES["first"][0], seed=1)
    soak = place(works, "soak-clean")
    works.solutions.wrong.heater_share[:] = 0.0
    while not works.loads.entered[soak]:
        works.advance_to(works.line_s + 1.0, coarsely=True)
    start = float(works.solutions.temperature_degc[soak])
    mass = float(works.loads.mass_kg[soak])
    works.advance_to(works.line_s + 240.0)
    fell = start - float(works.solutions.temperature_degc[soak])
    # m c dT / (V 4.18), steel 0.49 kJ/kg K from room temperature; the surface adds its share
    own = mass * 0.49 * (start - 22.0) / (1800.0 * 4.18)
    assert own * 0.8 < fell < own + 0.6


def test_levels_fall_by_evaporation_and_are_topped_up_like_a_saw(first: Works) -> None:
    nickel = place(first, "nickel-1")
    opened = 0
    levels = []
    for step in range(int(4 * HOUR_S / 30.0)):
        first.advance_to(30.0 * step, coarsely=True)
        opened += int(first.solutions.top_up_open[nickel] > 0)
        if not first.loads.is_in[nickel]:
            levels.append(float(first.solutions.level_mm[nickel]))
    assert opened > 0
    assert 880.0 < min(levels) < 893.0
    assert max(levels) <= 901.0


def test_a_load_lifts_the_level_by_what_it_displaces(first: Works) -> None:
    nickel = place(first, "nickel-1")
    while not first.loads.left[nickel]:
        first.advance_to(first.line_s + 1.0, coarsely=True)
    first.advance_to(first.line_s + 2.0)
    without = float(first.solutions.level_mm[nickel])
    while not first.loads.entered[nickel]:
        first.advance_to(first.line_s + 1.0, coarsely=True)
    first.advance_to(first.line_s + 2.0)
    # 5 to 10 mm for a rack of 100 kg (common practice)
    assert 3.0 < float(first.solutions.level_mm[nickel]) - without < 15.0


def test_a_rinse_steps_up_with_each_load_and_decays_with_volume_over_flow(first: Works) -> None:
    rinse = place(first, "rinse-4")
    while not first.loads.entered[rinse]:
        first.advance_to(first.line_s + 1.0, coarsely=True)
    after = float(first.solutions.conductivity_us[rinse])
    first.loads.wrong.moving[:] = 0.0
    water = first.line.water_us
    first.advance_to(first.line_s + HOUR_S, coarsely=True)
    # A well mixed tank: exp(-t Q / V), 1200 L at 20 L/min, one hour
    left = (float(first.solutions.conductivity_us[rinse]) - water) / (after - water)
    assert left == pytest.approx(np.exp(-60.0 * 20.0 / 1200.0), rel=0.02)


def test_without_water_a_rinse_only_climbs(first: Works) -> None:
    rinse = place(first, "rinse-4")
    first.solutions.wrong.water_share[rinse] = 0.0
    seen = []
    for minute in range(120):
        first.advance_to(60.0 * minute, coarsely=True)
        seen.append(float(first.solutions.conductivity_us[rinse]))
    assert min(np.diff(seen)) > -0.5
    assert seen[-1] > 2.0 * seen[0]


def test_every_load_visits_every_tank_in_order(first: Works) -> None:
    first.advance_to(3 * HOUR_S, coarsely=True)
    way = [stop.tank for stop in first.line.tracks[0].stops]
    visits: dict[int, list[str]] = {}
    for visit in first.visits:
        visits.setdefault(visit.load, []).append(visit.tank)
    whole = [tanks for tanks in visits.values() if len(tanks) == len(way)]
    assert len(whole) >= 8
    assert all(tanks == way for tanks in whole)


def test_a_stalled_conveyor_leaves_every_load_where_it_is(first: Works) -> None:
    first.advance_to(100.0, coarsely=True)
    first.loads.wrong.moving[:] = 0.0
    before = first.loads.load[first.loads.is_in].tolist()
    first.visits.clear()
    first.advance_to(HOUR_S, coarsely=True)
    assert first.loads.load[first.loads.is_in].tolist() == before
    assert not first.visits


def test_the_same_seed_gives_the_same_plant_and_another_seed_another() -> None:
    one, same, other = (Works(LINES["first"][0], seed=seed) for seed in (7, 7, 8))
    for works in (one, same, other):
        works.advance_to(600.0)
    assert one.cathodic_ah.tolist() == same.cathodic_ah.tolist()
    assert one.cathodic_ah.tolist() != other.cathodic_ah.tolist()


def test_catching_up_in_large_steps_gives_nearly_the_same_charge() -> None:
    fine, late = (Works(LINES["first"][0], seed=3) for _ in range(2))
    while fine.line_s < 2400.0:
        fine.advance_to(fine.line_s + 100.0)
    late.advance_to(2400.0, coarsely=True)
    assert late.line_s == pytest.approx(2400.0)
    charged = fine.cathodic_ah > 0
    # Moves of loads are seen up to a large step later, a few times an hour.
    np.testing.assert_allclose(late.cathodic_ah[charged], fine.cathodic_ah[charged], rtol=6e-3)
