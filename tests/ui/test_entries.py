"""What a person types, understood or refused in a sentence with a remedy."""

import pytest

from linewatch.core.measurements import MEASUREMENTS
from linewatch.ui import entries
from linewatch.ui.entries import NotUnderstood


@pytest.mark.parametrize(
    ("typed", "seconds"), [("30", 1800.0), ("2 h", 7200.0), ("90s", 90.0), ("1,5", 90.0)]
)
def test_a_time_is_minutes_unless_it_says_otherwise(typed, seconds):
    assert entries.minutes(typed) == pytest.approx(seconds, abs=1e-9)


@pytest.mark.parametrize("typed", ["", "0", "-5", "soon", "nan", "inf", "5 kg"])
def test_what_is_no_positive_time_is_refused(typed):
    with pytest.raises(NotUnderstood):
        entries.minutes(typed)


@pytest.mark.parametrize(
    ("typed", "system", "ml"),
    [
        ("250", "metric", 250.0),
        ("0.25 L", "metric", 250.0),
        ("1", "us", 29.5735295625),  # 1 US fluid ounce: NIST SP 811 (2008), appendix B
        ("1 L", "us", 1000.0),
    ],
)
def test_a_dose_is_in_the_unit_on_screen_unless_it_says_its_own(typed, system, ml):
    assert entries.amount_ml(typed, system) == pytest.approx(ml, abs=1e-4)


@pytest.mark.parametrize("typed", ["", "0", "much", "nan", "3 degC"])
def test_what_is_no_dose_is_refused(typed):
    with pytest.raises(NotUnderstood):
        entries.amount_ml(typed)


@pytest.mark.parametrize("typed", ["mk", " MK ", "A1"])
def test_initials_are_letters_and_digits(typed):
    assert entries.initials(typed) == typed.strip().upper()


@pytest.mark.parametrize("typed", ["", "  ", "M K", "m-k", "ABCDEFGHI", "\x1b[2J"])
def test_what_are_no_initials_is_refused(typed):
    with pytest.raises(NotUnderstood):
        entries.initials(typed)


def test_a_reason_needs_words_and_no_novel():
    assert entries.words("  probe cleaned ") == "probe cleaned"
    with pytest.raises(NotUnderstood):
        entries.words(" ")
    with pytest.raises(NotUnderstood):
        entries.words("x" * 501)
    assert entries.anything(" ") == ""


@pytest.mark.parametrize("kind", sorted(MEASUREMENTS))
def test_every_measurement_is_known_by_its_name(kind):
    assert entries.measured_kind(kind.upper()) == kind


def test_a_measurement_is_known_by_the_beginning_of_its_name_if_no_other_begins_so():
    assert entries.measured_kind("cond") == "conductivity"
    with pytest.raises(NotUnderstood):
        entries.measured_kind("c")
    with pytest.raises(NotUnderstood):
        entries.measured_kind("gloss")


@pytest.mark.parametrize(("typed", "kind"), [("500", "temperature"), ("-3", "ph"), ("x", "ph")])
def test_a_reading_that_cannot_be_is_refused(typed, kind):
    with pytest.raises(NotUnderstood):
        entries.reading(typed, kind)
