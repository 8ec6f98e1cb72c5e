"""Over how many loads the means of a rinse go is said as it is."""

from __future__ import annotations

import pytest

from linewatch.core.pages import Shown
from linewatch.core.water.rinse_page import Line, rinse_page, rinses_page
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
