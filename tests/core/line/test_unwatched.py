"""A time in which nobody looked at the line starts no alarm, and teaches no habit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.line.loads import loads_of
from linewatch.core.loads.page import load_page
from linewatch.core.pages import Shown
from linewatch.core.plan import ConditionPlan
from linewatch.core.ports import RunStart, Stood, Tick
from linewatch.core.rules.library import BY_NAME
from tests.core.line.bathing import UTC_NS
from tests.core.line.test_loads import NS, PLAN, ROUTE, Shop

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


def almost_overdue() -> Watched:
    """Return a shop whose station was read last 3 s before a load's time is over."""
    shop = Watched()
    shop.run(10, one__load_number=7.0)
    shop.run(300, one__load_present=1.0)
    shop.at_s += 2
    return shop


def test_a_load_whose_time_is_over_between_two_readings_waits_for_the_next_one():
    shop = almost_overdue()
    assert alarms(shop.line.tick(shop.at)) == []
    shop.at_s += 5
    assert alarms(shop.line.tick(shop.at)) == []

    assert alarms(shop.run(10, one__load_present=0.0, one__load_number=0.0)) == []


def test_a_load_that_is_still_in_at_the_next_reading_is_overdue_at_once_and_after_a_restart():
    shop = almost_overdue()
    shop.line.tick(shop.at)
    shop.line = Line(WATCHED, shop.line.memory())

    assert alarms(shop.run(10)) == ["one.load-present.overdue"]


def test_where_the_station_is_silent_a_load_is_overdue_all_the_same():
    shop = Watched()
    shop.run(10, one__load_number=7.0)
    shop.run(200, one__load_present=1.0)
    shop.run(60, one__load_present=None)
    assert "one.load-present.overdue" not in alarms(shop.events)
    shop.run(60)

    assert "one.load-present.overdue" in alarms(shop.events)


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


def shown_page(record) -> str:
    page = load_page(record, "Line", Shown("metric", str))
    return "\n".join(" | ".join(row) for table in page.tables for row in table.rows)


@WAYS
def test_what_a_load_did_while_nobody_looked_is_not_known_and_not_odd(how):
    shop = Watched()
    shop.run(10, rinse__load_number=7.0)
    shop.run(60, rinse__load_present=1.0)
    shop.stand(how)
    # It went on meanwhile, by way of tank one or not.
    shop.run(0, rinse__load_present=0.0, rinse__load_number=0.0, two__load_number=7.0)
    shop.run(60, two__load_present=1.0)
    shop.run(20, two__load_present=0.0, two__load_number=0.0)
    record = shop.record()

    assert record.marks == ()
    (unknown,) = record.not_known
    assert unknown.text == (
        "whether Nickel one was left out is not known: nobody looked meanwhile"
    )
    assert [each.transfer_s for each in record.stays] == [None, None]
    assert not any("wanted" in odd for stay in record.stays for odd in stay.odd)
    # Read at 60 s, and again 610 s later: it may have gone on at once or just now.
    first, second = (each.dwell_not_known for each in record.stays)
    assert first.startswith("how long it was in: between 50 s and 11 min")
    assert second.startswith("how long it was in: between 60 s and 11 min 10 s")
    assert "not known" in shown_page(record)


@WAYS
def test_what_a_load_did_after_it_was_looked_at_again_is_known(how):
    shop = Watched()
    shop.stand(how)
    shop.run(60)
    shop.stay("rinse", 7, 40)
    shop.stay("two", 7, 200)
    record = shop.record()

    assert [each.text for each in record.marks] == ["Nickel one was left out"]
    assert record.not_known == ()
    assert record.stays[0].odd == ("40 s, at least 90 s wanted",)
    assert record.stays[1].transfer_s == pytest.approx(30, abs=20)


def test_a_hole_of_the_record_is_remembered_beyond_another_restart():
    shop = Watched()
    shop.stay("rinse", 7, 120)
    shop.stand("stood")
    shop.line = Line(WATCHED, shop.line.memory())
    shop.run(20)
    shop.stay("two", 7, 200)

    assert shop.record().marks == ()
    assert len(shop.record().not_known) == 1


def test_how_long_a_load_was_in_before_the_record_began_is_not_known():
    shop = Shop(replace(PLAN, routes=(replace(ROUTE, steps=ROUTE.steps[1:]),)))
    shop.run(100, one__load_number=7.0, one__load_present=1.0)
    shop.run(20, one__load_present=0.0, one__load_number=0.0)
    (stay,) = shop.record().stays

    assert stay.odd == ()
    assert stay.holes == ("it was in already when the record began",)
    assert shop.record().oddities == 0
    assert shop.record().holes == 2
    assert "at least 100 s" in stay.dwell_not_known


def test_a_load_that_was_in_too_long_before_nobody_looked_was_in_too_long():
    shop = Watched()
    shop.run(10, one__load_number=7.0)
    shop.run(1000, one__load_present=1.0)
    shop.run(10, one__load_present=None)
    shop.run(20, one__load_present=0.0, one__load_number=0.0)

    (odd, *_) = shop.record().stays[0].odd
    assert odd.endswith("at most 15 min wanted")


def test_loads_are_followed_from_a_memory_that_knows_no_holes():
    shop = Watched()
    shop.stay("rinse", 7, 120)
    studies = loads_of(shop.line).remember()
    older = {key: each for key, each in studies.items() if key != "sight"}
    for trip in older["trips"]:
        del trip["left_hidden_s"]
    loads_of(shop.line).recall(older)
    shop.stay("two", 7, 200)

    assert [each.what for each in shop.record().marks] == ["left-out"]
