"""Charge against closed forms, and the laws that hold for any current."""

import math
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from linewatch.core.integration import many
from linewatch.core.integration.charge import (
    FINE_PER_UAS,
    NS,
    UAS_PER_AH,
    microamperes,
    sum_products,
    trapezoid,
    trapezoids,
    uas,
    whole_microamperes,
)
from linewatch.core.integration.deposit import DepositCurve
from linewatch.core.integration.ledger import ChargeLedger, Source

GAP_NS = 3 * NS
HZ = 1.0
CURRENTS = st.one_of(
    st.floats(-50_000.0, 50_000.0), st.sampled_from([0.0, 1e-6, -1e-6, 100.0, -100.0])
)
STEPS_NS = st.sampled_from([1, 7, NS // 3, NS, NS + 1, 2 * NS, 3 * NS, 3 * NS + 1, 50 * NS])
RUNS = st.lists(st.tuples(STEPS_NS, CURRENTS), min_size=1, max_size=60)
CURVE = DepositCurve(
    tank="chromium",
    share=1.0,
    area_dm2=100.0,
    density_a_per_dm2=(0.5, 10.0, 100.0),
    ratio=(0.05, 0.12, 0.20),
)


def ledger_of(samples, *, gap_ns=GAP_NS, **source) -> ChargeLedger:
    ledger = ChargeLedger(Source(**({"sign": 1} | source)))
    for at_ns, current_a in samples:
        ledger.begin(at_ns)
        ledger.current(at_ns, current_a, gap_ns)
    return ledger


def placed(run) -> list[tuple[int, float]]:
    at_ns, found = 0, []
    for step_ns, current_a in run:
        at_ns += step_ns
        found.append((at_ns, current_a))
    return found


def coulombs(fine: int) -> float:
    return fine / FINE_PER_UAS / 1e6


# Closed forms at 1 Hz, within the trapezoid's own error bound.


def wave(of, seconds: int) -> ChargeLedger:
    return ledger_of([(second * NS, of(float(second))) for second in range(seconds + 1)])


def test_a_ramp_is_exact():
    ledger = wave(lambda t: 2.0 * t, 100)

    # The trapezoid has no error on a straight line: 2 A/s over 100 s is 10 000 C.
    assert ledger.cathodic == 10_000 * 1_000_000 * FINE_PER_UAS
    assert ledger.anodic == 0


def test_a_constant_current_is_exact():
    assert wave(lambda _: 125.0, 3600).cathodic == 125 * UAS_PER_AH * FINE_PER_UAS


@pytest.mark.parametrize("period_s", [20.0, 60.0, 333.0])
def test_a_sine_is_within_the_bound_of_the_second_derivative(period_s: float):
    omega, top, seconds = 2.0 * math.pi / period_s, 300.0, 600
    ledger = wave(lambda t: top + 0.5 * top * math.sin(omega * t), seconds)

    exact = top * seconds + 0.5 * top * (1.0 - math.cos(omega * seconds)) / omega
    # Error of the composite trapezoid: (b - a) h² max|f''| / 12; a µA of rounding besides.
    bound = seconds * 0.5 * top * omega**2 / 12.0 / HZ**2 + 1e-6 * seconds

    assert abs(coulombs(ledger.cathodic) - exact) <= bound


def test_a_sine_about_zero_shares_itself_out_evenly():
    omega, top, periods = 2.0 * math.pi / 40.0, 200.0, 10
    ledger = wave(lambda t: top * math.sin(omega * t), 40 * periods)

    each = periods * top * 2.0 / omega
    bound = 40 * periods * top * omega**2 / 12.0 + 1e-6 * 400

    assert abs(coulombs(ledger.cathodic) - each) <= bound
    assert ledger.cathodic == pytest.approx(ledger.anodic, rel=1e-9)


@pytest.mark.parametrize("edge_s", [10.0, 10.25, 10.5, 10.999])
def test_a_step_is_within_half_its_height_times_one_poll(edge_s: float):
    ledger = wave(lambda t: 400.0 if t >= edge_s else 0.0, 30)

    exact = 400.0 * (30.0 - edge_s)

    assert abs(coulombs(ledger.cathodic) - exact) <= 400.0 / 2.0 / HZ + 1e-6


def test_a_square_wave_is_within_half_a_poll_an_edge():
    def square(t: float) -> float:
        return 150.0 if (t % 20.0) < 15.0 else -180.0

    ledger = wave(square, 200)
    edges = 20

    assert abs(coulombs(ledger.cathodic) - 150.0 * 150.0) <= edges * 330.0 / 2.0
    assert abs(coulombs(ledger.anodic) - 50.0 * 180.0) <= edges * 330.0 / 2.0


# Laws.


@given(run=RUNS, cuts=st.lists(st.integers(0, 60), max_size=5))
def test_cutting_a_run_anywhere_loses_nothing(run, cuts):
    samples = placed(run)
    whole = ledger_of(samples)
    parts = ChargeLedger(Source(sign=1))
    places = sorted({0, len(samples), *(cut for cut in cuts if cut < len(samples))})
    for first, end in pairwise(places):
        for at_ns, current_a in samples[first:end]:
            parts.current(at_ns, current_a, GAP_NS)
        revived = ChargeLedger(Source(sign=1))
        revived.recall(parts.state())
        parts = revived

    whole.began_ns = None
    assert parts == whole


@given(
    run=RUNS,
    pieces=st.lists(st.integers(1, 20), min_size=1, max_size=10),
    sign=st.sampled_from([1, -1]),
    cutoff=st.sampled_from([0, 1_000_000]),
)
def test_many_at_once_equal_one_by_one_to_the_bit(run, pieces, sign, cutoff):
    samples = placed(run)
    source = Source(sign=sign, zero_cutoff_ua=cutoff, curves=(CURVE,))
    singly, at_once = ChargeLedger(source), ChargeLedger(source)
    for at_ns, current_a in samples:
        singly.current(at_ns, current_a, GAP_NS)
    first, turn = 0, 0
    while first < len(samples):
        part = samples[first : first + pieces[turn % len(pieces)]]
        turn += 1
        at_ns = np.array([at for at, _ in part])
        current_a = np.array([current for _, current in part])
        plain = many.plain_rows(at_once, at_ns, current_a, None, GAP_NS)
        if plain:
            many.take_rows(at_once, at_ns[:plain], current_a[:plain], None)
        else:
            plain = 1
            at_once.current(*part[0], GAP_NS)
        first += plain

    assert at_once == singly


@given(run=RUNS)
def test_turning_the_sign_swaps_the_two_charges(run):
    samples = placed(run)
    there = ledger_of(samples)
    back = ledger_of([(at_ns, -current_a) for at_ns, current_a in samples])
    anodic_unit = ledger_of(samples, sign=-1)

    assert (back.cathodic, back.anodic) == (there.anodic, there.cathodic)
    assert (anodic_unit.cathodic, anodic_unit.anodic) == (there.anodic, there.cathodic)


@given(run=RUNS, order=st.randoms(use_true_random=False))
def test_the_order_of_equal_timestamps_does_not_matter(run, order):
    samples = placed(run)
    doubled = [(at, i) for at, i in samples for _ in range(2)]
    drawn = [(at, i if order.random() < 0.5 else i / 2.0) for at, i in doubled]
    shuffled = list(drawn)
    order.shuffle(shuffled)
    shuffled.sort(key=lambda pair: pair[0])

    assert ledger_of(shuffled) == ledger_of(drawn)


@given(run=RUNS)
def test_what_came_twice_counts_once(run):
    samples = placed(run)

    assert ledger_of([each for each in samples for _ in range(3)]) == ledger_of(samples)


@given(run=RUNS)
def test_what_came_late_counts_for_nothing(run):
    samples = placed(run)
    ledger = ledger_of(samples)
    before = ledger.state()
    for at_ns, _ in samples[:-1]:
        if at_ns < samples[-1][0]:
            ledger.current(at_ns, 10_000.0, GAP_NS)

    assert ledger.state() == before


@given(before=CURRENTS, after=CURRENTS, dt_ns=st.integers(1, 10**13))
def test_a_trapezoid_is_the_line_between_its_samples(before, after, dt_ns):
    first, last = microamperes(before), microamperes(after)
    forward, reverse = trapezoid(first, last, dt_ns)

    assert forward >= 0
    assert reverse >= 0
    # A crossing is rounded down twice, to a fine unit each.
    assert abs((forward - reverse) - (first + last) * dt_ns) <= 1
    if first * last < 0:
        exact = Fraction(max(first, last) ** 2 * dt_ns, abs(first) + abs(last))
        assert 0 <= exact - forward < 1
    else:
        assert min(forward, reverse) == 0


@given(
    run=st.lists(CURRENTS, min_size=2, max_size=50),
    dt_ns=st.sampled_from([1, NS, 10**12, 7 * 10**12]),
)
def test_many_trapezoids_are_the_sum_of_each(run, dt_ns):
    ua = whole_microamperes(np.array(run))
    spans = np.full(len(run) - 1, dt_ns)
    pairs = list(pairwise(ua.tolist()))
    each = [trapezoid(before, after, dt_ns) for before, after in pairs]

    assert trapezoids(ua, spans) == (sum(f for f, _ in each), sum(r for _, r in each))


@example(pairs=[(2**41, 2**42)])
@given(
    pairs=st.lists(
        st.tuples(st.integers(0, 2**41), st.integers(0, 2**43)), min_size=1, max_size=30
    )
)
def test_sums_of_products_are_exact_beyond_64_bits(pairs):
    values = np.array([value for value, _ in pairs])
    times = np.array([span for _, span in pairs])

    assert sum_products(values, times) == sum(value * span for value, span in pairs)


@given(current_a=st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20))
def test_one_and_many_round_currents_alike(current_a):
    singly = [microamperes(each) for each in current_a]

    assert whole_microamperes(np.array(current_a)).tolist() == singly


@given(
    factor=st.sampled_from([2, 4, 10]),
    run=st.lists(st.integers(0, 40_000), min_size=2, max_size=30),
)
def test_the_same_charge_in_more_time_is_the_same_charge(factor, run):
    """Scaling time at constant charge changes no mass: mass is charge times a constant."""
    amperes = [factor * each for each in run]
    fast = ledger_of([(k * NS, i) for k, i in enumerate(amperes)], gap_ns=100 * NS)
    slow = ledger_of(
        [(k * NS * factor, i / factor) for k, i in enumerate(amperes)], gap_ns=100 * NS
    )

    assert slow.cathodic == fast.cathodic


@settings(max_examples=30)
@given(run=RUNS, cutoff_a=st.floats(0.0, 200.0))
def test_a_sensor_offset_below_the_cutoff_adds_nothing(run, cutoff_a):
    cutoff_ua = microamperes(cutoff_a)
    samples = [(at, math.fmod(i, 1.0) * cutoff_a * 0.999) for at, i in placed(run)]
    ledger = ledger_of(samples, zero_cutoff_ua=cutoff_ua)

    assert (ledger.cathodic, ledger.anodic, ledger.flowing_ns) == (0, 0, 0)


def test_a_total_is_cut_only_when_it_is_asked_for():
    # 0.4 µA s a second: single seconds would all be cut to nothing.
    ledger = ledger_of([(second * NS, 0.4e-6) for second in range(11)])
    half = ledger_of([(0, 1.4e-6), (NS, 1.4e-6)])

    assert uas(ledger.cathodic) == 0
    assert uas(half.cathodic) == 1
