"""Figures stand in columns; what is looked at is what was read."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.commands import HandReading
from linewatch.core.line import Line
from linewatch.core.ports import Order
from linewatch.core.readings import Quality
from tests.core.line.invented import NS, PLAN, block, feed, moment, sequences


def expected(line: Line, tag: str, now_ns: int) -> tuple[float | None, int, int | None]:
    """Return value, quality and time of last good of a tag, tag by tag."""
    watch, column = line.place(tag)
    quality = int(watch.quality[column])
    is_late = now_ns - watch.heard_ns > int(watch.patience_ns[column])
    if quality < Quality.BAD and is_late:
        quality = int(Quality.STALE)
    value = float(watch.value[column])
    shown = value if quality < Quality.BAD and not math.isnan(value) else None
    return shown, quality, watch.good_utc_ns(column)


@given(entries=sequences(30), later_ns=st.integers(0, 60 * NS))
def test_every_figure_is_what_its_layout_read_last(entries, later_ns):
    line = Line(PLAN)
    for entry in entries:
        feed(line, entry)
    now_ns = line.now_ns + later_ns

    columns = line.gathering.columns(moment(now_ns))

    for row, tag in zip(columns.table.rows, PLAN.tags.values(), strict=True):
        figure = columns.of(row.subject)[row.name]
        found = (figure.value, figure.quality, figure.good_utc_ns)
        assert figure.tag == tag.id
        assert found == expected(line, tag.id, now_ns)
        inside = "" if figure.value is None else tag.window.side(figure.value)
        assert figure.side == (inside if figure.quality < Quality.UNCERTAIN else "")


@given(entries=sequences(20))
def test_a_picture_is_not_changed_by_what_is_read_after_it(entries):
    line = Line(PLAN)
    for entry in entries[: len(entries) // 2]:
        feed(line, entry)
    picture = line.picture(moment(line.now_ns))
    _, columns = line.bare_picture(moment(line.now_ns))
    before = [columns.figure(row) for row in range(len(columns.table.rows))]

    for entry in entries[len(entries) // 2 :]:
        feed(line, entry)

    assert [columns.figure(row) for row in range(len(columns.table.rows))] == before
    assert dict(picture.tanks[0].figures) == dict(columns.of("r-nickel", "nickel"))


def test_a_figure_that_an_alarm_doubts_is_marked_where_it_stands_and_not_where_it_is_recorded():
    line = Line(PLAN)
    [layout] = [each for each in PLAN.layouts if "nickel.level" in each.tags]
    for now_s in range(20):
        line.receive(block(layout, now_s * NS, [60.0] * len(layout.tags)))
    at = moment(20 * NS)
    shown = {each.id: each for each in line.picture(at).tanks}["nickel"].figures["level"]

    assert line.alarms.active[line.alarms.number["nickel.level.frozen"]]
    assert (shown.value, shown.quality, shown.side) == (60.0, Quality.DOUBTED, "")
    assert line.gathering.columns(at).of("nickel")["level"].quality == Quality.GOOD


def test_a_value_typed_in_stands_beside_what_is_read_and_gives_way_to_it():
    line = Line(PLAN)
    for kind, value, unit in (("density", 1.2, "g/cm3"), ("temperature", 61.0, "degC")):
        command = HandReading(
            who="AB", subject="nickel", kind=kind, value=value, unit=unit, note=""
        )
        feed(line, Order(request=1, command=command, at=moment(NS)))

    figures = line.gathering.columns(moment(2 * NS)).of("r-nickel", "nickel")

    assert figures["density"].value == 1.2
    assert figures["density"].quality == Quality.BY_HAND
    assert figures["temperature"].quality == Quality.NOT_YET
    assert "current" in figures
