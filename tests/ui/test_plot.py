"""The plot: a spike never vanishes, a gap stays a gap, a scale holds its curve."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.ports import Series
from linewatch.ui.draw.plot import (
    BLANK,
    braille,
    joined,
    resampled,
    row_of,
    scale_of,
    strokes,
    ticks,
)
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.trend import cursor_words, curve_of, marks_of, plot_rows
from tests.ui import invented

values = st.floats(-1e6, 1e6)
bands = st.lists(
    st.none() | st.tuples(values, values).map(lambda pair: (min(pair), max(pair))),
    min_size=1,
    max_size=60,
)


@given(bands, st.integers(1, 50))
def test_resampling_keeps_the_least_and_the_most(given_bands, columns):
    made = resampled(given_bands, columns)
    good = [band for band in given_bands if band is not None]
    kept = [band for band in made if band is not None]

    assert len(made) == columns
    if good and columns <= len(given_bands):
        assert min(band[0] for band in kept) == min(band[0] for band in good)
        assert max(band[1] for band in kept) == max(band[1] for band in good)


@given(bands)
def test_joining_neighbours_invents_nothing_over_a_gap(given_bands):
    made = joined(given_bands)

    for before, after in zip(given_bands, made, strict=True):
        assert (before is None) is (after is None)


@given(bands, st.integers(1, 30), st.integers(1, 12))
@pytest.mark.parametrize("draw", [braille, strokes])
def test_a_drawing_has_its_size_and_columns_of_a_gap_are_blank(
    draw, given_bands, width, height
):
    lines = draw(given_bands, (width, height), scale_of(given_bands))

    assert len(lines) == height
    assert all(len(line) == width for line in lines)
    assert BLANK not in "".join(lines)
    finer = (
        resampled(given_bands, width * 2) if draw is braille else resampled(given_bands, width)
    )
    step = len(finer) // width
    for column in range(width):
        is_gap = all(band is None for band in finer[column * step : (column + 1) * step])
        is_blank = all(line[column] == " " for line in lines)
        assert is_gap is is_blank


@pytest.mark.parametrize("draw", [braille, strokes])
def test_one_spike_among_a_thousand_columns_reaches_the_top(draw):
    flat = [(10.0, 10.0)] * 1000
    flat[617] = (10.0, 99.0)
    lines = draw(flat, (20, 8), scale_of(flat))

    assert lines[0].strip() or lines[1].strip()


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(1, 12))
def test_ticks_are_few_and_lie_within_the_scale(bottom, size, most):
    found = ticks(bottom, bottom + size, most)

    assert len(found) <= most
    assert all(bottom - 1e-6 * size <= each <= bottom + size * (1 + 1e-6) for each in found)


@given(st.floats(allow_nan=False, allow_infinity=False, width=32), st.integers(1, 40))
def test_every_value_falls_into_some_row(value, rows):
    assert 0 <= row_of(value, (0.0, 1.0), rows) < rows


def _series(low, good_s=1.0):
    count = len(low)
    return Series(
        tag="nickel-1.temperature",
        start_utc_ns=np.arange(count, dtype=np.int64) * invented.S + invented.NOON,
        low=np.array(low, dtype=float),
        mean=np.array(low, dtype=float),
        high=np.array(low, dtype=float),
        good_s=np.full(count, good_s),
    )


def test_what_was_never_recorded_is_a_gap_of_the_curve():
    nan = math.nan
    curve = curve_of(_series([1.0, nan, 3.0]), invented.NOON, invented.NOON + 6 * invented.S, 6)

    assert [band is None for band in curve.bands] == [False, True, False, True, True, True]


def test_buckets_that_share_a_column_keep_least_and_most():
    curve = curve_of(_series([1.0, 9.0, 3.0]), invented.NOON, invented.NOON + 3 * invented.S, 1)

    assert curve.bands == ((1.0, 9.0),)


def test_limits_alarms_and_additions_stand_on_the_plot():
    from linewatch.core.events import EventKind

    end = invented.NOON + 600 * invented.S
    curve = curve_of(_series([60.0] * 600), invented.NOON, end, 60)
    figure = invented.figure("nickel-1.temperature", 60.0, (58, 66))
    events = [
        invented.event(
            100, "temperature low: 57", kind=EventKind.ALARM, subject="nickel-1", move="occur"
        ),
        invented.event(
            200, "acknowledged", kind=EventKind.ALARM, subject="nickel-1", move="acknowledge"
        ),
        invented.event(300, "dose", kind=EventKind.ADDITION, subject="nickel-1"),
        invented.event(
            400, "temperature low", kind=EventKind.ALARM, subject="nickel-2", move="occur"
        ),
    ]
    marks = marks_of(figure, "nickel-1.temperature", events, None)
    look = Look(width=80, height=24, now_ns=end, zone=invented_zone())
    rows = plot_rows(curve, marks, (80, 16), look)
    text = ["".join(span.text for span in row.spans) for row in rows]

    assert sum("╌" in line for line in text) == 2
    assert text[-2].count("!") == 1
    assert text[-2].count("+") == 1
    assert text[-2].index("!") < text[-2].index("+")
    assert [text[-1].index(f"12:0{minute}") for minute in (0, 2, 4, 6, 8)] == [
        11,
        24,
        38,
        52,
        66,
    ]


def test_the_cursor_tells_values_or_that_there_are_none():
    end = invented.NOON + 4 * invented.S
    curve = curve_of(_series([60.0, math.nan, 61.0, 62.0]), invented.NOON, end, 4)
    look = Look(width=80, height=24, now_ns=end, zone=invented_zone())

    first = cursor_words(curve, 0, 4, look)
    assert first == "03-29 12:00:00  mean 60.0  least 60.0  most 60.0 °C"
    assert "nothing good was recorded" in cursor_words(curve, 1, 4, look)
    assert cursor_words(curve, 9, 4, look) == ""


def test_the_cursor_names_the_alarms_that_began_there_the_lines_among_them():
    from linewatch.core.events import EventKind

    end = invented.NOON + 600 * invented.S
    curve = curve_of(_series([60.0] * 600), invented.NOON, end, 60)
    look = Look(width=80, height=24, now_ns=end, zone=invented_zone())
    events = [
        invented.event(number, text, kind=EventKind.ALARM, subject=subject, move="occur")
        for number, text, subject in (
            (101, "voltage low-low: 0.1 V", "rectifier-1"),
            (102, "a mains dip or failure: 9 of 9 units", "invented"),
            (103, "temperature low", "nickel-2"),
        )
    ]
    others = ("invented", "rectifier-1")
    marks = marks_of(None, "nickel-1.temperature", events, None, (), others)

    said = cursor_words(curve, 10, 60, look, marks)
    assert said.endswith("°C  ! voltage low-low, a mains dip or failure")
    assert "!" not in cursor_words(curve, 11, 60, look, marks)


def invented_zone():
    import datetime

    return datetime.UTC
