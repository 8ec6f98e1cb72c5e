"""The table of what is found, in the guide for developers, is what the code finds."""

from collections import Counter
from importlib import util
from pathlib import Path

from linewatch.config.library import shipped
from linewatch.config.works import read, read_text
from linewatch.core.rules.library import RULES

HERE = Path(__file__).parent
GUIDE = (HERE.parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
SPEC = util.spec_from_file_location("covered", HERE / "covered.py")
COVERED_FILE = util.module_from_spec(SPEC)
SPEC.loader.exec_module(COVERED_FILE)
COVERED, NOT_YET = COVERED_FILE.COVERED, COVERED_FILE.NOT_YET
DEMO = (shipped() / "demo.toml").read_text(encoding="utf-8")
CONDITIONS = (
    *read(shipped() / "demo.toml").plan.conditions,
    # Nobody has a pH probe in a rinse after cyanide there.
    *read_text(DEMO.replace("zinc-1.ph", "rinse-3.ph"), "demo.toml").plan.conditions,
)


def test_at_least_ninety_troubles_are_found_and_none_is_counted_twice():
    troubles = Counter(trouble for trouble, _ in COVERED)
    assert len(troubles) == len(COVERED) >= 90
    assert not set(troubles) & {trouble for trouble, _ in NOT_YET}


def test_what_finds_a_trouble_is_an_alarm_of_the_demonstration_that_says_its_cause():
    for trouble, found_by in COVERED:
        found = [
            each for each in CONDITIONS if each.id.endswith((f".{found_by}", f"-{found_by}"))
        ]
        assert found, trouble
        assert any(each.cause and each.action for each in found), trouble


def test_every_rule_finds_something():
    by = {found_by for _, found_by in COVERED}
    assert not {rule.name for rule in RULES} - by


def test_the_guide_has_the_tables():
    for trouble, found_by in COVERED:
        assert f"| {trouble} | {found_by} |" in GUIDE
    for trouble, needs in NOT_YET:
        assert f"| {trouble} | {needs} |" in GUIDE
