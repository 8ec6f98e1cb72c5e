"""A load that is still in a tank tells what it has by now, and what is odd about it by now."""

from __future__ import annotations

from dataclasses import replace

from linewatch.core.loads.page import load_page
from linewatch.core.loads.present import Present
from linewatch.core.loads.record import load_record
from linewatch.core.loads.wanted import decision_remark
from linewatch.core.pages import Shown
from tests.core.line import bathing
from tests.core.loads.test_acid import stay

S = 1_000_000_000
ZINC = Present(
    tank_name="21 Zinc 1",
    utc_ns=4000 * S,
    since_utc_ns=(4000 - 57 * 60) * S,
    dwell_s=57 * 60.0,
    longest_s=35 * 60.0,
    deposit="Zn",
    charge_ah=212.0,
    thickness_um=13.4,
    thickness_pm_um=0.9,
    target_um=8.0,
)


def page(present: Present | None, *stays):
    told = stays or (stay("soak", "clean", 300, 500),)
    show = Shown("metric", lambda utc_ns: f"{utc_ns // S} s")
    return load_page(load_record("7", list(told)), "works", show, present)


def rows(of, heading: str):
    return next(each for each in of.tables if each.heading == heading)


def test_what_it_has_by_now_and_for_how_long_it_is_in_is_told():
    told = page(ZINC)
    assert (
        "In 21 Zinc 1 since 580 s, for 57 min by 4000 s: Zn 13.40 ± 0.90 µm here so far"
        " (mean), 8.0 µm are wanted of this tank." in told.below
    )
    assert rows(told, "Layers").empty == "its first layer grows now, see above"
    assert rows(page(None), "Layers").empty == "no metal was laid down"


def test_longer_in_than_allowed_is_odd_before_it_has_left():
    told = page(ZINC)
    assert "odd: 1, see below" in told.below[0]
    ((when, text),) = rows(told, "Odd").rows
    assert (when, text) == (
        "4000 s",
        "21 Zinc 1: in for 57 min, at most 35 min are allowed; it is in still",
    )
    in_time = page(replace(ZINC, dwell_s=20 * 60.0))
    assert "nothing odd was seen so far" in in_time.below[0]
    assert rows(in_time, "Odd").rows == ()


def test_a_thickness_that_is_not_known_yet_says_why_and_what_was_sent():
    unknown = replace(ZINC, thickness_um=None, not_known="the load's area is not known")
    assert any(
        "thickness so far not known: the load's area is not known; 212.00 A·h so far" in line
        for line in page(unknown).below
    )


def test_the_next_load_of_a_number_is_not_taken_for_the_one_that_was_dried():
    dried = stay("dryer", "dry", 60, 200)
    told = page(replace(ZINC, since_utc_ns=900 * S), dried)
    assert not any("Zinc" in line for line in told.below)
    # What came from the drier at once is the same load.
    assert any(
        "Zinc" in line for line in page(replace(ZINC, since_utc_ns=230 * S), dried).below
    )


def test_the_picture_tells_the_stay_that_a_load_is_in():
    shop = bathing.Shop()
    shop.run(60, one__load_present=0.0)
    shop.run(600, one__load_present=1.0)
    picture = shop.line.picture(shop.at)
    number = picture.tanks[0].load.number
    here = picture.present(number)
    assert (here.tank_name, here.deposit) == ("Nickel one", "Ni")
    assert here.dwell_s == picture.tanks[0].load.dwell_s
    assert here.thickness_um == picture.tanks[0].load.thickness_um
    assert here.thickness_um > 0.0
    assert picture.present("none of them") is None


def test_what_the_record_has_not_seen_is_no_oddity_and_is_said_as_what_it_is():
    first = stay("soak", "clean", 300, 500)
    first.values["is_first"] = True
    first.values["unmetered_s"] = 40.0
    told = page(None, first)

    assert "nothing odd was seen; not known: 2" in told.below[0]
    assert rows(told, "Odd").rows == ()
    assert {text for _, text in rows(told, "Not known").rows} == {
        "soak: it was in already when the record began",
        "soak: 40 s not metered",
    }


def test_what_may_have_spoilt_it_since_it_came_in_is_odd_before_it_has_left():
    told = page(replace(ZINC, dwell_s=20 * 60.0, grave=("alarms: polarity wrong",)))

    assert "odd: 1, see below" in told.below[0]
    assert rows(told, "Odd").rows == (("4000 s", "21 Zinc 1: alarms: polarity wrong"),)


def thin(number: int = 500):
    plated = stay("zinc", "plate", 300, number)
    plated.values.update(
        bath="zinc", deposit="Zn", charge_ah=9.0, mass_g=9.0, thickness_um=4.0,
        thickness_pm_um=0.2, layer_target_um=8.0,
    )  # fmt: skip
    return plated


def test_a_layer_that_may_still_grow_is_not_too_thin_yet():
    here = replace(ZINC, since_utc_ns=700 * S)

    assert rows(page(None, thin()), "Layers").rows[0][-1] == "too thin"
    assert rows(page(here, thin()), "Layers").rows[0][-1] == "too thin"
    growing = replace(here, growing=frozenset({"zinc"}))
    assert rows(page(growing, thin()), "Layers").rows[0][-1] == "so far"


def test_what_may_still_grow_is_not_held_against_a_release():
    record = load_record("7", [thin()])
    here = replace(ZINC, since_utc_ns=700 * S, growing=frozenset({"zinc"}))

    assert "too thin" in decision_remark(record, "released")
    assert "too thin" not in decision_remark(record, "released", here)


def test_a_limit_is_never_rounded_away_beside_the_time_that_passed_it():
    over = replace(ZINC, dwell_s=301.0, longest_s=210.0)
    (told,) = over.odd

    assert told == "in for 5 min 01 s, at most 3 min 30 s are allowed; it is in still"


def test_a_dwell_and_its_limits_are_written_in_one_way_in_a_record():
    soaked = stay("soak", "clean", 421, 500)
    soaked.values.update(shortest_s=120.0, longest_s=420.0)
    (row,) = rows(page(None, soaked), "Its way").rows

    assert row[3:5] == ("7 min 01 s", "2 min to 7 min")
