"""Which positions hold cyanide, as baths, recipes and the order of the line tell it."""

import pytest

from linewatch.config.library import library, shipped
from linewatch.config.works import read, read_text

DEMO = (shipped() / "demo.toml").read_text(encoding="utf-8")
STRIKE = 'id = "copper-cyanide"\n'
OWN = """
[[recipe]]
id = "own-strike"
name = "Our strike"
caution = "Cyanide: keep acids away"
"""


def holding(text: str) -> set[str]:
    """Ids of the tanks that hold cyanide."""
    plan = read_text(text, "line.toml").plan
    return {tank.id for tank in plan.tanks if tank.holds_cyanide}


def watched(text: str) -> set[str]:
    """Ids of the alarms of acid in cyanide, but for the treatment's."""
    conditions = read_text(text, "line.toml").plan.conditions
    names = ("cyanide-jumps", "cyanide-turns-acid")
    return {each.id for each in conditions if each.id.endswith(names)}


def test_a_cyanide_bath_and_the_rinse_behind_it_hold_cyanide():
    assert holding(DEMO) == {"copper-strike", "rinse-3"}
    assert watched(DEMO) == {"rinse-3.cyanide-jumps"}


def test_a_rinse_behind_the_rinse_holds_it_too_until_another_bath_stands_between():
    text = DEMO.replace(
        'id = "acid-2"\nname = "Acid"\nkind = "activate"',
        'id = "acid-2"\nname = "Acid"\nkind = "rinse"',
    )
    assert {"rinse-3", "acid-2"} <= holding(text)
    assert "rinse-4" not in holding(text)


@pytest.mark.parametrize("said", [True, False])
def test_a_tank_that_says_it_itself_is_believed(said):
    key = str(said).lower()
    text = DEMO.replace('id = "rinse-3"\n', f'id = "rinse-3"\ncyanide = {key}\n')
    assert ("rinse-3" in holding(text)) is said


def test_a_recipe_without_the_key_holds_what_its_caution_warns_of():
    text = DEMO.replace('recipe = "copper-cyanide-strike"', 'recipe = "own-strike"')
    assert {"copper-strike", "rinse-3"} <= holding(text + OWN)
    quiet = OWN.replace("Cyanide", "Alkali")
    assert not holding(text + quiet) & {"copper-strike", "rinse-3"}
    assert {"rinse-3"} <= holding(text + quiet + "cyanide = true\n")


def test_a_ph_probe_there_is_watched_for_acid():
    text = DEMO.replace("zinc-1.ph", "rinse-3.ph").replace("zinc-2.ph", "copper-strike.ph")
    assert watched(text) == {
        "rinse-3.cyanide-jumps",
        "rinse-3.cyanide-turns-acid",
        "copper-strike.cyanide-turns-acid",
    }


def test_the_librarys_recipes_that_warn_of_cyanide_say_whether_they_hold_it():
    lines = [each for each in library().values() if not set(each.for_kind) <= {"treat"}]
    warns = [each for each in lines if "cyanide" in f"{each.name} {each.caution}".casefold()]
    assert all(each.cyanide is not None for each in warns)
    assert {each.id for each in warns if each.cyanide} >= {"copper-cyanide", "silver-cyanide"}


def test_what_a_jump_there_says_is_for_people_first_and_cannot_be_made_quiet():
    plan = read(shipped() / "demo.toml").plan
    alarm = next(each for each in plan.conditions if each.id == "rinse-3.cyanide-jumps")
    assert alarm.priority == "highest"
    assert not alarm.may_be_suppressed
    assert alarm.causes == ()
    assert alarm.action.startswith("leave")
    assert "not what" in alarm.cause


def test_limits_there_say_what_acid_does_and_elsewhere_do_not():
    text = DEMO.replace("zinc-1.ph", "copper-strike.ph").replace(
        'id = "copper-strike"\n', 'id = "copper-strike"\nwindow.ph = { low = "10 pH" }\n', 1
    )
    found = {each.id: each for each in read_text(text, "line.toml").plan.conditions}
    high = found["rinse-3.conductivity.high-high"]
    assert "acid" in high.cause
    assert high.action.startswith("if it rose at once, leave")
    assert high.suppress_when == found["rinse-4.conductivity.high"].suppress_when
    assert "acid" not in found["rinse-4.conductivity.high"].cause
    assert found["copper-strike.level.low"].action == found["acid-copper-1.level.low"].action
