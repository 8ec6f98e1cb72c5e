"""Where a tank's water goes, told each hour: what is said of an hour that tells little."""

import numpy as np
import pytest

from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.plan import LinePlan, TagPlan, TankPlan
from linewatch.core.readings import Layout, Moment, Quality, Readings

NS = 10**9
HOUR_S = 3600
UTC_S = 500_000 * HOUR_S
"""A whole hour of the wall clock."""
LAYOUT = Layout(link="bus", device="all", tags=("soak.level",), period_ns=10 * NS)
PLAN = LinePlan(
    line_id="invented",
    name="Invented",
    fingerprint="a" * 64,
    layouts=(LAYOUT,),
    tags={
        "soak.level": TagPlan(
            id="soak.level",
            subject="soak",
            kind="level",
            low=0.0,
            high=2000.0,
            period_ns=10 * NS,
            stale_after_ns=30 * NS,
        )
    },
    tanks=(TankPlan(id="soak", name="Soak", kind="clean", surface_m2=2.0),),
    rectifiers=(),
    baths=(),
    conditions=(),
)


@pytest.mark.parametrize(
    ("quality", "said"),
    [
        (Quality.GOOD, "its level was not at rest for long enough to tell how fast it falls"),
        (Quality.NO_ANSWER, "its level was not read"),
    ],
)
def test_an_hour_that_tells_nothing_says_whether_the_level_was_read(quality, said):
    line, events = Line(PLAN), []
    # The last two minutes of an hour, and what is told when the next one has begun.
    for at_s in range(HOUR_S - 120, HOUR_S + 60, 10):
        at = Moment(utc_ns=(UTC_S + at_s) * NS, mono_ns=at_s * NS)
        value = np.array([850.0 if quality is Quality.GOOD else np.nan])
        events += line.receive(
            Readings(
                layout=LAYOUT,
                utc_ns=at.utc_ns,
                mono_ns=at.mono_ns,
                value=value,
                quality=np.array([quality], dtype=np.uint8),
            )
        )
        events += line.tick(at)

    told = [each for each in events if each.kind is EventKind.WATER]
    assert [each.text for each in told] == [said]
