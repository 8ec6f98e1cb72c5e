"""Routes and parts: sections in, plans out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.config.faults import shown
from linewatch.core.errors import Refused
from linewatch.core.loads.classes import least_um
from linewatch.core.plan import PartPlan, RoutePlan, StepPlan

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.config.faults import Faults
    from linewatch.config.model import PartSection, RouteSection

PERCENT = 100.0


def routes_of(sections: tuple[RouteSection, ...]) -> tuple[RoutePlan, ...]:
    """Return every route."""
    return tuple(
        RoutePlan(
            id=route.id,
            name=route.name,
            steps=tuple(
                StepPlan(tanks=step.tanks, shortest_s=step.shortest, longest_s=step.longest)
                for step in route.step
            ),
        )
        for route in sections
    )


def parts_of(sections: tuple[PartSection, ...], faults: Faults) -> tuple[PartPlan, ...]:
    """Return the catalogue of parts."""
    return tuple(
        PartPlan(
            id=part.id,
            name=part.name,
            route=part.route,
            area_dm2=part.area,
            area_tolerance_ratio=part.area_tolerance / PERCENT,
            amount_tolerance_ratio=part.amount_tolerance / PERCENT,
            usual_amount=part.weight if part.pieces is None else float(part.pieces),
            is_weighed=part.weight is not None,
            usual_on=part.usual_on,
            target_um=dict(part.target),
            least_um=_least_um(part, faults),
            distribution_ratio=(
                None if part.distribution is None else part.distribution / PERCENT
            ),
            strength_mpa=part.strength,
            bake_within_s=part.bake_within,
        )
        for part in sections
    )


def _least_um(part: PartSection, faults: Faults) -> Mapping[str, float]:
    if not part.designation:
        return {}
    try:
        return least_um(part.designation)
    except Refused as refused:
        faults.add(
            f"part.{part.id}.designation",
            f"{shown(part.designation)} is no designation",
            refused.reason,
        )
        return {}
