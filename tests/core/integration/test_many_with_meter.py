"""Many samples with their meter at once: the same to the bit as one by one."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.core.integration import many
from linewatch.core.integration.charge import FINE_PER_UAS, NS
from linewatch.core.integration.deposit import DepositCurve
from linewatch.core.integration.ledger import ChargeLedger, Source
from linewatch.core.integration.meter import MeterKind, uas_of_meter
from linewatch.core.integration.recovery import News, read_meter

GAP_NS = 3 * NS
CURVE = DepositCurve(
    tank="chromium",
    share=1.0,
    area_dm2=10.0,
    density_a_per_dm2=(5.0, 10.0, 30.0),
    ratio=(0.08, 0.12, 0.20),
)

ROWS = st.lists(
    st.tuples(
        st.sampled_from([NS, NS, NS, NS // 2, 3 * NS, 40 * NS, 0, 3700 * NS]),
        st.sampled_from([0.0, 60.0, 100.0, 200.0, 300.0, -100.0, float("nan"), 1e9]),
        st.sampled_from([0.0, 0.0, 0.1, 0.1, 1.0, -0.5, -90.0, 500.0]),
    ),
    min_size=1,
    max_size=60,
)


def source(*, by_meter: bool, counts: str, curves: tuple[DepositCurve, ...]) -> Source:
    return Source(
        sign=1,
        zero_cutoff_ua=1_000_000,
        by_meter=by_meter,
        curves=curves,
        meter=MeterKind(
            modulus_uas=uas_of_meter(100.0),
            resolution_uas=uas_of_meter(0.1),
            counts=counts,
            rated_ua=400_000_000,
        ),
    )


def take(ledger: ChargeLedger, row: tuple[int, float, float]) -> list[News]:
    at_ns, current_a, reading_ah = row
    if abs(current_a) <= 1e6:
        ledger.current(at_ns, current_a, GAP_NS)
    return read_meter(ledger, at_ns, reading_ah, GAP_NS)


def placed(drawn) -> list[tuple[int, float, float]]:
    at_ns, shows, found = 0, 50.0, []
    for step_ns, current_a, step_ah in drawn:
        at_ns += step_ns
        shows = (shows + step_ah) % 100.0
        found.append((at_ns, current_a, shows))
    return found


@settings(deadline=None, max_examples=300)
@given(
    drawn=ROWS,
    pieces=st.lists(st.integers(1, 30), min_size=1, max_size=8),
    by_meter=st.booleans(),
    counts=st.sampled_from(["absolute", "cathodic", "net"]),
    curves=st.sampled_from([(), (CURVE,)]),
    hears_current=st.booleans(),
)
def test_many_rows_equal_single_rows_to_the_bit(
    drawn, pieces, by_meter, counts, curves, hears_current
):
    rows = placed(drawn)
    if not hears_current:
        rows = [(at_ns, float("nan"), reading_ah) for at_ns, _, reading_ah in rows]
    singly = ChargeLedger(source(by_meter=by_meter, counts=counts, curves=curves))
    at_once = ChargeLedger(source(by_meter=by_meter, counts=counts, curves=curves))
    expected = [news for row in rows for news in take(singly, row)]
    found: list[News] = []
    first, turn = 0, 0
    while first < len(rows):
        part = rows[first : first + pieces[turn % len(pieces)]]
        turn += 1
        at_ns = np.array([row[0] for row in part])
        current_a = np.array([row[1] for row in part]) if hears_current else None
        reading_ah = np.array([row[2] for row in part])
        plain = many.plain_rows(at_once, at_ns, current_a, reading_ah, GAP_NS)
        if plain:
            many.take_rows(
                at_once,
                at_ns[:plain],
                current_a[:plain] if current_a is not None else None,
                reading_ah[:plain],
            )
        else:
            plain = 1
            found += take(at_once, part[0])
        first += plain

    assert found == expected
    assert at_once == singly


def test_a_steady_stretch_is_taken_whole():
    """Or the fast way would be no way at all."""
    ledger = ChargeLedger(source(by_meter=False, counts="absolute", curves=()))
    seconds = np.arange(1000)
    at_ns, current_a = seconds * NS, np.full(1000, 300.0)
    reading_ah = np.floor(seconds * 300.0 / 360.0) / 10.0
    take(ledger, (0, 300.0, 0.0))

    assert many.plain_rows(ledger, at_ns[1:], current_a[1:], reading_ah[1:], GAP_NS) == 999

    many.take_rows(ledger, at_ns[1:], current_a[1:], reading_ah[1:])

    assert ledger.cathodic == 300 * 999 * 10**6 * FINE_PER_UAS
    assert ledger.track.count_total_uas == uas_of_meter(float(reading_ah[-1]))


@pytest.mark.parametrize(("gap_a", "covered"), [(100.0, True), (20.0, False), (380.0, False)])
def test_a_recovered_charge_lays_metal_down_by_its_mean_density(gap_a, covered):
    ledger = ChargeLedger(source(by_meter=False, counts="absolute", curves=(CURVE,)))
    take(ledger, (0, 100.0, 0.0))
    take(ledger, (NS, 100.0, 0.0))
    before = ledger.deposits[0]
    charge_ah = gap_a * 1000.0 / 3600.0
    own = 100.0 * 10**6 * FINE_PER_UAS
    news = take(ledger, (1001 * NS, 100.0, round(charge_ah, 1)))

    recovered = ledger.recovered
    assert news[0].kind == "recovered"
    assert recovered == uas_of_meter(round(charge_ah, 1)) * FINE_PER_UAS - own
    if covered:
        # 10 A/dm2, a little less: 12 %.
        assert (ledger.deposits[0] - before) / recovered == pytest.approx(0.12, abs=2e-3)
        assert ledger.not_covered == [0]
    else:
        assert ledger.deposits[0] == before
        assert ledger.not_covered == [recovered]
