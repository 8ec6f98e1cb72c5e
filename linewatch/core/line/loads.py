"""Follows each load through the line, and tells of every stay what the load received there.

Rule 1: a tag's number says which load it is ('number'), or a person does ('key'). Where
        neither does, a load is the one that was last seen nearest before this tank on its
        track ('order'); where not even a station tells of loads, current that comes on is a
        load ('current'). The record says which of them it was.
Rule 2: what is told is told whole: every figure of a stay stands in its event with what it
        was worked out from, so that the record needs nothing else.
Rule 3: people correct by adding; no card, decision or finding is ever changed.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.events import Event, EventKind
from linewatch.core.integration.charge import UAS_PER_AH
from linewatch.core.line.dissolving import reversed_ah
from linewatch.core.line.holding import Holding
from linewatch.core.line.load_acts import ACTS, act
from linewatch.core.line.ovens import Ovens
from linewatch.core.line.reaching import note_growth
from linewatch.core.line.received import Received, open_ns, received
from linewatch.core.line.sight import Sight, dwell
from linewatch.core.line.splitting import Splitting
from linewatch.core.line.stay_alarms import StayAlarms
from linewatch.core.line.study import Study
from linewatch.core.line.telling import told
from linewatch.core.line.trips import Catalogue, Stay, Trip, recalled
from linewatch.core.loads.present import lasting
from linewatch.core.loads.record import GRAVE, HANGS, HUNG, NOT_KNOWN
from linewatch.core.loads.travel import arrival, last_done
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.units import symbol

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.line.machine import Line
    from linewatch.core.line.study import Unwatched
    from linewatch.core.line.trips import Asked
    from linewatch.core.plan import LinePlan, StepPlan, TankPlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000
GONE_NS: Final = 4 * 3600 * NS
"""A number that comes back after this long without a tank is another load. Common practice."""
KEPT: Final = 200
"""Loads that have left and are still known here; the record knows all."""


class Loads(Study):
    """Keeps every load's way.

    Args:
        plan: The line as it is configured.
    """

    NAME = "loads"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.trips: dict[str, Trip] = {}
        """By number, the latest of each."""
        self.stays: dict[str, Stay] = {}
        """By tank."""
        self.catalogue = Catalogue(plan)
        self.ovens = Ovens(plan)
        self.holding = Holding()
        self.splitting = Splitting(plan)
        self._watched = _watched(plan)
        self.stay_alarms = StayAlarms(plan)
        self.sight = Sight()
        stations = {tag.subject for tag in plan.tags.values() if tag.kind == "load-present"}
        fed = {tank for rectifier in plan.rectifiers for tank, _ in rectifier.feeds}
        self._by_current = tuple(tank.id for tank in plan.tanks if tank.id in fed - stations)
        self._charges: dict[str, float] = {}
        """Charge at the last look of the tanks that only current tells of."""

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]."""
        return self.PERIOD_NS if self.plan.tanks else 0

    # What it hears and sees.

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear that a load came or left, and what was alarming meanwhile."""
        self.sight.hear(line, event)
        if event.kind is EventKind.ALARM and event.values.get("move") == "occur":
            self.stay_alarms.began(line, self.stays, str(event.values.get("alarm")))
        if event.kind is not EventKind.LOAD:
            return []
        number, what = str(event.values.get("load") or ""), event.values.get("what")
        trip = self.trips.get(number)
        if what in {HANGS, HUNG} and trip is not None:
            trip.hangs = what == HANGS
        if event.subject not in self.catalogue.tank:
            return []
        match what:
            case "in":
                return self.came(line, event, number, "number" if number else "order")
            case "named":
                return self.named(line, event, number)
            case "out":
                return self.left(line, event)
            case _:
                return []

    def pass_over(self, hole: Unwatched) -> None:
        """Note that for a time nobody looked where the loads are."""
        self.sight.pass_over(hole)

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Note what the tanks of all loads read now; see loads where only current tells."""
        found = []
        for tank in self._by_current:
            found += self._current(line, tank, at)
        for tank, stay in self.stays.items():
            self._note(line, tank, stay)
            self.stay_alarms.stands(line, tank, stay)
            note_growth(self, line, tank, stay, at)
        return found + self.ovens.look(line, self.trips, self.catalogue, at)

    def _current(self, line: Line, tank: str, at: Moment) -> list[Event]:
        """See a load come and leave by the current alone."""
        charge_ah = line.platings[tank].charge_ah()
        before_ah = self._charges.get(tank)
        self._charges[tank] = charge_ah
        flows = before_ah is not None and charge_ah > before_ah
        stay = self.stays.get(tank)
        event = _moved(tank, at)
        if flows and stay is None:
            return self.came(line, event, "", "current")
        trip = self.trips.get(stay.trip) if stay is not None else None
        if trip is not None and trip.by == "current" and not flows and before_ah is not None:
            return self.left(line, event)
        return []

    def _note(self, line: Line, tank: str, stay: Stay) -> None:
        plating = line.platings.get(tank)
        if plating is not None:
            told = [(feed.share, line.good(f"{feed.name}.current")) for feed in plating.feeds]
            now_a = sum(share * abs(each) for share, each in told if each is not None)
            stay.peak_a = max(stay.peak_a, now_a)
        for tag, _, _ in self._watched.get(tank, ()):
            value = line.good(tag)
            if value is None:
                continue
            row = stay.seen.setdefault(tag, [value, 0.0, value, 0.0])
            row[0], row[2] = min(row[0], value), max(row[2], value)
            row[1], row[3] = row[1] + value, row[3] + 1.0

    # Coming and leaving.

    def came(self, line: Line, event: Event, number: str, by: str) -> list[Event]:
        """Take a load that came into a tank."""
        tank = event.subject
        # What was in before must have left unseen: its stay ends here.
        found = self.left(line, event) if tank in self.stays else []
        self.splitting.settle(self, line, tank)
        trip = self._trip(event, number, tank, by)
        stay = Stay(trip.number, event.utc_ns, event.mono_ns)
        stay.unseen_s = float(event.values.get("unseen_s") or 0.0)
        stay.is_first = bool(event.values.get("is_first"))
        stay.hidden_s = self.sight.hidden_s(line, event)
        plating = line.platings.get(tank)
        if plating is not None:
            cathodic, deposits = plating.sums()
            stay.sums = {
                "cathodic": cathodic,
                "deposits": deposits,
                "unmetered": plating.unmetered_ns(event.mono_ns),
                "anodic": {feed.name: feed.ledger.anodic for feed in plating.feeds},
                "recovered": {feed.name: feed.ledger.recovered for feed in plating.feeds},
            }
            stay.open_ns = {
                feed.name: open_ns(feed.rectifier, event.mono_ns) for feed in plating.feeds
            }
        stay.portions = self.splitting.begun(tank)
        self.stays[tank] = stay
        self._note(line, tank, stay)
        self.stay_alarms.stands(line, tank, stay)
        return found + self.follow(event, trip, tank)

    def follow(self, event: Event, trip: Trip, tank: str) -> list[Event]:
        """Go on along the route; tell what was left out."""
        stay = self.stays.get(tank)
        stay = stay if stay is not None and stay.trip == trip.number else None
        is_hidden = self.sight.is_way_hidden(trip, event, stay)
        if stay is not None:
            stay.is_way_hidden = is_hidden
        trip.tanks.append(tank)
        trip.left_ns = -1
        route = self.catalogue.route_of(trip)
        if route is None:
            return []
        came = arrival(route, last_done(route, trip.tanks[:-1]), tank)
        if came.step is None:
            text = f"{self.catalogue.name(tank)} is not on its route, {route.name}"
            return [told(trip, event, text, {"what": "not-on-route", "tank": tank})]
        if len(trip.tanks) == 1:
            # What lies before the first tank where it was seen was not seen; who knows?
            return []
        return [
            self._left_out(event, trip, step, is_hidden=is_hidden) for step in came.left_out
        ]

    def _left_out(self, event: Event, trip: Trip, step: StepPlan, *, is_hidden: bool) -> Event:
        text = f"{self.catalogue.names(step)} was left out"
        if is_hidden:
            text = f"whether {text} is not known: nobody looked meanwhile"
            return told(trip, event, text, {"what": NOT_KNOWN, "tank": step.tanks[0]})
        return told(trip, event, text, {"what": "left-out", "tank": step.tanks[0]})

    def named(self, line: Line, event: Event, number: str) -> list[Event]:
        """Take the number of a load that came in without one, or with a wrong one."""
        stay = self.stays.get(event.subject)
        if stay is None or not number or stay.trip == number:
            return []
        self.splitting.settle(self, line, event.subject)
        before = self.trips.get(stay.trip)
        if before is not None and before.tanks[-1:] == [event.subject]:
            before.tanks.pop()
            before.left_ns = event.mono_ns
            if not before.tanks:
                del self.trips[stay.trip]
        trip = self._trip(event, number, event.subject, "number")
        stay.trip = trip.number
        self._note(line, event.subject, stay)
        return self.follow(event, trip, event.subject)

    def _trip(self, event: Event, number: str, tank: str, by: str) -> Trip:
        """Return the load that came in: a known one, or a new one."""
        track = self.catalogue.tank[tank].track
        if not number:
            found = self._by_order(tank, track)
            if found is not None:
                return found
            # Two that come in within a second are two loads.
            named = f"{track or 'line'}-{event.utc_ns // NS}"
            names = (f"{named}-{k}" if k else named for k in range(len(self.trips) + 1))
            number = next(each for each in names if each not in self.trips)
        known = self.trips.get(number)
        is_new = known is None or (
            known.left_ns >= 0 and event.mono_ns - known.left_ns > GONE_NS
        )
        if known is not None and (not is_new or not known.tanks):
            # A card written before the load came in is its card.
            known.track, known.by = known.track or track, known.by if known.tanks else by
            return known
        trip = Trip(number, known.trip + 1 if known else 1, event.utc_ns, track, by)
        self.trips.pop(number, None)
        self.trips[number] = trip
        self.forget()
        return trip

    def _by_order(self, tank: str, track: str) -> Trip | None:
        """Return the load that was last seen nearest before a tank."""
        places = self.catalogue.place
        waiting = [
            trip
            for trip in self.trips.values()
            if trip.track == track
            and trip.left_ns >= 0
            and trip.tanks
            and places.get(trip.tanks[-1], places[tank]) < places[tank]
        ]
        return max(
            waiting,
            key=lambda trip: (places.get(trip.tanks[-1], -1), -trip.left_ns),
            default=None,
        )

    def forget(self) -> None:
        """Let go of the loads that left longest ago, and that nobody holds."""
        kept = self.holding.holds
        gone = [
            number
            for number, each in self.trips.items()
            if each.left_ns >= 0 and number not in kept and not each.hangs
        ]
        for number in gone[: max(0, len(self.trips) - KEPT)]:
            del self.trips[number]

    def left(self, line: Line, event: Event) -> list[Event]:
        """Take that a load left a tank; tell of its stay."""
        tank = event.subject
        self.splitting.settle(self, line, tank)
        stay = self.stays.pop(tank, None)
        trip = self.trips.get(stay.trip) if stay is not None else None
        if stay is None or trip is None:
            return []
        self._note(line, tank, stay)
        trip.left_ns, trip.left_hidden_s = event.mono_ns, self.sight.hidden_s(line, event)
        values = self._values(line, event, trip, stay)
        if self.catalogue.tank[tank].kind in {"plate", "strike"}:
            trip.plated_utc_ns, trip.is_late = event.utc_ns, False
        dwell_s = float(values["dwell_s"] or 0.0)
        text = f"{lasting(dwell_s)} in {self.catalogue.name(tank)}{_words(values)}"
        return [told(trip, event, text, values)]

    def _values(self, line: Line, event: Event, trip: Trip, stay: Stay) -> dict[str, Any]:
        tank = self.catalogue.tank[event.subject]
        dwell_s = (event.mono_ns - stay.since_ns) / NS
        asked = self.catalogue.asked(trip, tank)
        shortest, longest = asked.shortest_s, asked.longest_s
        got = self._received(line, tank, stay, event, asked)
        part = self.catalogue.part_of(trip)
        return {
            "what": "stay",
            "tank": tank.id,
            "tank_name": tank.name,
            "kind": tank.kind,
            "bath": tank.bath or "",
            "by": trip.by,
            "part": asked.part,
            "in_utc_ns": stay.since_utc_ns,
            "out_utc_ns": event.utc_ns,
            "dwell_s": dwell_s,
            "shortest_s": shortest,
            "longest_s": longest,
            **dwell(dwell_s, (stay, trip.left_hidden_s), shortest, longest),
            "is_way_hidden": stay.is_way_hidden,
            "outside": self._outside(tank.id, stay),
            "unseen_s": max(stay.unseen_s, float(event.values.get("unseen_s") or 0.0)),
            "is_first": stay.is_first,
            "alarms": ", ".join(stay.alarms),
            "alarms_told": self.stay_alarms.told(tank, stay),
            "alarms_priority": self.stay_alarms.gravest(stay),
            "is_bath_before": self.catalogue.may_have_been_in(trip, tank),
            **self._temperature(tank.id, stay),
            **(asdict(got) if got is not None else {}),
            "layer_target_um": part.target_um.get(tank.bath or "") if part else None,
            "layer_least_um": part.least_um.get(got.deposit) if part and got else None,
            "fingerprint": line.plan.fingerprint,
        }

    def _received(
        self, line: Line, tank: TankPlan, stay: Stay, event: Event, asked: Asked
    ) -> Received | None:
        plating = line.platings.get(tank.id)
        if plating is None or not stay.sums:
            return None
        unseen_s = float(event.values.get("unseen_s") or 0.0)
        return received(plating, stay, (event.mono_ns, unseen_s), asked)

    def _outside(self, tank: str, stay: Stay) -> str:
        """Return in words what was outside its window while the load was in."""
        found = []
        for tag, low, high in self._watched.get(tank, ()):
            row = stay.seen.get(tag)
            if row is None:
                continue
            kind = tag.partition(".")[2]
            measured = MEASUREMENTS.get(kind.partition(".")[0])
            unit = f" {symbol(measured.unit)}" if measured is not None and measured.unit else ""
            if low is not None and row[0] < low:
                found.append(f"{kind} down to {row[0]:.4g}, at least {low:.4g}{unit} wanted")
            elif high is not None and row[2] > high:
                found.append(f"{kind} up to {row[2]:.4g}, at most {high:.4g}{unit} wanted")
        return "; ".join(found)

    def _temperature(self, tank: str, stay: Stay) -> dict[str, Any]:
        row = stay.seen.get(f"{tank}.temperature")
        if row is None or not row[3]:
            return {}
        return {
            "temperature_low_degc": row[0],
            "temperature_mean_degc": row[1] / row[3],
            "temperature_high_degc": row[2],
            "temperature_looks": int(row[3]),
        }

    # People.

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:
        """Take what a person says about a load."""
        return act(self, line, command, at) if isinstance(command, ACTS) else None

    def asked_in(self, tank: TankPlan) -> Asked | None:
        """Return what is asked of the load in a tank; None if none is known there."""
        stay = self.stays.get(tank.id)
        trip = self.trips.get(stay.trip) if stay is not None else None
        return self.catalogue.asked(trip, tank) if trip is not None else None

    def growing_in(self, line: Line, tank: TankPlan) -> Asked | None:
        """Return what is asked of the load in a tank, and its share of the rectifiers."""
        asked = self.asked_in(tank)
        if asked is None:
            return None
        charge, current = self.splitting.ratios(self, line, tank.id)
        plating, stay = line.platings.get(tank.id), self.stays[tank.id]
        back_ah = 0.0
        if plating is not None and stay.sums:
            charge_ah = plating.charge_ah(stay.sums["cathodic"]) * charge
            # Nothing is settled by looking: in parallel its present share must do for now.
            anodic_ah = plating.anodic_uas(stay.sums["anodic"]) * current / UAS_PER_AH
            dwell_s = (line.now_ns - stay.since_ns) / NS
            back_ah = reversed_ah(plating, charge_ah, anodic_ah, dwell_s)
        return replace(
            asked,
            charge_ratio=charge,
            current_ratio=current,
            reversed_ah=back_ah,
            reached_ns=stay.reached_ns,
            grave=self._grave(tank, stay, back_ah),
        )

    def _grave(self, tank: TankPlan, stay: Stay, back_ah: float) -> tuple[str, ...]:
        """Return what may have spoilt the load in a tank since it came in, in words."""
        is_alarm = self.stay_alarms.gravest(stay) in GRAVE
        return (
            *((f"{back_ah:.1f} A·h flowed the wrong way",) if back_ah else ()),
            *((f"alarms: {self.stay_alarms.told(tank, stay)}",) if is_alarm else ()),
        )

    def area_in(self, tank: str) -> tuple[float | None, float]:
        """Return (area [dm2] of the load in a tank, its limit of error [1])."""
        asked = self.asked_in(self.catalogue.tank[tank])
        if asked is None:
            return None, 0.0
        return asked.area_dm2, asked.area_tolerance_ratio or 0.0

    # Memory.

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {
            "trips": [asdict(trip) for trip in self.trips.values()],
            "stays": {tank: asdict(stay) for tank, stay in self.stays.items()},
            "ovens": self.ovens.remember(),
            "holds": self.holding.remember(),
            "splitting": self.splitting.remember(),
            "sight": self.sight.remember(),
            "charges": self._charges,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for tanks that the plan no longer has."""
        trips = [Trip(**each) for each in kept["trips"]]
        self.trips = {trip.number: trip for trip in trips}
        tanks = self.catalogue.tank
        self.stays = {
            tank: recalled(each) for tank, each in kept["stays"].items() if tank in tanks
        }
        self.ovens.recall(kept["ovens"])
        self.holding.recall(kept.get("holds"), trips)
        self.splitting.recall(kept.get("splitting", {}))
        self.sight.recall(kept.get("sight", {}))
        self._charges = {
            tank: charge for tank, charge in kept["charges"].items() if tank in self._by_current
        }


def loads_of(line: Line) -> Loads | None:
    """Return the loads of a line; None if nobody follows them."""
    return line.studies.of(Loads)


def _watched(plan: LinePlan) -> dict[str, tuple[tuple[str, float | None, float | None], ...]]:
    """Return by tank the tags with a window, and its temperature: (tag, low, high)."""
    found: dict[str, list[tuple[str, float | None, float | None]]] = {}
    for tag in plan.tags.values():
        window = tag.window
        if tag.kind == "temperature" or window.low is not None or window.high is not None:
            found.setdefault(tag.subject, []).append((tag.id, window.low, window.high))
    return {subject: tuple(rows) for subject, rows in found.items()}


def _words(values: Mapping[str, Any]) -> str:
    """Return what a load received, and what was odd, for the end of a sentence."""
    parts = []
    if values.get("charge_ah"):
        parts.append(f"{values['charge_ah']:.2f} A·h")
    if values.get("thickness_um") is not None:
        parts.append(f"{values['thickness_um']:.2f} ± {values['thickness_pm_um']:.2f} um")
    if values.get("reversed_ah"):
        parts.append(f"{values['reversed_ah']:.2f} A·h the wrong way")
    parts += [str(values[key]) for key in ("dwell", "outside") if values[key]]
    return "".join(f", {part}" for part in parts)


def _moved(tank: str, at: Moment) -> Event:
    """Return that something moved at a tank, for those who take events."""
    return Event(
        kind=EventKind.LOAD, subject=tank, utc_ns=at.utc_ns, mono_ns=at.mono_ns, text=""
    )
