"""Which positions hold cyanide, so that acid in them frees deadly gas.

Rule 1: who says it of a tank, a bath or a recipe is believed, the nearest first.
Rule 2: where nobody says it, a caution that names cyanide means it: the mistake that warns too
        often is the smaller one.
Rule 3: a rinse holds what the nearest position before it on its track drags in, through all
        rinses between them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.config.model import BathSection, RecipeSection, TankSection
    from linewatch.config.sections import Sections


def holding_cyanide(sections: Sections, recipes: Mapping[str, RecipeSection]) -> frozenset[str]:
    """Return the ids of all tanks that hold cyanide.

    Args:
        sections: What is configured.
        recipes: By id.
    """
    baths = {bath.id: bath for bath in sections.baths}
    before: dict[str, bool] = {}
    found = set()
    for tank in sections.tanks:
        own = _own(tank, baths, recipes)
        is_rinse = tank.kind == "rinse"
        holds = before.get(tank.track, False) if own is None and is_rinse else bool(own)
        if not is_rinse:
            before[tank.track] = holds
        if holds:
            found.add(tank.id)
    return frozenset(found)


def _own(
    tank: TankSection,
    baths: Mapping[str, BathSection],
    recipes: Mapping[str, RecipeSection],
) -> bool | None:
    """Return what is said of a tank's own liquid; None: nothing."""
    if tank.cyanide is not None:
        return tank.cyanide
    bath = baths.get(tank.bath or "")
    if bath is None:
        recipe = recipes.get(tank.recipe or "")
        return None if recipe is None else _said(recipe)
    recipe = recipes.get(bath.recipe or "")
    said = _said(bath)
    return _said(recipe) if said is None and recipe is not None else said


def _said(section: BathSection | RecipeSection) -> bool | None:
    """Return what a bath or recipe says; None: neither its key nor its caution says it."""
    if section.cyanide is not None:
        return section.cyanide
    return True if "cyanide" in section.caution.casefold() else None
