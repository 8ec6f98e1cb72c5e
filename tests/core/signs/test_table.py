"""Every sign: what it tells, what it leaves alone, and what it cannot tell."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.plan import PRIORITIES, TANK_KINDS
from linewatch.core.signs.sign import LOOKS, Seen
from linewatch.core.signs.table import SIGNS, _jumps

VALUES = st.one_of(st.none(), st.floats(-1e4, 1e4))
KINDS = sorted({kind for sign in SIGNS for kind in sign.needs} | {"swing", "work"})
PASTS = st.integers(1, LOOKS).flatmap(
    lambda count: st.fixed_dictionaries(
        {kind: st.lists(VALUES, min_size=count, max_size=count) for kind in KINDS}
    )
)
BY_NAME = {sign.name: sign for sign in SIGNS}


def told(name: str, *, target: float | None = None, **past) -> bool | None:
    kinds = {kind.replace("_", "-"): values for kind, values in past.items()}
    found = BY_NAME[name].look(
        Seen(past=kinds, target=target, rated_a=1000.0, rated_v=12.0, nothing_a=2.0)
    )
    return None if found is None else found.is_there


def test_no_name_is_given_twice_and_every_row_is_whole():
    assert len(BY_NAME) == len(SIGNS)
    for sign in SIGNS:
        assert set(sign.of) <= {"rectifier", *TANK_KINDS}
        assert sign.priority in PRIORITIES
        assert sign.cause
        assert sign.consequence
        assert sign.action
        assert sign.needs
        assert 2 <= sign.looks <= LOOKS
        assert sign.respond_within_s > 0.0


@pytest.mark.parametrize("sign", SIGNS, ids=lambda sign: sign.name)
@given(past=PASTS, target=st.one_of(st.none(), st.floats(0.0, 1e4)))
def test_whatever_is_read_a_sign_tells_a_finite_figure_or_nothing(sign, past, target):
    found = sign.look(Seen(past=past, target=target, rated_a=1000.0, nothing_a=2.0))

    assert found is None or math.isfinite(found.value)


@pytest.mark.parametrize("sign", SIGNS, ids=lambda sign: sign.name)
@given(past=PASTS, target=st.floats(0.0, 1e4))
def test_a_look_at_a_bad_value_tells_nothing(sign, past, target):
    past = {kind: [*values[:-1], None] for kind, values in past.items()}

    assert sign.look(Seen(past=past, target=target, rated_a=1000.0, nothing_a=2.0)) is None


def test_a_current_is_held_against_its_set_point_only_while_both_stand_still():
    assert told("off-set-point", current=[800.0, 800.0], current_set=[1000.0, 1000.0])
    assert told("off-set-point", current=[980.0, 985.0], current_set=[1000.0, 1000.0]) is False
    assert told("off-set-point", current=[300.0, 500.0], current_set=[500.0, 1000.0]) is None
    assert told("off-set-point", current=[0.0, 0.0], current_set=[1000.0, 1000.0]) is None
    # An electrocleaner's current may be told as negative.
    assert told("off-set-point", current=[-995.0] * 2, current_set=[1000.0] * 2) is False


def test_a_current_hunts_only_with_work_in_and_after_its_ramp():
    wild = {"swing": [0.3, 0.2, 0.15], "current": [900.0, 950.0, 905.0]}
    assert told("hunting", work=[1.0, 1.0, 1.0], **wild)
    assert told("hunting", work=[0.0, 1.0, 1.0], **wild) is None
    wild["voltage"] = [11.9, None, 11.8]
    assert told("hunting", work=[1.0, 1.0, 1.0], **wild) is None
    wild["voltage"] = [9.0, None, 9.1]
    assert told("hunting", work=[1.0, 1.0, 1.0], **wild)
    calm = {"swing": [0.3, 0.2, 0.01], "current": [900.0, 902.0, 901.0]}
    assert told("hunting", work=[1.0, 1.0, 1.0], **calm) is False


def test_a_stray_current_is_one_beyond_the_sensors_zero_with_no_work_anywhere():
    assert told("stray-current", work=[0.0, 0.0], current=[15.0, 15.0])
    assert told("stray-current", work=[0.0, 0.0], current=[15.0, 3.0]) is False
    assert told("stray-current", work=[1.0, 0.0], current=[15.0, 15.0]) is None


def test_a_pressure_that_rises_slowly_does_not_tremble():
    rising = [0.3 + 0.02 * k for k in range(20)]
    jumping = [0.3 + 0.05 * (-1) ** k for k in range(20)]
    assert (
        BY_NAME["pump-trembles"].look(Seen(past={"pressure.filter": rising})).is_there is False
    )
    assert BY_NAME["pump-trembles"].look(Seen(past={"pressure.filter": jumping})).is_there


@given(
    st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=40),
    st.floats(-1e3, 1e3),
)
def test_jumps_are_the_same_wherever_the_values_lie(values, shift):
    moved = [value + shift for value in values]
    assert _jumps(moved) == pytest.approx(_jumps(values), abs=1e-6)


def test_jumps_of_a_trend_and_of_noise_are_the_mean_square_successive_difference():
    # Von Neumann 1941: half the mean square successive difference estimates the variance.
    assert _jumps([1.0, 3.0, 1.0, 3.0]) == pytest.approx(math.sqrt(4.0 / 2.0))


def test_a_heater_is_weak_if_it_never_reaches_what_its_plate_says():
    off_and_on = [0.0] * 20 + [66.0] * 20
    weak = [0.0] * 20 + [44.0] * 20
    assert told("heater-weak", target=66.4, heater_current=off_and_on) is False
    assert told("heater-weak", target=66.4, heater_current=weak)
    assert told("heater-weak", target=66.4, heater_current=[0.0] * 40) is None
    assert told("heater-weak", target=None, heater_current=weak) is None


def test_a_ph_swings_if_it_moves_further_than_dosing_makes_it():
    assert told("ph-swings", ph=[8.9, 9.05] * 20) is False
    assert told("ph-swings", ph=[8.6, 9.25] * 20)
