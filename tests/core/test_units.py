"""Quantities as people write them."""

import math
import tomllib
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.errors import UnitMismatch
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.units import (
    UNITS,
    US_UNITS,
    convert,
    find,
    number,
    parse,
    parse_difference,
    shown_unit,
    symbol,
    whole,
    with_symbols,
)

CHECKS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[1] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}

PUBLISHED_FACTORS = [
    ("unit.adm2_asf", 1.0, "A/dm2", "A/ft2"),
    ("unit.asf_adm2", 1.0, "A/ft2", "A/dm2"),
    ("unit.asi_adm2", 1.0, "A/in2", "A/dm2"),
    ("unit.mil_um", 1.0, "mil", "um"),
    ("unit.gal_l", 1.0, "gal", "L"),
    ("unit.igal_l", 1.0, "igal", "L"),
    ("unit.ozgal", 1.0, "oz/gal", "g/L"),
    ("unit.troyozgal", 1.0, "ozt/gal", "g/L"),
    ("unit.ozft2", 1.0, "oz/ft2", "g/dm2"),
    ("unit.gal1000", 1.0, "gal/1000ft2", "mL/m2"),
    ("unit.ksi", 1.0, "ksi", "MPa"),
    ("unit.btu", 1.0, "Btu/(h.ft2)", "W/m2"),
    ("unit.psi", 2500.0, "psi", "kgf/cm2"),
]


@pytest.mark.published
@pytest.mark.parametrize(("row", "number", "given_unit", "wanted"), PUBLISHED_FACTORS)
def test_a_factor_is_the_published_one(row, number, given_unit, wanted):
    check = CHECKS[row]

    assert convert(number, given_unit, wanted) == pytest.approx(
        check["value"], rel=check["rel_tol"]
    )


PINT = pint.UnitRegistry()
PINT_NAMES = {
    "A.h": "A*h",
    "kA.h": "kA*h",
    "A/dm2": "A/dm**2",
    "A/ft2": "A/ft**2",
    "mA/cm2": "mA/cm**2",
    "oz/gal": "oz/gallon",
    "ozt/gal": "troy_ounce/gallon",
    "igal": "imperial_gallon",
    "L/(h.m2)": "L/h/m**2",
    "kgf/cm2": "kgf/cm**2",
    "m3": "m**3",
    "ft2": "ft**2",
    "in2": "inch**2",
    "dm2": "dm**2",
    "m2": "m**2",
    "in": "inch",
    "um": "micrometer",
    "floz": "fluid_ounce",
    "ft2/lb": "ft**2/lb",
    "dm2/kg": "dm**2/kg",
    "m3/h": "m**3/h",
    "gal/min": "gallon/min",
    "gal": "gallon",
    "mil": "mil_length",
}
PINT.define("mil_length = 0.001 * inch")


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("A/ft2", "A/dm2"),
        ("mA/cm2", "A/dm2"),
        ("oz/gal", "g/L"),
        ("ozt/gal", "g/L"),
        ("igal", "L"),
        ("floz", "mL"),
        ("lb", "g"),
        ("psi", "bar"),
        ("kgf/cm2", "bar"),
        ("ft2/lb", "dm2/kg"),
        ("m3/h", "L/min"),
        ("gal/min", "L/min"),
        ("kA.h", "A.h"),
        ("mil", "um"),
        ("in2", "dm2"),
    ],
)
def test_a_general_units_library_agrees(first: str, second: str):
    theirs = PINT.Quantity(1.0, PINT_NAMES.get(first, first)).to(PINT_NAMES.get(second, second))

    assert convert(1.0, first, second) == pytest.approx(theirs.magnitude, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("2400 L", "L", 2400.0),
        ("2400 l", "L", 2400.0),
        ("2,4 L", "L", 2.4),
        ("65 degC", "degC", 65.0),
        ("65°C", "degC", 65.0),
        ("-40 °F", "degC", -40.0),
        ("4 A/dm2", "A/dm2", 4.0),
        ("4 A/dm²", "A/dm2", 4.0),
        ("43.05564 ASF", "A/dm2", 4.634470),
        ("12 µm", "um", 12.0),
        ("0.5 mil", "um", 12.7),
        ("500 gal", "L", 1892.705892),
        ("150 mL/kAh", "mL/kA.h", 150.0),
        ("0.3 %", "%", 0.3),
        ("3min", "s", 180.0),
        ("2 hours", "s", 7200.0),
        ("10 s", "s", 10.0),
        ("200 ms", "ms", 200.0),
        ("1 000 A", "A", 1000.0),
        ("1e3 A", "A", 1000.0),
        (".5 V", "V", 0.5),
        ("99 999 A·h", "A.h", 99999.0),
        ("7", "", 7.0),
    ],
)
def test_what_people_write_is_understood_or_refused(text: str, unit: str, value: float | None):
    if value is None:
        with pytest.raises(UnitMismatch):
            parse(text, unit)
    else:
        assert parse(text, unit) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("65", "degC", "no unit"),
        ("65 V", "degC", "V is a voltage"),
        ("2 K", "degC", "written as"),
        ("warm", "degC", "temperature"),
        ("", "L", "volume"),
        ("5 furlongs", "mm", "'furlongs' is not known; use mm"),
        ("nan L", "L", "volume"),
        ("1 A", "", "current"),
    ],
)
def test_a_mismatch_says_what_to_write_instead(text: str, unit: str, words: str):
    with pytest.raises(UnitMismatch, match=words):
        parse(text, unit)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("2 K", "degC", 2.0),
        ("2 degC", "degC", 2.0),
        ("3.6 degF", "degC", 2.0),
        ("5 %", "%", 5.0),
    ],
)
def test_a_difference_of_temperatures_has_no_zero_point(text: str, unit: str, value: float):
    assert parse_difference(text, unit) == pytest.approx(value)


def test_a_difference_of_another_dimension_is_refused():
    with pytest.raises(UnitMismatch, match="voltage"):
        parse_difference("2 V", "degC")


@pytest.mark.parametrize(("first", "second"), [("L", "furlong"), ("furlong", "L"), ("L", "kg")])
def test_a_conversion_between_things_that_differ_is_refused(first: str, second: str):
    with pytest.raises(UnitMismatch):
        convert(1.0, first, second)


@given(
    value=st.floats(-1e6, 1e6),
    pair=st.sampled_from(
        [
            (first, second)
            for first in UNITS
            for second in UNITS
            if UNITS[first].dimension == UNITS[second].dimension
        ]
    ),
)
def test_there_and_back_is_where_we_were(value: float, pair: tuple[str, str]):
    back = convert(convert(value, pair[0], pair[1]), pair[1], pair[0])

    assert math.isclose(back, value, rel_tol=1e-9, abs_tol=1e-6)


def test_every_measurement_can_be_shown_in_both_systems():
    for measurement in MEASUREMENTS.values():
        shown = shown_unit(measurement.unit, "us")
        assert math.isfinite(convert(1.0, measurement.unit, shown))
        assert shown_unit(measurement.unit, "metric") == measurement.unit


def test_us_units_are_units_of_the_same_dimension():
    for metric, us in US_UNITS.items():
        assert UNITS[metric].dimension == UNITS[us].dimension


def test_symbols_are_what_is_painted_on_instruments():
    assert [symbol(unit) for unit in ("degC", "um", "A.h", "V", "delta_degF")] == [
        "°C",
        "µm",
        "A·h",
        "V",
        "°F",
    ]


def test_an_unknown_spelling_is_no_unit():
    assert find("furlong") is None


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        (
            "temperature low: 56.9 degC, limit 57.0 degC",
            "temperature low: 56.9 °C, limit 57.0 °C",
        ),
        ("16.88 A.h, 0.80 ± 0.18 um", "16.88 A·h, 0.80 ± 0.18 µm"),
        ("raised by 30 uS/cm", "raised by 30 µS/cm"),
        ("grows by 12 um/h", "grows by 12 µm/h"),
        # A word that only begins so, or that no number stands before, is a word.
        ("3 umbrellas, degC, um", "3 umbrellas, degC, um"),
    ],
)
def test_a_sentence_of_the_record_is_said_with_the_units_that_people_write(kept, said):
    assert with_symbols(kept) == said


def test_decimals_are_written_with_a_point_or_a_comma():
    assert number("75,5") == number(" 75.5 ") == 75.5
    assert number("0,125") == 0.125
    assert number("1 200") == 1200.0
    assert parse("75,5 g/L", "g/L") == 75.5
    assert parse(",5 mm", "mm") == 0.5


@pytest.mark.parametrize("text", ["2,400", "1,234,567", "-1,234"])
def test_a_comma_that_may_mean_two_things_is_asked_about(text):
    for read in (number, lambda each: parse(f"{each} A.h", "A.h")):
        with pytest.raises(UnitMismatch, match="thousands without a comma"):
            read(text)


@pytest.mark.parametrize("text", ["", "x", "nan", "inf", "1e999", "7 g", "1.2.3", "1,2,3"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(UnitMismatch):
        number(text)


def test_a_whole_number_is_whole():
    assert whole(" 12 ") == 12
    for text in ("2.5", "x", "", "0x10", "1e3"):
        with pytest.raises(UnitMismatch, match="write it as 12"):
            whole(text)
