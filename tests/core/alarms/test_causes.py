"""One cause is one call for attention: what follows from another alarm stands behind it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.alarms.states import State
from linewatch.core.commands import (
    Acknowledge,
    ReturnToService,
    SetLineState,
    Shelve,
    TakeOutOfService,
)
from linewatch.core.line import Line
from linewatch.core.plan import CausePlan
from linewatch.core.ports import Order
from linewatch.core.readings import Quality
from tests.core.line import invented

NS = 10**9
COLD = "nickel.temperature.low"
ACID = "nickel.ph.low"
FAULT = "pump.fault.discrete"
CAUSE = (CausePlan(id=FAULT, lead_ns=5 * NS),)
CONDITIONS = (
    replace(invented.condition(FAULT), limit=1.0),
    replace(invented.condition(COLD), limit=55.0, on_delay_ns=3 * NS, causes=CAUSE),
    replace(invented.condition(ACID), limit=3.0, causes=(CausePlan(id=COLD, lead_ns=5 * NS),)),
)


class Bench:
    """A line of which a test sets temperature, pH and a pump's fault, second by second."""

    def __init__(self, *conditions) -> None:
        self.line = Line(invented.with_conditions(*(conditions or CONDITIONS)))
        self.second = 0
        self.events = list(self.line.begin(invented.run_start()))

    def at(self, degc: float = 60.0, seconds: int = 1, *, fault: bool = False, ph=4.2) -> None:
        for _ in range(seconds):
            self.second += 1
            values = [degc, 500.0, 1.0, 7.0, ph, float(fault), 1.0]
            qualities = [0, 0, 0, 0, 0, 0, Quality.NOT_YET]
            block = invented.block(invented.TANKS, self.second * NS, values, qualities)
            self.events += self.line.receive(block)

    def do(self, command) -> None:
        at = invented.moment(self.second * NS)
        self.events += self.line.obey(Order(request=1, command=command, at=at))

    def told(self) -> list[tuple[str, str]]:
        """Return every move that was told since the last time."""
        found = [
            (str(event.values["alarm"]), str(event.values["move"]))
            for event in self.events
            if "move" in event.values
        ]
        self.events.clear()
        return found

    def state(self, name: str) -> State:
        return self.line.alarms.state[self.line.alarms.number[name]]

    def behind(self) -> dict[str, str]:
        picture = self.line.picture(invented.moment(self.second * NS))
        return {each.id: each.behind for each in picture.alarms}


def test_what_begins_while_its_cause_stands_is_no_call_of_its_own():
    bench = Bench()
    bench.at(60.0, 2, fault=True)
    bench.at(50.0, 10, fault=True)

    assert bench.told() == [(FAULT, "occur")]
    assert bench.state(COLD) is State.SUPPRESSED
    assert bench.behind() == {FAULT: "", COLD: FAULT}


def test_what_began_shortly_before_its_cause_goes_behind_it_and_says_why():
    bench = Bench()
    bench.at(50.0, 6)
    assert bench.told() == [(COLD, "occur")]
    bench.at(50.0, 1, fault=True)

    last = [event for event in bench.events if event.values.get("alarm") == COLD][-1]
    assert last.text == (
        "temperature low: put behind its cause: follows from pump: tells a fault"
    )
    assert bench.behind() == {FAULT: "", COLD: FAULT}


def test_what_had_stood_long_before_its_cause_stays_where_it_stands():
    bench = Bench()
    bench.at(50.0, 30)
    bench.at(50.0, 5, fault=True)

    assert bench.told() == [(COLD, "occur"), (FAULT, "occur")]
    assert bench.behind() == {FAULT: "", COLD: ""}


def test_a_consequence_that_outlasts_its_cause_is_told_after_its_whole_on_delay():
    bench = Bench()
    bench.at(50.0, 10, fault=True)
    bench.told()
    bench.at(50.0, 3)
    assert bench.told() == [(FAULT, "clear")]
    bench.at(50.0, 1)
    assert bench.told() == [(COLD, "occur")]
    assert bench.state(COLD) is State.UNACKNOWLEDGED


def test_a_consequence_that_is_gone_before_its_cause_leaves_no_trace():
    bench = Bench()
    bench.at(50.0, 10, fault=True)
    bench.at(60.0, 2, fault=True)

    assert bench.state(COLD) is State.NORMAL
    assert bench.told() == [(FAULT, "occur")]
    bench.at(60.0, 5)
    assert bench.told() == [(FAULT, "clear")]


def test_a_chain_stands_behind_its_first_link():
    bench = Bench()
    bench.at(50.0, 10, fault=True)
    bench.at(50.0, 5, fault=True, ph=2.0)

    assert bench.told() == [(FAULT, "occur")]
    assert bench.behind() == {FAULT: "", COLD: FAULT, ACID: FAULT}
    bench.at(50.0, 10, ph=2.0)
    assert bench.behind() == {FAULT: "", COLD: "", ACID: COLD}


def test_an_acknowledged_or_shelved_cause_still_explains_and_what_it_explains_is_still_listed():
    bench = Bench()
    bench.at(50.0, 10, fault=True)
    bench.do(Acknowledge(who="ab", alarm=FAULT))
    bench.at(50.0, 2, fault=True)
    assert bench.behind() == {FAULT: "", COLD: FAULT}
    bench.do(Shelve(who="ab", alarm=FAULT, for_s=20.0, why="known"))
    bench.at(50.0, 5, fault=True)
    assert bench.behind() == {FAULT: "", COLD: FAULT}
    assert ("nickel.temperature.low", "occur") not in bench.told()


def test_a_cause_out_of_service_explains_nothing_and_explains_again_when_it_is_back():
    bench = Bench()
    bench.at(50.0, 10, fault=True)
    bench.told()
    bench.do(TakeOutOfService(who="ab", subject=FAULT, why="pump away"))
    bench.at(50.0, 5, fault=True)
    assert (COLD, "occur") in bench.told()
    bench.do(ReturnToService(who="ab", subject=FAULT))
    assert bench.behind() == {FAULT: "", COLD: FAULT}


def test_a_consequence_that_is_shelved_is_listed_as_shelved_and_comes_back_behind_its_cause():
    bench = Bench()
    bench.at(50.0, 10)
    bench.do(Shelve(who="ab", alarm=COLD, for_s=5.0, why="probe is being moved"))
    bench.at(50.0, 2, fault=True)
    assert bench.behind() == {FAULT: "", COLD: ""}
    assert bench.state(COLD) is State.SHELVED
    bench.at(50.0, 5, fault=True)
    assert bench.state(COLD) is State.SUPPRESSED
    assert bench.behind() == {FAULT: "", COLD: FAULT}


def test_what_the_line_does_and_what_a_cause_explains_do_not_undo_each_other():
    fault, cold, _ = CONDITIONS
    bench = Bench(fault, replace(cold, suppress_when=("planned-stop",)))
    bench.at(50.0, 10, fault=True)
    bench.told()
    bench.do(SetLineState(who="gh", state="planned-stop"))
    bench.at(50.0, 5, fault=True)
    bench.do(SetLineState(who="gh", state="producing"))
    bench.at(50.0, 10, fault=True)
    assert bench.behind() == {FAULT: "", COLD: FAULT}
    assert COLD not in dict(bench.told())
    bench.at(50.0, 10)
    assert (COLD, "occur") in bench.told()


def test_what_warns_of_danger_to_people_follows_from_nothing():
    fault, cold, _ = CONDITIONS
    bench = Bench(fault, replace(cold, may_be_suppressed=False))
    bench.at(50.0, 10, fault=True)

    assert bench.told() == [(FAULT, "occur"), (COLD, "occur")]


@pytest.mark.parametrize("second", range(1, 24, 3))
def test_consequences_are_the_same_after_a_restart(second):
    def run(bench: Bench, first: int, last: int) -> None:
        for now in range(first, last):
            bench.at(50.0 if 3 < now < 20 else 60.0, fault=5 < now < 14)

    whole, before = Bench(), Bench()
    run(whole, 0, 25)
    run(before, 0, second)
    after = Bench()
    after.line = Line(before.line.plan, before.line.memory())
    after.second, after.events = before.second, before.events
    run(after, second, 25)

    assert after.told() == whole.told()
    assert after.line.memory() == whole.line.memory()


def test_a_memory_of_an_earlier_version_knows_no_causes_and_is_taken():
    bench = Bench()
    bench.at(50.0, 10, fault=True)
    kept = bench.line.alarms.remember()
    for part in ("behind", "suspected"):
        del kept[part]
    line = Line(bench.line.plan)

    line.alarms.recall(kept)

    assert line.alarms.causes.behind == {}
    assert line.alarms.state == bench.line.alarms.state
