"""A layer of which one tank was not metered says so wherever it is told."""

from linewatch.core.events import Event, EventKind
from linewatch.core.loads.page import load_page
from linewatch.core.loads.record import load_record
from linewatch.core.loads.why import why
from linewatch.core.pages import Shown

SHOW = Shown("metric", str)
S = 10**9


def stay(tank: str, **values) -> Event:
    told = {
        "what": "stay",
        "load": "4114",
        "trip": 1,
        "tank": tank,
        "tank_name": tank,
        "kind": "plate",
        "bath": "nickel",
        "deposit": "Ni",
        "in_utc_ns": 0,
        "out_utc_ns": 280 * S,
        "dwell_s": 280.0,
        "charge_ah": 51.0,
        "charge_pm_ah": 0.5,
        "unmetered_s": 0.0,
        "mass_g": 53.0,
        "thickness_um": 3.0,
        "thickness_pm_um": 0.2,
    } | values
    return Event(
        kind=EventKind.LOAD, subject="load/4114", text="", utc_ns=1, mono_ns=1, values=told
    )


BLIND = {
    "charge_ah": 0.0,
    "charge_pm_ah": 116.61,
    "unmetered_s": 280.0,
    "mass_g": None,
    "thickness_um": None,
    "thickness_refused": "280 of its 280 s here were not metered",
}


def record(*events: Event):
    return load_record("4114", events)


def test_a_layer_with_a_tank_that_was_not_metered_is_told_as_the_least_with_its_name():
    told = record(stay("Nickel 1", **BLIND), stay("Nickel 2"), stay("Nickel 3"))
    (layer,) = told.layers
    assert layer.hole == "Nickel 1 not metered"
    assert layer.refused == "Nickel 1: 280 of its 280 s here were not metered"

    tables = {each.heading: each for each in load_page(told, "Line", SHOW).tables}
    (row,) = tables["Layers"].rows
    assert row[1] == "at least 102.0 A·h"
    assert row[3] == "not known: Nickel 1 not metered"
    assert tables["Its way"].rows[0][6] == "not metered, at most 116.6 A·h"
    assert tables["Its way"].rows[1][6] == "51.00 ± 0.50 A·h"


def test_the_explanation_of_its_charge_says_what_it_does_not_count():
    told = record(stay("Nickel 1", **BLIND), stay("Nickel 2"))
    found = {each.figure: each for each in why(told)}
    whole = found["charge of the Ni layer"]
    assert "at least: Nickel 1 not metered, counted as it was metered" in whole.notes
    assert [each.source for each in whole.inputs] == ["Nickel 1, not metered", "Nickel 2"]
    assert any(note.startswith("at least") for note in found["charge in Nickel 1"].notes)
    assert not any(note.startswith("at least") for note in found["charge in Nickel 2"].notes)


def test_a_layer_that_was_metered_throughout_carries_its_doubt():
    told = record(stay("Nickel 1"), stay("Nickel 2", unmetered_s=5.0))
    (layer,) = told.layers
    assert layer.hole == ""
    tables = {each.heading: each for each in load_page(told, "Line", SHOW).tables}
    assert tables["Layers"].rows[0][1] == "102.0 ± 1.0 A·h"


def test_a_reason_that_all_stays_share_is_said_once_and_without_a_tank():
    none = {"thickness_um": None, "mass_g": None, "thickness_refused": "the area is not known"}
    told = record(stay("Nickel 1", **none), stay("Nickel 2", **none))
    assert told.layers[0].refused == "the area is not known"
