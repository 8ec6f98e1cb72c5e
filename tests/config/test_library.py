"""The bath library: every number with its source, and a bath added by one entry or one file."""

import shutil
import tomllib
from pathlib import Path

import pytest

from linewatch.config import read_text
from linewatch.config.faults import Faults
from linewatch.config.library import library, recipes_in, shipped
from linewatch.config.windows import Stated, window
from linewatch.core import units
from linewatch.core.errors import ConfigurationFaulty

CHECKS = {
    row["id"]: row
    for row in tomllib.loads(
        (Path(__file__).parents[1] / "data" / "check_values.toml").read_text(encoding="utf-8")
    )["check"]
}

# Which recipe, and which part of it, a row of the check values speaks of.
ROWS = {
    "bath.ag_cn.T": ("silver-cyanide", "temperature"),
    "bath.ag_cn.J": ("silver-cyanide", "current-density"),
    "bath.cu_cn_strike.T": ("copper-cyanide-strike", "temperature"),
    "bath.cu_cn_strike.J": ("copper-cyanide-strike", "current-density"),
    "bath.cu_cn_strike.eff": ("copper-cyanide-strike", "efficiency"),
    "bath.cu_cn_he.eff": ("copper-cyanide", "efficiency"),
    "bath.zn_acid_cl.T": ("zinc-chloride", "temperature"),
    "bath.zn_acid_cl.eff": ("zinc-chloride", "efficiency"),
    "bath.zn_alk_lc.T": ("zinc-alkaline", "temperature"),
    "bath.zn_cn_low.eff": ("zinc-cyanide", "efficiency"),
    "bath.ni_watts_bright.eff": ("nickel-watts", "efficiency"),
    "cn.stage1.ORP": ("cyanide-oxidation-1", "orp"),
    "cr6.pH": ("chromium-reduction", "ph"),
}


def stated(recipe: str, part: str) -> tuple[float | None, float | None]:
    """Return low and high of a recipe's window or efficiency, in the check value's unit."""
    entry = library()[recipe]
    if part == "efficiency":
        assert entry.efficiency is not None
        return entry.efficiency.low, entry.efficiency.high
    faults = Faults()
    found = window(part, (Stated(key="recipe", windows=entry.window),), faults)
    assert faults.found == []
    return found.low, found.high


@pytest.mark.published
@pytest.mark.parametrize("row", ROWS, ids=str)
def test_a_recipe_keeps_to_the_published_window(row):
    check = CHECKS[row]
    assert check["basis"] == "published"
    assert check["match"] == "range"

    low, high = stated(*ROWS[row])

    assert check["value"][0] <= low < high <= check["value"][1]


@pytest.mark.published
@pytest.mark.parametrize("row", sorted(set(ROWS) - {"bath.zn_alk_lc.T"}))
def test_a_published_window_is_taken_over_as_it_is(row):
    """All but one: its source prints 110 degF as 48 degC, and the Fahrenheit figure stands."""
    low, high = stated(*ROWS[row])

    assert [low, high] == pytest.approx(CHECKS[row]["value"])


def test_no_published_bath_row_is_forgotten():
    published = {
        name
        for name, row in CHECKS.items()
        if name.startswith("bath.") and row["basis"] == "published"
    }

    assert published <= set(ROWS)


def test_the_library_holds_the_common_solutions():
    wanted = {
        "nickel-watts", "nickel-sulfamate", "copper-acid", "copper-cyanide", "zinc-chloride",
        "zinc-alkaline", "zinc-nickel-alkaline", "zinc-nickel-acid", "tin-acid",
        "chromium-decorative", "chromium-hard", "silver-cyanide", "gold-acid",
        "soak-cleaner-steel", "electrocleaner-steel", "hydrochloric-dip", "sulfuric-dip",
        "rinse-after-nickel", "rinse-deionised", "passivate-thin", "passivate-thick",
    }  # fmt: skip

    assert wanted <= set(library())


def test_the_file_says_that_its_numbers_are_examples():
    about = tomllib.loads((shipped() / "baths.toml").read_text(encoding="utf-8"))["about"]

    assert "examples" in about


def test_every_number_of_the_file_has_its_source_beside_it():
    raw = tomllib.loads((shipped() / "baths.toml").read_text(encoding="utf-8"))
    for recipe in raw["recipe"]:
        for kind, limits in recipe.get("window", {}).items():
            assert limits.get("source"), (recipe["id"], kind)
        if "efficiency" in recipe:
            assert recipe["efficiency"].get("source"), recipe["id"]
        if "metals" in recipe:
            assert {"efficiency", "anode_efficiency"} <= set(recipe), recipe["id"]


SMALL = """
[line]
id = "small"
name = "Small"
[[bath]]
id = "bath"
name = "Bath"
recipe = "{recipe}"
"""


@pytest.mark.parametrize("name", sorted(library()))
def test_every_recipe_makes_a_bath(name):
    (bath,) = read_text(SMALL.format(recipe=name), "line.toml").plan.baths

    assert bath.recipe == name
    assert (bath.deposit is None) == (library()[name].metals is None)
    assert set(bath.windows) == set(library()[name].window)


ENTRY = """
[[recipe]]
id = "cobalt-test"
name = "A bath of one's own"
metals = { "Co(II)" = "100 %" }
efficiency = { value = "90 %", source = "our own trials" }
[recipe.window]
temperature = { low = "52 degC", high = "54 degC", source = "our own trials" }
"""


def with_own_bath(text: str) -> str:
    return text.replace('recipe = "nickel-watts"', 'recipe = "cobalt-test"')


def test_a_bath_is_added_by_one_entry_in_the_configuration(example):
    with pytest.raises(ConfigurationFaulty, match="no recipe 'cobalt-test'"):
        read_text(with_own_bath(example), "line.toml")

    plan = read_text(with_own_bath(example) + ENTRY, "line.toml").plan

    assert plan.baths[0].deposit.parts == (("Co(II)", 1.0),)
    assert plan.tags["nickel-1.temperature"].window.low == 52.0


def test_a_bath_is_added_by_one_file_beside_the_library(tmp_path):
    shutil.copy(shipped() / "baths.toml", tmp_path)
    (tmp_path / "baths").mkdir()
    (tmp_path / "baths" / "ours.toml").write_text(ENTRY, encoding="utf-8")

    found = recipes_in(tmp_path)

    assert set(found) - set(library()) == {"cobalt-test"}
    assert found["cobalt-test"].efficiency.value == 90.0


def test_a_faulty_file_of_baths_is_told_by_its_name(tmp_path):
    shutil.copy(shipped() / "baths.toml", tmp_path)
    (tmp_path / "baths").mkdir()
    (tmp_path / "baths" / "ours.toml").write_text(
        '[[recipe]]\nid = "nickel-watts"\nname = "N"\nwindo = 1\n', encoding="utf-8"
    )

    with pytest.raises(ConfigurationFaulty) as faulty:
        recipes_in(tmp_path)

    assert faulty.value.file.endswith("ours.toml")
    assert faulty.value.faults == (
        "recipe.nickel-watts.windo: unknown key; did you mean `window`?",
        "recipe.nickel-watts: there is a recipe of this id already",
    )


def test_a_library_that_is_no_toml_is_told_by_its_name(tmp_path):
    (tmp_path / "baths.toml").write_text("[[recipe]\n", encoding="utf-8")

    with pytest.raises(ConfigurationFaulty, match=r"baths\.toml: .* \(at line 1"):
        recipes_in(tmp_path)


def test_fahrenheit_in_the_library_arrives_in_celsius():
    low, high = stated("zinc-alkaline", "temperature")

    assert low == pytest.approx(units.parse("60 degF", "degC"))
    assert (low, high) == pytest.approx(((60 - 32) / 1.8, (110 - 32) / 1.8))
