"""Signals by second opinions, by their inverses, and by what they refuse."""

import math

import pytest
import scipy.constants
import thermocouple_its90
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.errors import OutsideValidity
from linewatch.core.instruments import loop, ph, rtd, thermocouple


@given(t=st.floats(-200.0, 850.0))
def test_a_platinum_thermometer_gives_its_temperature_back(t: float):
    assert rtd.temperature_degc(rtd.resistance_ohm(t)) == pytest.approx(t, abs=1e-6)


@given(kind=st.sampled_from("JKNT"), t=st.floats(-150.0, 390.0), cold=st.floats(0.0, 60.0))
def test_a_thermocouple_gives_its_temperature_back(kind: str, t: float, cold: float):
    measured = thermocouple.emf_mv(kind, t) - thermocouple.emf_mv(kind, cold)

    found = thermocouple.temperature_degc(kind, measured, cold_junction_degc=cold)

    assert found == pytest.approx(t, abs=0.01)


@pytest.mark.published
@given(kind=st.sampled_from("JKNT"), t=st.floats(-190.0, 390.0))
def test_a_general_library_of_thermocouples_agrees(kind: str, t: float):
    theirs = thermocouple_its90.get(kind).emf(t)

    assert thermocouple.emf_mv(kind, t) == pytest.approx(theirs, abs=1e-6)


@pytest.mark.parametrize("ohm", [0.0, 18.0, 391.0, math.inf, math.nan, -5.0])
def test_an_open_or_shorted_thermometer_is_refused(ohm: float):
    with pytest.raises(OutsideValidity, match="resistance"):
        rtd.temperature_degc(ohm)


@pytest.mark.parametrize("t", [-201.0, 851.0, math.nan])
def test_a_temperature_beyond_the_standard_has_no_resistance(t: float):
    with pytest.raises(OutsideValidity, match="temperature"):
        rtd.resistance_ohm(t)


@pytest.mark.parametrize("mv", [100.0, -20.0, math.nan])
def test_a_voltage_that_no_temperature_gives_is_refused(mv: float):
    with pytest.raises(OutsideValidity, match="voltage"):
        thermocouple.temperature_degc("K", mv, cold_junction_degc=25.0)


def test_a_cold_junction_beyond_reason_is_refused():
    with pytest.raises(OutsideValidity, match="temperature"):
        thermocouple.temperature_degc("T", 1.0, cold_junction_degc=5000.0)


def test_an_unknown_type_is_refused():
    with pytest.raises(KeyError):
        thermocouple.emf_mv("Q", 20.0)


@pytest.mark.parametrize("ma", [3.6, 21.0, 0.0, 23.0, math.nan, -4.0])
def test_a_loop_that_tells_a_failure_is_never_a_number(ma: float):
    assert loop.has_failed(ma)
    with pytest.raises(OutsideValidity, match="loop current"):
        loop.from_loop(ma, 0.0, 100.0)


@pytest.mark.parametrize(
    ("ma", "doubtful"), [(3.7, True), (3.8, False), (20.5, False), (20.7, True)]
)
def test_a_saturated_loop_is_doubtful(ma: float, doubtful: bool):  # noqa: FBT001
    assert not loop.has_failed(ma)
    assert loop.is_beyond_range(ma) == doubtful


@given(share=st.floats(0.0, 1.0), low=st.floats(-1e3, 1e3), span=st.floats(1.0, 1e4))
def test_a_loop_is_straight(share: float, low: float, span: float):
    assert loop.from_loop(4.0 + 16.0 * share, low, low + span) == pytest.approx(
        low + share * span, abs=1e-6 * span + 1e-9 * abs(low)
    )


@pytest.mark.published
def test_the_slope_of_a_ph_electrode_is_what_a_general_library_of_constants_gives():
    theirs = (
        scipy.constants.R * 298.15 * math.log(10.0) / scipy.constants.value("Faraday constant")
    )

    assert ph.slope_mv_per_ph(25.0) == pytest.approx(1000.0 * theirs, rel=1e-9)


@pytest.mark.parametrize("t", [-11.0, 131.0, math.nan])
def test_an_electrode_beyond_its_range_has_no_slope(t: float):
    with pytest.raises(OutsideValidity, match="temperature"):
        ph.slope_mv_per_ph(t)
