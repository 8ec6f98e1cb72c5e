"""A device's own meter: what it shows, what flowed, and what we believe of it."""

import math
from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.core.integration.charge import FINE_PER_UAS, NS, UAS_PER_AH
from linewatch.core.integration.gaps import late_ns
from linewatch.core.integration.ledger import ChargeLedger, Source
from linewatch.core.integration.meter import MeterKind, meter_step, uas_of_meter
from linewatch.core.integration.recovery import News, read_meter

GAP_NS = 3 * NS


def kind(modulus=None, resolution_ah=1.0, counts="absolute", rated_a=500.0) -> MeterKind:
    return MeterKind(
        modulus_uas=None if modulus is None else uas_of_meter(modulus),
        resolution_uas=uas_of_meter(resolution_ah),
        counts=counts,
        rated_ua=round(rated_a * 1e6),
    )


def steps(readings, of: MeterKind, largest: float) -> list[tuple[float, str]]:
    found = []
    for before, after in pairwise(readings):
        step, what = meter_step(
            uas_of_meter(before), uas_of_meter(after), uas_of_meter(largest), of
        )
        found.append((step / UAS_PER_AH, what))
    return found


# Registers as real devices deliver them: a rollover, a reset by hand, a step back after a
# power cut, four BCD digits.


def test_a_16_bit_register_rolls_over():
    found = steps([65530, 65534, 3, 9], kind(modulus=65536), largest=10)

    assert found == [(4, "step"), (5, "rollover"), (6, "step")]


def test_a_counter_set_to_zero_by_hand_is_a_reset_and_no_step():
    found = steps([48210, 48215, 0, 4], kind(modulus=2**32), largest=10)

    assert found == [(5, "step"), (0, "reset"), (4, "step")]


def test_a_counter_that_lost_a_little_in_a_power_cut_is_followed_from_there():
    found = steps([48210, 48215, 48190, 48196], kind(modulus=2**32), largest=10)

    assert found == [(5, "step"), (0, "reset"), (6, "step")]


def test_four_bcd_digits_roll_over_at_ten_thousand():
    found = steps([9995, 9999, 2], kind(modulus=10_000), largest=10)

    assert found == [(4, "step"), (3, "rollover")]


def test_without_a_declared_modulus_no_rollover_is_believed():
    assert steps([65534, 3], kind(), largest=10) == [(0, "reset")]


def test_a_step_larger_than_can_flow_is_not_believed():
    assert steps([100, 5000], kind(modulus=65536), largest=10) == [(0, "implausible")]


def test_after_so_long_that_it_may_have_rolled_over_twice_nothing_is_believed():
    assert steps([90, 20], kind(modulus=100), largest=250) == [(0, "reset")]


def test_a_net_meter_may_count_down():
    assert steps([100, 95], kind(counts="net"), largest=10) == [(-5, "step")]


@given(before=st.integers(0, 10**6), after=st.integers(0, 10**6), largest=st.integers(0, 10**6))
def test_a_step_is_never_negative_and_never_larger_than_can_flow(before, after, largest):
    step, _ = meter_step(before, after, largest, kind(modulus=1.0))

    assert 0 <= step <= largest


# A rectifier that exists: it flows, it counts, and sometimes nobody listens.


@dataclass
class Bench:
    """A rectifier with a meter, and a ledger that polls it once a second."""

    ledger: ChargeLedger
    resolution_ah: float = 1.0
    modulus_ah: float = 1e5
    true_ah: float = 0.0
    second: int = -1
    offset_ah: float = 0.0
    meter_gain: float = 1.0
    news: list[News] = field(default_factory=list)

    def run(self, seconds: int, current_a: float, *, heard: bool = True) -> "Bench":
        for _ in range(seconds):
            self.second += 1
            if self.second:
                self.true_ah += current_a / 3600.0
            if not heard:
                continue
            at_ns = self.second * NS
            self.ledger.begin(at_ns)
            self.ledger.current(at_ns, current_a, GAP_NS)
            self.news += read_meter(self.ledger, at_ns, self.reading(), GAP_NS)
        return self

    def reading(self) -> float:
        counts = math.floor(
            (abs(self.true_ah) * self.meter_gain + self.offset_ah) / self.resolution_ah + 1e-9
        )
        return (counts * self.resolution_ah) % self.modulus_ah

    @property
    def counted_ah(self) -> float:
        return self.ledger.cathodic / FINE_PER_UAS / UAS_PER_AH

    def kinds(self) -> list[str]:
        return [each.kind for each in self.news]


def bench(resolution_ah=1.0, modulus_ah=1e5, offset_ah=0.0, **changes) -> Bench:
    source = Source(sign=1, meter=kind(modulus_ah, resolution_ah, rated_a=500.0), **changes)
    return Bench(ChargeLedger(source), resolution_ah, modulus_ah, offset_ah=offset_ah)


def test_a_gap_is_recovered_from_the_meter():
    plant = bench(resolution_ah=0.01)
    plant.run(600, 200.0).run(120, 200.0, heard=False).run(60, 200.0)

    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=0.01 + 200.0 / 3600.0)
    assert plant.ledger.recovered_ns == 121 * NS
    assert plant.ledger.unmetered_ns(plant.second * NS) == 0
    assert plant.kinds()[0] == "recovered"


@settings(deadline=None, max_examples=60)
@given(
    offset_ah=st.floats(0.0, 0.999),
    gap_s=st.integers(4, 400),
    current_a=st.floats(40.0, 450.0),
    gap_a=st.floats(0.0, 450.0),
)
def test_a_gap_is_recovered_to_a_poll_though_a_count_is_coarse(
    offset_ah, gap_s, current_a, gap_a
):
    """One count is 1 A·h: the moment of a count tells what stands between two of them."""
    plant = bench(resolution_ah=1.0, offset_ah=offset_ah)
    plant.run(400, current_a).run(gap_s, gap_a, heard=False).run(400, current_a)

    # A count is seen up to a poll late, before and after; and the trapezoid's half step at
    # either edge of the gap is current that the meter never saw.
    poll_ah = (2.0 * current_a + abs(current_a - gap_a)) / 3600.0
    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=poll_ah)
    assert plant.ledger.unmetered_ns(plant.second * NS) == 0


def test_until_the_next_count_a_gap_is_credited_with_its_least_and_never_taken_back():
    plant = bench(resolution_ah=1.0).run(400, 300.0)
    plant.run(205, 300.0, heard=False)
    seen = []
    for _ in range(60):
        plant.run(1, 300.0)
        seen.append(plant.counted_ah)

    assert seen == sorted(seen)
    assert all(each <= plant.true_ah + 300.0 / 3600.0 for each in seen)
    assert plant.kinds() == ["recovered", "more recovered"]


def test_a_meter_that_stood_still_in_a_gap_recovers_its_time_with_no_charge():
    plant = bench(resolution_ah=0.1).run(60, 100.0).run(60, 0.0)
    before = plant.counted_ah
    plant.run(600, 0.0, heard=False).run(60, 0.0)

    assert plant.counted_ah == pytest.approx(before, abs=1e-9)
    assert plant.ledger.unmetered_ns(plant.second * NS) == 0


def test_a_meter_that_rolled_over_in_a_gap_still_recovers_it():
    plant = bench(resolution_ah=0.01, modulus_ah=20.0)
    plant.run(300, 200.0).run(120, 200.0, heard=False).run(60, 200.0)

    assert plant.true_ah > 20.0
    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=0.07)
    assert "reset" not in plant.kinds()


def test_a_meter_that_was_reset_in_a_gap_recovers_nothing():
    plant = bench(resolution_ah=0.01).run(600, 200.0)
    counted = plant.counted_ah
    plant.run(120, 200.0, heard=False)
    plant.offset_ah = -plant.true_ah
    plant.run(2, 200.0)

    assert plant.kinds() == ["reset"]
    assert plant.news[0].charge_uas < 0
    assert plant.counted_ah == pytest.approx(counted + 200.0 / 3600.0, abs=1e-6)
    assert plant.ledger.unmetered_ns(plant.second * NS) == 121 * NS


def test_a_meter_that_jumped_in_a_gap_recovers_nothing():
    plant = bench(resolution_ah=0.01).run(600, 200.0).run(120, 200.0, heard=False)
    plant.offset_ah = 1000.0
    plant.run(2, 200.0)

    assert plant.kinds() == ["implausible"]
    assert plant.ledger.unmetered_ns(plant.second * NS) == 121 * NS


def test_a_gap_survives_a_restart_between_its_ends():
    plant = bench(resolution_ah=0.01).run(600, 200.0).run(60, 200.0, heard=False)
    revived = ChargeLedger(plant.ledger.source)
    revived.recall(plant.ledger.state())
    plant.ledger = revived
    plant.run(60, 200.0, heard=False).run(60, 200.0)

    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=0.07)


def test_a_replaced_meter_begins_anew_without_a_step():
    plant = bench(resolution_ah=0.01).run(600, 200.0)
    plant.ledger.track.stop()
    plant.offset_ah = -plant.true_ah + 3.0
    plant.run(600, 200.0)

    assert plant.kinds() == []
    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=1e-3)


def test_a_meter_of_its_class_is_no_drift():
    plant = bench(resolution_ah=0.1)
    plant.meter_gain = 1.005
    plant.run(3 * 3600, 300.0)

    assert plant.kinds() == []


def test_a_meter_that_parts_from_the_sum_is_told_once_an_hour():
    plant = bench(resolution_ah=0.1)
    plant.meter_gain = 1.06
    plant.run(2 * 3600 + 10, 300.0)

    assert plant.kinds() == ["drift", "drift"]
    drift = plant.news[0]
    assert drift.charge_uas / drift.own_uas == pytest.approx(1.06, rel=2e-3)


def test_a_meter_that_stands_still_while_current_flows_is_drift():
    plant = bench(resolution_ah=0.1)
    plant.meter_gain = 0.0
    plant.run(3600 + 10, 300.0)

    assert plant.kinds() == ["drift"]
    assert plant.news[0].charge_uas == 0


def test_too_little_charge_to_tell_is_no_drift():
    plant = bench(resolution_ah=1.0)
    plant.meter_gain = 1.5
    plant.run(2 * 3600, 20.0)

    assert plant.kinds() == []


# Directions.


@pytest.mark.parametrize(
    ("counts", "sign", "first_a", "second_a", "cathodic_ah", "anodic_ah"),
    [
        ("absolute", 1, -200.0, -200.0, 0.0, 10.0),
        ("absolute", -1, 200.0, 200.0, 0.0, 10.0),
        ("cathodic", 1, 200.0, 200.0, 10.0, 0.0),
        ("net", 1, -200.0, -200.0, 0.0, 10.0),
        ("net", -1, -200.0, -200.0, 10.0, 0.0),
    ],
)
def test_a_recovered_charge_goes_the_way_the_current_went(
    counts, sign, first_a, second_a, cathodic_ah, anodic_ah
):
    source = Source(sign=sign, meter=kind(1e5, 0.001, counts))
    ledger = ChargeLedger(source)
    shows = 1000.0
    way = -1.0 if counts == "net" and first_a < 0 else 1.0
    for second in range(2):
        ledger.current(second * NS, first_a, GAP_NS)
        read_meter(ledger, second * NS, shows + way * second * 200.0 / 3600.0, GAP_NS)
    gap_s = 180
    at_ns = (1 + gap_s) * NS
    ledger.current(at_ns, second_a, GAP_NS)
    reading_ah = shows + way * (1 + gap_s) * 200.0 / 3600.0
    news = read_meter(ledger, at_ns, reading_ah, GAP_NS)

    assert [each.kind for each in news] == ["recovered"]
    own_ah = 200.0 / 3600.0
    found = ledger.cathodic / FINE_PER_UAS / UAS_PER_AH
    other = ledger.anodic / FINE_PER_UAS / UAS_PER_AH
    assert found == pytest.approx(cathodic_ah + (own_ah if cathodic_ah else 0.0), abs=1e-3)
    assert other == pytest.approx(anodic_ah + (own_ah if anodic_ah else 0.0), abs=1e-3)


def test_a_meter_that_ignores_reverse_current_is_compared_with_forward_charge_alone():
    plant = Bench(
        ChargeLedger(Source(sign=1, meter=kind(1e5, 0.1, "cathodic"))), resolution_ah=0.1
    )
    plant.run(3600, 300.0)
    reading = plant.reading()
    for second in range(plant.second + 1, plant.second + 1800):
        plant.ledger.current(second * NS, -300.0, GAP_NS)
        plant.news += read_meter(plant.ledger, second * NS, reading, GAP_NS)

    assert plant.kinds() == []


def read_late(speed: float) -> Bench:
    """Let an answer be taken up half a second of wall time late, the next one at once."""
    plant = bench()
    plant.ledger.late_ns = late_ns(speed)
    plant.run(600, 400.0)
    late_s = round(0.5 * speed)
    told = plant.reading()
    plant.run(late_s, 400.0, heard=False)
    at_ns = plant.second * NS
    plant.ledger.current(at_ns, 400.0, 60 * NS)
    plant.news += read_meter(plant.ledger, at_ns, told, 60 * NS)
    return plant.run(600, 400.0)


@pytest.mark.parametrize("speed", [1.0, 60.0, 200.0])
def test_an_answer_that_was_taken_up_late_makes_no_jump_of_the_meter(speed):
    plant = read_late(speed)

    assert "implausible" not in plant.kinds()
    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=1.0)


def test_at_natural_speed_a_jump_is_a_jump_as_ever():
    plant = bench()
    plant.ledger.late_ns = late_ns(1.0)
    plant.run(600, 400.0)
    plant.offset_ah += 3.0
    plant.run(60, 400.0)

    assert plant.kinds() == ["implausible"]


# The meter as the authority.


def pulsed(**changes) -> Bench:
    return bench(resolution_ah=0.001, by_meter=True, **changes)


def test_pulses_faster_than_the_poll_are_counted_by_the_meter():
    plant = pulsed()
    for second in range(600):
        plant.second = second
        plant.true_ah = second * 30.0 / 3600.0
        # Samples meet the pulse or the pause by chance: their mean says nothing.
        sample_a = 300.0 if second % 3 else 0.0
        plant.ledger.begin(second * NS)
        plant.ledger.current(second * NS, sample_a, GAP_NS)
        plant.news += read_meter(plant.ledger, second * NS, plant.reading(), GAP_NS)

    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=0.001)
    assert plant.ledger.metered_ns == 599 * NS


def test_a_gap_of_the_authority_is_recovered_by_itself():
    plant = pulsed().run(60, 100.0).run(60, 100.0, heard=False).run(60, 100.0)

    assert plant.kinds() == ["recovered"]
    assert plant.ledger.recovered_ns == 61 * NS
    assert plant.counted_ah == pytest.approx(plant.true_ah, abs=0.001)


def test_without_its_meter_a_pulsed_rectifier_is_not_metered():
    ledger = ChargeLedger(Source(sign=1, by_meter=True))
    for second in range(60):
        ledger.begin(second * NS)
        ledger.current(second * NS, 100.0, GAP_NS)

    assert ledger.totals(59 * NS) == {
        "cathodic_uas": 0,
        "anodic_uas": 0,
        "recovered_uas": 0,
        "metered_ns": 0,
        "recovered_ns": 0,
        "unmetered_ns": 59 * NS,
        "elapsed_ns": 59 * NS,
    }


def test_a_meter_that_nobody_declared_is_passed_over():
    ledger = ChargeLedger(Source(sign=1))

    assert read_meter(ledger, 0, 5.0, GAP_NS) == []
    assert ledger.track.last_uas is None


def test_a_reading_that_comes_twice_or_late_changes_nothing():
    plant = bench(resolution_ah=0.01).run(60, 200.0)
    state = plant.ledger.state()

    assert read_meter(plant.ledger, 59 * NS, 99.0, GAP_NS) == []
    assert read_meter(plant.ledger, 30 * NS, 99.0, GAP_NS) == []
    assert plant.ledger.state() == state
