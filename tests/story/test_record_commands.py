"""What can be asked of a record, as a user asks it."""

import csv
import json
import re
import shlex
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.story.recorded import record_the_short_line

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record two minutes of the short line."""
    return record_the_short_line(tmp_path_factory.mktemp("record"), "2min")


def asked(linewatch: Run, *words: str, store: Path) -> str:
    done = linewatch(*words, "--store", str(store))
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_figure_can_be_worked_out_again_from_its_explanation(linewatch: Run, store: Path):
    told = json.loads(asked(linewatch, "explain", "nickel-1", "mass", "--json", store=store))
    (why,) = told
    inputs = {each["symbol"]: each["value"] for each in why["inputs"]}
    constants = {each["symbol"]: each["value"] for each in why["constants"]}

    assert why["formula"] == "m = k η Q"
    assert why["value"] == pytest.approx(
        constants["k(Ni)"] * inputs["η"] * inputs["Q"], rel=1e-6
    )
    assert all(each["source"] for each in (*why["inputs"], *why["constants"]))


def test_every_figure_of_a_plating_tank_is_explained_with_its_source(
    linewatch: Run, store: Path
):
    text = asked(linewatch, "explain", "nickel-2", store=store)

    for words in ("cathodic charge", "deposited Ni", "current density", "± (k = 2)", "IUPAC"):
        assert words in text
    assert "current sensor" in asked(
        linewatch, "explain", "rectifier-nickel-2", "charge", store=store
    )


def test_asking_for_what_is_not_there_names_what_is(linewatch: Run, store: Path):
    for words, told in ((["nickel-9"], "(nickel-1)"), (["nickel-1", "luck"], "Nickel 1")):
        done = linewatch("explain", *words, "--store", str(store))
        assert done.returncode == 1
        assert "Traceback" not in done.stderr
        assert told in done.stderr


def test_the_record_replays_to_what_was_stored(linewatch: Run, store: Path):
    assert "the record holds" in asked(linewatch, "verify", store=store)
    told = json.loads(asked(linewatch, "replay", "--json", store=store))

    assert told["alarms_that_came"] == told["alarms_replayed"]
    assert told["totals"]["nickel-1"]["cathodic_uas"] > 0


def test_a_rehearsal_with_another_limit_tells_the_alarm_that_would_have_come(
    linewatch: Run, store: Path, tmp_path: Path
):
    other = tmp_path / "other.toml"
    text = (store / "demo.toml").read_text("utf-8")
    usual, strict = (
        'target = "60 degC", high = "63 degC"',
        'target = "57.5 degC", high = "58 degC"',
    )
    assert usual in text
    other.write_text(text.replace(usual, strict), "utf-8")
    told = json.loads(asked(linewatch, "replay", "--config", str(other), "--json", store=store))
    more = set(told["alarms_replayed"]) - set(told["alarms_that_came"])

    assert any(name == "nickel-1.temperature.high" for name in more), told["alarms_replayed"]


def test_readings_can_be_exported_for_other_tools(linewatch: Run, store: Path, tmp_path: Path):
    file = tmp_path / "x.csv"
    asked(linewatch, "export", str(file), "nickel-1.temperature", store=store)
    with file.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))

    assert len(rows) > 20
    assert {row["tag"] for row in rows} == {"nickel-1.temperature"}


def test_a_backup_can_be_put_back_and_verifies(linewatch: Run, store: Path, tmp_path: Path):
    asked(linewatch, "backup", str(tmp_path / "copy"), store=store)
    done = linewatch(
        *("restore", str(tmp_path / "copy"), "--line", "first-line"),
        *("--why", "the disk broke", "--store", str(tmp_path / "again")),
    )

    assert done.returncode == 0, done.stderr
    assert "the record holds" in asked(linewatch, "verify", store=tmp_path / "again")


def test_the_newest_events_are_told(linewatch: Run, store: Path):
    # Whatever the clock says: at a full hour every tank tells of its water too.
    every = asked(linewatch, *("events", "--count", "10000"), store=store).splitlines()
    newest = asked(linewatch, *("events", "--count", "5"), store=store).splitlines()

    assert any("a load came in" in line for line in every)
    assert len(newest) == 5
    assert newest == every[-5:]
    assert asked(linewatch, "events", store=store).splitlines() == every[-40:]


def test_the_desk_calculator_needs_no_line(linewatch: Run):
    told = json.loads(
        linewatch(
            "calc", "mass", "metal=Ni", "charge=1000 A.h", "efficiency=96 %", "--json"
        ).stdout
    )

    assert told["answers"][0]["value"] == pytest.approx(1051.17, abs=0.01)


def test_every_example_that_the_calculators_help_prints_is_answered(linewatch: Run):
    printed = " ".join(linewatch("calc", "--help").stdout.split())
    examples = re.findall(r'linewatch (calc [\w-]+(?: [\w-]+=(?:"[^"]*"|[^\s"]+))+)', printed)

    assert len(examples) == printed.count("linewatch calc ") - printed.count("calc [OPTIONS]")
    assert {each.split()[1] for each in examples} == {"mass", "thickness"}
    assert len(examples) == len(re.findall(r"metal=", printed))
    for each in examples:
        done = linewatch(*shlex.split(each))
        assert (done.returncode, done.stderr) == (0, "")
        assert "deposited mass: " in done.stdout or "thickness" in done.stdout


def test_the_desk_calculator_refuses_by_name_and_range(linewatch: Run):
    for words, told in [
        (["calc", "mass", "metal=Ni", "charge=-5 A.h", "efficiency=96 %"], "charge"),
        (["calc", "mass", "metal=Xx", "charge=5 A.h", "efficiency=96 %"], "Xx"),
        (["calc", "levitation"], "levitation"),
        (["calc", "mass", "charge"], "'charge' is no input"),
    ]:
        done = linewatch(*words)
        assert done.returncode == 1
        assert told in done.stderr
        assert "Traceback" not in done.stderr


def test_alarms_are_held_against_published_targets(linewatch: Run, store: Path):
    text = asked(linewatch, "alarm-health", store=store)
    parts = json.loads(asked(linewatch, "alarm-health", "--json", store=store))

    assert "ISA-18.2" in text
    assert f"{parts['announced']} alarms were announced" in text
    assert "the record is shorter than ten minutes" in text
    assert parts["hours"] == pytest.approx(2.0 / 60.0, rel=0.5)


def test_a_sheet_of_the_shift_is_printed_with_dots_where_nothing_is_read(
    linewatch: Run, store: Path, tmp_path: Path
):
    text = asked(linewatch, "sheet", store=store)
    assert "not signed yet" in text
    assert " to " in text
    assert "........" in text

    page = tmp_path / "sheet.html"
    asked(linewatch, "sheet", "--to", str(page), store=store)
    assert "anode bags" in page.read_text(encoding="utf-8")


def test_rinses_are_printed_with_what_is_missing(linewatch: Run, store: Path):
    text = asked(linewatch, "rinse", store=store)
    assert "nobody says what its water conducts" in text

    one = json.loads(asked(linewatch, "rinse", "rinse-2", "--json", store=store))
    assert one["rinse"]["tank"] == "rinse-2"

    done = linewatch("rinse", "no-such", "--store", str(store))
    assert done.returncode != 0
    assert "there is no tank 'no-such'; there are 3 Rinse (rinse-1)" in done.stderr


def test_an_analysis_of_a_tank_is_its_baths_and_the_answer_says_so(linewatch: Run, store: Path):
    # No collector runs: it is left for the next one.
    said = asked(linewatch, *("lab", "add", "nickel-1", "nickel", "7", "oz/gal"), store=store)

    assert said.startswith("saved: Ni 7 oz/gal, ")
    assert "; it is an analysis of the bath Bright nickel, which " in said
    assert "; nickel is Ni there; no collector runs" in said


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lab", "add", "nickel-1", "Ni", "7", "bananas"), "the unit 'bananas' is not known"),
        (("load", "found", "7208", "thickness", "8.4 bananas"), "'bananas' is not known"),
        (("load", "found", "7208", "thickness", "8.4"), "has no unit"),
    ],
)
def test_a_quantity_in_a_unit_that_nobody_knows_is_refused_and_not_saved(
    linewatch: Run, store: Path, words: tuple[str, ...], says: str
):
    done = linewatch(*words, "--store", str(store))

    assert done.returncode == 1
    assert says in done.stderr
    assert "saved" not in done.stdout
    assert "Traceback" not in done.stderr


def test_an_export_without_a_span_is_of_the_whole_record(
    linewatch: Run, store: Path, tmp_path: Path
):
    file = tmp_path / "series.csv"
    asked(
        linewatch,
        "export",
        str(file),
        "nickel-1.temperature",
        *("--what", "series"),
        *("--width", "4"),
        store=store,
    )
    with file.open(encoding="utf-8") as text:
        rows = list(csv.DictReader(text))
    about = json.loads((tmp_path / "series.csv.about.json").read_text("utf-8"))

    assert len(rows) == 4
    assert all(50.0 < float(row["low"]) < 70.0 for row in rows)
    assert rows[0]["time"][:16] == about["from"][:16]
    assert {about["from"][:2], about["to"][:2]} == {"20"}


def test_an_hour_alone_is_one_that_was_recorded(linewatch: Run, store: Path):
    assert "entries over" in asked(linewatch, "replay", "--from", "0:00", store=store)
    done = linewatch("replay", "--from", "quarter past", "--store", str(store))
    assert done.returncode == 1
    assert done.stderr.count("quarter past") == 1


def test_a_line_or_a_discharge_that_is_not_there_names_those_that_are(
    linewatch: Run, store: Path
):
    done = linewatch("view", "--line", "nope", "--store", str(store))
    assert done.returncode == 1
    assert "there is first" in done.stderr
