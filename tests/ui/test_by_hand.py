"""A value that somebody typed in looks like one: its age, its mark, who typed it in."""

from dataclasses import replace

import pytest

from linewatch.core.readings import Quality
from linewatch.core.view import Figure
from linewatch.ui.draw.explain import figure_why
from linewatch.ui.draw.figures import figure_cell
from linewatch.ui.draw.line import other_figure
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.tank import figure_rows
from tests.ui import invented

AGO_NS = 46 * 60 * invented.S
LOOK = Look(width=160, height=50, now_ns=invented.NOON)


def hand(side: str = "", value: float = 9.2) -> Figure:
    return Figure(
        tag="soak-1.ph",
        kind="ph",
        value=value,
        quality=int(Quality.BY_HAND),
        utc_ns=invented.NOON - AGO_NS,
        good_utc_ns=invented.NOON - AGO_NS,
        low=8.0,
        high=9.0,
        side=side,
        who="AB",
    )


def live() -> Figure:
    return Figure(
        tag="soak-1.conductivity",
        kind="conductivity",
        value=41000.0,
        quality=int(Quality.GOOD),
        utc_ns=invented.NOON,
    )


def words(rows) -> str:
    return " ".join(" ".join("".join(span.text for span in row.spans) for row in rows).split())


@pytest.mark.parametrize("side", ["", "high"])
def test_in_the_line_it_never_goes_before_what_is_read_live(side):
    tank = invented.line().tanks[0]
    both = replace(tank, figures={"ph": hand(side), "conductivity": live()})
    assert other_figure(both).kind == "conductivity"
    alone = replace(tank, figures={"ph": hand(side)})
    assert other_figure(alone).kind == "ph"


def test_in_the_line_it_wears_a_mark_and_in_the_tank_its_age():
    assert figure_cell(hand(), 8, LOOK).text == "  9.20h "
    assert figure_cell(hand("high"), 8, LOOK).text == "  9.20h▲"
    shown = words(figure_rows({"ph": hand(), "conductivity": live()}, LOOK))
    assert "by hand, 46 min ago" in shown
    assert shown.count("by hand") == 1


def test_why_says_who_typed_it_in_and_when():
    shown = words(figure_why(hand(), "Soak", LOOK))
    assert "typed in by AB at 11:14:00; no device reads it" in shown
    assert "read from the device" not in shown
    assert "read from the device and scaled" in words(figure_why(live(), "Soak", LOOK))


@pytest.mark.parametrize(("side", "mark"), [("low-low", "▼▼"), ("low", "▼"), ("", "")])
def test_what_is_not_live_keeps_both_marks_of_its_side(side, mark):
    figure = replace(live(), kind="temperature", value=46.7, side=side)
    old = Look(width=160, height=50, now_ns=invented.NOON, is_live=False)
    assert figure_cell(figure, 8, old).text.strip() == f"(46.7){mark}"
