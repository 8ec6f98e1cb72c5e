"""What is due from time to time: told late, done by saying so, or by its analysis."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.commands import DoDuty, LogAnalysis
from linewatch.core.errors import Refused
from linewatch.core.line import Line
from linewatch.core.plan import ConditionPlan, DutyPlan
from tests.core.line.test_loads import PLAN, Shop

HOUR_S = 3600
DUTIES = (
    DutyPlan(id="filters", text="change filters", every_s=2.0 * HOUR_S, subject="one"),
    DutyPlan(
        id="nickel.analysis-ni",
        text="analyse Ni",
        every_s=4.0 * HOUR_S,
        subject="nickel",
        substance="Ni",
    ),
)
WITH_DUTIES = replace(
    PLAN,
    duties=DUTIES,
    conditions=tuple(
        ConditionPlan(
            id=f"{each.id}.overdue",
            tag=f"{each.subject}.{each.id.rpartition('.')[2]}",
            kind="found",
            priority="low",
            title=f"overdue: {each.text}",
        )
        for each in DUTIES
    ),
)


def standing(shop: Shop) -> set[str]:
    return {
        each.id for each in shop.line.picture(shop.at).alarms if each.state == "unacknowledged"
    }


def test_what_nobody_ever_did_is_late_one_interval_after_it_was_known():
    shop = Shop(WITH_DUTIES)
    shop.run(2 * HOUR_S - 600)
    assert standing(shop) == set()
    shop.run(1500)
    assert standing(shop) == {"filters.overdue"}
    first, second = shop.line.picture(shop.at).duties
    assert (first.id, first.done_utc_ns, second.id) == ("filters", None, "nickel.analysis-ni")


def test_an_analysis_that_nobody_ever_made_is_due_at_once_and_quietly():
    shop = Shop(WITH_DUTIES)
    shop.run(600)
    picture = shop.line.picture(shop.at)
    first, second = sorted(picture.duties, key=lambda each: each.haste(picture))
    assert (first.id, first.was_never_analysed) == ("nickel.analysis-ni", True)
    assert not first.is_late(picture)
    assert not second.was_never_analysed
    assert standing(shop) == set()
    shop.say(LogAnalysis(who="LB", subject="nickel", substance="ni", value=70.0, unit="g/L"))
    assert not any(each.was_never_analysed for each in shop.line.picture(shop.at).duties)


def test_saying_that_it_was_done_ends_the_alarm_and_begins_the_interval_anew():
    shop = Shop(WITH_DUTIES)
    shop.run(2 * HOUR_S + 900)
    shop.say(DoDuty(who="MK", duty="filters", note="six cartridges"))
    assert "filters.overdue" not in standing(shop)
    assert any("six cartridges" in each.text for each in shop.events)
    shop.run(2 * HOUR_S + 900)
    assert "filters.overdue" in standing(shop)


def test_an_analysis_is_done_by_its_analysis_at_the_time_of_its_sample():
    shop = Shop(WITH_DUTIES)
    shop.run(4 * HOUR_S + 900)
    assert "nickel.analysis-ni.overdue" in standing(shop)
    found = LogAnalysis(who="LB", subject="nickel", substance="ni", value=70.0, unit="g/L")
    shop.say(replace(found, sampled_utc_ns=shop.at.utc_ns - 5 * HOUR_S * 10**9))
    assert "nickel.analysis-ni.overdue" in standing(shop)
    shop.say(found)
    assert "nickel.analysis-ni.overdue" not in standing(shop)


def test_dates_go_on_through_a_restart():
    shop = Shop(WITH_DUTIES)
    shop.run(HOUR_S)
    shop.say(DoDuty(who="MK", duty="filters"))
    shop.line = Line(WITH_DUTIES, shop.line.memory())
    assert shop.line.picture(shop.at).duties[0].done_utc_ns == shop.at.utc_ns


@pytest.mark.parametrize(
    ("duty", "why"),
    [("windows", r"there are .* \(filters\)"), ("nickel.analysis-ni", "lab add")],
)
def test_what_cannot_be_done_so_is_refused(duty, why):
    shop = Shop(WITH_DUTIES)
    shop.run(60)
    with pytest.raises(Refused, match=why):
        shop.say(DoDuty(who="MK", duty=duty))
