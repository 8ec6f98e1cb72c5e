"""What was found on a load stands beside what is wanted; what speaks against its release."""

from __future__ import annotations

import pytest

from linewatch.core.events import Event, EventKind
from linewatch.core.loads.page import load_page
from linewatch.core.loads.present import Present
from linewatch.core.loads.record import load_record
from linewatch.core.loads.wanted import (
    decision_remark,
    found_beside_wanted,
    smallest_um,
)
from linewatch.core.pages import Shown

S = 1_000_000_000


def told(what: str, at_s: int, **values) -> Event:
    return Event(
        kind=EventKind.LOAD,
        subject="load/4110",
        utc_ns=at_s * S,
        mono_ns=at_s * S,
        text=str(values.pop("text", what)),
        values={"what": what, "load": "4110", "trip": 1, **values},
    )


def stay(um: float = 12.6, bath: str = "nickel", deposit: str = "Ni", **values) -> Event:
    wanted = {"layer_target_um": 12.0, "layer_least_um": None} | values
    return told(
        "stay",
        600,
        tank=bath,
        tank_name=bath,
        kind="plate",
        bath=bath,
        deposit=deposit,
        thickness_um=um,
        thickness_pm_um=0.5,
        in_utc_ns=0,
        out_utc_ns=600 * S,
        dwell_s=600.0,
        **wanted,
    )


def finding(found: str, of: str = "thickness", place: str = "") -> Event:
    text = f"{of}: {found} (LB)"
    return told("inspected", 700, of=of, found=found, place=place, who="LB", text=text)


def record(*events: Event):
    return load_record("4110", events)


def test_a_release_is_answered_with_the_thickness_that_was_found_below_the_wanted_one():
    one = record(stay(), finding("9.1 um"))
    assert decision_remark(one, "released") == "found 9.1 µm where 12.0 µm are wanted"
    # It is the person's decision; what is held or scrapped needs no word against it.
    assert decision_remark(one, "held") == ""


def test_nothing_speaks_against_a_load_of_which_enough_was_found():
    assert decision_remark(record(stay(), finding("12.4 um")), "released") == ""


def test_the_newest_finding_at_a_place_counts():
    one = record(stay(), finding("9.1 um"), finding("12.2 um"))
    assert decision_remark(one, "released") == ""


def test_a_layer_that_is_worked_out_too_thin_and_what_was_odd_speak_against_it_too():
    one = record(stay(9.0, dwell="11 min too short"))
    assert decision_remark(one, "released") == (
        "Ni worked out as 9.0 ± 0.5 µm: too thin, 12.0 µm are wanted;"
        " odd on its way: nickel: 11 min too short"
    )


def test_a_hole_in_the_record_alone_speaks_against_nothing():
    assert decision_remark(record(stay(is_first=True)), "released") == ""


def test_a_load_that_is_in_a_tank_still_is_said_so_before_it_is_released():
    here = Present(tank_name="17 Nickel 4", utc_ns=S, since_utc_ns=0, dwell_s=1.0)
    assert decision_remark(record(stay()), "released", here) == "it is in 17 Nickel 4 still"


def test_at_a_named_place_the_least_local_thickness_is_what_is_wanted():
    inside = record(stay(layer_least_um=8.0), finding("9.1 um", place="recess"))
    assert decision_remark(inside, "released") == ""
    below = record(stay(layer_least_um=10.0), finding("9.1 um", place="recess"))
    assert decision_remark(below, "released") == (
        "found 9.1 µm at recess where at least 10.0 µm are wanted"
    )


def test_of_several_layers_only_the_one_that_is_named_is_held_against_a_finding():
    layers = (stay(20.0, "copper", "Cu", layer_target_um=15.0), stay())
    assert found_beside_wanted(record(*layers, finding("9.1 um"))) == ()
    (found,) = found_beside_wanted(record(*layers, finding("9.1 um", of="thickness Ni")))
    assert (found.layer.deposit, found.wanted_um, found.is_below) == ("Ni", 12.0, True)


@pytest.mark.parametrize(
    ("found", "um"),
    [
        ("9.1 um", 9.1),
        ("0.0091 mm", 9.1),
        ("7,9 to 8.4 um", 7.9),
        ("8.4 ± 0.3 um", 8.4),
        ("8.6, 8.1, 8.4 um", 8.1),
        ("0.4 mil", 10.16),  # 1 mil is 25.4 µm: NIST SP 811, appendix B.8.
        (">= 5 um", None),
        ("96 h", None),
        ("good", None),
    ],
)
def test_the_smallest_thickness_of_a_finding_is_read(found, um):
    assert smallest_um(found) == (None if um is None else pytest.approx(um))


def test_found_and_wanted_stand_side_by_side_in_the_record():
    page = load_page(record(stay(), finding("9.1 um")), "works", Shown("metric", str))
    layers = next(each for each in page.tables if each.heading == "Layers")
    columns = list(layers.columns)
    assert columns.index("wanted") == columns.index("found") + 1
    assert layers.rows[0][columns.index("found")] == "9.1 µm"
    assert layers.rows[0][columns.index("wanted")] == "12.0 µm"
    found = next(each for each in page.tables if each.heading == "Found")
    assert found.rows[0][1] == ("thickness: 9.1 µm (LB); LESS than the 12.0 µm that are wanted")
