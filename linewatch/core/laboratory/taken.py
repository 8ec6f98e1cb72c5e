"""What an analysis is about: the bath of a tank, its substance as known there, its limits.

Rule 1: tanks of one bath hold one solution: what is found in a tank is found in its bath,
        unless the tank itself is looked after by the laboratory for that substance.
Rule 2: a substance stays as it was typed, unless it is known there under other letters, or by
        the symbol of the element that was named in words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.electrochemistry.alloys import ELEMENTS
from linewatch.core.errors import Refused, UnitMismatch
from linewatch.core.pages import span_words

if TYPE_CHECKING:
    from linewatch.core.commands import LogAnalysis
    from linewatch.core.plan import Assay, LinePlan, Permit

LABORATORY_UNITS: Final = frozenset(
    {"mL/L", "ml/l", "mol/L", "mmol/L", "mg/kg", "g/kg", "ppm", "ppb", "mN/m", "vol%", "wt%"}
    | {"Be", "°Be", "°Bé"}
)
"""Units besides those of core/units.py in which laboratories report: common practice."""
SET_RIGHT: Final = "set the bath right by its own sheet, then analyse again"
HOLD: Final = "hold the water, sample again, and see `linewatch discharge now`"
DAYS_TO_COME: Final = "see `linewatch discharge day` for what the days to come may average"
HOURS_TOLD: Final = 24.0
"""From so many hours on an interval is told in days."""


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
    if _has_permit(plan, subject):
        names += [each.substance for each in plan.permits]
    return {name.casefold(): name for name in names}


def _has_permit(plan: LinePlan, subject: str) -> bool:
    """Say whether water leaves at a tank."""
    return any(each.id == subject and each.permit for each in plan.tanks)


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
    """Return which limit an analysis keeps or breaks, and what is next; '' without limits.

    Where water leaves, the permit's limits are meant: a value is held against the daily one,
    and told to be above the monthly mean's, which no single value breaks.

    Raises:
        Refused: see `limits_of`.
    """
    low, high = limits_of(plan, command)
    subject, substance = place_of(plan, command.subject, command.substance)
    permit = _permit(plan, subject, substance)
    if permit is not None:
        return _against_permit(permit, command)
    if low is None and high is None:
        return ""
    unit = command.unit
    span = span_words(low, high)
    assay = plan.assay(subject, substance)
    if low is not None and command.value < low:
        return f"below its working range {span} {unit}; next: {SET_RIGHT}"
    if high is not None and command.value > high:
        return f"above its working range {span} {unit}; next: {SET_RIGHT}"
    every_s = assay.every_s if assay is not None else None
    again = "" if every_s is None else f"; next: the same again within {_span(every_s)}"
    return f"within its working range {span} {unit}{again}"


def _permit(plan: LinePlan, subject: str, substance: str) -> Permit | None:
    """Return the limits on a substance where water leaves; None elsewhere."""
    if not _has_permit(plan, subject):
        return None
    wanted = substance.casefold()
    return next((each for each in plan.permits if each.substance.casefold() == wanted), None)


def _against_permit(permit: Permit, command: LogAnalysis) -> str:
    try:
        value = units.convert(command.value, command.unit, "mg/L")
    except UnitMismatch:
        return f"not held against the permit, whose limits are in mg/L, not {command.unit}"
    daily, monthly = permit.daily_mg_per_l, permit.monthly_mg_per_l
    if daily is not None and value > daily:
        return f"above its daily limit {daily:g} mg/L; next: {HOLD}"
    told = [f"within its daily limit {daily:g} mg/L"] if daily is not None else []
    if monthly is not None and value > monthly:
        told.append(f"above the limit of the month's mean {monthly:g} mg/L")
        return f"{', '.join(told)}; next: {DAYS_TO_COME}"
    if monthly is not None:
        told.append(f"within that of the month's mean {monthly:g} mg/L")
    return ", ".join(told)


def _span(seconds: float) -> str:
    hours = seconds / 3600.0
    return f"{hours:g} h" if hours < HOURS_TOLD else f"{hours / 24.0:g} d"


def remarks(plan: LinePlan, command: LogAnalysis) -> str:
    """Return what the person who wrote an analysis down is told of it, in words.

    Returns:
        Substance and value, whose analysis it is where a tank was named, which limit it keeps
        or breaks, and what is next.

    Raises:
        Refused: see `limits_of`.
    """
    subject, substance = place_of(plan, command.subject, command.substance)
    told = [f"{substance} {command.value:g} {command.unit}".rstrip()]
    told[0] += f", {verdict(plan, command) or 'no limits are configured for it there'}"
    if subject != command.subject:
        bath = next((each.name for each in plan.baths if each.id == subject), subject)
        tank = next((each.called for each in plan.tanks if each.id == command.subject), "")
        told.append(f"it is an analysis of the bath {bath}, which {tank} holds")
    if substance.casefold() != command.substance.strip().casefold():
        told.append(f"{command.substance.strip()} is {substance} there")
    return "; ".join(told)
