"""Rules and moves: alike after a restart, and one alarm for one cause."""

import numpy as np

from linewatch.config.library import shipped
from linewatch.config.works import read
from linewatch.core.line.machine import Line
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
