"""Assays, permits, rinses: sections in, plans out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.config.faults import shown
from linewatch.config.windows import Stated, check_kinds, window
from linewatch.core.plan import Assay, ConditionPlan, DutyPlan, Permit, RinsePlan, Window

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from linewatch.config.faults import Faults
    from linewatch.config.model import AssaySection, BathSection, PermitSection, TankSection
    from linewatch.config.sections import Sections


def assays_of(sections: Sequence[AssaySection], key: str, faults: Faults) -> tuple[Assay, ...]:
    """Return what the laboratory looks for in a bath or tank."""
    known: set[str] = set()
    for each in sections:
        name = each.substance.casefold()
        if name in known:
            faults.add(f"{key}.assay", f"{shown(each.substance)} stands there twice", "once")
        known.add(name)
        limits = [each.low, each.target, each.high]
        stated = [limit for limit in limits if limit is not None]
        if stated != sorted(stated):
            faults.add(
                f"{key}.assay.{each.substance}",
                "its limits do not rise",
                "low, target and high rise in this order",
            )
    return tuple(
        Assay(
            substance=each.substance,
            unit=each.unit,
            low=each.low,
            high=each.high,
            target=each.target,
            every_s=each.every,
            source=each.source,
        )
        for each in sections
    )


def permits_of(sections: Sequence[PermitSection]) -> tuple[Permit, ...]:
    """Return the limits on substances in what is let go."""
    return tuple(
        Permit(
            substance=each.substance,
            daily_mg_per_l=each.daily,
            monthly_mg_per_l=each.monthly,
            source=each.source,
        )
        for each in sections
    )


def permit_windows(tank: TankSection, faults: Faults) -> Mapping[str, Window]:
    """Return what a permit allows of what is let go at a tank, by measurement kind."""
    stated = Stated(key=f"tank.{tank.id}.permit", windows=tank.permit)
    check_kinds(stated, faults)
    return {kind: window(kind, [stated], faults) for kind in tank.permit}


def rinse_of(tank: TankSection, sections: Sequence[TankSection], faults: Faults) -> RinsePlan:
    """Return what is known of a rinse besides its signals."""
    stated = tank.rinse
    if stated is None:
        return RinsePlan()
    key, known = f"tank.{tank.id}.rinse.fed_from", [each.id for each in sections]
    if stated.fed_from == tank.id:
        faults.add(key, "its own water would run in", "name the tank that its water comes from")
    elif stated.fed_from is not None and stated.fed_from not in known:
        faults.unknown(key, "tank", stated.fed_from, known)
    return RinsePlan(
        water_us=stated.water, fed_from=stated.fed_from, response_us=stated.response
    )


def duties_of(sections: Sections, faults: Faults) -> tuple[DutyPlan, ...]:
    """Return what is due from time to time; what a laboratory looks for is among it."""
    known = {each.id for each in sections.tanks} | {each.id for each in sections.baths}
    known |= {each.id for each in sections.rectifiers}
    for duty in sections.duties:
        if duty.of is not None and duty.of not in known:
            faults.unknown(
                f"duty.{duty.id}.of", "tank, bath or rectifier", duty.of, tuple(known)
            )
    return _duties(sections)


def _duties(sections: Sections) -> tuple[DutyPlan, ...]:
    own = [
        DutyPlan(id=each.id, text=each.text, every_s=each.every, subject=each.of or "")
        for each in sections.duties
    ]
    looked_at: tuple[BathSection | TankSection, ...] = (*sections.baths, *sections.tanks)
    analyses = [
        DutyPlan(
            id=f"{each.id}.analysis-{_slug(assay.substance)}",
            text=f"analyse {assay.substance} in {each.name}",
            every_s=assay.every,
            subject=each.id,
            substance=assay.substance,
        )
        for each in looked_at
        for assay in each.assay
        if assay.every is not None
    ]
    return (*own, *analyses)


def duty_conditions(sections: Sections) -> Iterable[ConditionPlan]:
    """Yield the alarm of each duty that is late; a study turns it."""
    for each in _duties(sections):
        subject = each.subject or (sections.line.id if sections.line is not None else "")
        yield ConditionPlan(
            id=f"{each.id}.overdue",
            tag=f"{subject}.{each.id.rpartition('.')[2]}",
            kind="found",
            priority="low",
            title=f"overdue: {each.text}",
            cause="its interval is over",
            consequence="what it guards against is not looked for",
            action="do it, and say so: `linewatch duty done`, or the analysis itself",
        )


def _slug(text: str) -> str:
    """Return a text as part of an id: 'boric-acid' of 'Boric acid'."""
    return "-".join("".join(c if c.isalnum() else " " for c in text.lower()).split())
