"""Water treatment, extraction and supply: what goes wrong shows where it should.

Figures without a source beside them are common practice.
"""

import numpy as np
import pytest

from linewatch_sim.utilities import Utilities
from linewatch_sim.utilities.chemistry import excess_base_mol_per_l, ph_of

FLOWS = (14.0, 11.0, 55.0)
"""Cyanide, chromium and general stream [L/min]."""
MINUTE, HOUR = 60, 3600


def ran(utilities: Utilities, seconds: int, step_s: int = 2) -> dict[str, np.ndarray]:
    """Run in small steps; return what the instruments saw in that time."""
    seen: dict[str, list[float]] = {name: [] for name in utilities.shown}
    for _ in range(seconds // step_s):
        utilities.step(float(step_s), FLOWS)
        for name, value in utilities.shown.items():
            seen[name].append(value)
    return {name: np.array(values) for name, values in seen.items()}


def break_(utilities: Utilities, subject: str, what: str, value: float = 1.0) -> None:
    getattr(utilities.wrong, what)[utilities.ids.index(subject)] = value


@pytest.fixture
def settled() -> Utilities:
    utilities = Utilities(seed=3)
    ran(utilities, HOUR // 2)
    return utilities


def test_a_water_without_excess_acid_or_base_is_near_neutral_and_the_curve_rises():
    grid = np.linspace(-0.05, 0.05, 401)
    ph = np.array([ph_of(float(x)) for x in grid])

    assert np.all(np.diff(ph) > 0.0)
    assert ph_of(excess_base_mol_per_l(9.1)) == pytest.approx(9.1, abs=0.02)


def test_ph_moves_most_where_acid_and_base_are_even():
    def gain(ph: float) -> float:
        step = 1e-5
        base = excess_base_mol_per_l(ph)
        return (ph_of(base + step) - ph_of(base - step)) / (2.0 * step)

    assert gain(8.3) > 10.0 * gain(3.0)
    assert gain(8.3) > 10.0 * gain(11.3)


def test_with_nothing_wrong_every_stage_stays_where_it_should(settled: Utilities):
    seen = ran(settled, HOUR)

    # Ranges: cyanide stage 1 run at +300 to +400 mV and never under pH 10; chromium at pH
    # 2.0-2.5 and +200 to +300 mV; neutral 8.5-9.5; turbidity under 10-15 NTU.
    assert seen["cyanide-oxidation.ph"].min() > 10.2
    assert seen["cyanide-oxidation.orp"].min() > 290.0
    assert seen["chromium-reduction.ph"].max() < 2.5
    assert seen["chromium-reduction.orp"].max() < 300.0
    assert 8.5 < seen["neutralise.ph"].min() < seen["neutralise.ph"].max() < 9.5
    assert seen["settler.turbidity"].max() < 10.0
    assert 6.0 < seen["discharge.ph"].min() < seen["discharge.ph"].max() < 9.5


def test_neutralising_is_a_saw_tooth_and_not_a_line(settled: Utilities):
    ph = ran(settled, HOUR)["neutralise.ph"]
    smooth = np.convolve(ph, np.ones(8) / 8.0, mode="valid")
    turns = np.count_nonzero(np.diff(np.sign(np.diff(smooth[::8]))))

    assert np.ptp(smooth) > 0.15
    assert turns > 8


def test_a_coated_probe_makes_the_teeth_longer_and_slower(settled: Utilities):
    clean = np.ptp(ran(settled, HOUR // 2)["neutralise.ph"])
    break_(settled, "neutralise", "coated", 15.0)
    ran(settled, 10 * MINUTE)

    assert np.ptp(ran(settled, HOUR // 2)["neutralise.ph"]) > 1.5 * clean


def test_a_broken_glass_shows_seven_whatever_is_dosed(settled: Utilities):
    break_(settled, "neutralise", "wet_glass")
    seen = ran(settled, 10 * MINUTE)["neutralise.ph"]

    assert np.all(np.abs(seen - 7.0) < 0.1)
    assert settled.treatment.neutral.ph > 9.5, "dosing runs away"


@pytest.mark.parametrize(
    ("reagent", "shows", "low", "high", "minutes"),
    [
        ("hypochlorite", "cyanide-oxidation.orp", -400.0, -200.0, 10),
        ("reducer", "chromium-reduction.orp", 450.0, 800.0, 10),
        ("acid", "chromium-reduction.ph", 2.5, 14.0, 60),
        ("caustic", "neutralise.ph", 0.0, 8.5, 10),
        ("polymer", "settler.turbidity", 15.0, 100.0, 60),
        ("coagulant", "settler.turbidity", 12.0, 100.0, 60),
    ],
)
def test_a_reagent_that_runs_out_shows_where_it_is_missed(
    settled: Utilities, reagent: str, shows: str, low: float, high: float, minutes: int
):
    break_(settled, f"reagent-{reagent}", "empty")
    seen = ran(settled, minutes * MINUTE)

    assert low < seen[shows][-1] < high
    assert seen[f"reagent-{reagent}.level"][-1] == 0.0


def test_what_was_missing_recovers_when_it_comes_back(settled: Utilities):
    break_(settled, "reagent-hypochlorite", "empty")
    ran(settled, 15 * MINUTE)
    break_(settled, "reagent-hypochlorite", "empty", 0.0)

    assert ran(settled, 15 * MINUTE)["cyanide-oxidation.orp"][-1] > 290.0


def test_a_slug_of_acid_and_a_surge_are_seen_by_neutralising(settled: Utilities):
    break_(settled, "neutralise", "slug", 0.02)
    assert ran(settled, 10 * MINUTE)["neutralise.ph"][-1] < 7.0

    break_(settled, "neutralise", "surge", 2.0)
    assert ran(settled, MINUTE)["neutralise.flow"][-1] == pytest.approx(160.0, rel=0.05)


def test_the_press_climbs_in_steps_while_its_flow_decays_and_is_emptied(settled: Utilities):
    seen = ran(settled, 4 * HOUR)
    pressure, flow = seen["filter-press.pressure"], seen["filter-press.flow"]
    emptied = np.flatnonzero(np.diff(pressure) < -2.0)

    assert emptied.size >= 1
    assert pressure.min() > 0.5
    assert 6.0 < pressure.max() < 6.8
    assert flow[emptied[0]] < 0.4 * flow[emptied[0] + 5]


def test_a_blinded_cloth_is_at_full_pressure_with_little_flow(settled: Utilities):
    break_(settled, "filter-press", "loaded")
    seen = ran(settled, MINUTE)

    assert seen["filter-press.pressure"][-1] > 6.5
    assert seen["filter-press.flow"][-1] < 2.0


def test_reagents_go_down_and_are_refilled(settled: Utilities):
    settled.treatment.level_mm["caustic"] = 260.0
    levels = ran(settled, 4 * HOUR, 5)["reagent-caustic.level"]

    assert np.count_nonzero(np.diff(levels) > 400.0) >= 1
    assert levels.min() > 240.0


def test_a_fan_that_stops_runs_down_and_draws_nothing(settled: Utilities):
    break_(settled, "extract-chromium", "stopped")
    seen = ran(settled, MINUTE)

    assert seen["extract-chromium.motor-current"][-1] == 0.0
    assert seen["extract-chromium.running"][-1] == 0.0
    assert seen["extract-chromium.draught"][1] > 50.0
    assert seen["extract-chromium.draught"][-1] < 1.0
    assert seen["extract-line.running"][-1] == 1.0


def test_a_slipping_belt_lowers_current_and_draught_as_the_trade_knows_it(settled: Utilities):
    before = ran(settled, MINUTE)
    break_(settled, "extract-chromium", "slip", 0.25)
    after = ran(settled, MINUTE)

    def fall(name: str) -> float:
        return 1.0 - float(after[name][-10:].mean() / before[name][-10:].mean())

    # Common practice: current 20-50 % low, draught 30-60 % low.
    assert 0.2 < fall("extract-chromium.motor-current") < 0.5
    assert 0.3 < fall("extract-chromium.draught") < 0.6


def test_a_loaded_pad_and_a_torn_one_leave_the_tested_pressure_drop(settled: Utilities):
    inch_pa = 249.089  # NIST SP 811, appendix B.8: inch of water, 4 degC
    tested = float(ran(settled, MINUTE)["extract-chromium.draught.pad"].mean())
    break_(settled, "extract-chromium", "loaded")
    loaded = float(ran(settled, MINUTE)["extract-chromium.draught.pad"][-10:].mean())
    break_(settled, "extract-chromium", "loaded", 0.0)
    break_(settled, "extract-chromium", "torn")
    torn = float(ran(settled, MINUTE)["extract-chromium.draught.pad"][-10:].mean())

    # EPA-453/B-95-001: the tested value plus or minus one inch of water.
    assert loaded > tested + inch_pa
    assert torn < tested - inch_pa


def test_a_lost_spray_and_a_lost_dose_show_at_the_scrubber(settled: Utilities):
    break_(settled, "scrubber", "stopped")
    break_(settled, "scrubber", "empty")
    seen = ran(settled, HOUR)

    assert seen["scrubber.flow"][-1] == 0.0
    assert seen["scrubber.ph"][-1] < 8.0


def test_the_supply_fills_itself_and_spent_resin_lets_salt_through(settled: Utilities):
    level = ran(settled, 2 * HOUR)["water-supply.level"]
    assert 1300.0 < level.min() < level.max() < 1520.0

    break_(settled, "water-supply", "loaded")
    assert ran(settled, 2 * HOUR)["water-supply.conductivity"][-1] > 50.0


def test_the_same_seed_shows_the_same_noise():
    first, second = ran(Utilities(seed=5), 50), ran(Utilities(seed=5), 50)

    assert all(np.array_equal(first[name], second[name]) for name in first)
    assert not np.array_equal(first["discharge.ph"], ran(Utilities(seed=6), 50)["discharge.ph"])


def test_every_quantity_can_be_read_by_its_name(settled: Utilities):
    for name, value in settled.shown.items():
        subject, _, kind = name.partition(".")
        place = settled.ids.index(subject)
        assert settled.quantities[kind](settled, place) == value
