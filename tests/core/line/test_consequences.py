"""Causes on a line: reversed rectifiers, broken instruments, lost links; alike however fed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.config.library import shipped
from linewatch.config.works import read
from linewatch.core.alarms.wording import named
from linewatch.core.line import Line
from linewatch.core.plan import CausePlan, ConditionPlan, LinePlan
from linewatch.core.ports import Tick
from linewatch.core.readings import Quality
from tests.core.line.invented import (
    CONDITIONS,
    NS,
    PLAN,
    block,
    feed_all,
    moment,
    run_start,
    sequences,
    stacked,
)
from tests.core.line.test_replay_laws import SLOW

WORKS = read(shipped() / "demo.toml").plan
BEHIND = {
    "r-copper.current.bad-quality": (CausePlan(id="gateway.lost", lead_ns=10 * NS),),
    "r-copper.current.low": (CausePlan(id="r-nickel.current.low", lead_ns=5 * NS),),
    "nickel.temperature.deviation": (CausePlan(id="nickel.temperature.low", lead_ns=5 * NS),),
    "nickel.temperature.rate": (CausePlan(id="nickel.temperature.deviation", lead_ns=NS),),
    "nickel.load-present.overdue": (CausePlan(id="pump.fault.discrete", lead_ns=9 * NS),),
}
LOST = tuple(
    ConditionPlan(
        id=f"{link}.lost",
        tag=f"{link}.lost",
        kind="found",
        on_delay_ns=3 * NS,
        off_delay_ns=2 * NS,
    )
    for link in PLAN.links
)
PLAN_OF_CAUSES = replace(
    PLAN,
    conditions=(
        *(replace(each, causes=BEHIND.get(each.id, ())) for each in CONDITIONS),
        *LOST,
    ),
)


# However it is fed.


@SLOW
@given(entries=sequences(), largest=st.integers(1, 50))
def test_with_causes_stacks_give_the_same_events_and_memory(entries, largest):
    singly, in_stacks = Line(PLAN_OF_CAUSES), Line(PLAN_OF_CAUSES)

    assert feed_all(in_stacks, stacked(entries, largest)) == feed_all(singly, entries)
    assert in_stacks.memory() == singly.memory()


@SLOW
@given(entries=sequences(), data=st.data())
def test_with_causes_a_line_from_memory_goes_on_where_the_other_was(entries, data):
    cut = data.draw(st.integers(0, len(entries)))
    whole, first = Line(PLAN_OF_CAUSES), Line(PLAN_OF_CAUSES)

    before = feed_all(first, entries[:cut])
    second = Line(PLAN_OF_CAUSES, first.memory())

    assert before + feed_all(second, entries[cut:]) == feed_all(whole, entries)
    assert second.memory() == whole.memory()


@SLOW
@given(entries=sequences())
def test_nothing_is_behind_a_cause_that_does_not_hold(entries):
    line = Line(PLAN_OF_CAUSES)
    for entry in entries:
        feed_all(line, [entry])
        alarms = line.alarms
        for alarm, cause in alarms.causes.behind.items():
            assert alarms.active[alarm]
            assert alarms.active[cause] or cause in alarms.causes.suspected


# Instruments.


def _usual(tag: str) -> float:
    window = WORKS.tags[tag].window
    edges = [each for each in (window.low, window.high) if each is not None]
    if window.target is not None:
        return window.target
    return sum(edges) / len(edges) if edges else 0.0


def test_a_rule_does_not_judge_by_a_reading_that_is_frozen():
    plan = replace(
        WORKS,
        conditions=(
            *WORKS.conditions,
            ConditionPlan(
                id="rinse-1.conductivity.frozen",
                tag="rinse-1.conductivity",
                kind="frozen",
                limit=1.0,
                on_delay_ns=600 * NS,
            ),
        ),
    )
    seen = {}
    for name, each in (("whole", WORKS), ("frozen", plan)):
        line = Line(each)
        rules = next(s for s in line.studies.every if s.NAME == "rules")
        for now_s in range(10, 1500, 10):
            for layout in WORKS.layouts:
                value = np.array([_usual(tag) for tag in layout.tags])
                line.receive(block(layout, now_s * NS, value))
        seen[name] = rules.at("rinse-1", "wrong-liquid")[0]

    assert seen["whole"] != seen["frozen"]


def test_a_unit_at_rest_is_not_frozen_and_no_current_after_its_rest_is_told():
    line = Line(WORKS)
    told = []
    for now_s in range(10, 2400, 10):
        is_in = now_s > 1800
        for layout in WORKS.layouts:
            own = {
                "rectifier-nickel-1.current": 0.0,
                "rectifier-nickel-1.voltage": 5.0 if is_in else 0.0,
                "rectifier-nickel-1.heat-sink": 30.0 + now_s % 7,
                "works.line-state": 1.0,
                "nickel-1.load-present": float(is_in),
                "nickel-1.load-number": 4711.0 if is_in else 0.0,
            }
            value = np.array([own.get(tag, _usual(tag)) for tag in layout.tags])
            told += line.receive(block(layout, now_s * NS, value))
    alarms = line.picture(moment(2400 * NS)).alarms
    by_id = {each.id: each for each in alarms}

    assert by_id["rectifier-nickel-1.open-circuit"].state == "unacknowledged"
    assert by_id["rectifier-nickel-1.open-circuit"].behind == ""
    assert by_id["rectifier-nickel-1.open-circuit"].text == "volts but no current"
    assert by_id["rectifier-nickel-1.voltage.high"].behind == "rectifier-nickel-1.open-circuit"
    for now_s in range(2400, 2460, 10):
        for layout in WORKS.layouts:
            own = {
                "rectifier-nickel-1.current": 0.0,
                "rectifier-nickel-1.voltage": 0.0,
                "rectifier-nickel-1.heat-sink": 30.0 + now_s % 7,
                "works.line-state": 1.0,
            }
            value = np.array([own.get(tag, _usual(tag)) for tag in layout.tags])
            line.receive(block(layout, now_s * NS, value))
    gone = {each.id: each for each in line.picture(moment(2460 * NS)).alarms}
    said = gone["rectifier-nickel-1.open-circuit"].text
    assert said == "volts but no current (with its last load)"
    frozen = "rectifier-nickel-1.current.frozen"
    assert frozen not in {each.values.get("alarm") for each in told}


def test_an_expected_alarm_hastens_no_rule_that_would_explain_it():
    line = Line(WORKS)
    told = set()
    for now_s in range(5, 1500, 5):
        is_in, flows = now_s < 1255, 300 <= now_s < 1205
        for layout in WORKS.layouts:
            own = {
                "rectifier-nickel-1.current": 1000.0 + now_s % 3 if flows else 0.0,
                "rectifier-nickel-1.voltage": 4.0 + now_s % 3 / 100.0 if flows else 0.0,
                "rectifier-nickel-1.heat-sink": 30.0 + now_s % 7,
                "works.line-state": 1.0,
                "nickel-1.load-present": float(now_s >= 240 and is_in),
                "nickel-1.load-number": 4711.0 if is_in else 0.0,
            }
            value = np.array([own.get(tag, _usual(tag)) for tag in layout.tags])
            events = line.receive(block(layout, now_s * NS, value))
            told |= {each.values.get("alarm") for each in events}

    assert "rectifier-nickel-1.current-stopped" not in told


def test_a_unit_that_stays_off_is_told_once_however_many_loads_come_until_a_current_flows():
    line, stopped = Line(WORKS), "rectifier-nickel-1.current-stopped"
    moves = []
    for now_s in range(5, 3000, 5):
        phase_s = now_s % 400
        flows = now_s < 600 or now_s > 2400
        is_in = phase_s < 300
        for layout in WORKS.layouts:
            own = {
                "rectifier-nickel-1.current": 1000.0 + now_s % 3 if flows and is_in else 0.0,
                "rectifier-nickel-1.voltage": 4.0 + now_s % 3 / 100.0
                if flows and is_in
                else 0.0,
                "rectifier-nickel-1.heat-sink": 30.0 + now_s % 7,
                "works.line-state": 1.0,
                "nickel-1.load-present": float(is_in),
                "nickel-1.load-number": 4711.0 + now_s // 400 if is_in else 0.0,
            }
            value = np.array([own.get(tag, _usual(tag)) for tag in layout.tags])
            told = [each.values for each in line.receive(block(layout, now_s * NS, value))]
            mine = [each for each in told if each.get("alarm") == stopped]
            moves += [each["move"] for each in mine]

    assert moves == ["occur", "clear"]


# Links.


def silence(quality: Quality, *layouts, second: float):
    return [block(e, round(second * NS), [0.0] * len(e.tags), [quality] * len(e.tags))
            for e in layouts]  # fmt: skip


GATEWAY = tuple(each for each in PLAN.layouts if each.link == "gateway")
UNREADABLE = tuple(
    ConditionPlan(
        id=f"{tag}.bad-quality",
        tag=tag,
        kind="bad-quality",
        on_delay_ns=2 * NS,
        off_delay_ns=2 * NS,
        causes=(CausePlan(id=f"{layout.link}.lost", lead_ns=20 * NS),),
    )
    for layout in PLAN.layouts
    for tag in layout.tags
)
PLAN_OF_LINKS = replace(PLAN, conditions=(*UNREADABLE, *LOST))
SILENT = "r-nickel.no-answer"
PLAN_OF_DEVICES = replace(
    PLAN,
    conditions=(
        *(
            replace(each, causes=(*each.causes, CausePlan(id=SILENT, lead_ns=20 * NS)))
            if each.tag.startswith("r-nickel.")
            else each
            for each in UNREADABLE
        ),
        *LOST,
        ConditionPlan(
            id=SILENT,
            tag=SILENT,
            kind="found",
            on_delay_ns=5 * NS,
            off_delay_ns=2 * NS,
            causes=(CausePlan(id="gateway.lost", lead_ns=20 * NS),),
        ),
    ),
)
GATEWAY_TAGS = {f"{tag}.bad-quality" for layout in GATEWAY for tag in layout.tags}


class Links:
    """A line whose gateway answers or does not, second by second."""

    def __init__(self, plan: LinePlan = PLAN_OF_LINKS) -> None:
        self.line = Line(plan)
        self.second = 0
        self.events = list(self.line.begin(run_start()))

    def at(self, seconds: int, quality: Quality = Quality.GOOD, **devices: Quality) -> Links:
        for _ in range(seconds):
            self.second += 1
            for layout in PLAN.layouts:
                of = quality if layout in GATEWAY else Quality.GOOD
                of = devices.get(layout.device.replace("-", "_"), of)
                self.events += feed_all(self.line, silence(of, layout, second=self.second))
        return self

    def told(self) -> list[tuple[str, str]]:
        found = [
            (str(event.values["alarm"]), str(event.values["move"]))
            for event in self.events
            if "move" in event.values
        ]
        self.events.clear()
        return found

    def behind(self) -> dict[str, str]:
        picture = self.line.picture(moment(self.second * NS))
        return {each.id: each.behind for each in picture.alarms}


@pytest.mark.parametrize("quality", [Quality.NOT_CONNECTED, Quality.NO_ANSWER])
def test_a_lost_link_is_one_alarm_with_its_unreadable_tags_behind_it(quality):
    links = Links().at(5)
    links.at(10, quality)

    assert links.told() == [("gateway.lost", "occur")]
    assert links.behind() == {
        "gateway.lost": "",
        **dict.fromkeys(GATEWAY_TAGS, "gateway.lost"),
    }


def test_a_link_that_comes_back_clears_by_itself_and_leaves_nothing():
    links = Links().at(5).at(10, Quality.NOT_CONNECTED).at(5)

    assert links.told() == [("gateway.lost", "occur"), ("gateway.lost", "clear")]
    assert links.behind() == {"gateway.lost": ""}


def test_a_link_that_is_back_within_its_delay_asks_for_nobody():
    links = Links().at(5).at(3, Quality.NOT_CONNECTED).at(10)

    assert links.told() == []


def test_a_unit_that_stays_silent_when_its_link_is_back_is_told_by_itself():
    links = Links().at(5).at(10, Quality.NOT_CONNECTED)
    links.told()
    links.at(8, unit_1=Quality.NO_ANSWER)

    assert links.told() == [
        ("gateway.lost", "clear"),
        ("r-nickel.current.bad-quality", "occur"),
        ("r-nickel.voltage.bad-quality", "occur"),
        ("r-nickel.charge-meter.bad-quality", "occur"),
    ]


def test_one_silent_unit_is_no_lost_link():
    links = Links().at(5).at(10, unit_1=Quality.NO_ANSWER)

    assert "gateway.lost" not in dict(links.told())


def test_open_sensors_on_every_tag_are_no_lost_link():
    links = Links().at(5).at(10, Quality.SENSOR_FAULT)

    assert "gateway.lost" not in dict(links.told())


def test_a_link_of_which_nothing_was_ever_read_is_told_too():
    line = Line(PLAN_OF_LINKS)
    events = list(line.begin(run_start()))
    for second in range(1, 12):
        events += feed_all(line, silence(Quality.GOOD, PLAN.layouts[-1], second=second))
        events += feed_all(line, [Tick(at=moment(second * NS))])
    told = [event.values["alarm"] for event in events if event.values.get("move") == "occur"]

    assert told == ["gateway.lost"]


def test_a_lost_link_speaks_of_itself_as_a_link():
    links = Links().at(5).at(10, Quality.NOT_CONNECTED)
    event = next(each for each in links.events if each.values.get("alarm") == "gateway.lost")

    assert event.subject == "gateway"
    assert named(PLAN_OF_LINKS, PLAN_OF_LINKS.conditions[-2]).startswith("link gateway: ")


# Devices.

NICKEL_TAGS = {f"{tag}.bad-quality" for tag in GATEWAY[0].tags}


def test_a_device_that_is_silent_while_its_link_answers_is_one_alarm():
    links = Links(PLAN_OF_DEVICES).at(5).at(10, unit_1=Quality.NO_ANSWER)

    assert links.told() == [(SILENT, "occur")]
    assert links.behind() == {SILENT: "", **dict.fromkeys(NICKEL_TAGS, SILENT)}
    links.at(5)
    assert links.told() == [(SILENT, "clear")]
    assert links.behind() == {SILENT: ""}


def test_a_device_that_is_back_within_its_delay_asks_for_nobody():
    assert Links(PLAN_OF_DEVICES).at(5).at(4, unit_1=Quality.NO_ANSWER).at(9).told() == []


def test_a_device_of_a_lost_link_stands_behind_the_link_with_all_that_it_brings():
    links = Links(PLAN_OF_DEVICES).at(5).at(12, Quality.NOT_CONNECTED)

    assert links.told() == [("gateway.lost", "occur")]
    follows = dict.fromkeys({*GATEWAY_TAGS, SILENT}, "gateway.lost")
    assert links.behind() == {"gateway.lost": "", **follows}
    links.at(8)
    assert links.told() == [("gateway.lost", "clear")]
    assert links.behind() == {"gateway.lost": ""}


def test_a_device_that_stays_silent_when_its_link_is_back_is_told_after_its_own_delay():
    links = Links(PLAN_OF_DEVICES).at(5).at(12, Quality.NOT_CONNECTED)
    links.told()
    links.at(6, unit_1=Quality.NO_ANSWER)
    assert links.told() == [("gateway.lost", "clear")]
    links.at(6, unit_1=Quality.NO_ANSWER)

    assert links.told() == [(SILENT, "occur")]
    assert {links.behind()[tag] for tag in NICKEL_TAGS} == {SILENT}


@SLOW
@given(entries=sequences(), data=st.data())
def test_with_devices_stacks_and_restarts_give_the_same_events_and_memory(entries, data):
    cut = data.draw(st.integers(0, len(entries)))
    whole, first = Line(PLAN_OF_DEVICES), Line(PLAN_OF_DEVICES)
    in_stacks = Line(PLAN_OF_DEVICES)
    before = feed_all(first, entries[:cut])
    second = Line(PLAN_OF_DEVICES, first.memory())
    told = feed_all(whole, entries)

    assert before + feed_all(second, entries[cut:]) == told
    assert feed_all(in_stacks, stacked(entries, 7)) == told
    assert second.memory() == in_stacks.memory() == whole.memory()


def test_a_memory_without_devices_is_taken_as_it_was():
    known = Links(PLAN_OF_LINKS).at(5).at(10, Quality.NOT_CONNECTED)
    later = Links(PLAN_OF_DEVICES)
    later.line, later.second = Line(PLAN_OF_DEVICES, known.line.memory()), known.second

    later.at(10)
    assert later.told() == [("gateway.lost", "clear")]
