"""What is let go, hour by hour: volume, minutes outside, what nobody knows; and analyses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.commands import LogAnalysis
from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.laboratory.analyses import analyses
from linewatch.core.line import Line
from linewatch.core.pages import Shown
from linewatch.core.plan import Assay, ConditionPlan, LinePlan, Permit, Window
from linewatch.core.ports import Order, RunStart
from linewatch.core.readings import Layout, Moment, Quality, Readings
from linewatch.core.rules.library import BY_NAME
from linewatch.core.water.day import discharged
from linewatch.core.water.page import Day, inspectors_page
from tests.core.line import bathing

NS = 10**9
STEP_S = 10
HOUR_S = 3600
BEGIN_S = 1_772_000_000 // HOUR_S * HOUR_S
TAGS = ("out.flow", "out.ph")
LAYOUT = Layout(link="bus", device="all", tags=TAGS, period_ns=STEP_S * NS)
PLAN = replace(
    bathing.PLAN,
    layouts=(LAYOUT,),
    tags={name: replace(bathing.tag(name), window=Window()) for name in TAGS},
    tanks=(
        replace(
            bathing.tank("out"),
            name="Outfall",
            kind="treat",
            track="treatment",
            bath=None,
            windows={},
            permit={"ph": Window(low=6.0, high=9.5, source="permit 7")},
            assays=(Assay(substance="Ni", unit="mg/L", high=2.38),),
        ),
    ),
    rectifiers=(),
    conditions=(),
    permits=(Permit(substance="Ni", daily_mg_per_l=3.98, monthly_mg_per_l=2.38, source="p"),),
)


class Outfall:
    """A place where water leaves, and its clock."""

    def __init__(self, plan: LinePlan = PLAN) -> None:
        self.at_s = 0
        self.line = Line(plan)
        start = RunStart(run_id="r", at=self.at, fingerprint=plan.fingerprint, speed=1.0)
        self.events = list(self.line.begin(start))

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=(BEGIN_S + self.at_s) * NS, mono_ns=self.at_s * NS)

    def run(self, seconds: int, flow: float | None = 60.0, ph: float | None = 8.9) -> None:
        for _ in range(0, seconds, STEP_S):
            value = np.array([np.nan if v is None else v for v in (flow, ph)])
            quality = np.where(np.isnan(value), int(Quality.NO_ANSWER), 0).astype(np.uint8)
            block = Readings(
                layout=LAYOUT,
                utc_ns=self.at.utc_ns,
                mono_ns=self.at.mono_ns,
                value=value,
                quality=quality,
            )
            self.events += self.line.receive(block)
            self.at_s += STEP_S

    def say(self, **said) -> None:
        command = LogAnalysis(who="LB", **said)
        self.events += self.line.obey(Order(request=1, command=command, at=self.at))

    def told(self):
        return discharged(self.events, "out")

    def page(self, to_come: int = 0, plan: LinePlan = PLAN):
        day = Day(
            title="a day",
            day=25,
            month_days=28,
            hours=24,
            span=(BEGIN_S * NS, (BEGIN_S + 24 * HOUR_S) * NS),
            month=(0, 2**62),
            day_of=lambda _ns: 25,
            to_come=to_come,
        )
        return inspectors_page(plan, plan.tanks[0], self.events, day, Shown("metric", str))


def test_an_hour_is_told_when_it_is_over_with_its_volume():
    outfall = Outfall()
    outfall.run(HOUR_S - 60)
    assert outfall.told() is None
    outfall.run(120)
    found = outfall.told()
    assert found.hours == 1
    assert found.volume_m3 == pytest.approx(3.6, rel=0.02)
    assert found.watched[0].mean == pytest.approx(8.9)
    assert (found.watched[0].low, found.watched[0].high) == (6.0, 9.5)


def test_minutes_outside_count_only_while_water_flows():
    outfall = Outfall()
    outfall.run(1200)
    outfall.run(600, ph=10.0)
    outfall.run(900, flow=0.0, ph=10.0)
    outfall.run(1200)
    found = outfall.told()
    assert found.outside_s == pytest.approx(600, abs=60)
    assert found.watched[0].high_seen == 10.0


def test_what_nobody_read_is_unknown_and_never_inside():
    outfall = Outfall()
    outfall.run(1200)
    outfall.run(600, ph=None)
    outfall.run(600, flow=None, ph=None)
    outfall.run(1800)
    found = outfall.told()
    # A value is believed for three polling periods before it is stale.
    assert found.watched[0].unknown_s == pytest.approx(600, abs=700)
    assert found.watched[0].unknown_s > 500
    assert found.unknown_s == pytest.approx(600, abs=90)


def test_a_collector_that_was_away_leaves_unknown_time():
    outfall = Outfall()
    outfall.run(600)
    outfall.at_s += 1800
    outfall.run(1500)
    assert outfall.told().unknown_s == pytest.approx(1800, abs=180)


@given(
    st.lists(
        st.tuples(st.sampled_from((0.0, 30.0, 60.0)), st.sampled_from((5.0, 8.0, 10.0))),
        min_size=1,
        max_size=24,
    )
)
def test_hours_add_up_to_the_day_however_it_is_cut(parts):
    outfall = Outfall()
    for flow, ph in parts:
        outfall.run(600, flow=flow, ph=ph)
    outfall.run(2 * HOUR_S, flow=0.0, ph=8.0)
    hours = [e for e in outfall.events if e.kind is EventKind.DISCHARGE]
    whole = discharged(hours, "out")
    halves = [discharged(hours[:3], "out"), discharged(hours[3:], "out")]
    known = [each for each in halves if each is not None]
    assert sum(each.volume_m3 for each in known) == pytest.approx(whole.volume_m3)
    assert sum(each.outside_s for each in known) == pytest.approx(whole.outside_s)
    litres = sum(flow * 10.0 for flow, _ in parts)
    # Between two looks, half a minute apart, a change is taken to go evenly; the first look
    # only begins to count.
    assert whole.volume_m3 * 1000.0 == pytest.approx(litres, abs=30.0 * len(parts) + 60.0)


def test_the_running_hour_goes_on_through_a_restart():
    whole, halves = Outfall(), Outfall()
    for outfall in (whole, halves):
        outfall.run(1800)
    halves.line = Line(PLAN, halves.line.memory())
    for outfall in (whole, halves):
        outfall.run(2400)
    assert halves.told() == whole.told()


def test_whether_water_may_go_is_said_with_each_reason():
    outfall = Outfall()
    outfall.run(60)
    (tank,) = outfall.line.picture(outfall.at).tanks
    assert (tank.permit, tank.permit_reasons) == (
        "no signal speaks against letting water go",
        (),
    )
    outfall.run(60, ph=5.5)
    (tank,) = outfall.line.picture(outfall.at).tanks
    assert tank.permit == "DO NOT LET WATER GO"
    assert tank.permit_reasons == ("ph 5.5, at least 6 is allowed",)
    outfall.run(120, ph=None)
    (tank,) = outfall.line.picture(outfall.at).tanks
    assert tank.permit_reasons == ("ph is not known now",)


def test_an_analysis_of_the_last_day_beyond_its_daily_limit_speaks_against_letting_go():
    outfall = Outfall()
    outfall.run(60)
    (tank,) = outfall.line.picture(outfall.at).tanks
    assert tank.permit_reasons == ()
    assert tank.permit_unknown == ("not analysed in the last 24 h: Ni",)
    outfall.say(subject="out", substance="Ni", value=5.2, unit="mg/L")
    outfall.run(60)
    (tank,) = outfall.line.picture(outfall.at).tanks
    assert tank.permit == "DO NOT LET WATER GO"
    (reason,) = tank.permit_reasons
    assert reason == (
        "Ni 5.2 mg/L in its newest analysis of the last 24 h, at most 3.98 mg/L on any day is"
        " allowed (p)"
    )
    assert tank.permit_unknown == ()
    halves = Line(PLAN, outfall.line.memory())
    assert halves.picture(outfall.at).tanks[0].permit_reasons == tank.permit_reasons


def test_a_newer_analysis_within_its_limit_or_a_correction_takes_the_place_of_the_one_before():
    outfall = Outfall()
    outfall.run(600)
    said = {"subject": "out", "substance": "Ni"}
    outfall.say(**said, value=0.0052, unit="g/L")
    outfall.run(600)
    assert outfall.line.picture(outfall.at).tanks[0].permit_reasons != ()
    outfall.say(**said, value=1.2, unit="mg/L")
    outfall.run(60)
    assert outfall.line.picture(outfall.at).tanks[0].permit_reasons == ()
    outfall.say(**said, value=12.0, unit="mg/L", corrects=2, note="a digit was lost")
    outfall.run(60)
    (reason,) = outfall.line.picture(outfall.at).tanks[0].permit_reasons
    assert reason.startswith("Ni 12 mg/L")
    # What is between the monthly and the daily limit is no reason to hold water.
    outfall.say(**said, value=3.0, unit="mg/L")
    outfall.run(60)
    assert outfall.line.picture(outfall.at).tanks[0].permit_reasons == ()


def test_an_analysis_of_more_than_a_day_ago_tells_nothing_of_the_water_that_goes_now():
    outfall = Outfall()
    outfall.run(60)
    outfall.say(subject="out", substance="Ni", value=5.2, unit="mg/L")
    outfall.run(60)
    late = Moment(utc_ns=outfall.at.utc_ns + 24 * HOUR_S * NS, mono_ns=outfall.at.mono_ns + NS)
    (tank,) = outfall.line.picture(late).tanks
    assert tank.permit_reasons == ()
    assert tank.permit_unknown == ("not analysed in the last 24 h: Ni",)


def test_the_inspectors_page_has_the_day_its_analyses_and_what_is_left_of_the_month():
    outfall = Outfall()
    outfall.run(1800)
    outfall.say(subject="out", substance="ni", value=2.0, unit="mg/L", method="AAS")
    outfall.run(600, ph=10.0)
    outfall.run(2 * HOUR_S)
    page = outfall.page()

    assert "10.0 min outside the permit" in page.below[0]
    assert "22 of 24 hours were not recorded" in page.below[0]
    substances = next(each for each in page.tables if each.heading.startswith("Analysed"))
    # (2.38 x 4 - 2.0) / 3: what the three days to come may average.
    assert substances.rows[0][:6] == ("Ni", "2", "3.98", "2", "2.38", "2.51")
    people = next(each for each in page.tables if each.heading.startswith("What people"))
    assert "ni 2 mg/L, within its daily limit 3.98 mg/L" in people.rows[0][1]


def test_the_page_tells_the_permit_from_the_alarms_own_limits_each_with_its_source():
    own = {"ph": Window(low=6.8, high=9.3, source="common practice")}
    tank = replace(PLAN.tanks[0], windows=own)
    outfall = Outfall(replace(PLAN, tanks=(tank,)))
    outfall.run(HOUR_S + 60)
    page = outfall.page(plan=outfall.line.plan)
    (measured,) = page.tables[0].rows
    assert (measured[4], measured[-1]) == ("6 to 9.5", "permit 7")
    sets = page.tables[-1]
    assert sets.heading.startswith(
        "Where alarms begin: the line's own limits, not the permit's"
    )
    (row,) = sets.rows
    assert row[2:] == ("6.8 to 9.3 pH", "inside the permit, 6 to 9.5", "common practice")


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        (5.5, 9.0, "NOT INSIDE the permit, 6 to 9.5: water is beyond it before the alarm"),
        (6.5, None, "NOT INSIDE the permit, 6 to 9.5: water is beyond it before the alarm"),
        (6.0, 9.5, "the permit's own, 6 to 9.5"),
    ],
)
def test_an_alarm_that_comes_after_the_permit_is_left_is_said_so(low, high, told):
    own = {"ph": Window(low=low, high=high, source="common practice")}
    outfall = Outfall(replace(PLAN, tanks=(replace(PLAN.tanks[0], windows=own),)))
    outfall.run(HOUR_S + 60)
    assert outfall.page(plan=outfall.line.plan).tables[-1].rows[0][3] == told


def test_limits_of_a_day_that_are_no_longer_configured_are_not_given_todays_source():
    outfall = Outfall()
    outfall.run(HOUR_S + 60)
    permit = {"ph": Window(low=6.5, high=9.0, source="permit 8")}
    later = replace(PLAN, tanks=(replace(PLAN.tanks[0], permit=permit),))
    (row,) = outfall.page(plan=later).tables[0].rows
    assert (row[4], row[-1]) == ("6 to 9.5", "as it was configured then")


def test_an_analysis_is_held_against_its_limits_and_corrected_by_another():
    outfall = Outfall()
    outfall.run(60)
    outfall.say(subject="out", substance="Ni", value=24.0, unit="mg/L")
    assert "above its daily limit 3.98 mg/L" in outfall.events[-1].text
    outfall.say(subject="out", substance="Ni", value=2.4, unit="mg/L", corrects=1, note="typed")
    (kept,) = analyses(outfall.events)
    assert (kept.number, kept.value, kept.verdict) == (2, 2.4, "high")
    assert len([e for e in outfall.events if e.values.get("what") == "analysed"]) == 2


def test_limits_are_read_in_the_unit_of_the_value():
    outfall = Outfall()
    outfall.run(60)
    outfall.say(subject="out", substance="Ni", value=0.0025, unit="g/L")
    (found,) = analyses(outfall.events)
    assert found.verdict == "high"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"subject": "nowhere"}, "no bath or tank"),
        ({"substance": " "}, "a substance has"),
        ({"value": -1.0}, "not below 0"),
        ({"value": float("nan")}, "not below 0"),
        ({"sampled_utc_ns": 2**62}, "in the future"),
        ({"corrects": 7, "note": "x"}, "no analysis 7"),
        ({"unit": "degC"}, "its limits are in mg/L"),
    ],
)
def test_an_analysis_that_cannot_be_is_refused(said, why):
    outfall = Outfall()
    outfall.run(60)
    usual = {"subject": "out", "substance": "Ni", "value": 1.0, "unit": "mg/L"}
    with pytest.raises(Refused, match=why):
        outfall.say(**(usual | said))


def test_a_probe_that_no_longer_moves_speaks_against_letting_go_whatever_it_shows():
    tank = replace(PLAN.tanks[0], permit={"ph": Window(low=6.0, high=9.5, source="permit 7")})
    still = ConditionPlan(
        id="out.ph.frozen", tag="out.ph", kind="frozen", limit=0.01, on_delay_ns=600 * NS
    )
    outfall = Outfall(replace(PLAN, tanks=(tank,), conditions=(still,)))
    outfall.run(300)
    assert outfall.line.picture(outfall.at).tanks[0].permit_reasons == ()
    outfall.run(900)
    shown = outfall.line.picture(outfall.at).tanks[0]
    assert shown.figures["ph"].value == 8.9
    assert shown.permit_reasons == ("Outfall: pH frozen",)
    outfall.run(3000)
    # What it shows is inside the permit, and tells nothing about the water.
    watched = outfall.told().watched[0]
    assert watched.unknown_s == pytest.approx(3600 - 600, abs=120)


def test_hours_to_come_are_not_said_to_be_missing():
    outfall = Outfall()
    assert "an hour is told when it is over" in outfall.page(to_come=24).below[0]
    outfall.run(2 * HOUR_S + 60)
    assert (
        outfall.page(to_come=22)
        .below[0]
        .endswith("not over: 22 of 24 hours to come; inside the permit so far")
    )
    assert (
        outfall.page(to_come=12)
        .below[0]
        .endswith("not over: 12 of 24 hours to come; 10 of 24 hours were not recorded")
    )


def test_the_page_says_what_no_signal_tells_of_the_water():
    outfall = Outfall()
    outfall.run(HOUR_S + 60)
    said = " ".join(outfall.page().small)
    assert "hexavalent chromium at trace level" in said
    assert "free against complexed cyanide" in said


def test_time_with_a_broken_glass_is_not_known_whatever_it_reads():
    tank = replace(PLAN.tanks[0], permit={"ph": Window(low=6.0, high=9.5, source="permit 7")})
    rule = BY_NAME["glass-broken"]
    broken = ConditionPlan(
        id="out.glass-broken", tag="out.glass-broken", kind="found", limit=rule.limit
    )
    outfall = Outfall(replace(PLAN, tanks=(tank,), conditions=(broken,)))
    outfall.run(600)
    outfall.run(3300, ph=7.02)
    watched = outfall.told().watched[0]
    # Three minutes and two looks until it is found.
    assert watched.unknown_s == pytest.approx(3000 - 240, abs=180)


def test_a_month_is_never_less_than_its_day_and_no_concentration_is_below_nothing():
    outfall = Outfall()
    outfall.run(1800)
    outfall.say(subject="out", substance="Ni", value=60.0, unit="mg/L", method="AAS")
    outfall.run(2 * HOUR_S)
    page = outfall.page()

    today_m3, _, rest = page.below[1].partition(" m3 in ")
    month_m3 = rest.partition(" of flow, ")[2].partition(" m3 this month")[0]
    assert float(month_m3) >= float(today_m3)
    assert len(month_m3) == len(today_m3)
    substances = next(each for each in page.tables if each.heading.startswith("Analysed"))
    assert substances.columns[5] == "days to come may average"
    assert substances.rows[0][5] == ""
    assert "the month's average can no longer be kept" in substances.rows[0][6]
