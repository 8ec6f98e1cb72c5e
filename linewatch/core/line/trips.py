"""A load on its way, its stay in a tank, and what the catalogue says of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.loads.record import HANGS
from linewatch.core.loads.travel import follows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.plan import LinePlan, PartPlan, RoutePlan, StepPlan, TankPlan


@dataclass(slots=True)
class Trip:
    """A load on its way."""

    number: str
    trip: int
    """1 for the first load of this number, 2 for its next one."""
    began_utc_ns: int
    track: str
    by: str
    """What told of it first, see `Loads`: 'number', 'order', 'current', 'key', 'card'."""
    tanks: list[str] = field(default_factory=list)
    left_ns: int = -1
    """When it was last lifted out [ns]; -1 while it is in a tank."""
    left_hidden_s: float = 0.0
    """For how long nobody had looked when it was seen to have left [s]; 0: as usual."""
    plated_utc_ns: int = 0
    """End of its last plating: the bake's clock starts. 0: not plated yet."""
    card: dict[str, Any] = field(default_factory=dict)
    decision: str = ""
    is_late: bool = False
    """That its bake is late has been told."""
    hangs: bool = False
    """It was told to hang in the air, and nobody knows yet what became of it."""


@dataclass(slots=True)
class Portion:
    """What a load received of a rectifier that feeds other tanks too."""

    cathodic_uas: int = 0
    anodic_uas: int = 0
    doubt_uas: float = 0.0
    """How far the ratio of the areas may have led it astray, at most."""
    beside: list[str] = field(default_factory=list)
    """The loads that hung in the others meanwhile."""


@dataclass(slots=True)
class Stay:
    """What is noted while a load is in a tank."""

    trip: str
    """Number of the load."""
    since_utc_ns: int
    since_ns: int
    sums: dict[str, dict[str, int]] = field(default_factory=dict)
    """Charges by rectifier when it came in, by kind of sum."""
    seen: dict[str, list[float]] = field(default_factory=dict)
    """By tag: least, sum, most and count of what was seen."""
    alarms: list[str] = field(default_factory=list)
    unseen_s: float = 0.0
    """For how long nobody had looked when it was seen to come in."""
    open_ns: dict[str, int] = field(default_factory=dict)
    """By rectifier: time before it came in whose charge may still be told later."""
    is_first: bool = False
    """It was in already when the record began: what it got before is not known."""
    hidden_s: float = 0.0
    """How much earlier it may have come in [s]; 0: as seen."""
    is_way_hidden: bool = False
    """Where it was just before is not known; see `Sight`."""
    peak_a: float = 0.0
    """The largest current that was seen through it [A]."""
    portions: dict[str, Portion] = field(default_factory=dict)
    """By rectifier, of those that feed several tanks."""
    grown_ns: int = -1
    """When a look found its thickness last [ns]; -1: none did."""
    grown_um: float = 0.0
    """What it was then."""
    reached_ns: int = -1
    """When it reached what is wanted of this tank [ns]; -1: not yet, as far as is known."""


def recalled(kept: Mapping[str, Any]) -> Stay:
    """Return a stay as it was remembered."""
    portions = {name: Portion(**each) for name, each in kept.get("portions", {}).items()}
    return Stay(**{**kept, "portions": portions})


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of a load in a tank, and how large it is there."""

    part: str = ""
    area_dm2: float | None = None
    area_tolerance_ratio: float | None = None
    """None: the rectifier's."""
    area_from: str = ""
    target_um: float | None = None
    """Thickness wanted from this tank alone; None where several tanks share the layer."""
    distribution_ratio: float | None = None
    shortest_s: float | None = None
    longest_s: float | None = None
    """How long it has to stay, and may; by its route or the tank."""
    charge_ratio: float = 1.0
    """The load's charge so far over what the tank's configured share would give it."""
    current_ratio: float = 1.0
    """The same of the present current."""
    reversed_ah: float = 0.0
    """What flowed the wrong way through it so far [A h]; see `dissolving`."""
    reached_ns: int = -1
    """When it reached the thickness wanted, if a look has found that [ns]; else -1."""
    grave: tuple[str, ...] = ()
    """What may have spoilt it since it came in, in words."""


def usual(tank: TankPlan) -> Asked:
    """Return what is asked of a load in a tank of which nothing else is known."""
    return Asked(
        area_dm2=tank.area_dm2,
        area_from="a usual load of this tank",
        target_um=tank.target_um,
        distribution_ratio=tank.distribution_ratio,
        shortest_s=tank.shortest_dwell_s,
        longest_s=tank.longest_dwell_s,
    )


class Catalogue:
    """Parts and routes of a line.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        self.tank = {tank.id: tank for tank in plan.tanks}
        self.place = {tank.id: k for k, tank in enumerate(plan.tanks)}
        self.hangs_s = {
            each.tag.rpartition(".")[0]: each.limit
            for each in plan.conditions
            if each.kind == "found" and each.tag.endswith(f".{HANGS}")
        }
        """By tank: the least time after which a load that left it hangs in the air [s]."""
        self._parts = plan.parts
        self._part = {part.id: part for part in plan.parts}
        self._route = {route.id: route for route in plan.routes}

    def part_named(self, name: str) -> str:
        """Return the id of the part that a person names by its id or name; else the name."""
        wanted = name.strip().casefold()
        for part in self._parts:
            if wanted and wanted in {part.id.casefold(), part.name.casefold()}:
                return part.id
        return name.strip()

    def part_of(self, trip: Trip) -> PartPlan | None:
        """Return a load's part: by its card, else the usual one of its track.

        Where a track has several usual parts, the first one whose route the load has kept to.
        """
        named = trip.card.get("part")
        if named:
            return self._part.get(named)
        usual = [part for part in self._parts if part.usual_on == trip.track and trip.track]
        for part in usual:
            route = self._route_of(part)
            if route is None or follows(route, trip.tanks):
                return part
        return usual[0] if usual else None

    def route_of(self, trip: Trip) -> RoutePlan | None:
        """Return the route of a load's part."""
        return self._route_of(self.part_of(trip))

    def _route_of(self, part: PartPlan | None) -> RoutePlan | None:
        return self._route.get(part.route or "") if part is not None else None

    def dwell_limits(self, trip: Trip, tank: TankPlan) -> tuple[float | None, float | None]:
        """Return (shortest, longest) time of a load in a tank [s], by its route or the tank."""
        route = self.route_of(trip)
        steps = route.steps if route is not None else ()
        step = next((each for each in steps if tank.id in each.tanks), None)
        shortest, longest = (step.shortest_s, step.longest_s) if step else (None, None)
        return (
            tank.shortest_dwell_s if shortest is None else shortest,
            tank.longest_dwell_s if longest is None else longest,
        )

    def asked(self, trip: Trip, tank: TankPlan) -> Asked:
        """Return what is asked of a load in a tank."""
        part = self.part_of(trip)
        area_dm2, tolerance, source = self._area(trip, part, tank)
        target_um = tank.target_um
        if part is not None and self._has_layer_alone(part, tank):
            target_um = part.target_um.get(tank.bath or "", target_um)
        shortest_s, longest_s = self.dwell_limits(trip, tank)
        named = trip.card.get("part", "")
        distribution = part.distribution_ratio if part is not None else None
        return Asked(
            part=part.name if part is not None else named,
            area_dm2=area_dm2,
            area_tolerance_ratio=tolerance,
            area_from=source,
            target_um=target_um,
            distribution_ratio=tank.distribution_ratio
            if distribution is None
            else distribution,
            shortest_s=shortest_s,
            longest_s=longest_s,
        )

    def _area(
        self, trip: Trip, part: PartPlan | None, tank: TankPlan
    ) -> tuple[float | None, float | None, str]:
        """Return (area [dm2], its limit of error [1] or None, where it comes from)."""
        card = trip.card
        tolerance = part.area_tolerance_ratio if part is not None else None
        if card.get("area_dm2"):
            return card["area_dm2"], tolerance, "the load's card"
        if part is None or not part.area_dm2 or tolerance is None:
            return tank.area_dm2, None, "a usual load of this tank"
        if card.get("amount"):
            area_dm2 = part.area_dm2 * card["amount"]
            return area_dm2, tolerance, f"{part.name}, by the amount on its card"
        if part.usual_amount is None:
            return tank.area_dm2, None, "a usual load of this tank"
        # Nobody counted this load: it may be any that is usual.
        area_dm2 = part.area_dm2 * part.usual_amount
        tolerance += part.amount_tolerance_ratio
        return area_dm2, tolerance, f"{part.name}, by its usual amount"

    def _has_layer_alone(self, part: PartPlan, tank: TankPlan) -> bool:
        """Say whether one stay in this tank gives the whole layer of its bath."""
        route = self._route_of(part)
        if route is None or tank.bath is None:
            return False
        of_bath = [
            step
            for step in route.steps
            if any(
                (known := self.tank.get(each)) is not None and known.bath == tank.bath
                for each in step.tanks
            )
        ]
        return len(of_bath) == 1

    def may_have_been_in(self, trip: Trip, tank: TankPlan) -> bool:
        """Say whether a bath comes, on a load's way, before the first tank it was seen in.

        Args:
            trip: The load.
            tank: A tank of the bath.

        Returns:
            By its route, or where it has none, by the order of the tanks.
        """
        first = trip.tanks[0] if trip.tanks else tank.id
        route = self.route_of(trip)
        before = [each.id for each in self.tank.values() if each.track == tank.track]
        if route is not None:
            before = [each for step in route.steps for each in step.tanks]
        if tank.bath is None or first not in before:
            return False
        known = (self.tank.get(each) for each in before[: before.index(first)])
        return any(each is not None and each.bath == tank.bath for each in known)

    def name(self, tank: str) -> str:
        """Return a tank's name on screen."""
        known = self.tank.get(tank)
        return known.name if known is not None else tank

    def names(self, step: StepPlan) -> str:
        """Return the names of a step's tanks."""
        return " or ".join(self.name(tank) for tank in step.tanks)
