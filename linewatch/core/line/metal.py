"""Metal in each tank, from charge: how much, how sure, or why there is no figure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.electrochemistry.faraday import deposited_mass_g
from linewatch.core.electrochemistry.metals import Deposit, deposit
from linewatch.core.electrochemistry.thickness import mean_thickness_um
from linewatch.core.electrochemistry.uncertainty import (
    limits_term,
    mass_budget,
    thickness_budget,
)
from linewatch.core.integration.charge import UAS_PER_AH, uas
from linewatch.core.line.counting import Rectifier
from linewatch.core.plan import BathPlan, TankPlan

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.electrochemistry.uncertainty import Budget, Term
    from linewatch.core.integration.ledger import ChargeLedger
    from linewatch.core.plan import EfficiencyPlan, LinePlan

MOST_NOT_COVERED = 0.01
"""Share of a tank's charge that may have flowed at densities of which the efficiency is not
known; beyond it there is no figure for the metal. Common practice."""
SAME_AREA_RATIO = 1e-9
OTHER_AREA_RATIO = 0.05
"""How far another area may bend the efficiency: within its own doubt. Common practice."""
_BILLION = 1_000_000_000


def shared(charge: int, share: float) -> int:
    """Return a tank's share of a rectifier's charge.

    Args:
        charge: Charge of the rectifier [fine units].
        share: Share of the tank [1].

    Returns:
        Charge of the tank [µA s].
    """
    # To a billionth: an exact integer again, and the same however the charge was added up.
    return uas(charge * round(share * _BILLION) // _BILLION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """One rectifier's part in a tank."""

    rectifier: Rectifier
    share: float
    curve: int | None
    """Number of its efficiency curve in the ledger."""

    @property
    def ledger(self) -> ChargeLedger:
        """Return the rectifier's ledger."""
        return self.rectifier.ledger

    @property
    def name(self) -> str:
        """Return the rectifier's id."""
        return self.rectifier.plan.id


@dataclass(slots=True)
class Plating:
    """A tank through which current passes, and the metal that it lays down there."""

    tank: TankPlan
    bath: BathPlan | None
    feeds: tuple[Feed, ...]
    deposit: Deposit | None
    base_g: float = 0.0
    """Metal laid down while another deposit, efficiency or area was in force [g]."""
    base_cathodic: dict[str, int] = field(default_factory=dict)
    """Cathodic charge by rectifier when the present ones came into force [fine units]."""
    base_deposits: dict[str, int] = field(default_factory=dict)

    @property
    def efficiency(self) -> EfficiencyPlan | None:
        """Return the efficiency of its bath."""
        if self.bath is None or self.bath.deposit is None:
            return None
        return self.bath.deposit.efficiency

    def sums(self) -> tuple[dict[str, int], dict[str, int]]:
        """Return (cathodic charge, deposit charge where a curve tells it) by rectifier.

        Returns:
            Both in fine units: what a later figure is counted from.
        """
        return (
            {feed.name: feed.ledger.cathodic for feed in self.feeds},
            {
                feed.name: feed.ledger.deposits[feed.curve]
                for feed in self.feeds
                if feed.curve is not None
            },
        )

    def cathodic_uas(self, since: Mapping[str, int] | None = None) -> int:
        """Return the cathodic charge [µA s], all of it or since earlier sums."""
        since = since or {}
        return sum(
            shared(feed.ledger.cathodic - since.get(feed.name, 0), feed.share)
            for feed in self.feeds
        )

    def charge_ah(self, since: Mapping[str, int] | None = None) -> float:
        """Return the cathodic charge [A h], all of it or since earlier sums."""
        return self.cathodic_uas(since) / UAS_PER_AH

    def anodic_uas(self, since: Mapping[str, int] | None = None) -> int:
        """Return the anodic charge [µA s], all of it or since earlier sums."""
        since = since or {}
        return sum(
            shared(feed.ledger.anodic - since.get(feed.name, 0), feed.share)
            for feed in self.feeds
        )

    def not_covered_uas(self) -> int:
        """Return the charge that flowed at densities the curve does not tell [µA s]."""
        return sum(
            shared(feed.ledger.not_covered[feed.curve], feed.share)
            for feed in self.feeds
            if feed.curve is not None
        )

    def worst(self, now_ns: int) -> ChargeLedger:
        """Return the ledger with the most unmetered time: its account is the tank's."""
        if len(self.feeds) == 1:
            return self.feeds[0].ledger
        return max(
            (feed.ledger for feed in self.feeds), key=lambda each: each.unmetered_ns(now_ns)
        )

    def unmetered_ns(self, now_ns: int) -> dict[str, int]:
        """Return the unmetered time by rectifier [ns]."""
        return {feed.name: feed.ledger.unmetered_ns(now_ns) for feed in self.feeds}

    def totals(self, now_ns: int) -> dict[str, int]:
        """Return charge and account of time, in whole units: [µA s] and [ns]."""
        found = self.worst(now_ns).totals(now_ns)
        found["cathodic_uas"], found["anodic_uas"] = self.cathodic_uas(), self.anodic_uas()
        found["recovered_uas"] = sum(
            shared(feed.ledger.recovered, feed.share) for feed in self.feeds
        )
        return found

    def mass_g(self) -> float:
        """Return all metal laid down [g]."""
        return self.base_g + self.mass_since_g(self.base_cathodic, self.base_deposits)

    def mass_since_g(self, cathodic: Mapping[str, int], deposits: Mapping[str, int]) -> float:
        """Return the metal laid down since earlier sums [g].

        Args:
            cathodic: Earlier cathodic charge by rectifier [fine units].
            deposits: Earlier deposit charge by rectifier [fine units].

        Returns:
            Mass [g]; 0 where the bath lays down none.
        """
        efficiency = self.efficiency
        if self.deposit is None or efficiency is None:
            return 0.0
        equivalent = self.deposit.equivalent_g_per_ah
        if not efficiency.curve_a_per_dm2:
            charge_ah = max(0.0, self.charge_ah(cathodic))
            return deposited_mass_g(charge_ah, equivalent, efficiency=efficiency.value)
        now = self.sums()[1]
        fine = sum(charge - deposits.get(name, 0) for name, charge in now.items())
        deposit_ah = max(0, uas(fine)) / UAS_PER_AH
        return deposited_mass_g(deposit_ah, equivalent, efficiency=1.0)

    def missed_ah(self, now_ns: int) -> float:
        """Return what may have flowed at most in time for which nothing accounts [A h]."""
        return sum(feed.share * feed.rectifier.missed_ah(now_ns) for feed in self.feeds)

    def missed_g(self, now_ns: int) -> float:
        """Return the metal that so much charge may have laid down at most [g]."""
        efficiency = self.efficiency
        if self.deposit is None or efficiency is None:
            return 0.0
        most = max((efficiency.value, efficiency.high, *efficiency.curve_ratio))
        return deposited_mass_g(
            self.missed_ah(now_ns), self.deposit.equivalent_g_per_ah, efficiency=most
        )

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
        charge, lost = self.cathodic_uas(), self.not_covered_uas()
        if lost > MOST_NOT_COVERED * charge:
            return (
                f"{100.0 * lost / charge:.0f} % of the charge flowed outside {curve[0]:g} to"
                f" {curve[-1]:g} A/dm2, where the efficiency is not known"
            )
        return ""

    def refused_for(self, area_dm2: float | None, charge_ratio: float = 1.0) -> str:
        """Return why there is no figure for a load, '' if there is one.

        Args:
            area_dm2: Its area [dm2].
            charge_ratio: Its charge over what the configured share would give it [1]: with
                half of it the density is that of twice the area.
        """
        if area_dm2 is not None and charge_ratio > 0.0:
            area_dm2 = area_dm2 / charge_ratio
        return self.refused() or self._other_area(area_dm2)

    def _other_area(self, area_dm2: float | None) -> str:
        """Return why the efficiency that was counted with does not hold for a load's area."""
        plan, usual = self.efficiency, self.tank.area_dm2
        if plan is None or not plan.curve_a_per_dm2 or area_dm2 is None or usual is None:
            return ""
        if abs(area_dm2 - usual) <= SAME_AREA_RATIO * usual:
            return ""
        # The efficiency is followed at the density of the usual area; how far another area
        # bends it is bounded by the curve's own least and greatest value.
        spread = max(plan.curve_ratio) / max(1e-9, min(plan.curve_ratio)) - 1.0
        if abs(area_dm2 / usual - 1.0) * spread <= OTHER_AREA_RATIO:
            return ""
        return (
            f"the efficiency follows current density and was counted for {usual:g} dm2, not for"
            f" {area_dm2:g} dm2"
        )

    def thickness(
        self,
        mass_g: float,
        area_dm2: float,
        tolerance_ratio: float | None,
        more: tuple[Term, ...] = (),
    ) -> tuple[float, Budget]:
        """Return (mean thickness [µm], how sure it is) of a load's metal.

        Args:
            mass_g: The metal [g]; the tank lays down some.
            area_dm2: The load's area [dm2].
            tolerance_ratio: Limit of error of that area [1]; None: the rectifier's.
            more: Doubts of this load's own.

        Returns:
            Both.
        """
        deposit = self.deposit
        assert deposit is not None  # noqa: S101 - the caller has looked
        if tolerance_ratio is None:
            tolerance_ratio = self.area_tolerance_ratio()
        budget = thickness_budget(
            self.mass_budget().and_(*more),
            area_tolerance_ratio=tolerance_ratio,
            density_spread_ratio=deposit.density_spread_ratio,
        )
        return mean_thickness_um(mass_g, deposit.density_g_per_cm3, area_dm2), budget

    def charge_budget(self) -> Budget:
        """Return how sure the charge is: by the least sure of its rectifiers."""
        if len(self.feeds) == 1:
            return self.feeds[0].rectifier.charge_budget()
        return max(
            (feed.rectifier.charge_budget() for feed in self.feeds),
            key=lambda budget: budget.standard_ratio,
        )

    def mass_budget(self) -> Budget:
        """Return how sure the metal is."""
        budget, efficiency = self.charge_budget(), self.efficiency
        if efficiency is None or not efficiency.value > 0.0:
            return budget
        charge, lost = self.cathodic_uas(), self.not_covered_uas()
        if lost:
            budget = budget.and_(
                limits_term("charge at densities that the curve does not tell", lost / charge)
            )
        return mass_budget(
            budget,
            efficiency=efficiency.value,
            low=efficiency.low,
            high=efficiency.high,
            equivalent_spread_ratio=(
                self.deposit.equivalent_spread_ratio if self.deposit is not None else 0.0
            ),
        )

    def area_tolerance_ratio(self) -> float:
        """Return the limit of error of the area [1]."""
        return max(feed.rectifier.plan.area_tolerance_ratio for feed in self.feeds)

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            "in_force": self._in_force(),
            "mass_g": self.mass_g(),
            "base_g": self.base_g,
            "base_cathodic": self.base_cathodic,
            "base_deposits": self.base_deposits,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, after the ledgers have.

        A deposit, efficiency, area or share that was changed since holds from now on: the
        metal laid down before it stays what it was.
        """
        if kept["in_force"] == self._in_force():
            self.base_g = kept["base_g"]
            self.base_cathodic = dict(kept["base_cathodic"])
            self.base_deposits = dict(kept["base_deposits"])
        else:
            self.base_g = kept["mass_g"]
            self.base_cathodic, self.base_deposits = self.sums()

    def _in_force(self) -> str:
        """Return all that turns charge into metal, as text."""
        efficiency = self.efficiency
        if self.deposit is None or efficiency is None:
            return ""
        return repr(
            (
                self.deposit.equivalent_g_per_ah,
                efficiency.value,
                efficiency.curve_a_per_dm2,
                efficiency.curve_ratio,
                self.tank.area_dm2 if efficiency.curve_a_per_dm2 else None,
                [(feed.name, feed.share) for feed in self.feeds],
            )
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
            tank, bath, feeds, deposit(dict(lays.parts)) if lays is not None else None
        )
    return found


def _curve(ledger: ChargeLedger, tank: str) -> int | None:
    numbered = enumerate(ledger.source.curves)
    return next((k for k, curve in numbered if curve.tank == tank), None)
