"""A laboratory's file, and days that are not 24 hours long."""

from __future__ import annotations

import time

import pytest

from linewatch import config
from linewatch.core.errors import ConfigurationFaulty, Refused
from linewatch.wiring.laboratory import read_file
from linewatch.wiring.places import shipped
from linewatch.wiring.water import day_of, place

HEAD = "subject,substance,value,unit,sampled,method,sample,note\n"


@pytest.fixture
def berlin(monkeypatch):
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def written(tmp_path, text: str):
    file = tmp_path / "lab.csv"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_file_of_analyses_is_read_by_its_heads_in_any_order(tmp_path):
    file = written(
        tmp_path,
        '\ufeffUnit, Value ,substance,subject\ng/L,"71,5",Ni,nickel\nmg/L,0.4,CN,discharge\n',
    )
    first, second = read_file(file, "LB")
    assert (first.subject, first.substance, first.value, first.unit) == (
        "nickel",
        "Ni",
        71.5,
        "g/L",
    )
    assert (second.value, second.who, second.sampled_utc_ns) == (0.4, "LB", None)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "lacks subject, substance, value, unit"),
        ("subject,value\n", "lacks substance, unit"),
        (HEAD + "nickel,Ni,lots,g/L,,,,\n", "row 2: 'lots' is no number"),
        (HEAD + "nickel,Ni,71,g/L,,,,\nnickel,Ni,70,g/L,noon,,,\n", "row 3: 'noon' is no time"),
    ],
)
def test_a_faulty_file_is_refused_whole_with_its_rows(tmp_path, text, says):
    with pytest.raises(ConfigurationFaulty, match=says):
        read_file(written(tmp_path, text), "LB")


def test_columns_may_be_separated_by_semicolons(tmp_path):
    text = "subject;substance;value;unit\nnickel;Ni;71,5;g/L\n"
    (found,) = read_file(written(tmp_path, text), "LB")
    assert (found.subject, found.value) == ("nickel", 71.5)


def test_every_fault_of_a_file_is_told_with_its_row(tmp_path):
    def taken(each):
        if each.subject != "nickel":
            raise Refused("lab.csv", f"there is no bath {each.subject!r}")
        return each

    text = (
        HEAD
        + "zinc,Zn,9,g/L,,,,\nnickel,Ni,71,g/L,,,,\ntin,Sn,lots,g/L,,,,\ngold,Au,1,g/L,,,,\n"
    )
    with pytest.raises(ConfigurationFaulty) as refused:
        read_file(written(tmp_path, text), "LB", taken)
    assert [fault.split(":")[0] for fault in refused.value.faults] == [
        "row 2",
        "row 4",
        "row 5",
    ]
    assert "no bath 'gold'" in str(refused.value)


def test_a_row_of_too_many_cells_is_refused(tmp_path):
    with pytest.raises(ConfigurationFaulty, match="row 2: it has more cells"):
        read_file(written(tmp_path, "subject,substance,value,unit\nnickel,Ni,71,5,g/L\n"), "LB")


def test_a_missing_file_is_refused_in_a_sentence(tmp_path):
    with pytest.raises(ConfigurationFaulty, match="no such file"):
        read_file(tmp_path / "none.csv", "LB")


@pytest.mark.parametrize(
    ("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-06-01", 24)]
)
def test_a_day_has_the_hours_that_the_clock_gives_it(berlin, day, hours):
    found = day_of(day, 0.0)
    assert found.hours == hours
    assert found.span[1] - found.span[0] == hours * 3600 * 10**9
    assert found.month[0] <= found.span[0]


def test_today_and_yesterday_are_known(berlin):
    noon_s = 1_774_785_600.0  # 2026-03-29 12:00 UTC
    assert day_of("today", noon_s).title == "2026-03-29"
    assert day_of("Yesterday", noon_s).title == "2026-03-28"
    assert day_of("2026-02-10", noon_s).month_days == 28


def test_the_hours_of_a_day_that_are_still_to_come_are_known(berlin):
    noon_s = 1_774_785_600.0  # 2026-03-29 12:00 UTC, 14:00 in Berlin, a day of 23 hours
    assert day_of("today", noon_s).to_come == 10
    assert day_of("today", noon_s + 1.0).to_come == 10
    assert day_of("yesterday", noon_s).to_come == 0
    assert day_of("2026-04-01", noon_s).to_come == 24


@pytest.mark.parametrize("text", ["", "29.3.2026", "2026-02-30"])
def test_what_is_no_day_is_refused(text):
    with pytest.raises(Refused, match="write it as 2026-03-29"):
        day_of(text, 0.0)


def test_a_tank_without_a_permit_names_those_that_have_one():
    plan = config.read(shipped("demo.toml")).plan
    with pytest.raises(Refused, match=r"by a permit; it does at .*\(discharge\)"):
        place(plan, "nickel-1")
