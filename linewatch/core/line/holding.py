"""Loads on hold: what the last word about a load was, until another one is said.

Rule 1: a hold stands until somebody decides otherwise, however long ago the load left, and
        though another load bears its number by now.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.view import HeldPicture

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.commands import DecideLoad
    from linewatch.core.line.machine import Line
    from linewatch.core.line.trips import Trip
    from linewatch.core.readings import Moment

HELD: Final = "held"


@dataclass(frozen=True, slots=True)
class Hold:
    """That a load is held."""

    trip: int
    utc_ns: int = 0
    """When it was said; 0: an older record does not tell."""
    who: str = ""
    why: str = ""
    part: str = ""


class Holding:
    """Keeps the loads on hold."""

    def __init__(self) -> None:
        self.holds: dict[str, Hold] = {}
        """By number."""

    def decided(self, trip: Trip, part: str, command: DecideLoad, at: Moment) -> None:
        """Take what somebody decided about a load."""
        self.holds.pop(trip.number, None)
        if command.decision == HELD:
            self.holds[trip.number] = Hold(trip.trip, at.utc_ns, command.who, command.why, part)

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {number: asdict(each) for number, each in self.holds.items()}

    def recall(self, kept: Mapping[str, Any] | None, trips: Iterable[Trip]) -> None:
        """Go on from what was remembered; from the loads where an older memory knows none."""
        if kept is None:
            self.holds = {
                trip.number: Hold(trip.trip) for trip in trips if trip.decision == HELD
            }
            return
        self.holds = {number: Hold(**each) for number, each in kept.items()}


def held(line: Line) -> tuple[HeldPicture, ...]:
    """Return the loads on hold, the latest first."""
    from linewatch.core.line.loads import loads_of

    loads = loads_of(line)
    if loads is None:
        return ()
    found = []
    for number, hold in loads.holding.holds.items():
        trip = loads.trips.get(number)
        is_it = trip is not None and trip.trip == hold.trip
        tank = trip.tanks[-1] if trip is not None and is_it and trip.tanks else ""
        found.append(
            HeldPicture(
                load=number,
                utc_ns=hold.utc_ns,
                who=hold.who,
                why=hold.why,
                part=hold.part,
                tank=tank,
                is_number_reused=trip is not None and not is_it,
            )
        )
    return tuple(sorted(found, key=lambda each: -each.utc_ns))
