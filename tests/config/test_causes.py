"""What may follow from what, as a configuration has it."""

from __future__ import annotations

import pytest

from linewatch.config.library import shipped
from linewatch.config.works import read
from linewatch.core.alarms.wording import named
from linewatch.core.plan import PRIORITIES

PLAN = read(shipped() / "demo.toml").plan
CONDITIONS = {each.id: each for each in PLAN.conditions}
TREATED = {tank.id for tank in PLAN.tanks if tank.kind in {"treat", "extract", "supply"}}
LIMITS = {"high-high", "high", "low", "low-low", "deviation", "rate"}


def causes(alarm: str) -> set[str]:
    return {cause.id for cause in CONDITIONS[alarm].causes}


def test_every_cause_is_a_condition_and_nothing_follows_from_itself():
    for alarm, condition in CONDITIONS.items():
        assert causes(alarm) <= set(CONDITIONS)
        assert alarm not in causes(alarm)
        assert len(causes(alarm)) == len(condition.causes)


def test_no_chain_of_causes_comes_back_to_where_it_began():
    def before(alarm: str, seen: frozenset[str]) -> None:
        assert alarm not in seen
        for cause in causes(alarm):
            before(cause, seen | {alarm})

    for alarm in CONDITIONS:
        before(alarm, frozenset())


def test_what_warns_of_danger_to_people_follows_from_nothing():
    danger = [each for each in PLAN.conditions if not each.may_be_suppressed]

    assert danger
    assert all(each.causes == () for each in danger)


def test_no_limit_of_treatment_extraction_or_supply_stands_behind_anything():
    mine = [
        each
        for each in PLAN.conditions
        if each.tag.partition(".")[0] in TREATED and each.kind in LIMITS
    ]

    assert mine
    assert all(each.causes == () for each in mine)


@pytest.mark.parametrize(
    ("alarm", "cause"),
    [
        ("rectifier-zinc-3.voltage.low-low", "rectifier-zinc-3.polarity"),
        ("rectifier-nickel-1.off-set-point", "rectifier-nickel-1.unit-still"),
        ("electroclean.temperature.low", "electroclean.probe-out"),
        ("electroclean.heat-lost", "electroclean.probe-out"),
        ("discharge.ph-swings", "discharge.glass-broken"),
        ("nickel-4.leaks-slowly", "nickel-4.level-still"),
        ("rectifier-electroclean.current.low", "rectifier-electroclean.current.bad-quality"),
        ("rectifier-nickel-1.current.bad-quality", "rack-rectifiers.lost"),
        ("rectifier-strike.voltage.high", "rectifier-strike.at-voltage-limit"),
    ],
)
def test_what_rests_on_a_broken_instrument_or_a_lost_link_follows_from_it(alarm, cause):
    assert cause in causes(alarm)


def test_a_report_of_a_broken_instrument_follows_from_none_but_that_its_whole_link_stands():
    assert causes("nickel-4.level-still") == {"rack-io.still"}
    assert causes("rectifier-nickel-1.unit-still") == {"rack-rectifiers.still"}


def test_every_link_has_an_alarm_as_urgent_as_what_it_takes_along_and_at_least_medium():
    for link in PLAN.links:
        taken = [
            each
            for each in PLAN.conditions
            if f"{link}.lost" in causes(each.id) and not each.id.endswith(".no-answer")
        ]
        ranks = [PRIORITIES.index(each.priority) for each in taken]
        assert PRIORITIES.index(CONDITIONS[f"{link}.lost"].priority) == max(1, *ranks)
        assert {each.tag for each in taken} == {
            tag for layout in PLAN.layouts if layout.link == link for tag in layout.tags
        }


SILENT = {each.id: each for each in PLAN.conditions if each.id.endswith(".no-answer")}


def test_a_device_is_called_by_the_one_rectifier_or_position_that_it_serves():
    said = {name: named(PLAN, each) for name, each in SILENT.items()}

    assert said["rectifier-nickel-1.no-answer"] == "Nickel 1 rectifier: does not answer"
    assert said["rack-levels.no-answer"] == "rack-levels: does not answer"
    assert said["cell.no-answer"].endswith(": cell-instruments does not answer")


def test_a_silent_device_is_as_urgent_as_what_it_leaves_unreadable_and_follows_from_its_link():
    assert SILENT
    for name, condition in SILENT.items():
        taken = [each for each in PLAN.conditions if name in causes(each.id)]
        assert len(taken) > 1
        ranks = [PRIORITIES.index(each.priority) for each in taken]
        assert PRIORITIES.index(condition.priority) == max(1, *ranks)
        (link,) = causes(name)
        assert all(link in causes(each.id) for each in taken)


def test_the_only_device_of_a_link_and_the_only_value_of_a_device_have_no_second_alarm():
    named_after = {name.partition(".")[0] for name in SILENT}

    assert "services-server" not in named_after
    assert "barrel-input-meter" not in named_after
    assert "rectifier-barrel-nickel" in named_after


def test_every_track_of_loads_has_one_alarm_behind_which_its_loads_stand():
    taken = [each for each in PLAN.conditions if "works.stands-rack" in causes(each.id)]
    subjects = {tank.id for tank in PLAN.tanks if tank.track == "rack"}
    whats = {(each.kind, each.tag.partition(".")[2]) for each in taken}

    assert CONDITIONS["works.stands-rack"].priority == "high"
    assert whats == {("found", "hangs"), ("overdue", "load-present")}
    assert {each.tag.partition(".")[0] for each in taken} <= subjects
    assert "works.stands-barrel" in causes("zinc-1.load-present.overdue")


def test_a_dwell_that_is_dangerous_by_itself_follows_from_no_standstill():
    grave = [each for each in PLAN.conditions if each.id == "acid-1.load-present.overdue"]

    assert [each.priority for each in grave] == ["high"]
    assert not any("stands" in cause for cause in causes(grave[0].id))


def test_a_track_that_tells_of_no_loads_has_no_such_alarm():
    assert "works.stands-water" not in CONDITIONS
    assert "works.stands-treatment" not in CONDITIONS
