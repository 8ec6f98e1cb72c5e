"""What an alarm says of its value."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.ui.draw.alarms import alarm_detail
from linewatch.ui.draw.bands import alarm_words
from linewatch.ui.draw.rows import Look
from tests.ui import invented

LOOK = Look(width=120, height=40, now_ns=invented.NOON)
ALARM = replace(
    invented.troubled().alarms[0],
    tag="nickel-1.temperature",
    unit="degC",
    text="temperature",
    limit=57.0,
    state="unacknowledged",
)


@pytest.mark.parametrize(
    ("kind", "value", "state", "said"),
    [
        ("low", 56.1, "unacknowledged", "56.1 °C, limit 57.0"),
        ("low", 57.1, "unacknowledged", "57.1 °C, barely back inside limit 57.0"),
        ("high", 56.9, "acknowledged", "56.9 °C, barely back inside limit 57.0"),
        ("high-high", 57.2, "acknowledged", "57.2 °C, limit 57.0"),
        ("low", 60.0, "returned", "back at 60.0 °C, limit 57.0"),
    ],
)
def test_a_value_on_the_right_side_of_its_limit_is_not_told_as_if_it_were_beyond(
    kind, value, state, said
):
    alarm = replace(ALARM, kind=kind, value=value, state=state)

    assert alarm_words(alarm, LOOK) == f"temperature: {said}"


@pytest.mark.parametrize(
    ("kind", "now", "state", "said"),
    [
        ("low", 49.0, "unacknowledged", "49.0 °C, limit 57.0"),
        ("low", 58.4, "unacknowledged", "58.4 °C, back inside limit 57.0"),
        ("low", None, "unacknowledged", "56.1 °C, limit 57.0"),
        ("low", 60.0, "returned", "back at 56.1 °C, limit 57.0"),
    ],
)
def test_an_alarm_tells_what_is_read_now_where_it_is_good_and_judges_by_it(
    kind, now, state, said
):
    alarm = replace(ALARM, kind=kind, value=56.1, now=now, state=state)

    assert alarm_words(alarm, LOOK) == f"temperature: {said}"


@pytest.mark.parametrize(
    ("now", "limit", "said"),
    [(1500.0, 420.0, ": 25m00s, limit 7m00s"), (1500.0, 0.0, ": 25m00s"),
     (None, 420.0, ": 7m00s, limit 7m00s")],
)  # fmt: skip
def test_what_is_overdue_tells_how_long_it_lasts_by_now(now, limit, said):
    alarm = replace(
        ALARM, kind="overdue", tag="nickel-1.load-present", value=420.0, now=now, limit=limit
    )

    assert alarm_words(alarm, LOOK) == f"temperature{said}"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"now": 49.0}, "at first 56.1, now 49.0, limit 57.0 °C"),
        ({"now": None}, "at first 56.1, limit 57.0 °C"),
        ({"state": "returned", "now": 60.0}, "back at 56.1, now 60.0, limit 57.0 °C"),
        (
            {"kind": "overdue", "tag": "nickel-1.load-present", "value": 420.0, "now": 1500.0,
             "limit": 420.0},
            "at first 7m00s, now 25m00s, limit 7m00s",
        ),
    ],
)  # fmt: skip
def test_an_alarm_in_detail_tells_both_the_value_at_first_and_the_present_one(changes, said):
    alarm = replace(ALARM, **({"kind": "low", "value": 56.1} | changes))
    picture = replace(invented.line(), alarms=(alarm,))
    rows = [
        "".join(s.text for s in each.spans) for each in alarm_detail(picture, alarm.id, LOOK)
    ]
    shown = [each for each in rows if "limit" in each]

    assert len(shown) == 1
    assert shown[0].strip().startswith("value ")
    assert shown[0].strip().endswith(said)
