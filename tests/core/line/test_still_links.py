"""A server that answers from memory: good values, none of which moves."""

from __future__ import annotations

import numpy as np
import pytest

from linewatch.config.library import shipped
from linewatch.config.works import read
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.plan import PRIORITIES
from linewatch.core.readings import Quality
from tests.core.line.invented import NS, block, moment, stacked

PLAN = read(shipped() / "demo.toml").plan
MINE = tuple(each for each in PLAN.layouts if each.link == "services")
STILL = "services.still"
SECOND = 10


def _usual(tag: str) -> float:
    window = PLAN.tags[tag].window
    edges = [each for each in (window.low, window.high) if each is not None]
    if window.target is not None:
        return window.target
    return sum(edges) / len(edges) if edges else 1.0


BASE = {layout: np.array([_usual(tag) for tag in layout.tags]) for layout in MINE}


def entries(until_s: int, *still: tuple[int, int], quality: Quality = Quality.GOOD):
    """Return what is read of the link; within some spans [s] every value stays as it was."""
    found = []
    step = 0
    for now_s in range(SECOND, until_s, SECOND):
        is_still = any(begin <= now_s < end for begin, end in still)
        step += not is_still
        for layout in MINE:
            # A last digit that moves, in one place or another.
            value = BASE[layout] * (1.0 + 1e-5 * np.sin(step + np.arange(len(layout.tags))))
            of = [quality if is_still else Quality.GOOD] * len(layout.tags)
            found.append(block(layout, now_s * NS, value, of))
    return found


def told(line: Line, fed) -> list[tuple[int, str]]:
    """Feed a line; return what its alarm of the link did, with the second."""
    found = []
    for entry in fed:
        alarms = [each for each in line.receive(entry) if each.kind is EventKind.ALARM]
        mine = [each for each in alarms if each.values["alarm"] == STILL]
        found += [(each.mono_ns // NS, each.values["move"]) for each in mine]
    return found


def test_a_link_whose_values_stand_still_for_five_minutes_is_told_once_until_they_move():
    line = Line(PLAN)

    [(came_s, move), (went_s, gone)] = told(line, entries(3000, (1200, 2400)))

    assert (move, gone) == ("occur", "clear")
    assert 1500 <= came_s <= 1500 + 60
    assert 2400 <= went_s <= 2400 + 60


def test_a_link_that_moves_is_never_told():
    assert told(Line(PLAN), entries(7200)) == []


def test_a_rest_that_the_link_takes_by_itself_is_learned():
    rests = [(600 + 900 * k, 800 + 900 * k) for k in range(4)]

    assert told(Line(PLAN), entries(6000, *rests)) == []
    # Three times its usual rest, as looks of half a minute see it, is more than five minutes.
    [(came_s, _)] = told(Line(PLAN), entries(9000, *rests, (6000, 9000)))
    assert 6000 + 3 * 170 <= came_s <= 6000 + 3 * 200 + 60


def test_a_link_that_is_silent_is_not_still():
    assert told(Line(PLAN), entries(3000, (1200, 3000), quality=Quality.NOT_CONNECTED)) == []


def test_a_link_that_never_moved_is_not_known_to_do_so():
    assert told(Line(PLAN), entries(3000, (0, 3000))) == []


def test_while_it_stands_its_values_are_in_doubt_and_water_must_not_go():
    line = Line(PLAN)
    told(line, entries(2000, (1200, 2000)))
    picture = line.picture(moment(1991 * NS))
    place = next(each for each in picture.tanks if each.permit)
    number = line.alarms.number[STILL]

    assert line.alarms.active[number]
    assert place.figures["ph"].quality == Quality.DOUBTED
    assert place.permit == "DO NOT LET WATER GO"
    assert f"{place.name}: its values no longer move" in place.permit_reasons


def test_what_stands_still_by_itself_follows_from_the_link():
    follow = {each.id for each in PLAN.conditions if STILL in {c.id for c in each.causes}}

    assert "discharge.ph.frozen" in follow
    assert not any(name.startswith("nickel-1.") for name in follow)


def test_it_is_as_urgent_as_the_most_urgent_value_that_it_leaves_unknown():
    ranks = [
        PRIORITIES.index(each.priority)
        for each in PLAN.conditions
        if each.kind == "bad-quality"
        and each.tag in {t for layout in MINE for t in layout.tags}
    ]
    [mine] = [each for each in PLAN.conditions if each.id == STILL]

    assert PRIORITIES.index(mine.priority) == max(1, *ranks)


@pytest.mark.parametrize("largest", [7, 50])
def test_stacks_and_a_restart_tell_the_same(largest):
    fed = entries(3000, (1200, 2400))
    singly = told(Line(PLAN), fed)
    first = Line(PLAN)
    cut = len(fed) // 2
    begun = told(first, fed[:cut])

    assert told(Line(PLAN), stacked(fed, largest)) == singly
    assert begun + told(Line(PLAN, first.memory()), fed[cut:]) == singly
