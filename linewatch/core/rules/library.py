"""All rules, and where each may watch."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.current import CURRENT
from linewatch.core.rules.cyanide import CYANIDE
from linewatch.core.rules.health import HEALTH
from linewatch.core.rules.heat import HEAT
from linewatch.core.rules.liquid import LIQUID
from linewatch.core.rules.movement import MOVEMENT
from linewatch.core.rules.output import OUTPUT
from linewatch.core.rules.treatment import TREATMENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.plan import ConditionPlan, Window
    from linewatch.core.rules.rule import Rule

RULES: Final[tuple[Rule, ...]] = (
    *HEAT,
    *CYANIDE,
    *LIQUID,
    *CURRENT,
    *OUTPUT,
    *MOVEMENT,
    *TREATMENT,
    *HEALTH,
)
"""Danger to people before what follows from it; a name is never given twice."""
BY_NAME: Final = {rule.name: rule for rule in RULES}


def rule_of(condition: ConditionPlan) -> Rule | None:
    """Return the rule that tells a condition; None where none does."""
    if condition.kind != "found":
        return None
    return BY_NAME.get(condition.tag.partition(".")[2])


def missing(
    rule: Rule, position: str, windows: Mapping[str, Window], beside: frozenset[str]
) -> tuple[str, ...] | None:
    """Return the signals that a rule lacks at a position.

    Args:
        rule: The rule.
        position: Kind of position, or 'rectifier'.
        windows: Window of each signal that is read there, by kind with suffix.
        beside: Kinds that are read in the tanks that a rectifier feeds.

    Returns:
        Kinds; empty: it watches; None: it is no rule for such a position.
    """
    if position not in rule.of or beside.intersection(rule.not_beside):
        return None
    lacks = [kind for kind in rule.needs if kind not in windows]
    lacks += [kind for kind in rule.beside if kind not in beside]
    if not lacks and rule.fits is not None and not rule.fits(windows):
        return None
    return tuple(lacks)


def unfit(
    rule: Rule, windows: Mapping[str, Window], beside: frozenset[str], *, holds_cyanide: bool
) -> str:
    """Return in words why a rule is none for a position of a kind that it may watch.

    Args:
        rule: The rule.
        windows: Window of each signal that is read there, by kind with suffix.
        beside: Kinds that are read in the tanks that a rectifier feeds.
        holds_cyanide: Whether its liquid holds cyanide.

    Returns:
        The words; '' where nothing speaks against it but signals that are not read.
    """
    other = sorted(beside.intersection(rule.not_beside))
    if other:
        return f"{', '.join(other)} is read in its tank: another rule watches there"
    if rule.in_cyanide and not holds_cyanide:
        return "it holds no cyanide, as far as the configuration says"
    is_read = all(kind in windows for kind in rule.needs)
    if is_read and rule.fits is not None and not rule.fits(windows):
        return rule.fits_says
    return ""
