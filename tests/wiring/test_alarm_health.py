"""What is said of a record's alarms holds for the record as long as it is."""

import pytest

from linewatch.core.alarms.performance import Announcement, performance
from linewatch.core.alarms.remedies import Remedy, announcements
from linewatch.core.events import Event, EventKind
from linewatch.wiring import alarm_health, records
from tests.core.line.test_loads import PLAN
from tests.core.line.test_rules import PLAN as WORKS

MINUTE_NS = 60 * 10**9


def words(count: int, minutes: float) -> str:
    span_ns = (0, round(minutes * MINUTE_NS))
    told = [
        Announcement(alarm=f"a{k}", priority="low", at_ns=k * span_ns[1] // count)
        for k in range(count)
    ]
    return "\n".join(alarm_health.health_rows(performance(told, span_ns), minutes / 60, PLAN))


def test_a_short_record_says_that_it_is_short_and_calls_many_alarms_what_they_are():
    said = words(87, 7.2)

    assert "87 alarms were announced in 7.2 min" in said
    assert "shorter than ten minutes, and what came in it (87) is difficult so far" in said
    assert "manageable" not in said
    assert "shorter than an hour: figures per hour and per day are this pace" in said
    flood = next(each for each in said.split("\n") if each.startswith("time in flood"))
    most = next(each for each in said.split("\n") if each.startswith("most in 10 min"))
    assert flood.split()[3] == "89.66"
    assert most.split()[4] == "87.00"


def test_words_whose_figures_are_from_memory_say_so_in_a_sentence():
    assert (
        "(these words are those of EEMUA 191; its figures are from memory, not checked against"
        " the guide)" in words(20, 1440.0)
    )


@pytest.mark.parametrize(
    ("minutes", "short"), [(59, "an hour"), (61, "a day"), (1439, "a day"), (1440, "")]
)
def test_what_a_record_is_too_short_for_is_said(minutes, short):
    said = words(20, minutes)

    assert ("the record is shorter than" in said) == bool(short)
    assert f"shorter than {short}" in said or not short
    assert "by the scale for steady running; the worst ten minutes were" in said
    assert "by the scale for an upset, which allows ten times as many" in said


def test_a_rate_over_its_target_reads_as_one_and_in_a_unit_that_can_be_read():
    rates = [each for each in words(87, 60.0).split("\n") if each.startswith("per 10 min")]
    assert rates[0].split()[6:11] == ["over", "alarms", "in", "10", "min"]


def test_only_what_has_saved_alarms_on_this_record_is_suggested():
    alarm = WORKS.conditions[0].id
    remedy = Remedy(alarm=alarm, came=4, deadband=1.0, on_delay_s=300.0)

    assert "instead of" not in "\n".join(alarm_health._suggested(WORKS, [remedy], {alarm: 4}))
    assert "1 instead of 4" in "\n".join(alarm_health._suggested(WORKS, [remedy], {alarm: 1}))


def test_a_replay_and_the_alarms_health_count_an_alarm_that_comes_back_alike():
    def moved(minute: int, move: str, before: str, after: str) -> Event:
        return Event(
            kind=EventKind.ALARM,
            subject="nickel-1",
            utc_ns=minute * MINUTE_NS,
            mono_ns=minute * MINUTE_NS,
            text="voltage high",
            values={"alarm": "v", "move": move, "from": before, "to": after, "priority": "low"},
        )

    told = [
        moved(1, "occur", "normal", "unacknowledged"),
        moved(2, "clear", "unacknowledged", "returned"),
        moved(3, "occur", "returned", "unacknowledged"),
        moved(4, "acknowledge", "unacknowledged", "acknowledged"),
        moved(5, "clear", "acknowledged", "normal"),
    ]
    assert records.came(told) == {"v": len(announcements(told))} == {"v": 2}
