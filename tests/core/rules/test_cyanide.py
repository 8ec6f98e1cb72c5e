"""Acid where there is cyanide: told first, and not by a jump that is alkaline."""

from dataclasses import replace

import numpy as np
import pytest

from linewatch.config.library import shipped
from linewatch.config.works import read, read_text
from linewatch.core.line.machine import Line
from linewatch.core.plan import Window
from linewatch.core.readings import Moment, Quality, Readings
from linewatch.core.rules.cyanide import cyanide_jumps, cyanide_turns_acid
from linewatch.core.rules.liquid import wrong_liquid
from linewatch.core.rules.rule import LOOK_S, Seen

NS = 10**9
DEMO = (shipped() / "demo.toml").read_text(encoding="utf-8")
WINDOW = {"conductivity": Window(high=1300.0), "ph": Window()}


def looked(judge, looks, limit=1.0, **more):
    """What each look tells; a look is (conductivity [µS/cm], pH), pH None where not read."""
    told, kept = [], ()
    for k, (conductivity, ph) in enumerate(looks):
        seen = Seen(
            now_s=LOOK_S * k,
            value={"conductivity": conductivity, "ph": ph},
            window=WINDOW,
            limit=limit,
            **more,
        )
        found, kept = judge(seen, kept)
        told.append(None if found is None else found.is_there)
    return told


def test_a_jump_without_a_ph_may_be_acid():
    assert looked(cyanide_jumps, [(400.0, None), (6400.0, None), (6300.0, None)]) == [
        False,
        True,
        True,
    ]


def test_a_jump_whose_ph_stays_alkaline_is_no_acid_but_still_a_wrong_liquid():
    looks = [(400.0, 9.0), (6400.0, 11.5), (6300.0, 11.5)]
    assert not any(looked(cyanide_jumps, looks))
    assert not any(looked(cyanide_turns_acid, looks, limit=6.5))
    assert looked(wrong_liquid, looks) == [False, True, True]


def test_a_ph_that_something_doubts_rules_nothing_out():
    looks = [(400.0, 9.0), (6400.0, 9.0)]
    assert looked(cyanide_jumps, looks, doubted=frozenset({"ph"})) == [False, True]


@pytest.mark.parametrize(
    ("ph", "is_told"),
    [
        ((10.5, 8.9), True),
        ((10.5, 10.0, 9.1), True),
        ((8.2, 6.4), True),
        ((9.2, 8.5, 8.4, 8.3), False),
        ((12.5, 11.0), False),
        ((7.4, 7.2, 7.0), False),
    ],
)
def test_a_ph_that_falls_is_acid_where_it_leaves_what_water_and_drag_out_make(ph, is_told):
    told = looked(cyanide_turns_acid, [(None, each) for each in ph], limit=6.5)
    assert told[-1] is is_told


def test_what_came_in_while_nobody_looked_is_told_at_the_next_look():
    kept, told = (), []
    for now_s, value in ((0.0, 400.0), (5000.0, 6400.0), (5030.0, 6400.0)):
        seen = Seen(now_s=now_s, value={"conductivity": value}, window=WINDOW, limit=1.0)
        found, kept = cyanide_jumps(seen, kept)
        told.append(found.is_there)
    assert told == [False, True, True]


def test_acid_stays_told_though_nothing_was_read_for_minutes():
    kept, told = (), []
    for now_s, value in ((0.0, 400.0), (30.0, 6400.0), (300.0, 6300.0), (330.0, 900.0)):
        seen = Seen(now_s=now_s, value={"conductivity": value}, window=WINDOW, limit=1.0)
        found, kept = cyanide_jumps(seen, kept)
        told.append(found.is_there)
    assert told == [False, True, True, False]


def fed(plan, changes):
    """The line after a while of usual readings and three minutes of others."""
    line = Line(plan)
    for now_s in range(10, 600, 10):
        for layout in plan.layouts:
            own = changes if now_s >= 400 else {}
            value = np.array([own.get(tag, _usual(plan.tags[tag])) for tag in layout.tags])
            quality = np.full(len(value), Quality.GOOD, dtype=np.uint8)
            at_ns = now_s * NS
            line.receive(
                Readings(
                    layout=layout, utc_ns=at_ns, mono_ns=at_ns, value=value, quality=quality
                )
            )
    return line.picture(Moment(utc_ns=600 * NS, mono_ns=600 * NS)).alarms


def _usual(tag):
    window = tag.window
    if window.target is not None:
        return window.target
    edges = [each for each in (window.low, window.high) if each is not None]
    return 0.5 * sum(edges) / len(edges) if edges else 0.0


def test_an_acid_hose_in_a_rinse_after_cyanide_is_told_as_danger_and_nothing_before_it():
    alarms = {
        each.id: each
        for each in fed(read_text(DEMO, "demo.toml").plan, {"rinse-3.conductivity": 6650.0})
    }
    danger = alarms["rinse-3.cyanide-jumps"]
    assert (danger.priority, danger.state) == ("highest", "unacknowledged")
    assert danger.action.startswith("leave")
    for name in ("wrong-liquid", "conductivity.high", "conductivity.high-high"):
        assert alarms[f"rinse-3.{name}"].behind == danger.id
    assert not any("dump and refill" in each.action for each in alarms.values())


def test_the_same_in_another_rinse_is_a_wrong_liquid():
    plan = read(shipped() / "demo.toml").plan
    alarms = {each.id: each for each in fed(plan, {"rinse-4.conductivity": 9000.0})}
    assert alarms["rinse-4.wrong-liquid"].priority == "high"
    assert "rinse-4.cyanide-jumps" not in alarms


def test_a_line_that_rests_does_not_make_it_quiet():
    plan = read(shipped() / "demo.toml").plan
    resting = tuple(
        replace(each, suppress_when=(*each.suppress_when, "line-rests"))
        for each in plan.conditions
    )
    state = next(tag for tag in plan.tags.values() if tag.kind == "line-state")
    alarms = fed(
        replace(plan, conditions=resting),
        {"rinse-3.conductivity": 6650.0, state.id: 0.0},
    )
    found = next(each for each in alarms if each.id == "rinse-3.cyanide-jumps")
    assert found.state == "unacknowledged"
