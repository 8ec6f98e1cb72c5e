"""What an analysis is about, and what the person who wrote it down is told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.commands import LogAnalysis
from linewatch.core.errors import Refused
from linewatch.core.laboratory.analyses import analyses
from linewatch.core.laboratory.taken import place_of, remarks, verdict
from linewatch.core.plan import Assay, Window
from linewatch.core.water.permits import CFR_433_15
from tests.core.line.test_loads import PLAN, Shop

NI = Assay(substance="Ni", unit="g/L", low=68.0, high=78.0, every_s=8 * 3600.0)
ACID = Assay(substance="boric acid", unit="g/L", low=38.0)
CN = Assay(substance="CN", unit="mg/L", high=0.65)
BATH = replace(PLAN.baths[0], name="Bright nickel", assays=(NI, ACID))
RINSE, *TANKS = PLAN.tanks
LOOKED_AFTER = replace(PLAN, baths=(BATH,), tanks=(replace(RINSE, assays=(CN,)), *TANKS))


def found(subject="one", substance="Ni", value=72.0, unit="g/L") -> LogAnalysis:
    return LogAnalysis(who="LB", subject=subject, substance=substance, value=value, unit=unit)


@pytest.mark.parametrize("typed", ["Ni", "ni", " NI ", "nickel", "Nickel"])
def test_a_substance_is_found_however_it_is_typed_and_a_tanks_analysis_is_its_baths(typed):
    assert place_of(LOOKED_AFTER, "one", typed) == (BATH.id, "Ni")
    assert place_of(LOOKED_AFTER, BATH.id, typed) == (BATH.id, "Ni")


def test_a_substance_that_is_not_known_there_stays_what_was_typed():
    assert place_of(LOOKED_AFTER, "one", "copper") == (BATH.id, "copper")
    assert place_of(LOOKED_AFTER, "rinse", "nickel") == ("rinse", "nickel")
    assert place_of(LOOKED_AFTER, "one", "Boric Acid") == (BATH.id, "boric acid")


def test_a_metal_that_a_bath_lays_down_is_known_there_without_limits():
    plan = replace(PLAN, baths=(replace(BATH, assays=()),))
    assert place_of(plan, BATH.id, "nickel") == (BATH.id, "Ni")


def test_what_a_tank_itself_is_looked_after_for_stays_the_tanks():
    both = replace(LOOKED_AFTER, tanks=(*TANKS, replace(TANKS[0], id="ten", assays=(NI,))))
    assert place_of(both, "ten", "nickel") == ("ten", "Ni")
    assert place_of(both, "ten", "boric acid") == (BATH.id, "boric acid")


def test_an_analysis_of_a_tank_counts_for_its_bath_in_the_record():
    shop = Shop(LOOKED_AFTER)
    shop.run(60)
    told = shop.say(found(substance="nickel", value=78.0))
    (kept,) = analyses(shop.events)

    assert (kept.subject, kept.substance, kept.verdict) == (BATH.id, "Ni", "")
    assert (kept.low, kept.high) == (68.0, 78.0)
    # The act stays as it was typed.
    assert (told[0].subject, told[0].values["substance"]) == ("one", "nickel")


def test_whose_analysis_it_is_and_how_it_stands_to_its_working_range_is_told():
    assert remarks(LOOKED_AFTER, found(BATH.id)) == (
        "Ni 72 g/L, within its working range 68 to 78 g/L; next: the same again within 8 h"
    )
    assert remarks(LOOKED_AFTER, found(BATH.id, value=66.0)) == (
        "Ni 66 g/L, below its working range 68 to 78 g/L; next: set the bath right by its own"
        " sheet, then analyse again"
    )
    assert remarks(LOOKED_AFTER, found(BATH.id, value=780.0)).startswith(
        "Ni 780 g/L, above its working range 68 to 78 g/L; next: "
    )
    assert verdict(LOOKED_AFTER, found(value=6.8e4, unit="mg/L")).startswith("within")
    assert verdict(LOOKED_AFTER, found(value=6.7e4, unit="mg/L")).startswith(
        "below its working range 68000 to 78000 mg/L"
    )
    said = remarks(LOOKED_AFTER, found(substance="nickel", value=780.0))
    assert "; it is an analysis of the bath Bright nickel, which " in said
    assert said.endswith("; nickel is Ni there")


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (
            5.2,
            "mg/L",
            (
                "Ni 5.2 mg/L, above its daily limit 3.98 mg/L; next: hold the water, sample"
                " again, and see `linewatch discharge now`"
            ),
        ),
        (
            0.003,
            "g/L",
            (
                "Ni 0.003 g/L, within its daily limit 3.98 mg/L, above the limit of the month's"
                " mean 2.38 mg/L; next: see `linewatch discharge day` for what the days to come"
                " may average"
            ),
        ),
        (
            1.1,
            "mg/L",
            (
                "Ni 1.1 mg/L, within its daily limit 3.98 mg/L, within that of the month's mean"
                " 2.38 mg/L"
            ),
        ),
    ],
)
def test_where_water_leaves_a_value_is_held_against_its_daily_limit(value, unit, told):
    # 40 CFR 433.15: nickel, 3.98 mg/L on any day, 2.38 mg/L as the month's average.
    limits = {each.substance: each for each in CFR_433_15}
    looked_for = Assay(substance="Ni", unit="mg/L", high=2.38)
    place = replace(RINSE, assays=(looked_for,), permit={"ph": Window(low=6.0, high=9.5)})
    plan = replace(LOOKED_AFTER, tanks=(place, *TANKS), permits=(limits["Ni"],))
    assert remarks(plan, found(place.id, value=value, unit=unit)) == told


def test_what_the_permit_limits_is_known_where_water_leaves_though_no_analysis_is_due():
    place = replace(RINSE, assays=(), permit={"ph": Window(low=6.0, high=9.5)})
    plan = replace(LOOKED_AFTER, tanks=(place, *TANKS), permits=CFR_433_15)
    assert place_of(plan, place.id, "zinc") == (place.id, "Zn")
    assert place_of(plan, place.id, "cn") == (place.id, "CN")
    # 40 CFR 433.15: zinc, 2.61 mg/L on any day.
    said = remarks(plan, found(place.id, substance="zinc", value=9.0, unit="mg/L"))
    assert said.startswith("Zn 9 mg/L, above its daily limit 2.61 mg/L; next: hold the water")
    assert said.endswith("; zinc is Zn there")
    # In the rinse before it nothing is limited.
    assert place_of(LOOKED_AFTER, "rinse", "zinc") == ("rinse", "zinc")


@pytest.mark.parametrize("substance", ["Ni", "copper"])
def test_a_unit_that_nobody_knows_is_refused_and_nothing_is_written(substance):
    shop = Shop(LOOKED_AFTER)
    shop.run(60)
    before = shop.line.memory()
    with pytest.raises(Refused, match="the unit 'bananas' is not known; write it in"):
        shop.say(found(substance=substance, unit="bananas"))
    assert shop.line.memory() == before


@pytest.mark.parametrize("unit", ["mL/L", "mol/L", "ppm", "oz/gal", "%", "pH"])
def test_units_in_which_laboratories_report_are_taken(unit):
    assert remarks(LOOKED_AFTER, found(BATH.id, substance="wetting agent", unit=unit)) == (
        f"wetting agent 72 {unit}, no limits are configured for it there"
    )
