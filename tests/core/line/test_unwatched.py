"""A time in which nobody looked at the line starts no alarm, and teaches no habit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.plan import ConditionPlan
from linewatch.core.ports import RunStart, Stood, Tick
from linewatch.core.rules.library import BY_NAME
from tests.core.line.bathing import UTC_NS
from tests.core.line.test_loads import NS, PLAN, Shop

HOLE_S = 600


def found(name: str) -> ConditionPlan:
    rule = BY_NAME[name.rpartition(".")[2]]
    return ConditionPlan(id=f"{name}.found", tag=name, kind="found", limit=rule.limit)


WATCHED = replace(
    PLAN,
    tanks=tuple(replace(each, shortest_dwell_s=90.0) for each in PLAN.tanks),
    conditions=(
        found("rinse.hangs"),
        found("one.odd-move"),
        found("two.odd-move"),
        found("one.left-too-soon"),
        ConditionPlan(
            id="one.load-present.overdue",
            tag="one.load-present",
            kind="overdue",
            limit=300.0,
        ),
        ConditionPlan(
            id="one.temperature.low",
            tag="one.temperature",
            kind="low",
            limit=50.0,
            on_delay_ns=60 * NS,
        ),
        ConditionPlan(
            id="one.temperature.bad-quality", tag="one.temperature", kind="bad-quality"
        ),
        ConditionPlan(
            id="one.temperature.frozen",
            tag="one.temperature",
            kind="frozen",
            limit=0.0,
            on_delay_ns=900 * NS,
        ),
    ),
)


class Watched(Shop):
    """A shop that ticks, and whose collector can stand."""

    def __init__(self) -> None:
        super().__init__(WATCHED)

    def loads(self, numbers) -> None:
        """Let loads pass from the rinse to tank one, so that the way is known."""
        for number in numbers:
            self.stay("rinse", number, 120)
            self.stay("one", number, 120)

    def run(self, seconds: int, **shown) -> list:
        self.shown["one.temperature"] = 60.0 + (self.at_s % 7) / 10
        return super().run(seconds, **shown)

    def stand(self, how: str) -> list:
        self.at_s += HOLE_S
        if how == "restart":
            self.line = Line(WATCHED, self.line.memory())
            start = RunStart(run_id="s", at=self.at, fingerprint=WATCHED.fingerprint, speed=1.0)
            news = self.line.begin(start)
        else:
            news = self.line.stood(Stood(at=self.at, for_ns=HOLE_S * NS))
        return news + self.line.tick(Tick(at=self.at).at)


def alarms(events) -> list[str]:
    return [
        str(each.values["alarm"])
        for each in events
        if each.kind is EventKind.ALARM and each.values["move"] == "occur"
    ]


WAYS = pytest.mark.parametrize("how", ["stood", "restart"])


@WAYS
def test_a_load_between_two_tanks_does_not_hang_in_the_air_because_nobody_looked(how):
    shop = Watched()
    shop.loads(range(101, 112))
    shop.stay("rinse", 112, 120)

    news = shop.stand(how) + shop.run(30, one__load_number=112.0)
    news += shop.run(120, one__load_present=1.0)

    assert alarms(news) == []


def test_a_load_that_goes_on_hanging_after_the_collector_stood_is_told():
    shop = Watched()
    shop.loads(range(101, 112))
    shop.stay("rinse", 112, 120)

    shop.stand("stood")
    news = shop.run(300)

    assert alarms(news) == ["rinse.hangs.found"]


@WAYS
def test_a_load_that_left_while_nobody_looked_is_not_overdue(how):
    shop = Watched()
    shop.run(100, one__load_present=1.0, one__load_number=7.0)

    news = shop.stand(how) + shop.run(60, one__load_present=0.0, one__load_number=0.0)

    assert alarms(news) == []


@WAYS
def test_a_load_that_is_still_in_when_it_is_read_again_is_overdue(how):
    shop = Watched()
    shop.run(100, one__load_present=1.0, one__load_number=7.0)

    news = shop.stand(how) + shop.run(60)

    assert "one.load-present.overdue" in alarms(news)


@WAYS
def test_what_happened_while_nobody_looked_is_neither_odd_nor_too_soon(how):
    shop = Watched()
    shop.loads(range(101, 120))
    shop.run(100, two__load_present=1.0, two__load_number=120.0)

    news = shop.stand(how)
    shop.run(0, two__load_present=0.0, two__load_number=0.0, one__load_number=120.0)
    news += shop.run(30, one__load_present=1.0)
    news += shop.run(30, one__load_present=0.0, one__load_number=0.0)

    assert alarms(news) == []


@WAYS
def test_a_value_that_came_back_while_nobody_looked_is_not_low(how):
    shop = Watched()
    shop.run(100)
    shop.shown["one.temperature"] = 40.0
    Shop.run(shop, 30)

    news = shop.stand(how) + shop.run(60)

    assert alarms(news) == []


@WAYS
def test_a_collector_that_stood_makes_no_value_stale_and_none_stand_still(how):
    shop = Watched()
    shop.run(100)
    shop.shown["one.temperature"] = 61.0
    Shop.run(shop, 400)

    news = shop.stand(how) + Shop.run(shop, 60)

    assert alarms(news) == []


def test_what_is_still_low_when_it_is_read_again_is_told_at_once():
    shop = Watched()
    shop.run(100)
    shop.shown["one.temperature"] = 40.0
    Shop.run(shop, 30)

    shop.stand("stood")
    shop.at_s += 1
    news = Shop.run(shop, 10)

    assert alarms(news) == ["one.temperature.low"]


def test_what_was_lost_sight_of_is_remembered_beyond_a_restart():
    shop = Watched()
    shop.loads(range(101, 112))
    shop.stay("rinse", 112, 120)
    shop.stand("stood")

    shop.line = Line(WATCHED, shop.line.memory())
    news = shop.run(20, one__load_number=112.0)
    news += shop.run(20, one__load_present=1.0)

    assert alarms(news) == []


def test_that_the_collector_stood_is_one_event_in_words():
    shop = Watched()
    shop.run(100)

    news = shop.stand("stood")

    (stood,) = [each for each in news if each.kind is EventKind.COLLECTOR_STOOD]
    assert stood.text == "the collector itself stood for 10 min; nothing was read meanwhile"
    assert stood.utc_ns == UTC_NS + shop.at_s * NS
