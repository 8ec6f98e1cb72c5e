"""A track on which nothing moves is one alarm; what hangs and is overdue there is behind it.

On the invented line of the ways, with several loads under way at once.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.config.causes import with_tracks
from linewatch.core.commands import SetLineState
from linewatch.core.events import EventKind
from linewatch.core.line.standstills import ROUND_NS, Standstills
from linewatch.core.plan import ConditionPlan
from tests.core.line.test_ways import NS, TWO_TRACKS, WAY
from tests.core.line.test_ways import Shop as OneLoad

OVERDUE = tuple(
    ConditionPlan(
        id=f"{name}.load-present.overdue",
        tag=f"{name}.load-present",
        kind="overdue",
        limit=limit_s,
        priority=priority,
    )
    for name, limit_s, priority in (
        ("acid", 300.0, "high"),
        ("rinse-a", 200.0, "medium"),
        ("nickel", 400.0, "medium"),
        ("b-zinc", 250.0, "medium"),
    )
)
BARE = replace(TWO_TRACKS, conditions=(*TWO_TRACKS.conditions, *OVERDUE))
PLAN = with_tracks(BARE)
STANDS = "invented.stands-soak"
"""Of the track that is named after its first position."""


class Shop(OneLoad):
    """The line with any number of loads in their positions."""

    def __init__(self) -> None:
        self.inside: dict[str, float] = {}
        super().__init__(PLAN)

    def shown(self, name: str) -> tuple[float, float]:
        number = self.inside.get(name, 0.0)
        return (1.0, number) if number else super().shown(name)

    def put(self, **loads: float) -> None:
        """Let loads come in; a station reads the number before the load hangs in it."""
        coming = {name.replace("_", "-"): number for name, number in loads.items()}
        self.number = coming
        self.run(1)
        self.inside |= coming

    def lift(self, *names: str) -> None:
        for name in names:
            del self.inside[name]

    def standing(self) -> dict[str, str]:
        """Return the alarms that are true, with what they stand behind."""
        alarms = self.line.picture(self.at).alarms
        return {each.id: each.behind for each in alarms if self.is_true(each.id)}

    def is_true(self, name: str) -> bool:
        return self.line.alarms.active[self.line.alarms.number[name]]


def running() -> Shop:
    shop = Shop()
    for number in range(1, 9):
        shop.load(float(number))
    shop.events.clear()
    return shop


def stopped() -> Shop:
    """Return a line whose hoist stopped with two loads in the air and one in the rinse."""
    shop = running()
    shop.put(soak=11.0, acid=12.0, rinse_a=13.0)
    shop.run(30)
    shop.lift("soak", "acid")
    shop.run(140)
    return shop


def test_a_hoist_that_stops_is_one_call_with_the_loads_behind_it():
    shop = stopped()
    shop.run(300)

    assert shop.told() == [STANDS]
    assert shop.standing() == {
        STANDS: "",
        "soak.hangs.found": STANDS,
        "acid.hangs.found": STANDS,
        "rinse-a.load-present.overdue": STANDS,
    }


def test_the_positions_of_what_is_behind_say_that_something_follows_there():
    shop = stopped()
    shop.run(300)
    tanks = {each.id: each for each in shop.line.picture(shop.at).tanks}

    assert {name for name, each in tanks.items() if each.follows} == {"soak", "acid", "rinse-a"}
    assert all(each.alarms == 0 for each in tanks.values())


def test_what_the_alarm_says_names_the_track():
    shop = stopped()
    (told,) = [each for each in shop.events if each.kind is EventKind.ALARM]

    assert told.text == "soak track: nothing moves"
    assert told.values["priority"] == "high"


def test_a_crane_that_stops_over_full_tanks_is_told_instead_of_the_second_overdue_load():
    shop = running()
    shop.put(rinse_a=11.0, nickel=12.0)
    shop.run(600)

    assert shop.told() == ["rinse-a.load-present.overdue", STANDS]
    assert set(shop.standing().values()) == {"", STANDS}


def test_a_dwell_that_is_dangerous_by_itself_keeps_its_own_row():
    shop = running()
    shop.put(rinse_a=11.0, nickel=12.0, acid=13.0)
    shop.run(600)

    assert shop.standing()["acid.load-present.overdue"] == ""
    assert shop.standing()["nickel.load-present.overdue"] == STANDS


def test_one_load_that_hangs_is_no_standstill():
    shop = running()
    shop.put(soak=11.0)
    shop.run(30)
    shop.lift("soak")
    shop.run(400)

    assert shop.told() == ["soak.hangs.found"]


def test_a_track_on_which_other_loads_move_does_not_stand():
    shop = running()
    shop.put(soak=11.0, rinse_a=13.0)
    shop.run(30)
    shop.lift("soak")
    for _ in range(6):
        shop.put(rinse_c=14.0)
        shop.run(50)
        shop.lift("rinse-c")
        shop.put(dry=14.0)
        shop.run(50)
        shop.lift("dry")

    assert {"soak.hangs.found", "rinse-a.load-present.overdue"} <= set(shop.told())
    assert STANDS not in shop.told()


def test_loads_of_two_tracks_are_no_standstill_of_one():
    shop = running()
    shop.put(rinse_a=11.0, b_zinc=12.0)
    shop.run(600)

    assert set(shop.told()) == {"rinse-a.load-present.overdue", "b-zinc.load-present.overdue"}


def test_when_loads_move_again_it_is_over_and_what_still_hangs_is_told_after_a_round():
    shop = stopped()
    shop.events.clear()
    shop.put(rinse_b=12.0)
    assert shop.moves() == []
    shop.run(5)
    assert shop.moves() == [(STANDS, "clear")]

    shop.lift("rinse-a", "rinse-b")
    shop.put(rinse_b=13.0, rinse_c=12.0)
    shop.run(ROUND_NS // NS - 60)
    assert "soak.hangs.found" not in shop.told()
    shop.run(120)
    assert "soak.hangs.found" in shop.told()


def test_what_was_set_down_within_a_round_is_never_told():
    shop = stopped()
    shop.events.clear()
    shop.lift("rinse-a")
    shop.run(20)
    shop.put(rinse_a=11.0, rinse_b=12.0)
    shop.run(60)
    shop.lift("rinse-a", "rinse-b")
    shop.run(20)

    assert shop.moves() == [(STANDS, "clear")]


@pytest.mark.parametrize("cut_s", [20, 80, 130])
def test_a_standstill_survives_a_restart_bit_for_bit(cut_s):
    whole, cut = running(), running()
    for shop in (whole, cut):
        shop.put(soak=11.0, acid=12.0)
        shop.run(30)
        shop.lift("soak", "acid")
        shop.run(cut_s)
    cut.restart()
    for shop in (whole, cut):
        shop.run(200)
        shop.put(rinse_b=12.0)
        shop.run(ROUND_NS // NS + 60)

    assert whole.moves() == cut.moves()
    assert whole.line.memory() == cut.line.memory()
    assert (STANDS, "clear") in whole.moves()


def test_a_track_that_is_stopped_on_purpose_does_not_stand():
    shop = running()
    shop.say(SetLineState(who="MK", state="planned-stop"))
    shop.put(rinse_a=11.0, nickel=12.0)
    shop.run(600)

    assert STANDS not in shop.told()


def test_a_track_that_stands_and_is_then_stopped_on_purpose_has_not_returned_to_normal():
    shop = stopped()
    shop.events.clear()
    shop.say(SetLineState(who="MK", state="out-of-service"))
    shop.run(120)
    moves = [
        each.values["move"]
        for each in shop.events
        if each.kind is EventKind.ALARM and each.values["alarm"] == STANDS
    ]

    assert moves == ["suppress"]
    # What is still in its tank goes on being overdue, and nobody else tells it now.
    assert shop.standing()["rinse-a.load-present.overdue"] == ""
    shop.say(SetLineState(who="MK", state="producing"))
    shop.run(120)
    assert shop.standing()["rinse-a.load-present.overdue"] == STANDS


def test_a_memory_without_standstills_is_taken_as_it_was():
    study = Standstills(PLAN)
    study.recall({})

    assert study.remember()["standing"] == []
    assert WAY[0] in study.plan.conditions[-2].id
