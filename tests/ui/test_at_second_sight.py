"""What somebody who came a second time looked for on a screen and did not find there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.electrochemistry.explanation import GivenInput, explain_charge
from linewatch.core.readings import Quality
from linewatch.core.view import (
    AlarmPicture,
    ChargePicture,
    Figure,
    HeldPicture,
    MetalPicture,
    RectifierPicture,
    WayPicture,
)
from linewatch.ui.draw.alarms import alarm_detail, alarm_row
from linewatch.ui.draw.bands import about, alarm_rows, pulls_rows, title_row
from linewatch.ui.draw.baths import bath_detail
from linewatch.ui.draw.control import held_words
from linewatch.ui.draw.dissolved import wrong_way_in_bath, wrong_way_words
from linewatch.ui.draw.explain import explanation_rows, why_rows
from linewatch.ui.draw.figures import gauge
from linewatch.ui.draw.line import line_rows
from linewatch.ui.draw.lists import (
    link_detail,
    link_rows,
    load_detail,
    load_list,
    rectifier_rows,
)
from linewatch.ui.draw.loads import odd_of, record_rows
from linewatch.ui.draw.naming import names
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.tank import figure_rows, tank_rows
from linewatch.ui.draw.ways import way_detail, way_rows
from linewatch.ui.screens.finding import things
from tests.ui import invented

HERE = "nickel-1"


def look(width: int = 160, **more) -> Look:
    return Look(width=width, height=50, now_ns=invented.NOON, **more)


def texts(rows) -> list[str]:
    return ["".join(each.text for each in row.spans) for row in rows]


def one(rows, words: str) -> str:
    found = [line for line in texts(rows) if words in line]
    assert len(found) == 1, f"{len(found)} rows hold {words!r}"
    return found[0]


def alarm(name: str, subject: str, text: str, **more) -> AlarmPicture:
    more = {"kind": "found", "state": "unacknowledged", "priority": "high"} | more
    return AlarmPicture(
        id=name, tag="", subject=subject, text=text, since_utc_ns=invented.NOON, **more
    )


# Links.


@pytest.mark.parametrize("width", [80, 120, 160])
def test_a_link_whose_values_no_longer_move_is_not_well_though_it_is_connected(width):
    still = alarm("tank-io.still", "tank-io", "its values no longer move")
    picture = replace(invented.line(), alarms=(still,))

    shown = one(link_rows(picture, look(width)), " tank-io ")
    assert "! connected" in shown
    assert "its values" in shown
    assert "1 of 3 links not well" in texts([title_row(picture, "line", look(width))])[0]
    detail = texts(link_detail(picture, picture.links[0], look(width)))
    assert any("alarm" in row and "its values no longer move" in row for row in detail)


@pytest.mark.parametrize("state", ["returned", "latched", "shelved", "suppressed"])
def test_an_alarm_that_does_not_stand_leaves_its_link_well(state):
    gone = alarm("tank-io.still", "tank-io", "its values no longer move", state=state)
    picture = replace(invented.line(), alarms=(gone,))

    assert "! connected" not in one(link_rows(picture, look()), " tank-io ")
    assert "not well" not in texts([title_row(picture, "line", look())])[0]


# Loads.


def picture_with_load(**more):
    """Return a line, and the number of the load in its first nickel."""
    picture = invented.line()
    tanks = tuple(
        replace(tank, load=replace(tank.load, **more)) if tank.id == HERE else tank
        for tank in picture.tanks
    )
    number = next(tank.load.number for tank in tanks if tank.id == HERE)
    return replace(picture, tanks=tanks), number


def held(number: str, **more) -> HeldPicture:
    return HeldPicture(load=number, utc_ns=invented.NOON, who="MK", why="dull patches", **more)


@pytest.mark.parametrize("width", [80, 120, 160])
def test_a_load_on_hold_says_so_in_its_row_and_who_said_so_in_its_pane(width):
    picture, number = picture_with_load()
    picture = replace(picture, held=(held(number),))

    assert "on hold" in one(load_list(picture, look(width)), f" {number} ")
    said = one(load_detail(picture, number, look(width)), "on hold")
    assert "by MK: dull patches" in said


def test_the_next_load_of_a_number_is_not_on_hold_for_the_one_before():
    picture, number = picture_with_load()
    picture = replace(picture, held=(held(number, is_number_reused=True),))

    assert "on hold" not in " ".join(texts(load_list(picture, look())))
    assert "on hold" not in " ".join(texts(load_detail(picture, number, look())))


def on_its_way(load: str) -> WayPicture:
    return WayPicture(
        load=load, number=load, part="bracket", before=HERE, since_utc_ns=0, out_s=30.0
    )


def test_a_load_on_its_way_says_that_it_is_on_hold_and_that_it_may_be_spoilt():
    picture = replace(invented.line(), ways=(on_its_way("4999"),), held=(held("4999"),))
    row = one(way_rows(picture, look(), {"4999": (True, "polarity wrong")}), " 4999 ")

    assert "on hold" in row
    assert " ! polarity wrong  bracket" in row
    assert "dull patches" in one(way_detail(picture, "4999", look()), "on hold")


@pytest.mark.parametrize("width", [80, 160])
def test_what_is_odd_about_a_load_is_said_in_words_where_there_is_room(width):
    picture, number = picture_with_load(dwell_s=4000.0, longest_s=1800.0, part="")
    found = odd_of([], picture, look(width))
    row = one(load_list(picture, look(width), found), f" {number} ")

    assert "odd: 1" in row
    assert ("odd: 1, in for 1 h 06 min" in row) == (width == 160)


def test_of_a_load_in_its_first_tank_what_is_odd_by_now_is_told():
    picture, number = picture_with_load(dwell_s=4000.0, longest_s=1800.0)

    shown = " ".join(" ".join(texts(record_rows(picture, number, None, look()))).split())
    assert "odd in for 1 h 06 min, at most 30 min are allowed" in shown
    assert "no more is told" in shown


# What was counted and is not the whole.


def with_rectifier(picture, name: str, **more):
    units = tuple(
        replace(each, **more) if each.id == name else each for each in picture.rectifiers
    )
    return replace(picture, rectifiers=units)


def test_a_charge_of_which_some_was_not_metered_is_marked_among_the_rectifiers():
    charge = ChargePicture(cathodic_ah=82.6, uncertainty_ah=0.5, missed_ah=113.0)
    picture = invented.line()
    name = picture.rectifiers[0].id
    whole = with_rectifier(picture, name, charge=replace(charge, missed_ah=0.0))

    shown = one(rectifier_rows(with_rectifier(picture, name, charge=charge), look()), "82.6")
    assert "82.6*" in shown
    assert "82.6 " in one(rectifier_rows(whole, look()), "82.6")


@pytest.mark.parametrize(
    ("note", "told"),
    [("At least: up to 113 A·h more.", "at least 82.6"), ("Metered 60 s.", "82.6")],
)
def test_why_a_charge_is_what_it_is_says_that_it_is_the_least(note, told):
    given = GivenInput(name="charge", symbol="Q", value=82.6, unit="A.h", source="samples")
    row = one(explanation_rows(explain_charge(given, notes=(note,)), look()), "  is ")

    assert row.split()[1:-1] == told.split()


def zinc(anodic_ah: float):
    tank = next(each for each in invented.line().tanks if each.id == HERE)
    return replace(
        tank,
        charge=replace(tank.charge, cathodic_ah=15.5, anodic_ah=anodic_ah, missed_ah=0.0),
        metal=MetalPicture(deposit="Zn", mass_g=18.2, uncertainty_g=0.2),
    )


@pytest.mark.parametrize("width", [80, 120, 160])
def test_metal_through_which_current_flowed_the_wrong_way_is_the_most_there_can_be(width):
    picture = replace(invented.line(), tanks=(zinc(320.0),))
    shown = " ".join(
        " ".join(texts(tank_rows(picture, picture.tanks[0], (), None, look(width)))).split()
    )

    assert "at most 18.2 ± 0.2 g" in shown
    assert "320.0 A·h flowed the wrong way" in shown
    why = " ".join(texts(why_rows(picture, f"tank {HERE}", look(width))))
    assert "at most 18.2" in why
    if width >= 120:
        cell = next(
            span
            for row in line_rows(picture.tanks, look(width))
            for span in row.spans
            if span.text.strip() == "18~"
        )
        assert cell.role == "doubt"


def test_a_hundredth_of_the_charge_the_wrong_way_is_nothing():
    assert wrong_way_words(zinc(0.15)) == ""
    assert wrong_way_words(zinc(0.16)).startswith("0.2 A·h flowed the wrong way")


def test_where_current_flows_the_other_way_by_design_the_metal_is_as_it_was_weighed():
    tank = zinc(320.0)
    assert tank.metal is not None
    assert wrong_way_words(tank)
    assert wrong_way_words(replace(tank, metal=replace(tank.metal, reverses=True))) == ""


def test_the_metal_of_a_bath_is_the_most_where_one_of_its_tanks_ran_the_wrong_way():
    picture = invented.line()
    bath = next(each for each in picture.baths if HERE in each.tanks)
    tanks = tuple(zinc(320.0) if tank.id == HERE else tank for tank in picture.tanks)
    said = wrong_way_in_bath(replace(picture, tanks=tanks), bath)

    assert said.startswith("320.0 A·h flowed the wrong way")
    assert wrong_way_in_bath(picture, bath) == ""
    shown = " ".join(" ".join(texts(bath_detail(bath, look(), wrong_way=said))).split())
    assert "at most" in shown
    assert "at most" not in " ".join(texts(bath_detail(bath, look())))


# What a rectifier says of itself.


@pytest.mark.parametrize(
    ("is_anode", "told"),
    [(0.0, "not told: its current flows against"), (1.0, "current: what flows is what is set")],
)
def test_a_unit_that_says_that_the_work_is_no_anode_holds_no_current_that_flows_back(
    is_anode, told
):
    def measured(kind: str, value: float) -> Figure:
        return Figure(
            tag=f"u.{kind}",
            kind=kind.partition(".")[0],
            value=value,
            quality=int(Quality.GOOD),
            utc_ns=0,
        )

    figures = {
        "current": measured("current", -593.0),
        "current-set": measured("current-set", 599.0),
        "count.work-is-anode": measured("count.work-is-anode", is_anode),
    }
    unit = RectifierPicture(
        id="u", name="Zinc 3", feeds=(), rated_current_a=800.0, figures=figures
    )

    assert held_words(unit).startswith(told)


def test_the_figure_that_is_told_above_is_not_told_again():
    picture = invented.line()
    tank = next(each for each in picture.tanks if len(each.figures) > 1 and not each.charge)
    tag = next(iter(tank.figures.values())).tag
    shown = texts(why_rows(picture, f"tank {tank.id}", look(), tag))

    assert tag not in " ".join(shown)
    assert sum(row.startswith("  tag ") for row in shown) == len(tank.figures) - 1


# What has no room.


def hanging_line(many: int):
    """Return a line with loads that hang in the air after a long name, and one that is due."""
    picture, number = picture_with_load(
        number="7205",
        since_utc_ns=invented.NOON - 1980 * 10**9,
        dwell_s=1980.0,
        longest_s=1800.0,
        pull_utc_ns=None,
    )
    ways = tuple(
        replace(on_its_way(f"411{index}"), before="acid-1", out_s=552.0, hangs=True)
        for index in range(many)
    )
    return replace(picture, ways=ways), number


@pytest.mark.parametrize("many", [1, 2, 6])
@pytest.mark.parametrize("width", [80, 120, 160])
def test_what_hangs_in_the_air_leaves_room_for_the_first_that_is_next_out(width, many):
    picture, _ = hanging_line(many)
    (row,) = texts(pulls_rows(picture, look(width), 1))

    assert "4110 9m12s" in row
    assert "7205 OUT+3m00s" in row
    assert len(row) <= width


def test_in_eighty_columns_many_in_the_air_are_counted_and_numbers_stand_for_names():
    picture, _ = hanging_line(6)
    (row,) = texts(pulls_rows(picture, look(80), 1))

    assert row.startswith(" in the air 4110 9m12s +5   next out  9: 7205 OUT+3m00s")


def tank_figures(width: int, **figure) -> list[str]:
    values = {"tag": "t.ph", "kind": "ph", "value": 6.99, "utc_ns": 0} | figure
    return texts(figure_rows({"ph": Figure(**values)}, look(width)))


@pytest.mark.parametrize("width", [58, 80, 160])
def test_a_figure_that_an_alarm_doubts_has_its_mark_and_the_reason_whole(width):
    shown = tank_figures(width, quality=int(Quality.DOUBTED))

    assert "…" not in " ".join(shown)
    assert "6.99" in shown[1]
    assert "~" in shown[1]
    assert shown[2].strip() == "an alarm doubts it"


@pytest.mark.parametrize("width", [58, 160])
def test_for_how_long_a_figure_is_not_connected_is_never_cut(width):
    since = invented.NOON - 116 * 60 * 10**9
    shown = tank_figures(
        width, quality=int(Quality.NOT_CONNECTED), value=None, good_utc_ns=since
    )

    assert "…" not in " ".join(shown)
    assert any("not connected for 116 min" in row for row in shown)


def rinse_alarm(text: str, **more) -> tuple:
    found = alarm("rinse-1.jump", "rinse-1", text, **more)
    picture = invented.line()
    tanks = tuple(
        replace(each, name="Rinse after cyanide zinc plating") if each.id == "rinse-1" else each
        for each in picture.tanks
    )
    return replace(picture, tanks=tanks, alarms=(found,)), found


def test_the_name_of_what_an_alarm_is_about_is_cut_before_its_words_are():
    text = "jumps: it may carry over"
    picture, found = rinse_alarm(text)
    called = names(picture)
    number = called["rinse-1"].partition(" ")[0]

    for width in (70, 80, 160):
        rows = [alarm_row(found, called, look(width)), alarm_rows(picture, look(width), 1)[0]]
        for shown in texts(rows):
            assert text in shown
            assert f" {number} " in shown
            assert len(shown) <= width
    assert called["rinse-1"] in texts([alarm_row(found, called, look(160))])[0]
    deeper = texts([alarm_row(found, called, look(70), "  └ ")])[0]
    assert f"  └ {number} " in deeper


def test_a_name_without_a_number_is_not_cut_to_that_of_another():
    assert about("Rectifier zinc 3", "w" * 60, 40).startswith("Rectifier zinc 3: ")
    assert about("9 Bright nickel", "w" * 60, 40).startswith("9 Brigh…: ")


def test_where_there_is_no_room_the_count_behind_an_alarm_says_that_they_are_new():
    picture, found = rinse_alarm("w" * 44)
    alarms = tuple(replace(found, id=f"a{index}") for index in range(11))
    (row,) = texts(alarm_rows(replace(picture, alarms=alarms), look(80), 1))

    assert row.endswith(" 11 new ")


@pytest.mark.parametrize(
    ("kind", "unit", "told"),
    [("deviation", "degC", "limit 2 °C"), ("rate", "degC/min", "limit 2 °C/min")],
)
def test_the_limit_of_a_deviation_has_its_unit_as_people_write_it(kind, unit, told):
    found = replace(
        alarm("t.temperature.deviation", "rinse-1", "off", kind=kind),
        tag="rinse-1.temperature",
        value=3.1,
        limit=2.0,
        unit=unit,
    )
    picture = replace(invented.line(), alarms=(found,))

    assert one(alarm_detail(picture, found.id, look()), "  value ").endswith(told)


def test_what_can_be_found_is_called_as_people_call_it():
    entries = things(invented.line())
    nickel = next(each for each in entries if each.target == f"tank {HERE}")

    assert nickel.tells == "plating"


@pytest.mark.parametrize("quality", [Quality.DOUBTED, Quality.LAST_KNOWN, Quality.NO_ANSWER])
def test_a_value_in_doubt_has_no_place_in_its_window(quality):
    figure = invented.figure("t.ph", 8.89, (6.8, 9.3))

    assert gauge(figure, 9, look()).text.strip()
    assert not gauge(replace(figure, quality=quality), 9, look()).text.strip()
