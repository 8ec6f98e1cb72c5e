"""What a status, a value and a time mean, against the published code tables."""

import math
import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from asyncua.ua.status_codes import StatusCodes
from hypothesis import given
from hypothesis import strategies as st

from linewatch.config.links import TagRead
from linewatch.config.model import Read
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.readings import Quality, is_bad, is_good
from linewatch.drivers.opcua.identity import UNECE_NAMESPACE, unit_id, unit_of
from linewatch.drivers.opcua.items import item_of
from linewatch.drivers.opcua.meaning import (
    believed_ns,
    meant,
    number_of,
    quality_of,
    utc_ns_of,
)

ROWS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text(encoding="utf-8")
)["check"]
CODES = {row["id"]: row for row in ROWS if row["id"].startswith("opcua.status.")}
UNITS = {row["id"]: row for row in ROWS if row["id"].startswith("opcua.unit.")}
UNITS_NAMESPACE = UNITS.pop("opcua.unit.ns")

MEANT = {
    "Good": Quality.GOOD,
    "Uncertain": Quality.SOURCE_DOUBTFUL,
    "Bad": Quality.SOURCE_BAD,
    "BadNoCommunication": Quality.NO_ANSWER,
    "BadWaitingForInitialData": Quality.NOT_YET,
    "BadOutOfRange": Quality.OUT_OF_RANGE,
    "BadNotConnected": Quality.NO_ANSWER,
    "BadDeviceFailure": Quality.SOURCE_BAD,
    "BadSensorFailure": Quality.SENSOR_FAULT,
    "BadOutOfService": Quality.OUT_OF_SERVICE,
    "UncertainNoCommunicationLastUsableValue": Quality.LAST_KNOWN,
    "UncertainLastUsableValue": Quality.LAST_KNOWN,
    "UncertainSubstituteValue": Quality.SOURCE_DOUBTFUL,
    "UncertainSensorNotAccurate": Quality.SOURCE_DOUBTFUL,
    "UncertainEngineeringUnitsExceeded": Quality.SOURCE_DOUBTFUL,
    "GoodLocalOverride": Quality.BY_HAND,
    "GoodClamped": Quality.GOOD,
}


def item(kind: str = "temperature", span: tuple[float, float] = (-30, 350), **read):
    tag = TagRead(
        tag=f"x.{kind}",
        unit=MEASUREMENTS[kind].unit,
        low=span[0],
        high=span[1],
        period_ns=1,
        read=Read(node="s=T", **read),
    )
    return item_of(tag, "urn:test")


def code_of(row: dict) -> int:
    return int(row["value"], 16) if isinstance(row["value"], str) else int(row["value"])


@pytest.mark.published
@pytest.mark.parametrize("name", MEANT)
def test_a_published_status_code_has_its_meaning(name):
    assert quality_of(code_of(CODES[f"opcua.status.{name}"])) is MEANT[name]


def test_no_status_of_the_check_values_is_forgotten():
    assert {name.removeprefix("opcua.status.") for name in CODES} == set(MEANT)


@pytest.mark.parametrize(
    "name", [name for name in dir(StatusCodes) if name[:3] in {"Goo", "Unc", "Bad"}]
)
def test_every_code_of_the_standard_keeps_its_severity(name):
    """The names begin with the severity; OPC 10000-4, 7.39.1."""
    quality = quality_of(getattr(StatusCodes, name))

    assert is_good(quality) == name.startswith("Good")
    assert is_bad(quality) == name.startswith("Bad")


@given(st.integers(0, 2**32 - 1))
def test_the_top_two_bits_alone_decide_between_good_uncertain_and_bad(status):
    severity = status >> 30

    assert is_good(quality_of(status)) == (severity == 0)
    assert is_bad(quality_of(status)) == (severity >= 2)


@given(st.sampled_from(sorted(MEANT)), st.integers(0, 0xFFFF))
def test_the_lower_half_of_a_status_changes_nothing(name, bits):
    code = code_of(CODES[f"opcua.status.{name}"])

    assert quality_of(code & 0xFFFF0000 | bits) is MEANT[name]


@given(st.integers(2**31, 2**32 - 1), st.floats())
def test_a_bad_status_has_no_value_whatever_was_sent_with_it(status, value):
    meaning = meant(item(), status, value)

    assert math.isnan(meaning.value)
    assert is_bad(meaning.quality)


@given(
    st.one_of(
        st.none(), st.text(), st.binary(), st.floats(), st.integers(), st.booleans(),
        st.lists(st.floats()), st.datetimes(),
    ),
    st.integers(0, 2**32 - 1),
)  # fmt: skip
def test_only_finite_plausible_numbers_leave(value, status):
    meaning = meant(item(), status, value)

    if is_bad(meaning.quality):
        assert math.isnan(meaning.value)
    else:
        assert -30 <= meaning.value <= 350


@pytest.mark.parametrize(
    ("value", "number"),
    [
        (True, 1.0),
        (False, 0.0),
        (7, 7.0),
        (1.5, 1.5),
        (math.nan, None),
        (math.inf, None),
        (10**400, None),
        ("48", None),
        (None, None),
        ([48.0], None),
        (datetime(2025, 1, 1, tzinfo=UTC), None),
    ],
)
def test_what_is_a_number(value, number):
    assert number_of(value) == number


@pytest.mark.parametrize(
    ("read", "sent", "value", "quality"),
    [
        ({"scale": 0.1}, 480, 48.0, Quality.GOOD),
        ({"scale": 0.1, "offset": -5.0}, 480, 43.0, Quality.GOOD),
        ({"unit": "degF"}, 140.0, 60.0, Quality.GOOD),
        ({"unit": "degF", "scale": 0.1}, 1400, 60.0, Quality.GOOD),
        ({"sentinels": (-32768,)}, -32768, None, Quality.SENSOR_FAULT),
        ({}, -3276.8, None, Quality.OUT_OF_RANGE),
        ({}, 65526.0, None, Quality.OUT_OF_RANGE),
        ({}, "hot", None, Quality.MALFORMED),
    ],
)
def test_a_value_is_brought_into_the_tags_unit_or_refused(read, sent, value, quality):
    meaning = meant(item(**read), 0, sent)

    assert meaning.quality is quality
    assert math.isnan(meaning.value) if value is None else meaning.value == pytest.approx(value)


def test_one_bit_of_a_word_can_be_a_tag():
    fault = item("fault", (0, 1), bit=3)

    assert meant(fault, 0, 0b1000).value == 1.0
    assert meant(fault, 0, 0b0111).value == 0.0
    assert meant(fault, 0, 1.5).quality is Quality.MALFORMED


def test_source_times_are_read_to_the_nanosecond():
    assert utc_ns_of(None) is None
    assert utc_ns_of(datetime(1970, 1, 1, tzinfo=UTC)) == 0
    assert utc_ns_of(datetime(2001, 9, 9, 1, 46, 40, 5, tzinfo=UTC)) == 10**18 + 5000
    # A library that leaves the zone out means UTC: OPC 10000-6, 5.2.2.5.
    assert utc_ns_of(datetime(2001, 9, 9, 1, 46, 40)) == 10**18  # noqa: DTZ001
    assert utc_ns_of(datetime(1601, 1, 1, tzinfo=UTC)) < 0


@given(st.integers(0, 2**62), st.integers(-(2**40), 2**40), st.integers(1, 2**39))
def test_a_source_time_is_believed_only_within_the_tolerance(now_ns, offset_ns, tolerance_ns):
    believed = believed_ns(now_ns + offset_ns, now_ns, tolerance_ns)

    assert believed == (now_ns + offset_ns if abs(offset_ns) <= tolerance_ns else None)


def test_the_year_1601_and_the_far_future_are_not_believed():
    now_ns = utc_ns_of(datetime(2025, 6, 1, tzinfo=UTC))
    minute_ns = 60 * 10**9
    for time in (
        datetime(1601, 1, 1, tzinfo=UTC),
        datetime(2025, 6, 1, tzinfo=UTC) + timedelta(days=400),
    ):
        assert believed_ns(utc_ns_of(time), now_ns, minute_ns) is None


@pytest.mark.published
@pytest.mark.parametrize("name", UNITS)
def test_a_published_unit_id_is_made_of_the_common_codes_characters(name):
    assert unit_id(name.removeprefix("opcua.unit.")) == UNITS[name]["value"]


@pytest.mark.published
@pytest.mark.parametrize("name", UNITS)
def test_a_published_unit_id_is_known_by_our_name_of_it(name):
    words = UNITS[name]["quantity"].split("(", 1)[1].rsplit(")", 1)[0]

    assert unit_of(UNITS_NAMESPACE["value"], UNITS[name]["value"]) == words


def test_a_unit_of_another_list_is_not_taken_for_one_of_ours():
    assert UNITS_NAMESPACE["value"] == UNECE_NAMESPACE
    assert unit_of("urn:own", unit_id("CEL")) is None
    assert unit_of(UNECE_NAMESPACE, -1) is None
