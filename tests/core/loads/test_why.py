"""What a load's figures are explained by."""

import re

import pytest

from linewatch.core.events import Event, EventKind
from linewatch.core.loads.record import load_record
from linewatch.core.loads.why import parts_of_doubt, why

DOUBTS = "current sensor 0.289 %; area 9.24 %"
PARTS = "its parts, k = 2: current sensor 0.578 %; area 18.5 %"


def explained(**values):
    """Return the explanations of a load with one stay in nickel, by figure."""
    stay = {
        "what": "stay",
        "load": "7",
        "trip": 1,
        "tank": "nickel-1",
        "tank_name": "Nickel 1",
        "in_utc_ns": 0,
        "out_utc_ns": 540 * 10**9,
        "dwell_s": 540.0,
        "bath": "nickel",
        "deposit": "Ni",
        "charge_ah": 66.57,
        "charge_pm_ah": 0.525,
        "efficiency": 0.955,
        "equivalent_g_per_ah": 1.095,
        "density_g_per_cm3": 8.907,
        "mass_g": 69.6,
        "area_dm2": 250.0,
        "area_from": "its card",
        "thickness_um": 3.126,
        "thickness_pm_um": 0.579,
        "doubts": DOUBTS,
        **values,
    }
    told = Event(
        kind=EventKind.LOAD, subject="load/7", text="", utc_ns=1, mono_ns=1, values=stay
    )
    return {each.figure: each for each in why(load_record("7", [told]))}


def test_the_area_is_no_doubt_of_the_charge():
    found = explained()
    assert found["charge in Nickel 1"].notes == ("± 0.525 A·h (k = 2)",)
    assert found["mean thickness of Ni in Nickel 1"].notes == ("± 0.579 µm (k = 2)", PARTS)


def test_where_no_thickness_is_known_the_charges_own_doubts_are_told():
    found = explained(thickness_um=None, doubts="current sensor 0.289 %")
    assert found["charge in Nickel 1"].notes[1] == "its parts, k = 2: current sensor 0.578 %"


def test_a_mass_is_not_said_to_have_no_uncertainty_where_the_thickness_has_one():
    assert explained()["Ni deposited in Nickel 1"].notes[0].startswith("±")


def test_of_a_stay_as_the_anode_the_anodic_charge_is_told_and_not_a_nought():
    cleaned = {"deposit": "", "bath": "ecl", "mass_g": None, "thickness_um": None}
    found = explained(charge_ah=0.0, charge_pm_ah=0.0, anodic_ah=53.59, **cleaned)
    assert list(found) == ["anodic charge in Nickel 1"]
    assert found["anodic charge in Nickel 1"].value == 53.59


def test_of_every_figure_of_a_load_it_is_said_how_sure_it_is_and_by_what_factor():
    for found in (
        explained(),
        explained(thickness_um=None),
        explained(charge_ah=0.0, charge_pm_ah=0.0, mass_g=0.0, thickness_um=0.0),
        explained(charge_ah=0.0, charge_pm_ah=0.0, anodic_ah=53.6, mass_g=None),
    ):
        for each in found.values():
            if not each.figure.startswith("Ni deposited"):
                assert any(note.startswith("±") for note in each.notes), each.figure
            assert not any(" %" in note and "k = 2" not in note for note in each.notes)


def test_the_shares_are_those_of_the_figure_that_stands_beside_them():
    """± 0.579 of 3.126 µm is 18.5 %: what its parts give in quadrature."""
    shares = [float(part) for part in re.findall(r"([0-9.]+) %", parts_of_doubt(DOUBTS))]

    assert sum(each**2 for each in shares) ** 0.5 == pytest.approx(
        100.0 * 0.579 / 3.126, rel=0.01
    )
