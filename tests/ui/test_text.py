"""Numbers, times and foreign text as a screen shows them."""

import datetime
import zoneinfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.readings import Quality
from linewatch.ui import text
from tests.ui import invented


@given(st.text(max_size=500))
def test_cleaned_text_holds_nothing_that_a_terminal_obeys(foreign):
    shown = text.clean(foreign)

    assert all(ord(sign) >= 0x20 and not 0x7F <= ord(sign) < 0xA0 for sign in shown)
    assert "\u202e" not in shown
    assert "\u200b" not in shown


@given(st.text(max_size=500))
def test_cleaning_twice_changes_nothing_more(foreign):
    once = text.clean(foreign)

    assert text.clean(once) == once


@pytest.mark.parametrize(
    "foreign",
    [
        "A \x1b[2J \x1b]0;t\x07 B",
        "\x1b]52;c;QUJD\x07",
        "\x9b2J",
        "\u202eevil\u202c",
        "a\u200bb\ufe0f\u2066",
        "\U0001f600",
        "e\u0301\u0301\u0301\u0301",
    ],
)
def test_control_direction_and_invisible_characters_become_question_marks(foreign):
    shown = text.clean(foreign)

    assert shown.isprintable()
    assert text.FOREIGN in shown


def test_letters_of_other_alphabets_stay_as_they_are():
    for word in ("Öl, naïve, Ærø", "никель", "めっき", "镀镍"):
        assert text.clean(word) == word


def test_a_very_long_text_is_cut_and_says_so():
    shown = text.clean("x" * 10_000)

    assert len(shown) == text.LONGEST
    assert shown.endswith("…")


@given(st.text(alphabet="abめっき·° ", max_size=60), st.integers(0, 40))
def test_a_fitted_text_takes_exactly_its_cells(words, width):
    assert text.cells(text.fit(words, width)) == width
    assert text.cells(text.fit(words, width, right=True)) == width


@given(st.floats(0.0, 1e7), st.integers(0, 12))
def test_a_number_that_does_not_fit_is_never_cut_to_another_number(value, width):
    number = f"{value:.1f}"
    shown = text.cut(f" {number} A·h", width)

    assert number in shown or not any(sign.isdigit() for sign in shown)


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_a_number_keeps_its_decimals_and_never_says_minus_zero(value, decimals):
    shown = text.number(value, decimals)

    assert len(shown.partition(".")[2]) == decimals
    assert float(shown) != 0.0 or not shown.startswith("-")


@pytest.mark.parametrize("quality", [each for each in Quality if each >= Quality.BAD])
def test_every_bad_quality_has_a_word_that_fits_a_column(quality):
    word = text.short_word(quality)

    assert 0 < len(word) <= 7
    assert not any(sign.isdigit() for sign in word)


def test_an_unknown_quality_is_still_a_word():
    assert text.short_word(0xBF) == "bad"
    assert text.quality_word(0xBF) == "bad"
    assert text.quality_word(0x7F) == "uncertain"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0, "0s"),
        (65, "1m05s"),
        (3599, "59m59s"),
        (3900, "1h05m"),
        (-70, "-1m10s"),
        (90000, "1d01h"),
    ],
)
def test_durations_are_short_and_never_look_like_a_time_of_day(seconds, shown):
    assert text.span(seconds) == shown
    assert ":" not in text.span(seconds) + text.age(seconds) + text.hours(abs(seconds))


def test_names_that_begin_alike_are_cut_so_that_they_stay_apart():
    names = ["Rinse before nickel", "Rinse before zinc", "Rinse", "Chromium reduction"]
    shown = text.cut_apart(names, 14)

    assert list(shown.values()) == [
        "Rinse b…nickel",
        "Rinse bef…zinc",
        "Rinse",
        "Chromium redu…",
    ]
    assert text.cut_apart(names, 20) == {name: name for name in names}


@pytest.mark.parametrize("width", range(12, 24))
def test_names_that_differ_stay_apart_and_within_their_room(width):
    names = [
        "Rinse after plating A",
        "Rinse after plating B",
        "Rinse before plating A",
        "電鍍槽甲",
    ]
    shown = text.cut_apart(names, width)

    assert len(set(shown.values())) == len(names)
    assert all(text.cells(each) <= width for each in shown.values())


def test_local_time_follows_both_changes_of_the_clock():
    berlin = zoneinfo.ZoneInfo("Europe/Berlin")
    spring = int(datetime.datetime(2026, 3, 29, 0, 59, 59, tzinfo=datetime.UTC).timestamp())
    autumn = int(datetime.datetime(2026, 10, 25, 0, 59, 59, tzinfo=datetime.UTC).timestamp())

    assert text.clock(spring * 10**9, berlin) == "01:59:59"
    assert text.clock((spring + 1) * 10**9, berlin) == "03:00:00"
    assert text.clock(autumn * 10**9, berlin) == "02:59:59"
    assert text.clock((autumn + 1) * 10**9, berlin) == "02:00:00"


def test_a_moment_carries_its_date():
    assert text.moment(invented.NOON, datetime.UTC) == "2026-03-29 12:00:00"
