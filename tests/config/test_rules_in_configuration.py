"""A configuration changes rules, switches them off, and cannot make a safety rule quiet."""

import pytest

from linewatch.config.library import shipped
from linewatch.config.works import read_text
from linewatch.core.alarms.alarm import Alarms, By
from linewatch.core.alarms.people import shelve
from linewatch.core.errors import ConfigurationFaulty, Refused
from linewatch.core.readings import Moment
from linewatch.core.rules.library import BY_NAME

TEXT = (shipped() / "first-line.toml").read_text(encoding="utf-8")
PLAN = read_text(TEXT, "line.toml").plan
UNIT = PLAN.rectifiers[-1].id


def with_alarm(*lines: str) -> str:
    """The file with one more alarm at its last rectifier."""
    return "\n".join((TEXT, "[[rectifier.alarm]]", *lines))


def conditions(text: str) -> dict:
    return {each.id: each for each in read_text(text, "line.toml").plan.conditions}


def test_a_line_gets_the_rules_whose_signals_it_reads():
    names = {each.id.rpartition(".")[2] for each in PLAN.conditions}
    assert "open-circuit" in names
    assert "oxidation-fails" not in names


def test_a_rule_can_be_given_another_limit_in_its_own_unit():
    found = conditions(with_alarm('of = "open-circuit"', 'when = "found"', 'limit = "4 %"'))
    assert BY_NAME["open-circuit"].limit == 2.0
    assert found[f"{UNIT}.open-circuit"].limit == 4.0


def test_a_rule_can_be_switched_off():
    found = conditions(with_alarm('of = "open-circuit"', 'when = "found"', "off = true"))
    assert f"{UNIT}.open-circuit" not in found


@pytest.mark.parametrize("said", ["off = true", 'suppress_when = ["line-rests"]'])
def test_a_safety_rule_cannot_be_switched_off_or_made_quiet(said):
    with pytest.raises(ConfigurationFaulty, match="safety rule"):
        read_text(with_alarm('of = "short"', 'when = "found"', said), "line.toml")


def test_a_rule_that_is_none_is_told_with_those_that_are():
    with pytest.raises(ConfigurationFaulty, match="open-circuit"):
        read_text(with_alarm('of = "open-circus"', 'when = "found"'), "line.toml")


def test_a_safety_alarm_is_never_shelved():
    with pytest.raises(Refused, match="danger"):
        shelve(
            Alarms(PLAN),
            f"{UNIT}.short",
            60.0,
            By(who="AB", why="noise"),
            Moment(utc_ns=0, mono_ns=0),
        )
