"""Who is told what and when: a fold over events."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.events import Event, EventKind
from linewatch.core.notices import Planner, Quiet, Way

NS = 10**9
T0 = 1_772_000_000
NOON = 12 * 60


def alarm(name: str, move: str, to: str, at_s: float, priority: str = "high") -> Event:
    return Event(
        kind=EventKind.ALARM,
        subject=name.partition(".")[0],
        utc_ns=int((T0 + at_s) * NS),
        mono_ns=0,
        text="temperature low",
        values={"alarm": name, "move": move, "to": to, "priority": priority},
    )


def occurs(name: str, at_s: float = 0.0, priority: str = "high") -> Event:
    return alarm(name, "occur", "unacknowledged", at_s, priority)


def heard(notice, at_s: float, *, did: bool = True) -> Event:
    return Event(
        kind=EventKind.NOTICE,
        subject=notice.way,
        utc_ns=int((T0 + at_s) * NS),
        mono_ns=0,
        text="",
        values={"way": notice.way, "did": did, "alarms": ",".join(notice.alarms)},
    )


def planner(*ways: Way) -> Planner:
    return Planner("Works", ways or (Way(id="phone"),), lambda _ns: "03:12:00")


def due(plan: Planner, at_s: float, minute: int = NOON):
    return plan.due(int((T0 + at_s) * NS), minute)


def test_an_alarm_is_told_at_once_and_then_no_more():
    plan = planner()
    plan.hear(occurs("soak.level.low"))
    (notice,) = due(plan, 0.1)
    assert notice.title == "Works: soak: temperature low"
    assert "03:12:00 HIGH soak: temperature low" in notice.text
    assert "It is no interlock" in notice.text
    assert due(plan, 1.0)  # as long as nobody says that it was told

    plan.hear(heard(notice, 2.0))
    assert due(plan, 1000.0) == []


def test_what_could_not_be_told_stays_due():
    plan = planner()
    plan.hear(occurs("soak.level.low"))
    (notice,) = due(plan, 0.1)
    plan.hear(heard(notice, 1.0, did=False))
    assert due(plan, 60.0)


def test_an_alarm_that_occurs_again_is_told_again():
    plan = planner()
    plan.hear(occurs("soak.level.low"))
    plan.hear(heard(due(plan, 0.1)[0], 1.0))
    plan.hear(alarm("soak.level.low", "clear", "returned", 50.0))
    plan.hear(occurs("soak.level.low", 100.0))
    assert due(plan, 101.0)


def test_less_urgent_alarms_are_not_told():
    plan = planner(Way(id="phone", least="high"))
    plan.hear(occurs("soak.level.low", priority="medium"))
    assert due(plan, 1.0) == []
    plan.hear(occurs("oven.temperature.high", priority="highest"))
    assert len(due(plan, 1.0)) == 1


def test_the_ladder_is_climbed_only_while_nobody_has_acknowledged():
    phone, chief = Way(id="phone"), Way(id="chief", after_s=300.0)
    for acknowledged in (False, True):
        plan = planner(phone, chief)
        plan.hear(occurs("soak.level.low"))
        plan.hear(heard(due(plan, 0.1)[0], 0.2))
        assert due(plan, 299.0) == []
        if acknowledged:
            plan.hear(alarm("soak.level.low", "acknowledge", "acknowledged", 299.5))
        told = [notice.way for notice in due(plan, 301.0)]
        assert told == ([] if acknowledged else ["chief"])


def test_what_was_shelved_or_has_gone_climbs_no_ladder():
    for move, to in (
        ("shelve", "shelved"),
        ("clear", "returned"),
        ("remove", "out-of-service"),
    ):
        plan = planner(Way(id="chief", after_s=60.0))
        plan.hear(occurs("soak.level.low"))
        plan.hear(alarm("soak.level.low", move, to, 30.0))
        assert due(plan, 100.0) == []


def test_a_flood_is_one_notice_and_the_next_comes_no_sooner_than_allowed():
    plan = planner(Way(id="phone", gather_s=30.0))
    for number in range(20):
        plan.hear(occurs(f"tank-{number}.level.low", number / 100))
    (notice,) = due(plan, 0.3)
    assert len(notice.alarms) == 20
    assert "and 12 more" in notice.text
    assert "and 19 more" in notice.title
    plan.hear(heard(notice, 0.4))
    plan.hear(occurs("late.level.low", 1.0))
    assert due(plan, 20.0) == []
    assert due(plan, 31.0)[0].alarms[0].startswith("late.level.low@")


def test_the_most_urgent_stands_first():
    plan = planner(Way(id="phone", least="low"))
    plan.hear(occurs("a.level.low", 0.0, "low"))
    plan.hear(occurs("b.level.low", 1.0, "highest"))
    assert due(plan, 2.0)[0].title == "Works: b: temperature low and 1 more"


def test_quiet_hours_over_midnight_hold_back_all_but_the_urgent_until_they_end():
    quiet = Quiet(begin_min=22 * 60, end_min=6 * 60, least="highest")
    for minute in (22 * 60, 23 * 60 + 59, 0, 5 * 60 + 59):
        plan = planner(Way(id="phone", quiet=quiet))
        plan.hear(occurs("soak.level.low"))
        assert due(plan, 1.0, minute) == []
        assert due(plan, 2.0, 6 * 60)
        plan.hear(occurs("oven.temperature.high", 1.0, "highest"))
        (notice,) = due(plan, 2.0, minute)
        assert notice.alarms == (f"oven.temperature.high@{T0 + 1}",)


def test_quiet_hours_within_a_day():
    quiet = Quiet(begin_min=12 * 60, end_min=13 * 60, least="high")
    assert [quiet.holds(each * 60) for each in (11, 12, 13)] == [False, True, False]


def test_an_alarm_of_unknown_priority_is_told():
    plan = planner(Way(id="phone", least="highest"))
    plan.hear(occurs("soak.level.low", priority="dire"))
    assert due(plan, 1.0)


MOVES = (
    ("occur", "unacknowledged"),
    ("clear", "returned"),
    ("acknowledge", "acknowledged"),
    ("shelve", "shelved"),
)


@given(st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from(MOVES)), max_size=40))
def test_a_teller_that_begins_anew_tells_nothing_twice_and_forgets_nothing(story):
    plan = planner(Way(id="phone", gather_s=0.0))
    past = []
    for second, (name, (move, to)) in enumerate(story):
        past.append(alarm(f"{name}.level.low", move, to, second))
        plan.hear(past[-1])
        for notice in due(plan, second + 0.5):
            past.append(heard(notice, second + 0.6))
            plan.hear(past[-1])
    again = planner(Way(id="phone", gather_s=0.0))
    for event in past:
        again.hear(event)
    assert due(again, len(story) + 1) == due(plan, len(story) + 1) == []
    # Every occurrence was told exactly once.
    told = [
        each
        for event in past
        if event.kind is EventKind.NOTICE
        for each in str(event.values["alarms"]).split(",")
    ]
    occurred = [
        f"{event.values['alarm']}@{event.utc_ns // NS}"
        for event in past
        if event.values.get("move") == "occur"
    ]
    assert sorted(told) == sorted(occurred)
