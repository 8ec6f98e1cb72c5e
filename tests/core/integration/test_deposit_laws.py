"""Deposit charge along an efficiency curve."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.electrochemistry.efficiency import Efficiency
from linewatch.core.integration.charge import FINE_PER_UAS, NS
from linewatch.core.integration.deposit import NOT_COVERED, DepositCurve, deposit
from linewatch.core.integration.ledger import ChargeLedger, Source

POINTS = (5.0, 10.0, 30.0)
RATIOS = (0.08, 0.12, 0.20)
CURVE = DepositCurve(
    tank="chromium", share=0.5, area_dm2=10.0, density_a_per_dm2=POINTS, ratio=RATIOS
)
# Half of the current over 10 dm2: 5 A/dm2 is 100 A of the rectifier.
LEAST_A, MOST_A = 100.0, 600.0


@given(st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=40))
def test_one_and_many_follow_the_curve_alike(currents):
    many = CURVE.deposits_ua(np.array(currents)).tolist()

    assert many == [CURVE.deposit_ua(each) for each in currents]


@given(st.floats(LEAST_A, MOST_A))
def test_the_curve_is_that_of_the_formula(current_a):
    theirs = Efficiency(
        value=0.15, low=0.1, high=0.2, curve_a_per_dm2=POINTS, curve_ratio=RATIOS
    ).at(CURVE.density(current_a))

    assert CURVE.deposit_ua(round(current_a * 1e6)) == pytest.approx(
        0.5 * current_a * 1e6 * theirs, abs=1.0
    )


@pytest.mark.parametrize("current_a", [1.0, 99.99, 600.01, 5000.0])
def test_outside_the_curve_nothing_is_extrapolated(current_a):
    assert CURVE.deposit_ua(round(current_a * 1e6)) == NOT_COVERED
    assert not CURVE.covers(current_a)


@pytest.mark.parametrize("current_a", [0.0, -50.0, -5000.0])
def test_an_anodic_current_lays_nothing_down(current_a):
    assert CURVE.deposit_ua(round(current_a * 1e6)) == 0


def ledger_of(*currents_a: float) -> ChargeLedger:
    ledger = ChargeLedger(Source(sign=1, curves=(CURVE,)))
    for second, current_a in enumerate(currents_a):
        ledger.current(second * NS, current_a, 3 * NS)
    return ledger


def test_a_constant_current_lays_down_its_efficiency():
    ledger = ledger_of(200.0, 200.0, 200.0)

    # 10 A/dm2: 12 % of the half that goes through this tank, over 2 s.
    assert ledger.deposits == [round(0.12 * 100e6) * 2 * FINE_PER_UAS]
    assert ledger.not_covered == [0]


def test_charge_that_the_curve_does_not_tell_is_kept_apart():
    ledger = ledger_of(50.0, 50.0, 200.0, 200.0)

    assert ledger.not_covered == [(50 + 125) * 10**6 * FINE_PER_UAS]
    assert ledger.deposits == [round(0.12 * 100e6) * FINE_PER_UAS]
    assert ledger.cathodic == (50 + 125 + 200) * 10**6 * FINE_PER_UAS


def test_only_the_cathodic_part_of_a_crossing_lays_metal_down():
    # From 200 A to -200 A in a second: cathodic for the first half.
    ledger = ledger_of(200.0, -200.0)
    back = ledger_of(-200.0, 200.0)

    assert ledger.deposits == [round(0.12 * 100e6) * NS // 2]
    assert back.deposits == ledger.deposits
    assert deposit((10, -30), (4, 0), 8) == 4 * 10 * 8 // 40


def test_a_current_that_starts_at_nothing_is_covered_from_there():
    ledger = ledger_of(0.0, 200.0)

    assert ledger.not_covered == [0]
    assert ledger.deposits == [round(0.12 * 100e6) * NS]
