"""Figures that follow from a recorded current, over a span."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.ports import Series
from linewatch.core.worked_out import series_of, worked_out
from tests.core.line.invented import NS, PLAN

MINUTE_NS = 60 * NS


def current(mean, good_s=None) -> Series:
    mean = np.array(mean, dtype=float)
    good_s = np.full(len(mean), 60.0) if good_s is None else np.array(good_s, dtype=float)
    return Series(
        tag="r-nickel.current",
        start_utc_ns=np.arange(len(mean), dtype=np.int64) * MINUTE_NS,
        low=mean - 1.0,
        mean=mean,
        high=mean + 1.0,
        good_s=good_s,
    )


FIGURES = worked_out(PLAN)


def test_a_steady_current_gives_its_charge_hour_by_hour():
    found = series_of(FIGURES["nickel.charge"], current([120.0] * 60))

    assert found.tag == "nickel.charge"
    assert found.mean[-1] == pytest.approx(120.0)
    assert np.allclose(np.diff(found.mean), 2.0)


@pytest.mark.published
def test_the_deposit_is_what_faradays_law_says():
    # M(Ni) = 58.6934 g/mol (CIAAW), F = 96485.33212 C/mol (CODATA 2018).
    found = series_of(FIGURES["nickel.deposit"], current([100.0] * 60))
    plan = next(bath for bath in PLAN.baths if bath.id == "watts")
    grams = 58.6934 / (2 * 96485.33212) * 100.0 * 3600.0 * plan.deposit.efficiency.value

    assert found.mean[-1] == pytest.approx(grams, rel=1e-4)


def test_density_is_current_over_area_and_keeps_its_spikes():
    tank = next(tank for tank in PLAN.tanks if tank.id == "nickel")
    found = series_of(FIGURES["nickel.current-density"], current([200.0]))

    assert found.mean[0] == pytest.approx(200.0 / tank.area_dm2)
    assert found.high[0] == pytest.approx(201.0 / tank.area_dm2)
    assert found.low[0] == pytest.approx(199.0 / tank.area_dm2)


def test_a_gap_stays_a_gap_and_adds_nothing():
    found = series_of(
        FIGURES["nickel.charge"], current([60.0, np.nan, 60.0], good_s=[60.0, 0.0, 60.0])
    )

    assert found.mean[0] == pytest.approx(1.0)
    assert np.isnan(found.mean[1])
    assert found.mean[2] == pytest.approx(2.0)


def test_the_sensors_zero_is_no_charge():
    found = series_of(FIGURES["nickel.charge"], current([0.4] * 60))

    assert found.mean[-1] == 0.0


@given(st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=50))
def test_a_sum_never_falls(means):
    found = series_of(FIGURES["nickel.charge"], current(means))

    assert (np.diff(found.mean) >= 0.0).all()


@given(
    st.lists(st.floats(0.0, 1e4), min_size=2, max_size=50).flatmap(
        lambda means: st.tuples(st.just(means), st.integers(1, len(means) - 1))
    )
)
def test_a_span_is_the_sum_of_its_parts(means_and_cut):
    means, cut = means_and_cut
    which = FIGURES["nickel.charge"]
    whole = series_of(which, current(means)).mean[-1]
    parts = [series_of(which, current(part)).mean[-1] for part in (means[:cut], means[cut:])]

    assert sum(parts) == pytest.approx(whole)


def test_what_cannot_be_told_is_not_offered():
    assert "copper.current-density" not in FIGURES  # its area is not known
    assert "nickel.charge" in FIGURES
    no_tags = worked_out(replace(PLAN, tags={}))
    assert no_tags == {}
    two = replace(PLAN.rectifiers[0], id="r-second")
    doubled = worked_out(replace(PLAN, rectifiers=(*PLAN.rectifiers, two)))
    assert "nickel.charge" not in doubled  # a tank that two rectifiers feed
