"""Ripple from the circuit, against derived and published figures."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.core.diagnostics.ripple import (
    CIRCUIT_OF_PULSES,
    Circuit,
    Fault,
    expected,
    firing_for_output,
    harmonic_ratio,
    waveform,
)
from linewatch.core.errors import OutsideValidity

CHECKS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}


def close(row_id: str):
    """Return the row's value with the row's own tolerance, to compare with."""
    row = CHECKS[row_id]
    return pytest.approx(row["value"], rel=row.get("rel_tol", 0.0), abs=row.get("abs_tol", 0.0))


def test_a_single_phase_bridge_swings_by_half_pi_of_its_mean():
    assert expected(Circuit.TWO_PULSE, Fault.NONE).pp_ratio == close("ripple.2p.pp")


def test_a_single_phase_bridge_has_two_over_pi_of_its_peak_as_mean():
    wave = waveform(Circuit.TWO_PULSE, Fault.NONE, 0.0)

    assert wave.mean() / wave.max() == close("ripple.dc.2p")


@pytest.mark.parametrize(("pulses", "row"), [(6, "ripple.6p.pp"), (12, "ripple.12p.pp")])
def test_more_pulses_swing_less(pulses: int, row: str):
    assert expected(CIRCUIT_OF_PULSES[pulses], Fault.NONE).pp_ratio == close(row)


def test_a_six_pulse_bridge_gives_three_root_two_over_pi_of_the_line_voltage():
    line_to_line_rms = np.sqrt(3.0) / np.sqrt(2.0)

    assert waveform(Circuit.SIX_PULSE, Fault.NONE, 0.0).mean() / line_to_line_rms == close(
        "ripple.dc.6p"
    )


def test_the_sixth_harmonic_of_a_six_pulse_bridge_is_two_over_thirty_five():
    assert harmonic_ratio(Circuit.SIX_PULSE, 6) == close("ripple.6p.h6")


@pytest.mark.parametrize(
    ("circuit", "fault", "row"),
    [
        (Circuit.SIX_PULSE, Fault.DEVICE, "fault.one_device"),
        (Circuit.SIX_PULSE, Fault.PHASE, "fault.phase"),
        (Circuit.SIX_PULSE, Fault.TWO_SAME_HALF, "fault.two_same"),
        (Circuit.DOUBLE_STAR, Fault.DEVICE, "fault.double_star_one"),
        (Circuit.THREE_PULSE, Fault.DEVICE, "fault.p3_one"),
        (Circuit.TWELVE_PULSE, Fault.DEVICE, "fault.p12_one"),
        (Circuit.TWELVE_PULSE, Fault.BRIDGE, "fault.p12_bridge"),
    ],
)
def test_a_fault_leaves_its_share_of_the_mean_and_its_ripple(
    circuit: Circuit, fault: Fault, row: str
):
    found = expected(circuit, fault)

    assert [found.dc_ratio, found.rms_ratio] == close(row)


@pytest.mark.parametrize(
    ("degrees", "row"),
    [(30.0, "ripple.scr.30"), (41.41, "ripple.scr.41p41"), (60.0, "ripple.scr.60")],
)
def test_a_unit_turned_down_ripples_more_though_nothing_is_broken(degrees: float, row: str):
    found = expected(Circuit.SIX_PULSE, Fault.NONE, np.deg2rad(degrees))

    assert [found.dc_ratio, found.rms_ratio] == close(row)


@settings(max_examples=40)
@given(share=st.floats(0.02, 1.0))
def test_the_firing_angle_for_an_output_gives_that_output(share: float):
    firing = firing_for_output(Circuit.SIX_PULSE, share)

    assert expected(Circuit.SIX_PULSE, Fault.NONE, firing).dc_ratio == pytest.approx(
        share, abs=5e-4
    )


@settings(max_examples=40)
@given(
    first=st.floats(0.0, 2.0),
    second=st.floats(0.0, 2.0),
    circuit=st.sampled_from([Circuit.THREE_PULSE, Circuit.SIX_PULSE, Circuit.TWO_PULSE]),
)
def test_firing_later_never_gives_more_output(first: float, second: float, circuit: Circuit):
    early, late = sorted((first, second))

    assert (
        expected(circuit, Fault.NONE, late).dc_ratio
        <= expected(circuit, Fault.NONE, early).dc_ratio + 1e-3
    )


def test_a_circuit_refuses_a_fault_that_it_cannot_have():
    for circuit, fault in [
        (Circuit.SIX_PULSE, Fault.BRIDGE),
        (Circuit.THREE_PULSE, Fault.PHASE),
        (Circuit.ONE_PULSE, Fault.DEVICE),
        (Circuit.TWO_PULSE, Fault.PHASE),
    ]:
        with pytest.raises(ValueError, match="cannot have"):
            waveform(circuit, fault, 0.0)


@pytest.mark.parametrize("firing", [-0.1, np.pi, np.nan])
def test_a_firing_angle_outside_its_range_is_refused(firing: float):
    with pytest.raises(OutsideValidity, match="firing angle"):
        waveform(Circuit.SIX_PULSE, Fault.NONE, firing)


@pytest.mark.parametrize("share", [0.0, -1.0, 1.01, np.nan])
def test_a_share_of_output_outside_its_range_is_refused(share: float):
    with pytest.raises(OutsideValidity, match="share of full output"):
        firing_for_output(Circuit.SIX_PULSE, share)


def test_a_harmonic_that_does_not_exist_is_refused():
    with pytest.raises(OutsideValidity, match="harmonic"):
        harmonic_ratio(Circuit.SIX_PULSE, 0)


def test_a_two_pulse_bridge_with_one_device_open_is_a_one_pulse_circuit():
    broken = expected(Circuit.TWO_PULSE, Fault.DEVICE)

    assert broken.dc_ratio == pytest.approx(0.5)
    assert broken.rms_ratio == pytest.approx(expected(Circuit.ONE_PULSE, Fault.NONE).rms_ratio)
