"""What would make a bad actor quieter, from its own history."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.alarms.remedies import (
    DELAYS_S,
    OFTEN,
    announcements,
    remedies,
    with_remedies,
)
from linewatch.core.line import Line
from linewatch.core.ports import RunStart
from linewatch.core.readings import Moment, Quality, Readings
from tests.core.line.invented import LAYOUTS, NS, PLAN, UTC_NS, condition

TANKS = LAYOUTS[-1]
LEVEL = TANKS.tags.index("nickel.level")
LOW = "nickel.level.low"
PLAN_OF_LEVEL = replace(
    PLAN, conditions=(condition(LOW, limit=800.0, deadband=5.0, on_delay_ns=2 * NS),)
)


def lived(plan, low_spells: list[tuple[int, int]], until_s: int = 4000) -> list:
    """Return what a line tells whose level is low in some spells [s]."""
    line = Line(plan)
    at = Moment(utc_ns=UTC_NS, mono_ns=0)
    events = line.begin(RunStart(run_id="r", at=at, fingerprint=plan.fingerprint, speed=1.0))
    for second in range(1, until_s):
        value = np.ones(len(TANKS.tags))
        is_low = any(begin <= second < begin + lasts for begin, lasts in low_spells)
        value[LEVEL] = 700.0 if is_low else 900.0
        quality = np.full(len(value), Quality.GOOD, dtype=np.uint8)
        mono_ns = second * NS
        events += line.receive(
            Readings(
                layout=TANKS,
                utc_ns=UTC_NS + mono_ns,
                mono_ns=mono_ns,
                value=value,
                quality=quality,
            )
        )
    return events


def test_an_alarm_that_comes_often_and_is_soon_over_gets_a_delay_that_is_then_enough():
    spells = [(200 * k, 8) for k in range(1, 15)] + [(3200, 300)]
    occurred = announcements(lived(PLAN_OF_LEVEL, spells))
    assert len(occurred) == len(spells)

    [remedy] = remedies(PLAN_OF_LEVEL, occurred)
    assert (remedy.alarm, remedy.came) == (LOW, len(spells))
    assert remedy.on_delay_s == 15.0
    assert remedy.deadband == 10.0

    # Rehearsed: what was real is still told, and nothing else.
    rehearsed = announcements(lived(with_remedies(PLAN_OF_LEVEL, [remedy]), spells))
    assert [each.at_ns // NS for each in rehearsed] == [3200 + 15]


def test_what_lasted_is_no_bad_actor():
    spells = [(900 * k, 700) for k in range(1, 5)]

    assert remedies(PLAN_OF_LEVEL, announcements(lived(PLAN_OF_LEVEL, spells))) == []


@given(st.lists(st.tuples(st.integers(1, 900), st.integers(1, 40)), max_size=6))
def test_no_suggestion_shortens_a_delay_or_narrows_a_deadband(spells):
    occurred = announcements(lived(PLAN_OF_LEVEL, spells, 1000))
    for remedy in remedies(PLAN_OF_LEVEL, occurred):
        assert remedy.came >= OFTEN
        assert remedy.on_delay_s in DELAYS_S
        assert remedy.on_delay_s > 2.0
        assert remedy.deadband >= 5.0


def test_a_rehearsed_plan_differs_in_what_was_chosen_alone():
    plan = PLAN
    changed = with_remedies(plan, [])

    assert changed == plan
