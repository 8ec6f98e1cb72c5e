"""The bath library: recipes shipped with linewatch, and those of a configuration's own.

A recipe is one `[[recipe]]`: in `baths.toml`, in a file of its own under `baths/`, or in the
configuration that uses it.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from linewatch.config.faults import Faults
from linewatch.config.sections import sections_of
from linewatch.core.errors import ConfigurationFaulty, file_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.config.model import RecipeSection


_HEAD = re.compile(r"^\[\[recipe\]\]", re.MULTILINE)


def shipped() -> Path:
    """Return the folder of the files that come with linewatch."""
    here = Path(__file__).parent / "shipped"
    # An editable checkout has them in the folder from which the wheel takes them.
    return here if here.is_dir() else Path(__file__).parents[2] / "config"


def recipes_in(folder: Path) -> Mapping[str, RecipeSection]:
    """Return the recipes of a folder by id: `baths.toml`, then every file under `baths/`.

    Raises:
        ConfigurationFaulty: a file of the folder has faults, or two recipes have one id.
    """
    found: dict[str, RecipeSection] = {}
    for file in (folder / "baths.toml", *sorted((folder / "baths").glob("*.toml"))):
        faults = Faults()
        try:
            raw = tomllib.loads(file.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            raise ConfigurationFaulty(str(file), (_why(error),)) from error
        raw.pop("about", None)
        for recipe in sections_of({**raw, "line": {"id": "x", "name": "x"}}, faults).recipes:
            if recipe.id in found:
                faults.add(f"recipe.{recipe.id}", "there is a recipe of this id already")
            found[recipe.id] = recipe
        if faults.found:
            raise ConfigurationFaulty(str(file), tuple(faults.found))
    return found


def texts_in(folder: Path) -> Mapping[str, str]:
    """Return the text of every recipe of a folder by id, as its file has it."""
    found: dict[str, str] = {}
    for file in (folder / "baths.toml", *sorted((folder / "baths").glob("*.toml"))):
        _, *blocks = _HEAD.split(file.read_text(encoding="utf-8"))
        for block in blocks:
            [recipe] = tomllib.loads(f"[[recipe]]{block}")["recipe"]
            # What stands below the last key belongs to the next recipe.
            kept = block.rstrip().splitlines()
            while kept and (not kept[-1].strip() or kept[-1].startswith("#")):
                kept.pop()
            found[recipe["id"]] = "\n".join(("[[recipe]]", *kept[1:]))
    return found


@cache
def library_texts() -> Mapping[str, str]:
    """Return the texts of the shipped recipes by id."""
    return texts_in(shipped())


@cache
def library() -> Mapping[str, RecipeSection]:
    """Return the shipped recipes by id."""
    return recipes_in(shipped())


def _why(error: Exception) -> str:
    return str(error) if isinstance(error, tomllib.TOMLDecodeError) else file_words(error)
