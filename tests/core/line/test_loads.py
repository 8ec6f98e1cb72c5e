"""Loads on an invented line: who they are, what they receive, and what people say of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pydantic import ValidationError

from linewatch.config.model import TankSection
from linewatch.core.commands import BakeLoad, DecideLoad, InspectLoad, LoadCard, PlaceLoad
from linewatch.core.errors import Refused
from linewatch.core.line import Line
from linewatch.core.line.loads import loads_of
from linewatch.core.loads.record import load_record, subject
from linewatch.core.loads.why import why
from linewatch.core.plan import CausePlan, ConditionPlan, PartPlan, RoutePlan, StepPlan, Window
from linewatch.core.ports import Order, RunStart
from linewatch.core.readings import Layout, Moment, Quality, Readings
from tests.core.line import bathing

NS = 10**9
STEP_S = 10
TAGS = (
    "r-one.current",
    "r-two.current",
    "one.load-present",
    "one.load-number",
    "two.load-present",
    "two.load-number",
    "rinse.load-present",
    "rinse.load-number",
    "one.temperature",
    "oven.temperature",
)
LAYOUT = Layout(link="bus", device="all", tags=TAGS, period_ns=STEP_S * NS)
USUAL = dict.fromkeys(TAGS, 0.0) | {"one.temperature": 60.0, "oven.temperature": 25.0}


def tag(name: str):
    made = bathing.tag(name)
    window = Window(low=57.0, high=63.0) if name == "one.temperature" else Window()
    return replace(made, window=window)


def tank(name: str, kind: str = "plate", **more):
    made = bathing.tank(name)
    return replace(made, kind=kind, track="t", windows={}, **more)


ROUTE = RoutePlan(
    id="way",
    name="Way",
    steps=(
        StepPlan(tanks=("rinse",)),
        StepPlan(tanks=("one",), shortest_s=300.0, longest_s=900.0),
        StepPlan(tanks=("two",)),
        StepPlan(tanks=("oven",)),
    ),
)
PART = PartPlan(
    id="pin",
    name="Pin",
    route="way",
    area_dm2=2.0,
    area_tolerance_ratio=0.01,
    amount_tolerance_ratio=0.2,
    usual_amount=100.0,
    usual_on="t",
    target_um={"nickel": 8.0},
    distribution_ratio=0.5,
    least_um={"Ni": 5.0},
    strength_mpa=1250.0,
    bake_within_s=3600.0,
)
PLAN = replace(
    bathing.PLAN,
    layouts=(LAYOUT,),
    tags={name: tag(name) for name in TAGS},
    tanks=(
        tank("rinse", "rinse", bath=None),
        tank("one"),
        tank("two"),
        tank("oven", "bake", bath=None),
    ),
    conditions=(),
    routes=(ROUTE,),
    parts=(PART,),
)
DARK = replace(PLAN, tags={k: v for k, v in PLAN.tags.items() if not k.endswith("number")})


class Shop:
    """The line, its clock, and what its devices show."""

    def __init__(self, plan=PLAN, memory=None, at_s: int = 0) -> None:
        self.plan, self.at_s = plan, at_s
        self.line = Line(plan, memory)
        self.shown = dict(USUAL)
        self.events: list = []
        start = RunStart(run_id="r", at=self.at, fingerprint=plan.fingerprint, speed=1.0)
        self.events += self.line.begin(start)

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=bathing.UTC_NS + self.at_s * NS, mono_ns=self.at_s * NS)

    def run(self, seconds: int, **shown) -> list:
        self.shown |= {
            name.replace("__", ".").replace("_", "-"): value for name, value in shown.items()
        }
        news = []
        for _ in range(0, seconds, STEP_S):
            value = np.array([np.nan if v is None else v for v in self.shown.values()])
            quality = np.where(np.isnan(value), int(Quality.NO_ANSWER), 0).astype(np.uint8)
            block = Readings(
                layout=LAYOUT,
                utc_ns=self.at.utc_ns,
                mono_ns=self.at.mono_ns,
                value=value,
                quality=quality,
            )
            news += self.line.receive(block)
            self.at_s += STEP_S
        self.events += news
        return news

    def stay(self, where: str, number: float, seconds: int = 600, current: float = 0.0) -> None:
        """Let a load come, stay and leave."""
        unit = f"r_{where}__current"
        is_fed = unit.replace("__", ".").replace("_", "-") in TAGS
        self.run(10, **{f"{where}__load_number": number})
        on, off = ({unit: current}, {unit: 0.0}) if is_fed else ({}, {})
        self.run(seconds, **{f"{where}__load_present": 1.0, **on})
        self.run(20, **{f"{where}__load_present": 0.0, f"{where}__load_number": 0.0, **off})

    def say(self, command) -> list:
        news = self.line.obey(Order(request=1, command=command, at=self.at))
        self.events += news
        return news

    def record(self, number: str = "7", trip: int | None = None):
        return load_record(number, self.events, trip)


def card(**said) -> LoadCard:
    return LoadCard(who="MK", load=said.pop("load", "7"), **said)


def test_a_load_is_followed_by_its_number_through_all_its_tanks():
    shop = Shop()
    shop.stay("rinse", 7)
    shop.stay("one", 7, current=100.0)
    shop.stay("two", 7, current=50.0)
    record = shop.record()
    assert [stay.tank for stay in record.stays] == ["rinse", "one", "two"]
    assert (record.by, record.part, record.marks) == ("number", "Pin", ())
    assert record.stays[1].dwell_s == pytest.approx(600, abs=STEP_S)
    assert record.stays[1].transfer_s == pytest.approx(30, abs=2 * STEP_S)


def test_thickness_is_faradays_law_over_the_loads_own_area():
    shop = Shop()
    shop.say(card(part="pin", amount=50.0))
    shop.stay("rinse", 7)
    shop.stay("one", 7, seconds=1200, current=100.0)
    stay = shop.record().stays[1]
    # 58.6934 g/mol (CIAAW) over 2 x 26.8015 A h/mol; 8.908 g/cm3; 95 % efficiency.
    charge_ah = stay.charge_ah
    assert charge_ah == pytest.approx(100.0 * 1200 / 3600, rel=0.01)
    mass_g = charge_ah * 58.6934 / (2 * 26.8015) * 0.95
    assert stay.mass_g == pytest.approx(mass_g, rel=1e-5)
    assert stay.area_dm2 == 100.0
    assert stay.thickness_um == pytest.approx(mass_g / 8.908 / 100.0 * 100.0, rel=2e-3)
    assert stay.thinnest_um == pytest.approx(0.5 * stay.thickness_um)


def test_the_screen_and_the_record_hold_a_load_to_its_routes_dwell():
    shop = Shop(
        replace(PLAN, tanks=tuple(replace(tank, longest_dwell_s=1e5) for tank in PLAN.tanks))
    )
    shop.run(10, one__load_number=7.0)
    shop.run(60, one__load_present=1.0)
    (shown,) = [each.load for each in shop.line.picture(shop.at).tanks if each.load]
    shop.run(20, one__load_present=0.0)
    (stay,) = shop.record().stays

    assert (shown.shortest_s, shown.longest_s) == (300.0, 900.0)
    assert (stay.shortest_s, stay.longest_s) == (300.0, 900.0)


def test_a_stay_that_was_hardly_metered_has_no_thickness_and_a_charge_within_the_rating():
    shop = Shop()
    shop.run(10, one__load_number=7.0)
    shop.run(100, one__load_present=1.0, r_one__current=100.0)
    shop.run(600, r_one__current=None)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    (stay,) = shop.record().stays
    (layer,) = shop.record().layers

    assert stay.thickness_um is None
    assert stay.thickness_refused == "610 of its 700 s here were not metered"
    assert layer.thickness_um is None
    assert layer.refused == stay.thickness_refused
    rated_a = PLAN.rectifiers[0].rated_current_a
    assert stay.charge_ah + stay.charge_pm_ah > 100.0 / 3600 * 100.0 + 600.0 / 3600 * rated_a


def test_an_edge_is_as_unsure_as_the_current_that_flows_in_the_on_time_of_its_program():
    def stay(on_s: int):
        shop = Shop()
        shop.run(10, one__load_number=7.0)
        shop.run(60, one__load_present=1.0)
        shop.run(on_s, r_one__current=100.0)
        shop.run(660 - on_s, r_one__current=0.0)
        shop.run(20, one__load_present=0.0)
        return shop.record().stays[0]

    short, long = stay(60), stay(600)
    assert short.dwell_s == long.dwell_s
    # Half a poll of ten seconds at either edge of 60 s of current: 10 / 60, a rectangle.
    assert short.charge_pm_ah / short.charge_ah == pytest.approx(
        2 * (10 / 60) / 3**0.5, rel=0.1
    )
    assert long.charge_pm_ah / long.charge_ah < 0.03


def test_a_load_that_was_on_its_way_when_the_record_began_is_not_called_too_thin():
    shop = Shop()
    shop.run(10, one__load_number=7.0, one__load_present=1.0, r_one__current=10.0)
    shop.run(600)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    (layer,) = shop.record().layers
    assert layer.thickness_um < 8.0
    assert layer.verdict == "not seen whole"


def test_a_load_that_nobody_counted_is_less_sure_and_says_so():
    counted, guessed = Shop(), Shop()
    counted.say(card(part="pin", amount=100.0))
    for shop in (counted, guessed):
        shop.stay("one", 7, current=100.0)
    sure, unsure = counted.record().stays[0], guessed.record().stays[0]
    assert sure.thickness_um == unsure.thickness_um
    assert unsure.thickness_pm_um > 4 * sure.thickness_pm_um
    assert "usual amount" in unsure.area_from
    assert "area" in unsure.doubts


def test_a_step_that_was_left_out_and_a_tank_off_the_route_are_marked():
    shop = Shop()
    shop.stay("rinse", 7)
    shop.stay("two", 7)
    marks = shop.record().marks
    assert [each.text for each in marks] == ["Nickel one was left out"]
    other = Shop(replace(PLAN, routes=(replace(ROUTE, steps=ROUTE.steps[:2]),)))
    other.stay("rinse", 7)
    other.stay("two", 7)
    assert [each.what for each in other.record().marks] == ["not-on-route"]


def test_what_lies_before_the_first_tank_that_was_seen_is_not_called_left_out():
    shop = Shop()
    shop.stay("two", 7)
    assert shop.record().marks == ()


def test_too_short_too_long_and_outside_its_window_are_marked():
    shop = Shop()
    shop.stay("one", 7, seconds=100)
    shop.stay("one", 8, seconds=1500)
    shop.run(10, one__temperature=50.0)
    shop.stay("one", 9)
    assert "at least 5 min wanted" in shop.record("7").stays[0].odd[0]
    assert "at most 15 min wanted" in shop.record("8").stays[0].odd[0]
    assert shop.record("9").stays[0].odd == ("temperature down to 50, at least 57 °C wanted",)
    assert shop.record("9").stays[0].temperature_low_degc == 50.0


def test_without_numbers_a_load_is_the_one_that_came_before():
    shop = Shop(DARK)
    shop.stay("rinse", 0)
    shop.stay("one", 0, current=100.0)
    shop.stay("rinse", 0)
    trips = list(loads_of(shop.line).trips.values())
    assert [trip.tanks for trip in trips] == [["rinse", "one"], ["rinse"]]
    assert {trip.by for trip in trips} == {"order"}


def test_where_no_station_tells_current_that_comes_on_is_a_load():
    tags = {k: v for k, v in PLAN.tags.items() if "load" not in k}
    shop = Shop(replace(PLAN, tags=tags))
    shop.run(120)
    shop.run(600, r_one__current=100.0)
    shop.run(120, r_one__current=0.0)
    (trip,) = loads_of(shop.line).trips.values()
    stay = load_record(trip.number, shop.events).stays[0]
    assert (trip.by, stay.tank) == ("current", "one")
    # Looked at every 30 s: what flowed before the first look after it came on is not its own.
    assert stay.charge_ah == pytest.approx(100.0 * 600 / 3600, rel=0.06)


def test_a_person_corrects_which_load_it_is_and_the_correction_stays():
    shop = Shop()
    shop.run(10, one__load_number=7.0)
    shop.run(300, one__load_present=1.0)
    with pytest.raises(Refused, match="a correction says why"):
        shop.say(PlaceLoad(who="MK", load="9", tank="one"))
    shop.say(PlaceLoad(who="MK", load="9", tank="one", why="wrong tag hung on"))
    shop.run(600, r_one__current=100.0)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    assert shop.record("9").stays[0].charge_ah > 16.0
    placed = [each for each in shop.events if each.values.get("what") == "placed"]
    assert placed[0].values["before"] == "7"
    with pytest.raises(Refused, match="nothing was told of it"):
        shop.record("7")


def test_a_load_that_is_entered_by_key_is_followed():
    tags = {k: v for k, v in PLAN.tags.items() if "load" not in k}
    shop = Shop(replace(PLAN, tags=tags))
    shop.say(PlaceLoad(who="MK", load="A-1", tank="one"))
    shop.run(600, r_one__current=100.0)
    shop.say(PlaceLoad(who="MK", load="A-1", tank="one", is_in=False))
    record = shop.record("A-1")
    assert record.by == "key"
    assert record.stays[0].charge_ah == pytest.approx(100 * 600 / 3600, rel=0.02)


@pytest.mark.parametrize(
    ("command", "reason"),
    [
        (card(part=""), "say something"),
        (card(load="", part="pin"), "1 to 40 characters"),
        (card(amount=-1.0), "more than nothing"),
        (card(lot="x" * 41), "at most 40"),
        (PlaceLoad(who="MK", load="7", tank="nine"), "no tank nine"),
        (PlaceLoad(who="MK", load="7", tank="one", is_in=False), "not known to be in (?!one)"),
        (DecideLoad(who="MK", load="99", decision="held", why="x"), "no load of this number"),
        (DecideLoad(who="MK", load="7", decision="eaten", why="x"), "a decision is one of"),
        (DecideLoad(who="MK", load="7", decision="held", why=" "), "says why"),
        (InspectLoad(who="MK", load="7", what="", found="good"), "say what was looked at"),
        (BakeLoad(who="MK", load="7", oven="rinse"), "is no oven; there are "),
        (BakeLoad(who="MK", load="7", is_in=False), "in no oven"),
    ],
)
def test_what_cannot_be_so_is_refused_and_changes_nothing(command, reason):
    shop = Shop()
    shop.stay("one", 7)
    before = shop.line.memory()
    with pytest.raises(Refused, match=reason):
        shop.say(command)
    assert shop.line.memory() == before


def test_a_card_is_corrected_only_with_a_reason_and_both_stay():
    shop = Shop()
    shop.say(card(part="pin", amount=50.0, lot="L1", reference="R9"))
    with pytest.raises(Refused, match="a correction says why"):
        shop.say(card(amount=60.0))
    shop.say(card(amount=60.0, why="counted again"))
    shop.stay("one", 7, current=100.0)
    record = shop.record()
    assert record.card["amount"] == 60.0
    assert record.card["lot"] == "L1"
    assert [each.values["corrects"] for each in record.cards] == [False, True]
    assert record.stays[0].area_dm2 == 120.0


def test_a_bake_is_counted_by_the_ovens_own_thermometer():
    shop = Shop()
    shop.stay("one", 7, current=100.0)
    shop.say(BakeLoad(who="MK", load="7", oven="oven"))
    shop.run(3600, oven__temperature=150.0)
    shop.run(11 * 3600, oven__temperature=200.0)
    shop.run(1800, oven__temperature=None)
    shop.say(BakeLoad(who="MK", load="7", is_in=False))
    begun, baked = shop.record().bakes
    assert begun.values["after_plating_s"] == pytest.approx(10, abs=2 * STEP_S)
    assert baked.values["hot_h"] == pytest.approx(11.0, abs=0.02)
    assert baked.values["unread_s"] == pytest.approx(1800, abs=60)
    # ER6: 1201 to 1300 MPa, at least 12 h.
    assert (baked.values["row"], baked.values["is_enough"]) == ("ER6", False)


def test_a_bake_that_does_not_begin_in_time_is_marked_once():
    shop = Shop()
    shop.stay("one", 7, current=100.0)
    shop.run(3000)
    assert shop.record().marks == ()
    shop.run(3600)
    assert [each.what for each in shop.record().marks] == ["bake-late"]


def test_a_load_that_is_plated_again_under_its_number_is_another_trip():
    shop = Shop()
    shop.stay("one", 7, current=100.0)
    shop.run(5 * 3600)
    shop.say(card(load="8", rework_of="7"))
    shop.stay("one", 7, current=50.0)
    assert shop.record().trip == 2
    assert shop.record().trips == 2
    assert shop.record(trip=1).stays[0].charge_ah > shop.record().stays[0].charge_ah
    assert shop.record("8").card["rework_of"] == "7"


def test_findings_and_decisions_stand_in_the_record_in_order():
    shop = Shop()
    shop.stay("one", 7)
    shop.say(InspectLoad(who="AB", load="7", what="thickness", found="8.4 um", place="tip"))
    shop.say(DecideLoad(who="AB", load="7", decision="held", why="thin at the tip"))
    shop.say(DecideLoad(who="CD", load="7", decision="released", why="measured again"))
    record = shop.record()
    assert record.decision == "released"
    assert [each.values["before"] for each in record.decisions] == ["", "held"]
    assert record.inspections[0].values["place"] == "tip"


def test_a_load_keeps_its_number_in_words_even_where_a_tank_is_called_so():
    shop = Shop()
    (act, *_) = shop.say(card(load="one", part="pin", amount=100.0))
    assert act.text.startswith("load card one by MK")
    assert PLAN.tanks[1].id == "one"
    assert PLAN.tanks[1].called != "one"


def test_time_that_nothing_metered_widens_the_doubt_and_is_told():
    shop = Shop()
    shop.say(card(part="pin", amount=100.0))
    shop.run(10, one__load_number=7.0)
    shop.run(300, one__load_present=1.0, r_one__current=100.0)
    shop.run(120, r_one__current=None)
    shop.run(300, r_one__current=100.0)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    stay = shop.record().stays[0]
    assert stay.unmetered_s > 60
    assert "not metered" in " ".join(stay.holes)
    assert stay.thickness_pm_um > 0.1 * stay.thickness_um


def test_every_figure_of_a_record_can_be_explained_and_worked_out_again():
    shop = Shop()
    shop.stay("rinse", 7)
    shop.stay("one", 7, current=100.0)
    shop.stay("two", 7, current=60.0)
    record = shop.record()
    told = {each.figure: each for each in why(record)}
    for stay in record.stays[1:]:
        mass = told[f"Ni deposited in {stay.tank_name}"]
        k, eta, charge = (
            next(each.value for each in mass.inputs if each.symbol == symbol)
            for symbol in ("k", "η", "Q")
        )
        assert k * eta * charge == pytest.approx(stay.mass_g)
        thick = told[f"mean thickness of Ni in {stay.tank_name}"]
        m, rho, area = (
            next(each.value for each in thick.inputs if each.symbol == symbol)
            for symbol in ("m", "ρ", "A")
        )
        assert m / (rho * area) * 100.0 == pytest.approx(stay.thickness_um)
    layer = record.layers[0]
    assert told["mean thickness of the Ni layer"].value == layer.thickness_um
    assert sum(s.thickness_um for s in record.stays[1:]) == pytest.approx(layer.thickness_um)


def test_a_layer_is_held_against_what_is_wanted_beyond_its_doubt():
    shop = Shop()
    shop.say(card(part="pin", amount=100.0))
    shop.stay("one", 7, seconds=900, current=100.0)
    assert shop.record().layers[0].verdict == "too thin"
    shop.stay("one", 7, seconds=900, current=460.0)
    layer = shop.record().layers[0]
    # 140 A h give 8.2 um in the mean, but half of it at the thinnest place: less than 5 um.
    assert layer.thickness_um > 8.0
    assert layer.verdict == "too thin locally"
    shop.stay("one", 7, seconds=900, current=460.0)
    assert shop.record().layers[0].verdict == ""


def test_a_tank_or_part_that_is_taken_away_keeps_what_was_told():
    shop = Shop()
    shop.say(card(part="pin", amount=50.0))
    shop.stay("one", 7, current=100.0)
    less = replace(PLAN, parts=(), routes=(), fingerprint="c" * 64)
    later = Shop(less, memory=shop.line.memory(), at_s=shop.at_s)
    later.events = [*shop.events, *later.events]
    later.stay("two", 7, current=50.0)
    record = later.record()
    assert [stay.area_dm2 for stay in record.stays] == [100.0, 200.0]
    assert record.part == "Pin"
    assert len(record.fingerprints) == 2


def test_a_load_in_a_tank_is_known_again_from_memory():
    shop = Shop()
    shop.run(10, one__load_number=7.0)
    shop.run(300, one__load_present=1.0, r_one__current=100.0)
    later = Shop(memory=shop.line.memory(), at_s=shop.at_s)
    later.shown = dict(shop.shown)
    later.run(300)
    later.run(20, one__load_present=0.0, r_one__current=0.0)
    later.events = [*shop.events, *later.events]
    assert later.record().stays[0].charge_ah == pytest.approx(100 * 600 / 3600, rel=0.02)


def test_no_tank_can_have_the_name_under_which_a_load_is_told():
    with pytest.raises(ValidationError):
        TankSection(id=subject("1"), name="Loading station", kind="clean")
    assert TankSection(id="load-1", name="Loading station", kind="clean").id == "load-1"


def test_a_tank_called_like_a_load_keeps_its_moves_out_of_the_loads_record():
    shop = Shop(replace(PLAN, tanks=(*PLAN.tanks, tank("load-7", "clean", bath=None))))
    shop.say(PlaceLoad(who="MK", load="7", tank="load-7"))
    shop.say(PlaceLoad(who="MK", load="7", tank="load-7", is_in=False))
    about = {each.subject for each in shop.events if each.values.get("what") == "stay"}
    assert about == {subject("7")}
    assert [stay.tank for stay in shop.record().stays] == ["load-7"]


def test_alarms_of_a_stay_are_named_as_people_speak_of_them():
    low = ConditionPlan(id="one.temperature.low", tag="one.temperature", kind="low", limit=57.0)
    high = ConditionPlan(id="r-one.current.high", tag="r-one.current", kind="high", limit=50.0)
    shop = Shop(replace(PLAN, conditions=(low, high)))
    shop.run(10, one__load_number=9.0, one__temperature=60.0)
    shop.run(100, one__load_present=1.0)
    shop.run(100, one__temperature=50.0, r_one__current=60.0)
    shop.run(20, one__load_present=0.0, one__load_number=0.0)

    (odd,) = [each for each in shop.record("9").stays[0].odd if each.startswith("alarms")]
    called = next(each.name for each in PLAN.rectifiers if each.id == "r-one")
    assert odd == f"alarms: temperature low, {called}: current high"


def reversed_for(seconds: int, plan=PLAN):
    """Return a shop in which a load was plated, and then current flowed backward."""
    shop = Shop(plan)
    shop.say(card(part="pin", amount=100.0))
    shop.run(10, one__load_number=7.0)
    shop.run(600, one__load_present=1.0, r_one__current=100.0)
    shop.run(seconds, r_one__current=-100.0)
    return shop


def in_tank(shop: Shop):
    return next(each.load for each in shop.line.picture(shop.at).tanks if each.load)


def test_metal_that_may_have_dissolved_is_no_thickness_in_the_tank_nor_in_the_record():
    shop = reversed_for(900)
    shown = in_tank(shop)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    (stay,), (layer,) = shop.record().stays, shop.record().layers

    # 100 A for 900 s are 25 A h.
    said = "flowed the wrong way: what was laid down may have dissolved"
    assert stay.anodic_ah == pytest.approx(25.0, rel=0.02)
    assert (stay.thickness_um, stay.mass_g, layer.thickness_um, layer.mass_g) == (None,) * 4
    assert stay.thickness_refused == layer.refused == f"{stay.anodic_ah:.1f} A·h {said}"
    assert stay.odd[0] == f"{stay.anodic_ah:.1f} A·h flowed the wrong way"
    assert shown.thickness_um is None
    assert shown.pull_refused.endswith(said)
    told = why(shop.record())
    assert not any(each.unit in {"um", "g"} for each in told)
    assert f"no thickness: {stay.thickness_refused}" in told[0].notes


def test_charge_taken_back_before_anything_was_laid_down_is_told_as_well():
    shop = Shop()
    shop.stay("one", 7, current=-100.0)
    (stay,) = shop.record().stays
    assert stay.thickness_um is None
    assert "flowed the wrong way" in stay.odd[0]


def test_a_next_to_nothing_of_reverse_current_takes_no_thickness_away():
    shop = reversed_for(0)
    shop.run(10, r_one__current=-5.0)
    shown = in_tank(shop)
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    (stay,) = shop.record().stays

    assert 0.0 < stay.anodic_ah < 0.01 * stay.charge_ah
    assert stay.thickness_um == pytest.approx(shown.thickness_um, rel=0.01)
    assert shown.pull_refused == "no thickness is asked of this tank alone"
    assert stay.odd == ()


def test_a_rectifier_that_is_meant_to_reverse_keeps_its_figures():
    meant = tuple(replace(each, reverses=True) for each in PLAN.rectifiers)
    shop = reversed_for(900, replace(PLAN, rectifiers=meant))
    assert in_tank(shop).thickness_um is not None
    shop.run(20, one__load_present=0.0, r_one__current=0.0)
    assert shop.record().stays[0].thickness_um is not None


def test_the_time_to_pull_says_that_current_flows_the_wrong_way():
    tanks = tuple(replace(each, target_um=20.0) for each in PLAN.tanks)
    shop = reversed_for(10, replace(PLAN, tanks=tanks, parts=()))
    assert in_tank(shop).thickness_um is not None
    assert in_tank(shop).pull_refused == "current flows the wrong way"


HIGH = ConditionPlan(
    id="r-one.current.high", tag="r-one.current", kind="high", limit=50.0, priority="highest"
)
COLD = ConditionPlan(id="one.temperature.low", tag="one.temperature", kind="low", limit=57.0)
LATE = ConditionPlan(
    id="one.load-present.overdue", tag="one.load-present", kind="overdue", limit=300.0
)


def test_an_alarm_that_stood_before_a_load_came_in_is_odd_about_its_stay_the_gravest_first():
    shop = Shop(replace(PLAN, conditions=(COLD, HIGH)))
    shop.run(100, one__temperature=50.0, r_one__current=60.0)
    shop.stay("one", 9, current=60.0)
    shop.run(100, one__temperature=60.0)
    shop.stay("one", 8, current=10.0)

    (odd,) = [each for each in shop.record("9").stays[0].odd if each.startswith("alarms")]
    called = next(each.name for each in PLAN.rectifiers if each.id == "r-one")
    assert odd == f"alarms: {called}: current high, temperature low"
    assert shop.record("8").stays[0].odd == ()


HOT = ConditionPlan(
    id="oven.temperature.high", tag="oven.temperature", kind="high", limit=200.0
)


@pytest.mark.parametrize(
    ("cause", "told"),
    [(HIGH, "{}: current high"), (HOT, "temperature low")],
)
def test_of_one_cause_at_a_tank_its_stay_tells_the_cause_of_one_elsewhere_what_it_did(
    cause, told
):
    cold = replace(COLD, causes=(CausePlan(id=cause.id, lead_ns=60 * NS),))
    shop = Shop(replace(PLAN, conditions=(cause, cold)))
    shop.run(10, one__load_number=9.0, oven__temperature=210.0 if cause is HOT else 25.0)
    shop.run(100, one__load_present=1.0, r_one__current=60.0 if cause is HIGH else 10.0)
    shop.run(100, one__temperature=50.0)
    shop.run(20, one__load_present=0.0, one__load_number=0.0)

    (odd,) = [each for each in shop.record("9").stays[0].odd if each.startswith("alarms")]
    called = next(each.name for each in PLAN.rectifiers if each.id == "r-one")
    assert odd == f"alarms: {told.format(called)}"


def test_what_an_alarm_says_of_the_load_before_is_not_odd_about_the_next():
    shop = Shop(replace(PLAN, conditions=(LATE,)))
    shop.run(10, one__load_number=7.0)
    shop.run(600, one__load_present=1.0)
    shop.run(10, one__load_present=0.0, one__load_number=8.0)
    shop.run(295, one__load_present=1.0)
    shop.run(10, one__load_present=0.0)

    assert "alarms: load overdue" in shop.record("7").stays[0].odd
    assert shop.record("8").stays[0].odd == ()


CHROMIUM = replace(bathing.BATH, id="chromium", name="Chromium")
PLATED_TWICE = replace(
    PLAN,
    baths=(bathing.BATH, CHROMIUM),
    tanks=tuple(
        replace(each, bath="chromium") if each.id == "two" else each for each in PLAN.tanks
    ),
    parts=(replace(PART, target_um={"nickel": 8.0, "chromium": 8.0}),),
)


def test_a_layer_is_seen_whole_if_the_stays_that_lay_it_down_were():
    shop = Shop(PLATED_TWICE)
    shop.run(10, rinse__load_number=7.0, rinse__load_present=1.0)
    shop.run(20, rinse__load_present=0.0, rinse__load_number=0.0)
    shop.stay("one", 7, current=10.0)
    shop.stay("two", 7, current=10.0)
    assert [each.verdict for each in shop.record().layers] == ["too thin", "too thin"]


def test_a_layer_that_may_have_begun_before_the_record_did_is_not_seen_whole():
    def layers(plan, first: str):
        shop = Shop(plan)
        shop.run(10, **{f"{first}__load_number": 7.0, f"{first}__load_present": 1.0})
        shop.run(20, **{f"{first}__load_present": 0.0, f"{first}__load_number": 0.0})
        shop.stay("two", 7, current=10.0)
        return [each.verdict for each in shop.record().layers]

    assert layers(PLATED_TWICE, "one") == ["not seen whole", "too thin"]
    assert layers(PLAN, "one") == ["not seen whole"]
    # It was rinsed again between two tanks of nickel when the record began.
    again = replace(ROUTE, steps=(ROUTE.steps[1], ROUTE.steps[0], *ROUTE.steps[2:]))
    assert layers(replace(PLAN, routes=(again,)), "rinse") == ["not seen whole"]


def test_the_worst_about_a_load_is_not_the_first_thing_that_was_odd():
    shop = Shop(replace(PLAN, conditions=(HIGH,)))
    shop.stay("rinse", 7)
    shop.run(10, two__load_number=7.0, two__load_present=1.0)
    shop.run(20, two__load_present=0.0, two__load_number=0.0)
    assert shop.record().worst == "Nickel one was left out"
    shop.stay("one", 7, seconds=100, current=60.0)
    assert "current high" in shop.record().worst
    shop.stay("one", 7, seconds=100, current=-60.0)
    assert "flowed the wrong way" in shop.record().worst


def test_two_loads_without_a_number_that_come_in_within_a_second_are_two():
    shop = Shop(DARK)
    shop.run(60)
    shop.run(100, one__load_present=1.0, rinse__load_present=1.0)
    shop.run(20, one__load_present=0.0, rinse__load_present=0.0)
    trips = loads_of(shop.line).trips.values()
    assert sorted(trip.tanks for trip in trips) == [["one"], ["rinse"]]
    assert not any(each.values.get("what") == "left-out" for each in shop.events)
