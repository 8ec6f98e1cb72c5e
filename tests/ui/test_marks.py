"""Every state can be told from every other without any colour, in 7 bits too."""

from dataclasses import replace
from itertools import product

import pytest

from linewatch.core.alarms.states import State
from linewatch.core.plan import PRIORITIES
from linewatch.core.readings import Quality, is_bad, is_good
from linewatch.ui.draw.figures import figure_cell
from linewatch.ui.draw.ribbon import ribbon_rows
from linewatch.ui.draw.rows import Look
from linewatch.ui.marks import (
    PRESENCE_MARKS,
    SIDE_MARKS,
    STATE_FRAMES,
    alarm_mark,
    plain,
    state_word,
)
from tests.ui import invented

SHOWN = [str, plain]


def test_every_state_of_the_table_has_its_frame_and_word():
    assert set(STATE_FRAMES) == {state.word for state in State}
    assert len({state_word(state.word) for state in State}) == len(State)


@pytest.mark.parametrize("shown", SHOWN)
def test_no_two_alarms_of_another_state_or_priority_have_the_same_mark(shown):
    marks = [shown(alarm_mark(p, s.word)) for p, s in product(PRIORITIES, State)]

    assert len(set(marks)) == len(marks)
    assert {len(mark) for mark in marks} == {5}


@pytest.mark.parametrize("shown", SHOWN)
def test_no_two_sides_of_a_window_have_the_same_mark(shown):
    marks = [shown(mark) for mark in SIDE_MARKS.values()]

    assert len(set(marks)) == len(marks)


@pytest.mark.parametrize("shown", SHOWN)
def test_no_two_ways_of_hanging_in_a_tank_have_the_same_mark(shown):
    marks = [shown(mark) for name, mark in PRESENCE_MARKS.items() if name]

    assert len(set(marks)) == len(marks)


@pytest.mark.parametrize("shown", SHOWN)
def test_good_doubtful_bad_and_old_figures_look_different_without_colour(shown):
    live = Look(width=80, height=24, now_ns=invented.NOON)
    old = Look(width=80, height=24, now_ns=invented.NOON, is_live=False)

    def cell(quality, look):
        figure = invented.figure("nickel-1.temperature", 61.8, (58, 66), quality=quality)
        return shown(figure_cell(figure, 9, look).text)

    looks = {cell(Quality.GOOD, live), cell(Quality.UNCERTAIN, live), cell(Quality.GOOD, old)}
    bad = {cell(each, live) for each in Quality if is_bad(each)}

    assert len(looks) == 3
    assert not looks & bad
    assert not any(sign.isdigit() for word in bad for sign in word)


@pytest.mark.parametrize("quality", list(Quality))
def test_only_a_good_figure_looks_good(quality):
    look = Look(width=80, height=24, now_ns=invented.NOON)
    good = figure_cell(invented.figure("a.temperature", 61.8), 9, look).text
    text = figure_cell(invented.figure("a.temperature", 61.8, quality=quality), 9, look).text

    # What was typed in is good, and it is not live: it bears a mark of its own.
    assert (text == good) is (is_good(quality) and quality is not Quality.BY_HAND)


def test_plain_text_has_the_width_of_the_full_one():
    for text in ("61.8 °C ▲▲", "│··●··│ └▓▓┘", "± 12", "µS/cm A·h", "めっき", "▶■↧↥─╌…"):
        shown = plain(text)
        assert shown.isascii()

        from linewatch.ui.text import cells

        assert cells(shown) == cells(text)


def test_a_number_too_wide_for_its_column_is_never_cut_to_another_number():
    look = Look(width=80, height=24, now_ns=invented.NOON)
    cell = figure_cell(invented.figure("a.current", 123_456_789.0), 8, look)

    assert cell.text == "######  "


@pytest.mark.parametrize("shown", SHOWN)
@pytest.mark.parametrize("count", [70, 40, 12], ids=["two cells", "three", "six"])
def test_no_two_vessels_of_the_ribbon_look_alike_without_colour(shown, count):
    well = invented.line().tanks[0]
    well = replace(well, load=None, state="empty", alarms=0, out_of_service=False, figures={})
    outside = invented.figure("a.level", 9.0, (1, 2), side="high")
    doubt = invented.figure("a.level", 9.0, (1, 2), quality=Quality.STALE)
    kinds = [
        well,
        replace(well, state="in"),
        replace(well, state="entering"),
        replace(well, state="leaving"),
        replace(well, out_of_service=True),
        replace(well, figures={"level": outside}),
        replace(well, figures={"level": doubt}),
        *(replace(well, alarms=1, worst=priority) for priority in PRIORITIES),
    ]
    tanks = tuple(
        replace(kinds[k % len(kinds)], id=f"t{k}", number=str(k)) for k in range(count)
    )
    look = Look(width=160, height=50, now_ns=invented.NOON)
    picture = replace(invented.line(), tanks=tanks)
    cells = [shown(span.text) for span in ribbon_rows(picture, look, "")[1].spans[1:]]

    assert len(set(cells[: len(kinds)])) == len(kinds)
