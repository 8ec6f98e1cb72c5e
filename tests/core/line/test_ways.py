"""Loads that hang in the air are told before each position has learned; nobody is told falsely.

On an invented line of seven positions with a station each, read every second.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linewatch.core.commands import DecideLoad, PlaceLoad
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.line.moves import Moves
from linewatch.core.loads.record import Gravity, load_record
from linewatch.core.plan import ConditionPlan, LinePlan
from linewatch.core.ports import Order, RunStart, Tick
from linewatch.core.readings import Layout, Moment, Quality, Readings
from linewatch.core.rules.library import BY_NAME
from tests.core.line import bathing
from tests.core.line.test_loads import tag

NS = 10**9
WAY = ("soak", "rinse-a", "acid", "rinse-b", "nickel", "rinse-c", "dry")
BARRELS = ("b-soak", "b-rinse-a", "b-acid", "b-rinse-b", "b-zinc", "b-rinse-c", "b-dry")
STATIONS = {
    name: Layout(
        link=name,
        device=name,
        tags=(f"{name}.load-present", f"{name}.load-number"),
        period_ns=NS,
    )
    for name in (*WAY, *BARRELS)
}


def found(name: str) -> ConditionPlan:
    rule = BY_NAME[name.rpartition(".")[2]]
    return ConditionPlan(
        id=f"{name}.found",
        tag=name,
        kind="found",
        limit=rule.limit,
        evidence=rule.evidence,
        evidence_unit=rule.unit,
    )


def plan_of(*tracks: tuple[str, ...]) -> LinePlan:
    names = [name for track in tracks for name in track]
    return replace(
        bathing.PLAN,
        layouts=tuple(STATIONS[name] for name in names),
        tags={tag_id: tag(tag_id) for name in names for tag_id in STATIONS[name].tags},
        tanks=tuple(
            replace(bathing.tank(name), kind="rinse", track=track[0], bath=None, windows={})
            for track in tracks
            for name in track
        ),
        rectifiers=(),
        baths=(),
        conditions=tuple(
            found(f"{name}.{rule}") for name in names for rule in ("hangs", "odd-move")
        ),
        routes=(),
        parts=(),
    )


PLAN = plan_of(WAY)
TWO_TRACKS = plan_of(WAY, BARRELS)


class Shop:
    """A line with one load at a time, whose hoist may stop and whose stations may be silent."""

    def __init__(self, plan: LinePlan = PLAN) -> None:
        self.plan = plan
        self.at_s = 0
        self.here = ""
        self.number: dict[str, float] = {}
        self.silent: set[str] = set()
        self.line = Line(plan)
        start = RunStart(run_id="r", at=self.at, fingerprint=plan.fingerprint, speed=1.0)
        self.events = list(self.line.begin(start))

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=bathing.UTC_NS + self.at_s * NS, mono_ns=self.at_s * NS)

    def run(self, seconds: int) -> None:
        for _ in range(seconds):
            for layout in self.plan.layouts:
                name = layout.link
                is_silent = name in self.silent
                value = np.array(self.shown(name))
                quality = np.full(2, Quality.NO_ANSWER if is_silent else Quality.GOOD)
                self.events += self.line.receive(
                    Readings(
                        layout=layout,
                        utc_ns=self.at.utc_ns,
                        mono_ns=self.at.mono_ns,
                        value=np.full(2, np.nan) if is_silent else value,
                        quality=quality.astype(np.uint8),
                    )
                )
            self.events += self.line.tick(Tick(at=self.at).at)
            self.at_s += 1

    def shown(self, name: str) -> tuple[float, float]:
        """Return what a station shows: whether a load is in, and its number."""
        return float(name == self.here), self.number.get(name, 0.0)

    def dip(self, name: str, number: float, seconds: int = 60, air_s: int = 20) -> None:
        """Let a load come in, stay, leave, and be out for a time."""
        self.number = {name: number}
        self.run(1)
        self.here = name
        self.run(seconds)
        self.here = ""
        self.run(air_s)

    def load(self, number: float, *, far_s: int = 20, way=WAY) -> None:
        """Let a load pass all positions; from the nickel it has a way of its own length."""
        for name in way:
            self.dip(name, number, air_s=far_s if name == "nickel" else 20)

    def restart(self) -> None:
        self.line = Line(self.plan, self.line.memory())

    def told(self) -> list[str]:
        return [
            str(each.values["alarm"])
            for each in self.events
            if each.kind is EventKind.ALARM and each.values["move"] == "occur"
        ]

    def moves(self) -> list[tuple[str, str]]:
        return [
            (str(each.values["alarm"]), str(each.values["move"]))
            for each in self.events
            if each.kind is EventKind.ALARM
        ]

    def say(self, command) -> None:
        self.events += self.line.obey(Order(request=1, command=command, at=self.at))

    def record(self, number: int):
        return load_record(str(number), self.events)

    def let_pass(self, seconds: int) -> None:
        """Let time go by with a reading a minute."""
        for _ in range(0, seconds, 60):
            self.at_s += 59
            self.run(1)


def hanging() -> Shop:
    """Return a line on which the load 9 was just told to hang behind the acid."""
    shop = learned(8)
    shop.dip("acid", 9.0, air_s=130)
    return shop


def learned(loads: int = 4) -> Shop:
    shop = Shop()
    for number in range(1, loads + 1):
        shop.load(float(number))
    return shop


def test_a_load_hangs_where_few_have_left_by_what_is_usual_on_the_whole_line():
    shop = learned()
    shop.dip("acid", 5.0, air_s=130)

    assert shop.told() == ["acid.hangs.found"]


def test_what_is_usual_on_the_whole_line_survives_a_restart():
    shop = learned()
    shop.dip("acid", 5.0, air_s=20)
    shop.restart()
    shop.run(110)

    assert shop.told() == ["acid.hangs.found"]


def test_a_usual_way_over_a_long_distance_hangs_nowhere():
    shop = Shop()
    for number in range(1, 13):
        shop.load(float(number), far_s=240)

    assert shop.told() == []


def test_what_is_usual_is_that_of_a_loads_own_track():
    """On the racks 240 s are usual, on the barrels 20."""
    shop = Shop(TWO_TRACKS)
    for number in range(1, 5):
        shop.load(float(number), far_s=240)
    for number in range(1, 9):
        way = BARRELS if number < 3 else tuple(e for e in BARRELS if e != "b-acid")
        shop.load(100.0 + number, way=way)
    shop.dip("acid", 5.0, air_s=130)
    assert shop.told() == []

    shop.dip("b-acid", 109.0, air_s=130)
    assert shop.told() == ["b-acid.hangs.found"]


def test_a_track_that_has_shown_little_is_judged_by_the_whole_line():
    shop = Shop(TWO_TRACKS)
    for number in range(1, 5):
        shop.load(float(number))
    shop.load(101.0, way=BARRELS)
    shop.dip("b-acid", 102.0, air_s=130)

    assert shop.told() == ["b-acid.hangs.found"]


def test_an_alarm_names_the_limit_that_was_applied_also_after_a_restart():
    shop = learned(8)
    shop.load(9.0, far_s=39)
    shop.dip("nickel", 10.0, air_s=130)
    shop.restart()

    (told,) = [each for each in shop.events if each.kind is EventKind.ALARM]
    assert told.values["limit"] == pytest.approx(80.0, abs=2.0)
    (shown,) = shop.line.picture(shop.at).alarms
    assert shown.evidence.endswith(f"(limit {told.values['limit']:.3g})")


def test_a_load_that_was_in_before_the_record_began_hangs_amid_its_track():
    """It is the first to leave its position: nobody has seen any go on from there."""
    shop = Shop()
    for number in range(1, 7):
        shop.load(float(number), way=[name for name in WAY if name != "acid"])
    shop.dip("acid", 9.0, air_s=400)

    assert shop.told() == ["acid.hangs.found"]


def test_what_moved_first_says_nothing_of_a_position_from_which_none_was_seen_to_go_on():
    """Racks that all move at once are quick; one that waits for the next move is not."""
    shop = Shop()
    for number in range(1, 5):
        for name in WAY:
            if name != "acid":
                shop.dip(name, float(number), seconds=20, air_s=10)
    shop.dip("acid", 9.0, air_s=300)
    assert shop.told() == []

    # Twenty minutes after the begin it is not the next move that it waits for.
    shop.run(200)
    assert shop.told() == ["acid.hangs.found"]


def test_where_a_track_ends_nothing_is_expected_to_go_on():
    ways = Shop().line.studies.of(Moves).ways

    assert [name for name in WAY if not ways.leads_on(name)] == ["dry"]


def test_where_loads_end_their_way_nothing_hangs():
    shop = learned()
    shop.dip("dry", 5.0, air_s=1700)

    assert shop.told() == []


def test_before_the_line_has_shown_what_is_usual_nothing_hangs():
    shop = learned(2)
    shop.dip("acid", 3.0, air_s=1700)

    assert shop.told() == []


def test_a_load_that_hung_teaches_no_habit():
    shop = learned(8)
    shop.dip("acid", 9.0, air_s=600)
    shop.load(9.0, way=WAY[3:])
    shop.dip("acid", 10.0, air_s=130)

    assert shop.told() == ["acid.hangs.found"] * 2


def test_a_way_that_takes_longer_every_time_is_the_new_habit():
    shop = learned(8)
    for number in range(9, 14):
        shop.dip("acid", float(number), air_s=130)
        shop.load(float(number), way=WAY[3:])

    assert shop.told() == ["acid.hangs.found"] * 3


def test_a_load_does_not_hang_while_the_station_that_it_may_come_to_is_silent():
    shop = learned(8)
    shop.silent = {"rinse-b"}
    shop.dip("acid", 9.0, air_s=600)
    shop.silent = set()
    shop.dip("rinse-b", 9.0)

    assert shop.told() == []


@pytest.mark.parametrize("phase_s", range(0, 30, 7))
def test_time_in_which_a_station_was_silent_counts_up_to_its_end(phase_s):
    shop = learned(8)
    shop.run(phase_s)
    shop.silent = {"rinse-b"}
    shop.dip("acid", 9.0, air_s=600)
    shop.silent = set()
    shop.run(40)
    shop.dip("rinse-b", 9.0)

    assert shop.told() == []


def test_a_load_that_still_hangs_when_the_station_is_read_again_is_told():
    shop = learned(8)
    shop.silent = {"rinse-b"}
    shop.dip("acid", 9.0, air_s=600)
    shop.silent = set()
    shop.run(130)

    assert shop.told() == ["acid.hangs.found"]


@pytest.mark.parametrize("silent", [True, False])
def test_a_load_whose_usual_position_was_silent_did_not_come_oddly(silent):
    shop = learned(14)
    if silent:
        shop.silent = {"rinse-b"}
        shop.run(60)
    shop.load(15.0, way=("soak", "rinse-a", "acid"))
    shop.dip("rinse-b" if silent else "soak", 15.0, air_s=20)
    shop.silent = set()
    shop.dip("nickel", 15.0)

    assert shop.told() == ([] if silent else ["nickel.odd-move.found"])


# What hangs stays so.


def test_a_load_that_was_told_to_hang_does_so_for_hours_and_over_a_restart():
    shop = hanging()
    shop.run(3600)
    shop.restart()
    shop.run(3600)

    assert shop.moves() == [("acid.hangs.found", "occur")]
    (way,) = shop.line.picture(shop.at).ways
    assert (way.load, way.before, round(way.out_s)) == ("9", "acid", 7330)


@pytest.mark.parametrize("seen_in", ["rinse-b", "nickel"])
def test_what_hung_does_so_no_more_when_it_is_seen(seen_in):
    shop = hanging()
    shop.run(1800)
    shop.dip(seen_in, 9.0, air_s=0)

    assert shop.moves()[-1] == ("acid.hangs.found", "clear")
    assert shop.line.picture(shop.at).ways == ()


@pytest.mark.parametrize(
    "said",
    [
        PlaceLoad(who="MK", load="9", tank="rinse-b", is_in=True),
        DecideLoad(who="MK", load="9", decision="scrap", why="dry salts"),
    ],
)
def test_what_hung_does_so_no_more_when_a_person_says_what_became_of_it(said):
    shop = hanging()
    shop.run(1800)
    shop.say(said)

    assert shop.moves()[-1] == ("acid.hangs.found", "clear")
    assert shop.line.picture(shop.at).ways == ()


def test_of_two_loads_that_hang_from_one_position_the_alarm_ends_with_the_last():
    shop = hanging()
    shop.dip("acid", 10.0, air_s=130)
    shop.dip("rinse-b", 10.0, air_s=0)
    assert shop.moves() == [("acid.hangs.found", "occur")]

    shop.dip("rinse-b", 9.0, air_s=0)
    assert shop.moves() == [("acid.hangs.found", "occur"), ("acid.hangs.found", "clear")]


def test_after_a_day_nobody_looks_for_a_load_that_hung():
    shop = hanging()
    shop.let_pass(86_400)

    assert shop.moves()[-1] == ("acid.hangs.found", "clear")


def test_that_it_hung_stands_in_the_record_of_a_load_once():
    shop = hanging()
    shop.run(1670)
    assert [each.text for each in shop.record(9).marks] == [
        "hangs in the air, 53 s after it left Nickel acid"
    ]

    shop.dip("rinse-b", 9.0)
    assert [each.text for each in shop.record(9).marks] == [
        "hung in the air for 30 min after Nickel acid"
    ]
    assert shop.record(9).gravity == Gravity.WAY


def test_an_older_memory_tells_that_a_load_hangs_by_the_alarm_alone():
    shop = hanging()
    moves = shop.line.studies.of(Moves)
    kept = moves.remember()
    kept["out"] = {n: {k: v for k, v in each.items() if k != "hangs"}
                   for n, each in kept["out"].items()}  # fmt: skip
    again = Moves(PLAN)
    again.recall(kept)

    assert [n for n, each in again.ways.out.items() if each.hangs] == ["9"]


def test_an_older_memory_of_moves_is_taken_as_it_was():
    moves = Moves(PLAN)
    moves.recall(
        {
            "out": {"7": ["acid", 5 * NS]},
            "came": {"rinse-b": {"acid": 3}},
            "went": {"acid": [4, 3, 20 * NS]},
            "active": [],
            "dropped": {},
            "dip_ns": -1,
        }
    )

    assert moves.ways.out["7"].left_ns == 5 * NS
    assert (moves.ways.went["acid"].left, moves.ways.went["acid"].seen) == (4, 3)
    again = Moves(PLAN)
    again.recall(moves.remember())
    assert again.remember() == moves.remember()
