"""How something is told of a load."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind
from linewatch.core.loads.record import subject

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Part
    from linewatch.core.line.trips import Trip
    from linewatch.core.readings import Moment


def told(trip: Trip, at: Moment | Event, text: str, values: Mapping[str, Part]) -> Event:
    """Return an event about a load; see `subject` for what it is about."""
    return Event(
        kind=EventKind.LOAD,
        subject=subject(trip.number),
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=text,
        values={**values, "load": trip.number, "trip": trip.trip},
    )
