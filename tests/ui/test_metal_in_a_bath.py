"""The metal in a bath on screen: how sure it is, since when each figure counts."""

from __future__ import annotations

from dataclasses import replace

from linewatch.core.view import BathPicture, ConcentrationPicture, MetalPicture
from linewatch.ui.draw.baths import bath_detail
from linewatch.ui.draw.explain import bath_more_why
from linewatch.ui.draw.rows import Look
from tests.ui import invented

LOOK = Look(width=160, height=60, now_ns=invented.NOON)
JUST_ANALYSED = ConcentrationPicture(
    metal="Ni",
    predicted_g_per_l=62.1,
    uncertainty_g_per_l=0.004,
    measured_g_per_l=62.1,
    measured_utc_ns=invented.NOON,
    dissolved_g=0.0,
    laid_g=198.0,
    dragged_g=0.0,
    salts_g=0.0,
    usual_l=3000.0,
    solution_l=3000.0,
)


def shown(found: ConcentrationPicture, missed_g: float = 0.0) -> str:
    bath = BathPicture(
        id="bright",
        name="Bright nickel",
        tanks=("19",),
        metal=MetalPicture(deposit="Ni", mass_g=1694.0, uncertainty_g=25.0, missed_g=missed_g),
        concentration=found,
    )
    rows = bath_detail(bath, LOOK)
    return " ".join("".join(span.text for span in each.spans) for each in rows)


def words(text: str) -> str:
    return " ".join(text.split())


def test_right_after_an_analysis_no_figure_is_told_to_be_sure_to_nothing():
    text = words(shown(JUST_ANALYSED))
    assert "62.1 g/L" in text
    assert "± 0.0" not in text
    assert "how sure the analysis itself is, nobody told" in text
    assert "unexplained" not in text


def test_what_went_since_the_analysis_has_its_own_doubt_beside_that_of_the_analysis():
    text = words(shown(replace(JUST_ANALYSED, uncertainty_g_per_l=0.3)))
    assert "± 0.3 g/L by what went in and out since;" in text
    configured = replace(JUST_ANALYSED, measured_utc_ns=None)
    assert "how sure the configured number itself is" in words(shown(configured))


def test_since_when_each_mass_counts_is_said_beside_it():
    text = words(shown(JUST_ANALYSED))
    assert "all that was laid down since the record began" in text
    assert "-198 g since then" in text


def test_what_is_not_explained_says_against_what():
    text = words(shown(replace(JUST_ANALYSED, unexplained_g_per_l=-0.8)))
    assert "unexplained -0.8 g/L: what the last analysis found, less what the" in text


def test_the_sum_can_be_followed_and_water_is_seen_to_thin_it():
    """68.0 g/L in 5000 L, 24 g more metal and 8 L more water: 67.9 g/L."""
    thinner = replace(
        JUST_ANALYSED,
        measured_g_per_l=68.0,
        predicted_g_per_l=(68.0 * 5000.0 + 397.0 - 373.0) / 5008.0,
        dissolved_g=397.0,
        laid_g=373.0,
        usual_l=5000.0,
        solution_l=5008.0,
        by_level=True,
    )
    text = words(shown(thinner))

    assert "Ni 67.9 g/L" in text
    assert "in it then 340000 g in 5000 L" in text
    assert "anodes gave 397 g" in text
    assert "laid down -373 g" in text
    assert "in it now 340024 g in 5008 L" in text


def test_why_a_bath_is_as_it_is_tells_its_metal_too():
    bath = BathPicture(
        id="bright",
        name="Bright nickel",
        tanks=("19",),
        metal=MetalPicture(deposit="Ni", mass_g=1694.0, uncertainty_g=25.0),
        concentration=JUST_ANALYSED,
    )
    rows = bath_more_why(bath, LOOK)
    text = words(" ".join("".join(span.text for span in each.spans) for each in rows))

    assert "metal in the bath, predicted" in text
    assert "1694 ± 25 g" in text


def test_what_nobody_metered_is_said_to_be_in_no_figure_of_the_metal():
    said = "what flowed while nobody metered is in none of these"
    assert said not in words(shown(JUST_ANALYSED))
    assert said in words(shown(JUST_ANALYSED, missed_g=900.0))
