"""One cause, one line in the list: what explains an alarm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from linewatch.core.line import Line
from linewatch.core.ports import RunStart
from linewatch.core.readings import Moment, Quality, Readings
from tests.core.line.invented import LAYOUTS, NS, PLAN, UTC_NS, condition

GATEWAY = tuple(layout for layout in LAYOUTS if layout.link == "gateway")
UNREADABLE = tuple(condition(f"{tag}.bad-quality") for layout in LAYOUTS for tag in layout.tags)
PLAN_OF_MANY = replace(
    PLAN, conditions=UNREADABLE, flood_start_per_10min=5.0, flood_end_per_10min=2.0
)


def read(layout, second: float, quality: Quality) -> Readings:
    width = len(layout.tags)
    value = np.full(width, 1.0 if quality == Quality.GOOD else np.nan)
    return Readings(
        layout=layout,
        utc_ns=UTC_NS + round(second * NS),
        mono_ns=round(second * NS),
        value=value,
        quality=np.full(width, quality, dtype=np.uint8),
    )


def line_with(qualities) -> Line:
    """Return a line on which all was good for a second, and then was not."""
    line = Line(PLAN_OF_MANY)
    at = Moment(utc_ns=UTC_NS, mono_ns=0)
    line.begin(RunStart(run_id="r", at=at, fingerprint=PLAN.fingerprint, speed=1.0))
    for layout in LAYOUTS:
        line.receive(read(layout, 1.0, Quality.GOOD))
    for layout in LAYOUTS:
        line.receive(read(layout, 2.0, qualities(layout)))
    return line


def groups(line: Line) -> dict[str, str]:
    picture = line.picture(Moment(utc_ns=UTC_NS + 2 * NS, mono_ns=2 * NS))
    return {alarm.tag: alarm.group for alarm in picture.alarms}


def test_a_lost_link_explains_the_bad_quality_of_all_its_devices():
    line = line_with(
        lambda layout: Quality.NOT_CONNECTED if layout in GATEWAY else Quality.GOOD
    )

    found = groups(line)

    assert set(found) == {tag for layout in GATEWAY for tag in layout.tags}
    assert set(found.values()) == {"link gateway"}


def test_a_silent_device_explains_its_own_values_and_no_others():
    silent = LAYOUTS[0]
    found = groups(
        line_with(lambda layout: Quality.NO_ANSWER if layout is silent else Quality.GOOD)
    )

    assert found == dict.fromkeys(silent.tags, f"device {silent.device}")


def test_one_open_sensor_is_explained_by_nothing_else():
    line = line_with(lambda _: Quality.GOOD)
    tanks = LAYOUTS[-1]
    block = read(tanks, 3.0, Quality.GOOD)
    block.quality[0], block.value[0] = Quality.SENSOR_FAULT, np.nan

    line.receive(block)

    assert groups(line) == {tanks.tags[0]: ""}


def test_a_flood_names_what_came_first_and_groups_nothing_that_was_not_grouped_before():
    line = line_with(lambda _: Quality.SENSOR_FAULT)
    tags = [tag for layout in LAYOUTS for tag in layout.tags]
    picture = line.picture(Moment(utc_ns=UTC_NS + 2 * NS, mono_ns=2 * NS))

    assert len(tags) > PLAN_OF_MANY.flood_start_per_10min
    assert picture.flood
    assert picture.first_out == f"{tags[0]}.bad-quality"
    # A tag that stands alone in its block has no device to explain it.
    assert groups(line)["r-chromium.current"] == ""
