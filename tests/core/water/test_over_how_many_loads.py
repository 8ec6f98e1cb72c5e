"""Over how many loads the means of a rinse go is said as it is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.pages import Shown
from linewatch.core.water.rinse_page import Line, rinse_page, rinses_page, water_words
from linewatch.core.water.seen import RinsePicture
from linewatch.core.water.why import why_rinse

SHOW = Shown("metric", str)
LINE = Line(name="Line", utc_ns=0, names={"rinse": "4 Rinse"})


@pytest.mark.parametrize(
    ("loads", "said"),
    [
        (0, "no load as yet"),
        (1, "the one load so far"),
        (2, "the 2 loads so far"),
        (10, "the last ten loads"),
        (60, "the last ten loads"),
    ],
)
def test_a_heading_says_how_many_loads_stand_behind_it(loads, said):
    rinse = RinsePicture(
        tank="rinse", loads=loads, step_us=20.0, film_ml=100.0, volume_l=500.0, source_us=1e5
    )
    page = rinse_page(LINE, rinse, (), SHOW)
    assert page.tables[0].heading == f"By {said}"
    assert why_rinse(rinse)[0].inputs[0].source == f"mean of {said}"
    (row,) = rinses_page(LINE, (rinse,), (), SHOW).tables[0].rows
    assert row[2] == str(min(loads, 10))


def test_loads_that_nobody_can_tell_are_said_and_are_in_no_mean():
    some = RinsePicture(
        tank="rinse",
        loads=8,
        untold=3,
        why_untold="wrong liquid in the rinse",
        step_us=20.0,
        film_ml=100.0,
        volume_l=500.0,
        source_us=1e5,
    )
    said = "what 3 of 8 loads carried in is not known; of the last: wrong liquid in the rinse"
    page = rinse_page(LINE, some, (), SHOW)
    assert page.tables[0].heading == "By the 5 loads whose step was told"
    assert ("not known", said) in page.tables[0].rows
    assert said in why_rinse(some)[0].notes
    (row,) = rinses_page(LINE, (some,), (), SHOW).tables[0].rows
    assert (row[2], row[6]) == ("5", "100")

    none = RinsePicture(tank="rinse", loads=1, untold=1, why_untold="wrong liquid in the rinse")
    (row,) = rinses_page(LINE, (none,), (), SHOW).tables[0].rows
    assert (row[2], row[6], row[-1]) == ("0", "not known", "")


def test_a_rinse_above_its_limit_is_never_said_to_have_water_to_spare():
    dirty = RinsePicture(
        tank="rinse",
        loads=8,
        step_us=14.0,
        exit_us=4927.0,
        limit_us=1300.0,
        interval_s=300.0,
        dwell_s=280.0,
        feed_us=320.0,
        flow_l_per_min=12.0,
        needed_l_per_min=3.7,
    )
    assert "may be saved" not in water_words(dirty)
    assert "something else keeps it above its limit" in water_words(dirty)
    assert "may be saved" in water_words(replace(dirty, exit_us=900.0))
