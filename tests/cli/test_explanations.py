"""Figures of an explanation as the command line prints them."""

from __future__ import annotations

import pytest

from linewatch.cli.explanations import UNSURE, in_words, quantity
from linewatch.core.electrochemistry.explanation import explain_time_to_target


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


@pytest.mark.parametrize(
    ("seconds", "words"), [(398.7512, "399 s"), (2053.37, "2050 s"), (0.0, "0 s")]
)
def test_a_figure_of_which_nobody_says_how_sure_it_is_has_three_digits(seconds, words):
    why = explain_time_to_target(seconds, inputs=())
    assert in_words(why, digits=UNSURE).startswith(f"time to target: {words}\n")


def test_its_digits_are_counted_in_the_units_that_are_shown():
    # 1 US gallon is 3.785411784 L: NIST SP 811, appendix B.8.
    assert quantity(100.0 * 3.785411784, "L", "us", None, UNSURE) == "100 gal"
    assert quantity(123.456 * 3.785411784, "L", "us", None, UNSURE) == "123 gal"


def test_a_quantity_that_was_worked_out_at_the_desk_keeps_its_digits():
    assert in_words(explain_time_to_target(398.7512, inputs=())).startswith(
        "time to target: 398.751 s\n"
    )
