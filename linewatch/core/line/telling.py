"""How something is told of a load."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Part
    from linewatch.core.line.trips import Trip
    from linewatch.core.readings import Moment


def told(trip: Trip, at: Moment | Event, text: str, values: Mapping[str, Part]) -> Event:
    """Return an event about a load; its subject is 'load-' and the load's number."""
    return Event(
        kind=EventKind.LOAD,
        subject=subject(trip.number),
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=text,
        values={**values, "load": trip.number, "trip": trip.trip},
    )


def subject(number: str) -> str:
    """Return what events about a load name as their subject."""
    return f"load-{number}"
