"""The metal of a tank and how sure it is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.electrochemistry.metals import METALS
from linewatch.core.line import Line
from linewatch.core.plan import BathPlan, DepositPlan, EfficiencyPlan
from tests.core.line.invented import PLAN


def bath_of(metal: str) -> BathPlan:
    efficiency = EfficiencyPlan(value=0.95, low=0.95, high=0.95)
    laid = DepositPlan(parts=((metal, 1.0),), efficiency=efficiency)
    return BathPlan(id="acid", name="Acid", deposit=laid)


def doubt(metal: str):
    others = tuple(bath for bath in PLAN.baths if bath.id != "acid")
    line = Line(replace(PLAN, baths=(*others, bath_of(metal))))
    return {
        term.name: term.standard_ratio for term in line.platings["copper"].mass_budget().terms
    }


@pytest.mark.published
def test_leads_molar_mass_adds_its_own_doubt_and_no_other_metals_does():
    # CIAAW 2021: lead has an interval of standard atomic weights, 206.14 to 207.94.
    lead, tin = doubt("Pb(II)"), doubt("Sn(II)")

    assert lead["molar mass"] == pytest.approx(
        METALS["Pb(II)"].mass_spread_ratio / 3.0**0.5, rel=1e-9
    )
    assert "molar mass" not in tin
    assert {name: lead[name] for name in tin} == tin


def test_metal_that_nobody_metered_may_be_what_the_rated_current_would_have_laid_down():
    others = tuple(bath for bath in PLAN.baths if bath.id != "acid")
    line = Line(replace(PLAN, baths=(*others, bath_of("Cu(II)"))))
    plating = line.platings["copper"]
    hour_ns = 3_600 * 10**9
    for feed in plating.feeds:
        feed.ledger.begin(0)
    rated_a = sum(feed.share * feed.rectifier.plan.rated_current_a for feed in plating.feeds)
    assert plating.missed_ah(hour_ns) == pytest.approx(rated_a)
    grams = rated_a * plating.deposit.equivalent_g_per_ah * 0.95
    assert plating.missed_g(hour_ns) == pytest.approx(grams)
