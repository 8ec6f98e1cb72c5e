"""What commands print for people names things as the screen does; ids stand in JSON."""

import pytest

from linewatch.cli import tables
from linewatch.core.commands import COMMANDS
from linewatch.core.events import EventKind
from linewatch.history.chain import Action
from linewatch.wiring.acts_told import act_text, naming, told
from tests.ui import invented

DESK = invented.InventedDesk(invented.line())
CALLED = tables.names_of(DESK)
NAMING = naming(CALLED, {})


def act(what: str, /, **command) -> str:
    return tables.act_words(
        Action(
            line_id="invented",
            number=7,
            run=1,
            who="MK",
            what=what,
            parts={"command": {"command": what, "who": "MK", **command}},
            utc_ns=invented.NOON,
        ),
        CALLED,
    )


def test_an_event_is_about_what_people_call_it():
    about = invented.event(1, "temperature low", kind=EventKind.ALARM, subject="nickel-1")
    load = invented.event(2, "left", kind=EventKind.LOAD, subject="load/4711")

    assert tables.event_words(about, CALLED).endswith(" 9 Bright nickel: temperature low")
    assert tables.event_words(load, CALLED).endswith(" load 4711: left")
    assert "nickel-1: temperature low" in tables.event_words(about, {})


def configured(**parts) -> str:
    return tables.act_words(
        Action(
            line_id="invented",
            number=1,
            run=0,
            who="root",
            what="Configure",
            parts={"fingerprint": "0123456789abcdef" * 4, **parts},
            utc_ns=invented.NOON,
        ),
        CALLED,
    )


def test_a_start_with_a_configuration_is_told_as_what_it_is_and_by_whom():
    first = configured(before="", why="collector started")
    assert first.endswith(
        " the collector started with this configuration (0123456789abcdef), by root"
    )
    assert "because" not in first


def test_a_start_with_another_configuration_says_why_and_what_it_changed():
    told = configured(before="f" * 64, why="the boiler was changed", changes=["68 -> 70 degC"])
    first, change = told.split("\n")
    assert first.endswith(
        " the collector started with another configuration than before (0123456789abcdef),"
        " by root, because the boiler was changed"
    )
    assert change.strip() == "68 -> 70 degC"


PLAIN = [
    (
        "Acknowledge",
        {"alarm": "nickel-1.temperature.low"},
        "acknowledged 9 Bright nickel: temperature low",
    ),
    ("Acknowledge", {"alarm": "*"}, "acknowledged all alarms"),
    (
        "ResetLatch",
        {"alarm": "nickel-1.level.low"},
        "reset the latch of 9 Bright nickel: level low",
    ),
    (
        "Shelve",
        {"alarm": "soak-1.level.high", "for_s": 5400.0, "why": "cleaning"},
        ": level high aside for 1.5 h because cleaning",
    ),
    ("Unshelve", {"alarm": "nickel-1.level.low"}, "brought 9 Bright nickel: level low back"),
    (
        "TakeOutOfService",
        {"subject": "nickel-1", "why": "new lining"},
        "took 9 Bright nickel out of service because new lining",
    ),
    ("ReturnToService", {"subject": "nickel-1"}, "put 9 Bright nickel back into service"),
    (
        "SetLineState",
        {"state": "heating-up", "track": "", "why": ""},
        "said that the line is heating up",
    ),
    (
        "HandReading",
        {"subject": "nickel-1", "kind": "ph", "value": 4.2, "unit": "pH", "note": ""},
        "read ph 4.2 pH by hand at 9 Bright nickel",
    ),
    (
        "WriteNote",
        {"subject": "nickel-1", "text": "nickel"},
        "noted at 9 Bright nickel: nickel",
    ),
    (
        "LogAddition",
        {"bath": "nickel", "additive": "x", "amount_ml": 500.0, "lot": "7"},
        "added 500 mL of x to Nickel bath, lot 7",
    ),
    (
        "LogAddition",
        {"bath": "nickel", "additive": "x", "amount_ml": -500.0, "corrects": 12},
        "took back entry 12: 500 mL of x in Nickel bath",
    ),
    (
        "MarkDummy",
        {"tank": "nickel-1", "begins": False},
        "9 Bright nickel no longer plates dummies",
    ),
    (
        "MarkMeter",
        {"rectifier": "r", "what": "replaced"},
        "said that the meter of r was replaced",
    ),
    (
        "LoadCard",
        {"load": "12", "part": "Lever", "amount": 60.0, "area_dm2": None, "lot": "L4"},
        "wrote the card of load 12: part Lever, pieces or kg 60, lot L4",
    ),
    (
        "PlaceLoad",
        {"load": "12", "tank": "nickel-1", "is_in": True},
        "said that load 12 is in 9 Bright nickel",
    ),
    (
        "PlaceLoad",
        {"load": "12", "tank": "nickel-1", "is_in": False},
        "said that load 12 was lifted out of 9 Bright nickel",
    ),
    (
        "BakeLoad",
        {"load": "12", "oven": "nickel-1", "is_in": True},
        "put load 12 into 9 Bright nickel",
    ),
    ("BakeLoad", {"load": "12", "oven": "", "is_in": False}, "took load 12 out of its oven"),
    (
        "DecideLoad",
        {"load": "12", "decision": "rework", "why": "thin nickel"},
        "decided that load 12 is reworked because thin nickel",
    ),
    (
        "DecideLoad",
        {"load": "12", "decision": "held", "why": "dull"},
        "held load 12 because dull",
    ),
    (
        "InspectLoad",
        {"load": "12", "what": "thickness Ni", "found": "8.4 um", "place": "hook"},
        "inspected load 12, thickness Ni at hook: 8.4 um",
    ),
    # What was typed stays so, even where a bath is called by the same word.
    (
        "LogAnalysis",
        {"subject": "nickel", "substance": "nickel", "value": 7.0, "unit": "g/L"},
        "analysed Nickel bath: nickel 7 g/L",
    ),
    ("DoDuty", {"duty": "clean the filter", "note": ""}, "did what was due: clean the filter"),
    (
        "LogCheck",
        {"subject": "nickel-1", "item": "bags", "found": "torn", "is_bad": True},
        "looked at 9 Bright nickel: bags torn (not as it should be)",
    ),
    ("SignSheet", {"note": ""}, "signed the shift's check sheet"),
    (
        "TellNotice",
        {"way": "horn", "did": False, "text": "no answer"},
        "could not tell of alarms by horn: no answer",
    ),
    (
        "CaptureFrames",
        {"subject": "nickel-1", "for_s": 3600.0, "why": "noise"},
        "had the frames of 9 Bright nickel captured for 1 h because noise",
    ),
    ("EndCollecting", {"why": "linewatch stop"}, "ended the recording because linewatch stop"),
]


@pytest.mark.parametrize(("what", "command", "sentence"), PLAIN)
def test_the_peoples_journal_says_each_act_as_one_plain_sentence(what, command, sentence):
    assert act(what, **command).endswith(sentence)
    assert " MK " in act(what, **command)


def test_every_command_has_its_sentence():
    assert {what for what, _, _ in PLAIN} == set(COMMANDS)


def test_an_act_of_a_newer_program_is_told_by_its_name():
    assert act("LevitateLoad", load="12").endswith("MK levitate load")


def happened(what: str, **parts):
    return invented.event(
        3, "as it was recorded", kind=EventKind.COMMAND, **{"what": what, "who": "AB", **parts}
    )


def test_an_act_among_the_events_is_the_same_sentence_and_the_record_keeps_its_own():
    into = happened("BakeLoad", load="12", oven="nickel-1", is_in=True)
    out = happened("BakeLoad", load="12", oven="", is_in=False)
    assert tables.event_words(into, CALLED).endswith(": AB put load 12 into 9 Bright nickel")
    assert tables.event_words(out, CALLED).endswith(": AB took load 12 out of its oven")

    (shown,) = told([into], DESK.picture)
    assert shown.event.text == "AB put load 12 into 9 Bright nickel"
    assert into.event.text == "as it was recorded"
    older = happened("Levitate")
    assert told([older], DESK.picture)[0].event.text == "as it was recorded"
    # Two commands have a part that is called as the name of a command is.
    meter = happened("replaced", rectifier="r", why="burnt")
    assert (
        act_text(meter.event, NAMING)
        == "AB said that the meter of r was replaced because burnt"
    )
