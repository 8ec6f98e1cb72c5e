"""Figures of an explanation as the command line prints them."""

from __future__ import annotations

import pytest

from linewatch.cli.explanations import quantity


@pytest.mark.parametrize(
    ("value", "doubt", "words"),
    [
        # JCGM 100:2008, 7.2.6: at most two digits of the uncertainty, the figure to the same.
        (0.00539651, 0.0004, "0.00540 ± 0.00040"),
        (0.61728, 0.03582, "0.617 ± 0.036"),
        (1694.2345, 25.0, "1694 ± 25"),
        (198765.0, 1234.0, "198800 ± 1200"),
        (9.0949, 0.0996, "9.09 ± 0.10"),
        (7.25, 0.0, "7.25"),
    ],
)
def test_a_figure_has_the_digits_that_its_doubt_allows(value, doubt, words):
    assert quantity(value, "", "metric", doubt) == words
