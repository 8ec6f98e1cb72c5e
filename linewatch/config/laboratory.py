"""Assays and permits: sections in, plans out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.config.faults import shown
from linewatch.config.windows import Stated, check_kinds, window
from linewatch.core.plan import Assay, Permit, Window

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.config.faults import Faults
    from linewatch.config.model import AssaySection, PermitSection, TankSection


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
