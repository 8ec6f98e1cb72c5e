"""Metal in each tank, from charge: how much, how sure, or why there is no figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.faraday import deposited_mass_g
from linewatch.core.electrochemistry.metals import Deposit, deposit
from linewatch.core.electrochemistry.uncertainty import charge_budget, mass_budget
from linewatch.core.integration.charge import UAS_PER_AH
from linewatch.core.line.counting import shared

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.electrochemistry.uncertainty import Budget
    from linewatch.core.integration.deposit import DepositCurve
    from linewatch.core.integration.ledger import ChargeLedger
    from linewatch.core.line.counting import Rectifier
    from linewatch.core.plan import BathPlan, EfficiencyPlan, LinePlan, TankPlan

MOST_NOT_COVERED = 0.01
"""Share of a tank's charge that may have flowed at densities of which the efficiency is not
known; beyond it there is no figure for the metal. Common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """One rectifier's part in a tank."""

    rectifier: Rectifier
    share: float
    curve: int | None
    """Number of its efficiency curve in the ledger."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plating:
    """A tank that lays down metal, or at least passes current."""

    tank: TankPlan
    bath: BathPlan | None
    feeds: tuple[Feed, ...]
    deposit: Deposit | None

    @property
    def efficiency(self) -> EfficiencyPlan | None:
        """Return the efficiency of its bath."""
        if self.bath is None or self.bath.deposit is None:
            return None
        return self.bath.deposit.efficiency

    def charge_ah(self, since: Mapping[str, int] | None = None) -> float:
        """Return the cathodic charge [A h], all of it or since an earlier state."""
        return self.cathodic_uas(since) / UAS_PER_AH

    def cathodic_uas(self, since: Mapping[str, int] | None = None) -> int:
        """Return the cathodic charge [µA s], all of it or since an earlier state."""
        return sum(
            shared(
                feed.rectifier.ledger.cathodic - (since or {}).get(feed.rectifier.plan.id, 0),
                feed.share,
            )
            for feed in self.feeds
        )

    def anodic_uas(self) -> int:
        """Return the anodic charge [µA s]."""
        return sum(shared(feed.rectifier.ledger.anodic, feed.share) for feed in self.feeds)

    def deposits(self) -> dict[str, int]:
        """Return the deposit charge by rectifier, where a curve tells it [fine units]."""
        return {
            feed.rectifier.plan.id: feed.rectifier.ledger.deposits[feed.curve]
            for feed in self.feeds
            if feed.curve is not None
        }

    def worst(self, now_ns: int) -> str:
        """Return the rectifier with the most unmetered time: its account is the tank's."""
        return max(
            (feed.rectifier for feed in self.feeds),
            key=lambda each: each.ledger.unmetered_ns(now_ns),
        ).plan.id

    def not_covered_uas(self) -> int:
        """Return the charge that flowed at densities the curve does not tell [µA s]."""
        return sum(
            shared(feed.rectifier.ledger.not_covered[feed.curve], feed.share)
            for feed in self.feeds
            if feed.curve is not None
        )

    def mass_g(
        self,
        cathodic: Mapping[str, int] | None = None,
        deposits: Mapping[str, int] | None = None,
    ) -> float:
        """Return the metal laid down [g], all of it or since an earlier state."""
        efficiency = self.efficiency
        if self.deposit is None or efficiency is None:
            return 0.0
        equivalent = self.deposit.equivalent_g_per_ah
        if not efficiency.curve_a_per_dm2:
            return deposited_mass_g(
                self.charge_ah(cathodic), equivalent, efficiency=efficiency.value
            )
        fine = sum(
            charge - (deposits or {}).get(name, 0) for name, charge in self.deposits().items()
        )
        return deposited_mass_g(shared(fine, 1.0) / UAS_PER_AH, equivalent, efficiency=1.0)

    def refused(self) -> str:
        """Return why there is no figure for the metal, '' if there is one."""
        efficiency = self.efficiency
        if self.deposit is None or efficiency is None:
            return "its bath lays down no metal"
        curve = efficiency.curve_a_per_dm2
        if not curve:
            return ""
        if self.tank.area_dm2 is None:
            return "the efficiency follows current density, and the area is not known"
        charge = self.cathodic_uas()
        if charge and self.not_covered_uas() > MOST_NOT_COVERED * charge:
            share = 100.0 * self.not_covered_uas() / charge
            return (
                f"{share:.0f} % of the charge flowed outside {curve[0]:g} to"
                f" {curve[-1]:g} A/dm2, where the efficiency is not known"
            )
        return ""

    def charge_budget(self) -> Budget:
        """Return how sure the charge is."""
        return charge_budget(
            sensor_class_ratio=max(
                (feed.rectifier.plan.current_class_ratio for feed in self.feeds), default=0.0
            )
        )

    def mass_budget(self) -> Budget:
        """Return how sure the metal is."""
        efficiency = self.efficiency
        if efficiency is None or not efficiency.value > 0.0:
            return self.charge_budget()
        return mass_budget(
            self.charge_budget(),
            efficiency=efficiency.value,
            low=efficiency.low,
            high=efficiency.high,
        )


def platings(plan: LinePlan, rectifiers: Mapping[str, Rectifier]) -> dict[str, Plating]:
    """Return every tank that a rectifier feeds, by id."""
    baths = {bath.id: bath for bath in plan.baths}
    found = {}
    for tank in plan.tanks:
        feeds = tuple(
            Feed(rectifier=each, share=share, curve=_curve(each.ledger, tank.id))
            for each in rectifiers.values()
            for fed, share in each.plan.feeds
            if fed == tank.id
        )
        if not feeds:
            continue
        bath = baths.get(tank.bath or "")
        lays = bath.deposit if bath is not None else None
        found[tank.id] = Plating(
            tank=tank,
            bath=bath,
            feeds=feeds,
            deposit=deposit(dict(lays.parts)) if lays is not None else None,
        )
    return found


def _curve(ledger: ChargeLedger, tank: str) -> int | None:
    curves: tuple[DepositCurve, ...] = ledger.source.curves
    return next((k for k, curve in enumerate(curves) if curve.tank == tank), None)
