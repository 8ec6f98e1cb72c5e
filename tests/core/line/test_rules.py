"""Rules and moves: alike after a restart, and one alarm for one cause."""

from dataclasses import replace

import numpy as np
import pytest

from linewatch.config.library import shipped
from linewatch.config.works import read
from linewatch.core.commands import Acknowledge
from linewatch.core.line.machine import Line
from linewatch.core.ports import Order
from linewatch.core.readings import Moment, Quality, Readings

PLAN = read(shipped() / "demo.toml").plan
NS = 10**9
STEP_S = 10


def blocks(at_s, changes):
    """Every tag at the middle of its window, but for what is said, with a little noise."""
    chance = np.random.default_rng(at_s)
    for layout in PLAN.layouts:
        value = np.array([changes.get(tag, _usual(PLAN.tags[tag])) for tag in layout.tags])
        value = value + 1e-4 * chance.standard_normal(len(value))
        quality = np.full(len(value), Quality.GOOD, dtype=np.uint8)
        at_ns = at_s * NS
        yield Readings(layout=layout, utc_ns=at_ns, mono_ns=at_ns, value=value, quality=quality)


def _usual(tag):
    window = tag.window
    edges = [each for each in (window.low, window.high) if each is not None]
    if window.target is not None:
        return window.target
    return sum(edges) / len(edges) if edges else 0.0


def fed(line, first_s, last_s, changes=None):
    events = []
    for at_s in range(first_s, last_s, STEP_S):
        for block in blocks(at_s, changes or {}):
            events += line.receive(block)
    return events


def occurred(events):
    return [event.values["alarm"] for event in events if event.values.get("move") == "occur"]


def test_a_line_that_goes_on_from_memory_tells_the_same():
    whole, before = Line(PLAN), Line(PLAN)
    cold = {"nickel-2.temperature": 50.0, "neutralise.ph": 7.0, "cyanide-oxidation.ph": 9.5}
    fed(whole, 10, 900)
    fed(before, 10, 900)
    after = Line(PLAN, before.memory())

    assert fed(after, 900, 1500, cold) == fed(whole, 900, 1500, cold)
    assert after.memory() == whole.memory()


def test_acid_in_cyanide_is_told_at_the_next_look_and_never_shelved():
    line = Line(PLAN)
    fed(line, 10, 100)
    assert "cyanide-oxidation.cyanide-acid" in occurred(
        fed(line, 100, 140, {"cyanide-oxidation.ph": 9.0})
    )


def test_units_that_drop_out_together_are_one_alarm_that_explains_the_others():
    line = Line(PLAN)
    fed(line, 10, 60)
    faults = {f"{each.id}.fault": 1.0 for each in PLAN.rectifiers}
    told = occurred(fed(line, 60, 80, faults))
    picture = line.picture(Moment(utc_ns=75 * NS, mono_ns=75 * NS))
    explained = {each.id for each in picture.alarms if each.behind == "works.mains-dip"}

    assert told.count("works.mains-dip") == 1
    assert explained >= {f"{each.id}.fault.discrete" for each in PLAN.rectifiers}


# A dip that is over.


FAULTS = replace(
    PLAN,
    conditions=tuple(
        each
        for each in PLAN.conditions
        if each.id.endswith((".fault.discrete", ".mains-dip", ".mains-dip.found"))
    ),
)


def dipped():
    """A line after one mains dip of ten seconds, one unit of which stays in its fault."""
    line = Line(FAULTS)
    fed(line, 10, 60)
    faults = {f"{each.id}.fault": 1.0 for each in PLAN.rectifiers}
    fed(line, 60, 70, faults)
    stays = {f"{PLAN.rectifiers[0].id}.fault": 1.0}
    fed(line, 70, 800, stays)
    return line, Moment(utc_ns=800 * NS, mono_ns=800 * NS)


def test_a_fault_that_has_gone_asks_for_a_tenth_of_the_attention_of_one_that_stands():
    line, at = dipped()
    stands, *gone = line.picture(at).rectifiers
    alarms = {each.id: each for each in line.picture(at).alarms}

    assert {alarms[f"{each.id}.fault.discrete"].state for each in gone} == {"returned"}
    assert stands.attention >= 60.0
    assert all(6.0 <= each.attention <= 16.0 for each in gone)


def test_what_a_dip_left_behind_stays_behind_it_when_it_is_over_and_in_its_group_once_seen():
    line, at = dipped()
    name = f"{PLAN.line_id}.mains-dip"
    left = {f"{each.id}.fault.discrete" for each in PLAN.rectifiers}
    alarms = {each.id: each for each in line.picture(at).alarms}
    assert alarms[name].state == "returned"
    assert {alarms[each].behind for each in left} == {name}

    line.obey(Order(request=1, command=Acknowledge(alarm=name, who="ab"), at=at))
    again = Line(FAULTS, line.memory())
    for seen in (line.picture(at), again.picture(at)):
        alarms = {each.id: each for each in seen.alarms}
        assert name not in alarms
        assert {alarms[each].group for each in left} == {"a mains dip or failure"}


def test_a_position_tells_whether_its_alarms_have_gone_and_one_that_stands_goes_before():
    line, at = dipped()
    tanks = {each.id: each for each in line.picture(at).tanks}
    first, second = (tanks[each.feeds[0][0]] for each in PLAN.rectifiers[:2])

    assert (first.worst, first.has_gone) == ("high", False)
    assert (second.worst, second.has_gone) == ("high", True)
    assert second.alarms >= second.unacknowledged > 0


@pytest.mark.parametrize(
    ("ph", "said", "not_said"),
    [(10.2, "it fell by more than half a unit", "limit"), (9.0, "(limit 10)", "it fell")],
)
def test_acid_in_cyanide_tells_which_of_its_two_figures_has_told_it(ph, said, not_said):
    line = Line(PLAN)
    fed(line, 10, 100, {"cyanide-oxidation.ph": 10.75})
    fed(line, 100, 140, {"cyanide-oxidation.ph": ph})
    picture = line.picture(Moment(utc_ns=140 * NS, mono_ns=140 * NS))
    (alarm,) = (each for each in picture.alarms if each.id.endswith(".cyanide-acid"))

    assert said in alarm.evidence
    assert not_said not in alarm.evidence
    assert f"{ph:.3g} pH" in alarm.evidence


# A probe that jumps because it is broken.


def alarms_at(line, at_s):
    picture = line.picture(Moment(utc_ns=at_s * NS, mono_ns=at_s * NS))
    return {each.id: each for each in picture.alarms}


def test_a_ph_that_jumps_to_seven_and_stands_there_is_a_broken_glass_and_no_dump():
    line = Line(PLAN)
    fed(line, 10, 400, {"discharge.ph": 8.9})
    fed(line, 400, 460, {"discharge.ph": 7.0})
    first = alarms_at(line, 460)["discharge.slug"]
    assert (first.state, first.behind) == ("unacknowledged", "")
    assert "glass" in first.text
    assert "glass is broken" in first.cause
    assert "strip by hand" in first.action

    fed(line, 460, 700, {"discharge.ph": 7.0})
    again = Line(PLAN, line.memory())
    for each in (line, again):
        seen = alarms_at(each, 700)
        assert seen["discharge.glass-broken"].behind == ""
        assert seen["discharge.slug"].behind == "discharge.glass-broken"


def test_a_ph_that_jumps_elsewhere_stays_told_though_nothing_was_read_for_minutes():
    line = Line(PLAN)
    fed(line, 10, 400, {"discharge.ph": 8.9})
    fed(line, 400, 600, {"discharge.ph": 5.0})
    fed(line, 900, 1000, {"discharge.ph": 5.0})
    seen = alarms_at(line, 1000)

    assert "discharge.glass-broken" not in seen
    assert seen["discharge.slug"].state == "unacknowledged"
    assert "3.9 pH (limit 1)" in seen["discharge.slug"].evidence
