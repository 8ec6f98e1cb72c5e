"""Rectifiers that fail the same way with each load: one alarm, told once, with its own name."""

import numpy as np
import pytest

from linewatch.core.events import EventKind
from linewatch.core.line.machine import Line
from linewatch.core.readings import Moment
from tests.core.line.test_rules import NS, PLAN, fed, occurred

NONE = -0.5
"""No load, whatever noise is laid over it."""
RATED = {each.id: each for each in PLAN.rectifiers}


def loads(line, unit, working, count=3, stay_s=180):
    """Let loads come and go; return what was told of the unit: (alarm, move)."""
    tank, first_s = RATED[unit].feeds[0][0], 600
    events, at_s = fed(line, 10, first_s, {f"{tank}.load-present": NONE, **idle(unit)}), first_s
    for number in range(count):
        there = {f"{tank}.load-present": 1.0, f"{tank}.load-number": 4711.0 + number}
        for second in range(at_s, at_s + stay_s, 10):
            events += fed(line, second, second + 10, {**idle(unit), **there, **working(second)})
        at_s += stay_s
        events += fed(line, at_s, at_s + 120, {f"{tank}.load-present": NONE, **idle(unit)})
        at_s += 120
    told = [
        (str(event.values["alarm"]).removeprefix(f"{unit}."), str(event.values["move"]))
        for event in events
        if event.kind is EventKind.ALARM and event.subject == unit and "move" in event.values
    ]
    return told, at_s


def idle(unit):
    names = ("current", "voltage", "current-set", "ripple")
    return {
        "works.line-state": 1.0,
        f"{unit}.heat-sink": 35.0,
        **{f"{unit}.{name}": 0.0 for name in names},
    }


def test_volts_without_current_are_one_alarm_however_many_loads_come():
    unit = "rectifier-chromium"
    volts = RATED[unit].rated_voltage_v

    def working(_):
        return {f"{unit}.current": 0.0, f"{unit}.voltage": volts, f"{unit}.current-set": 900.0}

    line = Line(PLAN)
    told, at_s = loads(line, unit, working)

    assert told == [("open-circuit", "occur")]
    picture = line.picture(Moment(utc_ns=at_s * NS, mono_ns=at_s * NS))
    alarm = next(each for each in picture.alarms if each.id == f"{unit}.open-circuit")
    assert alarm.state == "unacknowledged"


@pytest.mark.parametrize("stay_s", [220, 310])
def test_a_unit_at_its_voltage_limit_is_told_as_that_and_its_current_does_not_hunt(stay_s):
    unit = "rectifier-strike"
    volts, amperes = RATED[unit].rated_voltage_v, 0.4 * RATED[unit].rated_current_a

    def working(second):
        if (second - 600) % (stay_s + 120) >= stay_s - 70:
            # The program is over, and the load waits for its hoist.
            return {f"{unit}.current-set": 2.0 * amperes}
        swings = 1.0 + 0.15 * np.sign(np.sin(second))
        return {
            f"{unit}.current": amperes * swings,
            f"{unit}.voltage": 0.9975 * volts,
            f"{unit}.current-set": 2.0 * amperes,
        }

    told, _ = loads(Line(PLAN), unit, working, stay_s=stay_s)

    # That a unit is off long before its load leaves is told too, and is another matter.
    said = [each for each in told if each[0] != "current-stopped"]
    assert said == [("at-voltage-limit", "occur")]


def test_volts_that_are_high_for_another_reason_wait_for_nothing_that_is_not_confirmed():
    unit = "rectifier-strike"
    plan = RATED[unit]

    def working(_):
        return {
            f"{unit}.current": 0.4 * plan.rated_current_a,
            f"{unit}.voltage": 0.8 * plan.rated_voltage_v,
            f"{unit}.current-set": 0.4 * plan.rated_current_a,
        }

    told, _ = loads(Line(PLAN), unit, working, count=1)

    assert told[0] == ("voltage.high", "occur")


def test_a_barrel_that_is_not_there_need_not_turn_and_one_that_is_there_must():
    line, still = Line(PLAN), {"works.line-state": 1.0, "zinc-2.speed": 0.0}
    empty = fed(line, 10, 400, {"zinc-2.load-present": NONE, **still})
    there = {"zinc-2.load-present": 1.0, "zinc-2.load-number": 812.0}
    filled = fed(line, 400, 480, {**there, **still})

    assert "zinc-2.speed.low" not in occurred(empty)
    assert "zinc-2.speed.low" in occurred(filled)
