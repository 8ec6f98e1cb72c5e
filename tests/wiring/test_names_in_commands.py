"""What commands print for people names things as the screen does; ids stand in JSON."""

from linewatch.cli import tables
from linewatch.core.events import EventKind
from linewatch.history.chain import Action
from tests.ui import invented

DESK = invented.InventedDesk(invented.line())
CALLED = tables.names_of(DESK)


def act(what: str, **command) -> str:
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


def test_the_peoples_journal_says_what_was_done_to_what_in_words():
    assert act("Acknowledge", alarm="nickel-1.temperature.low").endswith(
        "MK acknowledge 9 Bright nickel: temperature low"
    )
    assert act("Acknowledge", alarm="*").endswith("MK acknowledge all alarms")
    assert act("LogAnalysis", subject="nickel", substance="Ni", value=70.5, note="").endswith(
        "MK log analysis Nickel bath, substance Ni, value 70.5"
    )
    assert act("Shelve", alarm="soak-1.level.high", for_s=3600.0, why="cleaning").endswith(
        "level high, for 3600 s because cleaning"
    )
    assert act("PlaceLoad", load="12", tank="nickel-1", is_in=True).endswith(
        "place load 9 Bright nickel, load 12, in"
    )


def test_what_was_typed_stays_so_even_where_a_bath_is_called_by_the_same_word():
    assert act("LogAnalysis", subject="nickel", substance="nickel", value=7.0).endswith(
        "log analysis Nickel bath, substance nickel, value 7"
    )
    assert act("WriteNote", subject="soak-1", text="nickel").endswith(", nickel")
    assert act("InspectLoad", load="7", found="nickel-1").endswith("found nickel-1")
