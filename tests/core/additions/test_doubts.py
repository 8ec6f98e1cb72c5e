"""What speaks against a dose is said before it is logged."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.additions.doubts import Dose, Standing, doubts, next_dose_ml

HOUR_NS = 3600 * 10**9


def test_a_dose_of_what_is_owed_has_nothing_against_it():
    assert doubts(200.0, Standing(owed_ml=200.0, least_ml=50.0), HOUR_NS) == []


@given(
    owed=st.floats(0.0, 1e5),
    least=st.floats(0.0, 1e3),
    largest=st.floats(1e3, 1e5),
    hour=st.floats(0.0, 1e5),
)
def test_the_next_dose_is_at_least_the_least_and_no_hour_gets_more_than_the_largest(
    owed, least, largest, hour
):
    dose = next_dose_ml(owed, least_ml=least, largest_ml=largest, last_hour_ml=hour)
    assert dose <= owed
    assert dose == 0.0 or (dose >= least and dose + hour <= largest * (1 + 1e-9))


@pytest.mark.parametrize(
    ("amount", "standing", "says"),
    [
        (200.0, Standing(owed_ml=0.0), "nothing is owed"),
        (500.0, Standing(owed_ml=200.0), "only 200 mL is owed"),
        (500.0, Standing(owed_ml=900.0, largest_ml=400.0), "the largest dose is 400 mL"),
        (
            300.0,
            Standing(owed_ml=900.0, largest_ml=400.0, last_hour_ml=200.0),
            "within the hour",
        ),
        (200.0, Standing(owed_ml=200.0, concerns=("temperature low",)), "temperature low"),
        (200.0, Standing(owed_ml=200.0, lot_of="nickel/leveller"), "right drum"),
    ],
)
def test_a_doubt_says_what_it_is(amount, standing, says):
    assert says in "; ".join(doubts(amount, standing, 5 * HOUR_NS))


def test_a_dose_soon_after_another_names_who_and_when():
    before = (Dose(utc_ns=HOUR_NS, amount_ml=200.0, who="MK"),)
    said = doubts(200.0, Standing(owed_ml=200.0, doses=before), HOUR_NS + HOUR_NS // 3)
    assert said == ["MK logged 200 mL 20 min ago: is this a second dose?"]
