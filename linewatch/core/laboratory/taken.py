"""What an analysis is about: the bath of a tank, its substance as known there, its limits.

Rule 1: tanks of one bath hold one solution: what is found in a tank is found in its bath,
        unless the tank itself is looked after by the laboratory for that substance.
Rule 2: a substance stays as it was typed, unless it is known there under other letters, or by
        the symbol of the element that was named in words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.errors import Refused, UnitMismatch

if TYPE_CHECKING:
    from linewatch.core.commands import LogAnalysis
    from linewatch.core.plan import Assay, LinePlan

ELEMENTS: Final[dict[str, str]] = {
    "silver": "Ag",
    "gold": "Au",
    "cadmium": "Cd",
    "cobalt": "Co",
    "chromium": "Cr",
    "copper": "Cu",
    "iron": "Fe",
    "indium": "In",
    "nickel": "Ni",
    "lead": "Pb",
    "palladium": "Pd",
    "platinum": "Pt",
    "rhodium": "Rh",
    "tin": "Sn",
    "zinc": "Zn",
}
"""Symbols of the elements that are plated, by their English names (IUPAC)."""
LABORATORY_UNITS: Final = frozenset(
    {"mL/L", "ml/l", "mol/L", "mmol/L", "mg/kg", "g/kg", "ppm", "ppb", "mN/m", "vol%", "wt%"}
    | {"Be", "°Be", "°Bé"}
)
"""Units besides those of core/units.py in which laboratories report: common practice."""


def place_of(plan: LinePlan, subject: str, substance: str) -> tuple[str, str]:
    """Return the bath or tank that an analysis belongs to, and the substance as known there.

    Args:
        plan: The line.
        subject: Id of a bath or tank, as a person named it.
        substance: As a person typed it.

    Returns:
        (subject, substance).
    """
    typed = substance.strip()
    own = plan.assay(subject, typed) or plan.assay(subject, _symbol(typed))
    if own is not None:
        return subject, own.substance
    tank = next((each for each in plan.tanks if each.id == subject), None)
    where = tank.bath if tank is not None and tank.bath else subject
    known = _known(plan, where)
    for wanted in (typed.casefold(), _symbol(typed).casefold()):
        if wanted in known:
            return where, known[wanted]
    return where, typed


def _symbol(typed: str) -> str:
    return ELEMENTS.get(typed.casefold(), typed)


def _known(plan: LinePlan, subject: str) -> dict[str, str]:
    """Return the substances that a bath or tank is known to have, by their small letters."""
    bath = next((each for each in plan.baths if each.id == subject), None)
    metals = bath.deposit.parts if bath is not None and bath.deposit is not None else ()
    names = [name.partition("(")[0] for name, _ in metals]
    names += [
        each.substance for name, assays in plan.assays() if name == subject for each in assays
    ]
    return {name.casefold(): name for name in names}


def limits_of(plan: LinePlan, command: LogAnalysis) -> tuple[float | None, float | None]:
    """Return the limits of what was found, in the unit in which it was found.

    Args:
        plan: The line.
        command: The analysis, by any name of its place and substance.

    Returns:
        (low, high), each None where there is none.

    Raises:
        Refused: nobody knows the unit, or the limits are of another kind.
    """
    subject, substance = place_of(plan, command.subject, command.substance)
    assay = plan.assay(subject, substance)
    if assay is not None and command.unit == assay.unit:
        return assay.low, assay.high
    asked = f"write an analysis of {command.substance} in {command.subject}"
    if command.unit not in LABORATORY_UNITS and units.find(command.unit) is None:
        wanted = assay.unit if assay is not None else "g/L, mg/L, mL/L, mol/L, ppm or %"
        raise Refused(asked, f"the unit {command.unit!r} is not known; write it in {wanted}")
    return (None, None) if assay is None else _converted(assay, command, asked)


def _converted(
    assay: Assay, command: LogAnalysis, asked: str
) -> tuple[float | None, float | None]:
    try:
        low, high = (
            None if each is None else units.convert(each, assay.unit, command.unit)
            for each in (assay.low, assay.high)
        )
    except UnitMismatch:
        raise Refused(
            asked, f"its limits are in {assay.unit}, not in {command.unit!r}"
        ) from None
    return low, high


def verdict(plan: LinePlan, command: LogAnalysis) -> str:
    """Return how an analysis stands to its limits: 'above its limit 78 g/L'; '' for well.

    Raises:
        Refused: see `limits_of`.
    """
    low, high = limits_of(plan, command)
    if low is not None and command.value < low:
        return f"below its limit {low:g} {command.unit}".rstrip()
    if high is not None and command.value > high:
        return f"above its limit {high:g} {command.unit}".rstrip()
    return ""


def remarks(plan: LinePlan, command: LogAnalysis) -> str:
    """Return what the person who wrote an analysis down is told of it, in words.

    Returns:
        Whose analysis it is where a tank was named, what its substance is known as, and how
        it stands to its limits; '' where there is nothing to say.

    Raises:
        Refused: see `limits_of`.
    """
    subject, substance = place_of(plan, command.subject, command.substance)
    told = []
    if subject != command.subject:
        bath = next((each.name for each in plan.baths if each.id == subject), subject)
        tank = next((each.called for each in plan.tanks if each.id == command.subject), "")
        told.append(f"it is an analysis of the bath {bath}, which {tank} holds")
    if substance.casefold() != command.substance.strip().casefold():
        told.append(f"{command.substance.strip()} is {substance} there")
    told.append(verdict(plan, command))
    return "; ".join(each for each in told if each)
