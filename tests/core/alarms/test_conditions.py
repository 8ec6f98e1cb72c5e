"""Conditions on a line: delays, deadband, bad values, people and what the line is doing."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from linewatch.core.alarms.defaults import BY_MEASUREMENT, LEVEL_PRINTED_RATIO
from linewatch.core.commands import (
    Acknowledge,
    ResetLatch,
    ReturnToService,
    SetLineState,
    Shelve,
    TakeOutOfService,
    Unshelve,
)
from linewatch.core.errors import Refused
from linewatch.core.line import Line
from linewatch.core.ports import Order, Tick
from linewatch.core.readings import Quality
from tests.core.line import invented

NS = 10**9
CHECKS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
    )["check"]
}
LOW = replace(
    invented.condition("nickel.temperature.low"),
    limit=55.0,
    deadband=1.0,
    on_delay_ns=3 * NS,
    off_delay_ns=2 * NS,
)


class Bench:
    """A line whose one temperature a test sets, second by second."""

    def __init__(self, *conditions) -> None:
        self.line = Line(invented.with_conditions(*conditions))
        self.second = 0
        self.events = list(self.line.begin(invented.run_start()))

    def at(self, temperature: float, seconds: int = 1, quality: int = 0) -> None:
        for _ in range(seconds):
            self.second += 1
            values = [temperature, 500.0, 1.0, 7.0, 4.2, 0.0, 1.0]
            block = invented.block(
                invented.TANKS,
                self.second * NS,
                values,
                [quality, 0, 0, 0, 0, 0, Quality.NOT_YET],
            )
            self.events += self.line.receive(block)

    def do(self, command) -> None:
        at = invented.moment(self.second * NS)
        self.events += self.line.obey(Order(request=1, command=command, at=at))

    def tick(self, second: int) -> None:
        self.second = second
        self.events += self.line.tick(invented.moment(second * NS))

    def state(self, name: str = "nickel.temperature.low") -> str:
        picture = self.line.picture(invented.moment(self.second * NS))
        return next((each.state for each in picture.alarms if each.id == name), "normal")


def test_an_alarm_comes_after_its_on_delay_and_not_before():
    bench = Bench(LOW)
    bench.at(60.0, 5)
    bench.at(54.0, 3)
    assert bench.state() == "normal"
    bench.at(54.0)
    assert bench.state() == "unacknowledged"


def test_a_short_dip_is_no_alarm():
    bench = Bench(LOW)
    for _ in range(10):
        bench.at(54.0, 3)
        bench.at(57.0)

    assert bench.state() == "normal"


def test_inside_the_deadband_nothing_changes():
    bench = Bench(LOW)
    bench.at(54.0, 5)
    bench.at(55.9, 30)
    assert bench.state() == "unacknowledged"
    bench.at(56.1, 4)
    assert bench.state() == "returned"


@pytest.mark.parametrize(
    ("last_degc", "said"),
    [
        (54.0, "temperature low: 54.0 degC, limit 55.0 degC"),
        (55.3, "temperature low: 55.3 degC, barely back inside limit 55.0 degC"),
    ],
)
def test_an_alarm_that_is_announced_says_where_its_value_stands_by_then(last_degc, said):
    bench = Bench(LOW)
    bench.at(54.0, 3)
    bench.at(last_degc)

    assert [each.text for each in bench.events if each.kind == "alarm"] == [said]
    bench.at(60.0, 5)
    assert bench.events[-1].text.endswith("returned to normal: 60.0 degC, limit 55.0 degC")


def test_who_acknowledges_ends_a_returned_alarm_and_keeps_a_standing_one():
    bench = Bench(LOW)
    bench.at(54.0, 5)
    bench.do(Acknowledge(who="AB", alarm=LOW.id))
    assert bench.state() == "acknowledged"
    bench.at(60.0, 5)
    assert bench.state() == "normal"
    with pytest.raises(Refused, match="does not wait to be seen: it is normal"):
        bench.do(Acknowledge(who="AB", alarm=LOW.id))


def test_an_alarm_is_never_judged_on_a_bad_value_and_holds():
    bench = Bench(LOW)
    bench.at(54.0, 5)
    bench.at(99.0, 60, Quality.SENSOR_FAULT)

    assert bench.state() == "unacknowledged"


def test_a_bad_value_raises_no_limit_alarm():
    bench = Bench(LOW)
    bench.at(60.0, 2)
    bench.at(-3276.8, 60, Quality.SENSOR_FAULT)

    assert bench.state() == "normal"


def test_a_condition_that_clears_on_bad_returns():
    bench = Bench(replace(LOW, on_bad="clear"))
    bench.at(54.0, 5)
    bench.at(0.0, 60, Quality.NO_ANSWER)

    assert bench.state() == "returned"


def test_bad_quality_is_an_alarm_of_its_own():
    bench = Bench(invented.condition("nickel.temperature.bad-quality", on_delay_ns=2 * NS), LOW)
    bench.at(60.0, 2)
    bench.at(0.0, 4, Quality.SENSOR_FAULT)

    assert bench.state("nickel.temperature.bad-quality") == "unacknowledged"


def test_a_latched_alarm_waits_for_a_reset():
    bench = Bench(replace(LOW, latch=True))
    bench.at(54.0, 5)
    bench.at(60.0, 5)
    assert bench.state() == "latched-unacknowledged"
    bench.do(Acknowledge(who="AB", alarm=LOW.id))
    assert bench.state() == "latched"
    bench.at(60.0, 60)
    assert bench.state() == "latched"
    bench.do(ResetLatch(who="AB", alarm=LOW.id))
    assert bench.state() == "normal"


def test_a_shelved_alarm_comes_back_by_itself_and_is_announced_again():
    bench = Bench(LOW)
    bench.at(54.0, 5)
    bench.do(Shelve(who="AB", alarm=LOW.id, for_s=20.0, why="probe being cleaned"))
    assert bench.state() == "shelved"
    bench.at(54.0, 15)
    assert bench.state() == "shelved"
    bench.at(54.0, 12)
    assert bench.state() == "unacknowledged"


def test_to_be_shelved_makes_no_alarm_younger():
    bench = Bench(LOW)
    bench.at(54.0, 5)
    number = bench.line.alarms.number[LOW.id]
    since_ns = bench.line.alarms.detail[number].since_utc_ns
    bench.at(54.0, 15)
    bench.do(Shelve(who="AB", alarm=LOW.id, for_s=20.0, why="probe being cleaned"))

    assert bench.line.alarms.detail[number].since_utc_ns == since_ns


def test_nobody_shelves_for_longer_than_the_line_allows():
    bench = Bench(LOW)
    bench.at(54.0, 5)

    with pytest.raises(Refused):
        bench.do(Shelve(who="AB", alarm=LOW.id, for_s=1e6, why="annoying"))
    assert bench.state() == "unacknowledged"


def test_a_person_brings_a_shelved_alarm_back():
    bench = Bench(LOW)
    bench.at(54.0, 5)
    bench.do(Shelve(who="AB", alarm=LOW.id, for_s=50.0, why="probe being cleaned"))
    bench.do(Unshelve(who="CD", alarm=LOW.id))
    bench.at(54.0, 5)

    assert bench.state() == "unacknowledged"


def test_an_alarm_out_of_service_stays_so_without_a_limit():
    bench = Bench(LOW)
    bench.do(TakeOutOfService(who="AB", subject=LOW.id, why="new probe"))
    bench.at(54.0, 500)
    assert bench.state() == "out-of-service"
    bench.do(ReturnToService(who="AB", subject=LOW.id))
    bench.at(54.0, 5)
    assert bench.state() == "unacknowledged"


def test_what_warns_of_danger_to_people_is_never_put_aside_in_any_way():
    bench = Bench(replace(LOW, may_be_suppressed=False, suppress_when=("heating-up",)))
    for command in (
        Shelve(who="AB", alarm=LOW.id, for_s=20.0, why="probe being cleaned"),
        TakeOutOfService(who="AB", subject=LOW.id, why="new probe"),
    ):
        with pytest.raises(Refused, match="danger to people"):
            bench.do(command)
    bench.do(TakeOutOfService(who="AB", subject="nickel", why="new heater"))
    bench.do(SetLineState(who="AB", state="heating-up"))
    bench.at(54.0, 5)
    assert bench.state() == "unacknowledged"

    bench.do(ReturnToService(who="AB", subject="nickel"))
    assert bench.state() == "unacknowledged"


def test_what_the_line_is_doing_suppresses_an_alarm_by_design():
    bench = Bench(replace(LOW, suppress_when=("heating-up",)))
    bench.do(SetLineState(who="AB", state="heating-up"))
    bench.at(30.0, 60)
    assert bench.state() in {"suppressed", "normal"}
    assert not [e for e in bench.events if e.values.get("to") == "unacknowledged"]
    bench.do(SetLineState(who="AB", state="producing"))
    bench.at(30.0, 10)
    assert bench.state() == "unacknowledged"


def test_silence_makes_a_tag_stale_and_its_alarm_comes_by_the_clock():
    bench = Bench(invented.condition("nickel.temperature.bad-quality"))
    bench.at(60.0, 3)
    for second in range(4, 30):
        bench.tick(second)

    assert bench.state("nickel.temperature.bad-quality") == "unacknowledged"
    picture = bench.line.picture(invented.moment(30 * NS))
    tank = next(each for each in picture.tanks if each.id == "nickel")
    assert tank.figures["temperature"].value is None


@pytest.mark.published
@pytest.mark.parametrize("kind", ["flow", "pressure", "temperature"])
def test_a_starting_deadband_is_the_published_one(kind: str):
    """EEMUA 191's table, as quoted in the outside values."""
    row = CHECKS[f"alarm.deadband.{kind}"]

    assert row["basis"] == "published"
    assert 100.0 * BY_MEASUREMENT[kind].deadband_ratio == pytest.approx(row["value"])


def test_the_sources_disagreement_about_level_is_told():
    """Most quote 5 % of span; one printed table has 2 %. Neither is an oracle."""
    assert BY_MEASUREMENT["level"].deadband_ratio != LEVEL_PRINTED_RATIO


@pytest.mark.published
def test_a_flood_starts_where_the_standard_says():
    from linewatch.core.plan import LinePlan

    row = CHECKS["alarm.flood.start"]
    usual = LinePlan.__dataclass_fields__["flood_start_per_10min"].default

    assert usual == row["value"]


def test_a_tick_on_a_quiet_line_changes_nothing():
    bench = Bench(LOW)
    bench.at(60.0, 3)

    assert bench.line.tick(Tick(at=invented.moment(3 * NS + 1)).at) == []


def test_the_picture_tells_the_value_at_first_and_the_present_one_while_it_is_good():
    bench = Bench(LOW)
    bench.at(54.0, 4)
    bench.at(49.0, 1)

    def seen():
        picture = bench.line.picture(invented.moment(bench.second * NS))
        (alarm,) = (each for each in picture.alarms if each.id == "nickel.temperature.low")
        return alarm.value, alarm.now

    assert seen() == (54.0, 49.0)
    bench.at(48.0, 1, Quality.SENSOR_FAULT)
    assert seen() == (54.0, None)
    bench.at(60.0, 4)
    assert bench.state() == "returned"
    assert seen() == (60.0, 60.0)


def test_an_overdue_load_tells_how_long_it_is_in_by_now():
    overdue = replace(invented.condition("nickel.load-present.overdue"), limit=5.0)
    bench = Bench(overdue)
    bench.at(60.0, 12)
    picture = bench.line.picture(invented.moment(bench.second * NS))
    (alarm,) = (each for each in picture.alarms if each.kind == "overdue")

    since_s = (picture.utc_ns - alarm.since_utc_ns) / NS
    assert since_s > 0.0
    assert alarm.now - alarm.value == pytest.approx(since_s)


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (
            ResetLatch(who="AB", alarm=LOW.id),
            (
                "release Bright nickel, temperature low: only what is latched and seen, and"
                " whose cause has gone, is released: it is new"
            ),
        ),
        (
            Unshelve(who="AB", alarm=LOW.id),
            "bring back Bright nickel, temperature low: it is not shelved: it is new",
        ),
        (
            Shelve(who="AB", alarm=LOW.id, for_s=60.0, why=""),
            "shelve Bright nickel, temperature low: it needs a reason",
        ),
        (
            ReturnToService(who="AB", subject="nickel"),
            "put Bright nickel back into service: it is in service",
        ),
    ],
)
def test_a_refusal_names_things_and_speaks_in_the_words_of_the_keys(command, said):
    bench = Bench(LOW)
    bench.at(54.0, 5)
    with pytest.raises(Refused) as refused:
        bench.do(command)

    assert str(refused.value) == said
