"""`linewatch show`: the line for somebody who cannot see the screen, or has none."""

from dataclasses import replace

import pytest

from linewatch.cli.line_words import figure_words, line_table, tank_words
from linewatch.core.readings import Quality
from linewatch.ui.marks import is_standing
from tests.ui import invented

PICTURE = invented.troubled()
TANKS = {each.id: each for each in PICTURE.tanks}
NICKEL = TANKS["nickel-1"]


def test_a_position_is_told_with_its_name_and_the_id_that_commands_take():
    assert tank_words(NICKEL, "metric").startswith("9 Bright nickel (nickel-1): ")


def test_figures_are_told_in_the_units_of_the_line_as_people_write_them():
    temperature = replace(
        NICKEL.figures["temperature"], value=60.0, quality=Quality.GOOD, side=""
    )

    assert figure_words("temperature", temperature, "metric") == "temperature 60.0 °C"
    assert figure_words("temperature", temperature, "us") == "temperature 140.0 °F"


def test_what_is_outside_its_window_or_unreadable_is_told_in_words():
    temperature = NICKEL.figures["temperature"]
    low = replace(temperature, value=41.5, quality=Quality.GOOD, side="low-low")
    gone = replace(temperature, value=None, quality=Quality.SENSOR_FAULT)

    assert figure_words("temperature", low, "metric") == "temperature 41.5 °C low-low"
    assert figure_words("temperature", gone, "metric") == "temperature sensor fault"


@pytest.mark.parametrize(("value", "said"), [(0.0, ""), (1.0, "fault yes")])
def test_a_state_is_told_by_its_word_and_only_when_it_says_something(value, said):
    figure = replace(
        NICKEL.figures["temperature"],
        kind="fault",
        tag="r.fault",
        value=value,
        side="",
        quality=Quality.GOOD,
    )

    assert figure_words("fault", figure, "metric") == said


def test_in_a_position_what_wants_to_be_looked_at_is_told_first():
    figures = dict(NICKEL.figures)
    good = {"value": 1.0, "quality": Quality.GOOD, "side": ""}
    figures = {name: replace(each, **good) for name, each in figures.items()}
    last = list(figures)[-1]
    figures[last] = replace(figures[last], side="high-high")
    said = tank_words(replace(NICKEL, figures=figures, alarms=2, worst="high"), "metric")

    told = said.partition(": ")[2].split("; ")
    assert told[0] == "2 alarms, worst high"
    assert told[1].endswith("high-high")


def test_a_load_is_told_once_with_how_long_it_is_in_and_when_it_must_be_out():
    load = next(each.load for each in PICTURE.tanks if each.load is not None)
    load = replace(
        load, number="4711", dwell_s=125.0, pull_utc_ns=load.since_utc_ns + 200 * 10**9
    )
    said = tank_words(replace(NICKEL, load=load), "metric")

    assert said.count("4711") == 1
    assert "load 4711 for 2 min 05 s, out in 1 min 15 s" in said
    late = replace(load, dwell_s=230.0)
    assert "should be out for 30 s" in tank_words(replace(NICKEL, load=late), "metric")


def test_a_load_past_its_longest_dwell_is_told_so_though_it_is_not_thick_enough():
    load = next(each.load for each in PICTURE.tanks if each.load is not None)
    thin = replace(
        load, longest_s=200.0, dwell_s=230.0, pull_utc_ns=load.since_utc_ns + 500 * 10**9
    )

    assert "should be out for 30 s" in tank_words(replace(NICKEL, load=thin), "metric")


def test_alarms_are_told_before_the_positions_and_links_last():
    rows = line_table(PICTURE, alive=True).split("\n")
    kinds = [row.partition(" ")[0] for row in rows]

    standing = [each.id for each in PICTURE.alarms if is_standing(each.state)]
    told = [row.rpartition("(")[2].rstrip(")") for row in rows if row.startswith("alarm ")]
    assert 0 < len(standing) < len(told)
    assert set(told[: len(standing)]) == set(standing)
    first_tank = next(k for k, row in enumerate(rows) if row.startswith("9 Bright nickel"))
    assert max(k for k, kind in enumerate(kinds) if kind == "alarm") < first_tank
    assert min(k for k, kind in enumerate(kinds) if kind == "link") > first_tank
    assert rows[0].endswith(", recording")
    assert "no collector runs" in line_table(PICTURE, alive=False)


def test_an_alarm_in_words_tells_the_present_value_in_the_units_of_the_line():
    low = replace(
        PICTURE.alarms[0], id="low", kind="low", tag="nickel-1.temperature", unit="degC",
        text="temperature low", state="unacknowledged", value=56.0, now=50.0, limit=57.0,
    )  # fmt: skip
    for units, said in (("metric", "50.0 °C, limit 57.0"), ("us", "122.0 °F, limit 134.6")):
        told = line_table(replace(PICTURE, alarms=(low,), units=units), alive=True)
        assert f"temperature low: {said}:" in told


@pytest.mark.parametrize(
    ("has_gone", "said"),
    [(False, "2 alarms, worst high"), (True, "2 alarms that went again, worst high")],
)
def test_a_position_whose_alarms_have_gone_says_so(has_gone, said):
    tank = replace(NICKEL, alarms=2, worst="high", has_gone=has_gone)

    assert f": {said}" in tank_words(tank, "metric")
