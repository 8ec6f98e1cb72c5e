"""Figures that are worked out from a recorded one, over any span: charge, deposit, density.

A total of the whole record stands in the picture. This is how one grew within a span: from the
mean current of each bucket and the seconds of it that were good. What was not recorded counts
as nothing here and stays a gap; the line's own totals recover it from the device's meter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.electrochemistry.metals import deposit
from linewatch.core.ports import Series

if TYPE_CHECKING:
    from linewatch.core.plan import BathPlan, LinePlan, RectifierPlan, TankPlan

S_PER_H = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedOut:
    """One figure that follows from a rectifier's current."""

    id: str
    """'nickel-1.charge', 'nickel-1.deposit', 'nickel-1.current-density'."""
    tag: str
    """The current that it is worked out from."""
    factor: float
    """The figure over the current [unit/A], or over its integral [unit/(A h)]."""
    nothing_a: float
    """Currents of smaller magnitude count as none."""
    is_sum: bool
    """Whether it adds up over the span."""


def worked_out(plan: LinePlan) -> dict[str, WorkedOut]:
    """Return every figure that can be worked out, by id.

    Args:
        plan: The line as it is configured.

    Returns:
        Of each tank that one rectifier feeds: its cathodic charge [A h]; its current density
        [A/dm2] where the area is known; its deposit [g] where one efficiency is known.
    """
    tanks = {tank.id: tank for tank in plan.tanks}
    baths = {bath.id: bath for bath in plan.baths}
    fed = [tank for each in plan.rectifiers for tank, _ in each.feeds]
    found: dict[str, WorkedOut] = {}
    for each in plan.rectifiers:
        if f"{each.id}.current" not in plan.tags:
            continue
        for tank_id, share in each.feeds:
            tank = tanks.get(tank_id)
            if tank is not None and fed.count(tank_id) == 1:
                bath = baths.get(tank.bath or "")
                found |= {one.id: one for one in _of_tank(tank, each, share, bath)}
    return found


def _of_tank(
    tank: TankPlan, rectifier: RectifierPlan, share: float, bath: BathPlan | None
) -> list[WorkedOut]:
    sign = 1.0 if rectifier.polarity == "cathodic" else -1.0

    def one(kind: str, factor: float, *, is_sum: bool) -> WorkedOut:
        return WorkedOut(
            id=f"{tank.id}.{kind}",
            tag=f"{rectifier.id}.current",
            factor=sign * share * factor,
            nothing_a=rectifier.zero_cutoff_a,
            is_sum=is_sum,
        )

    found = [one("charge", 1.0, is_sum=True)]
    if tank.area_dm2 is not None:
        found.append(one("current-density", 1.0 / tank.area_dm2, is_sum=False))
    lays = bath.deposit if bath is not None else None
    if lays is not None and not lays.efficiency.curve_a_per_dm2:
        laid = deposit(dict(lays.parts))
        found.append(
            one("deposit", laid.equivalent_g_per_ah * lays.efficiency.value, is_sum=True)
        )
    return found


def series_of(which: WorkedOut, current: Series) -> Series:
    """Return a figure over a span, from its current over the same span.

    Args:
        which: The figure.
        current: The current [A].

    Returns:
        In the figure's unit; a sum begins at nothing and never falls, since only cathodic
        current lays down; a bucket in which nothing good was recorded is a gap.
    """
    flows = np.abs(current.mean) >= which.nothing_a
    ends = [
        np.where(flows, which.factor * each, 0.0)
        for each in (current.low, current.mean, current.high)
    ]
    is_gap = ~(current.good_s > 0.0)
    if which.is_sum:
        grown = np.where(is_gap, 0.0, np.maximum(ends[1], 0.0) * current.good_s / S_PER_H)
        ends = [np.cumsum(grown)] * 3
    low, mean, high = (np.where(is_gap, np.nan, each) for each in ends)
    return Series(
        tag=which.id,
        start_utc_ns=current.start_utc_ns,
        low=np.minimum(low, high),
        mean=mean,
        high=np.maximum(low, high),
        good_s=current.good_s,
    )
