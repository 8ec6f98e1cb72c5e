"""Which load was where, and when: from what was told of loads."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from linewatch.core.events import EventKind
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from linewatch.core.events import Event
    from linewatch.core.ports import StoredEvent

NS: Final = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A load in a tank."""

    load: str
    tank: str
    since_ns: int
    until_ns: int | None = None
    """None: it is still there, as far as the events tell."""


def stays_among(events: Sequence[StoredEvent], tanks: Collection[str]) -> tuple[Stay, ...]:
    """Return the stays of loads in some tanks that some events tell of, the oldest first."""
    still: dict[str, Stay] = {}
    over = []
    for event in (stored.event for stored in events):
        if event.kind is not EventKind.LOAD or event.subject not in tanks:
            continue
        if event.values.get("what") not in {"in", "named", "out"}:
            continue
        number = str(event.values.get("load") or "")
        before = still.pop(event.subject, None)
        if event.values.get("what") == "in":
            still[event.subject] = Stay(load=number, tank=event.subject, since_ns=event.utc_ns)
        elif event.values.get("what") == "named" and before is not None:
            still[event.subject] = replace(before, load=number)
        elif event.values.get("what") == "out":
            over.append(_ended(event, before, number))
    return tuple(sorted((*over, *still.values()), key=lambda each: each.since_ns))


def _ended(event: Event, before: Stay | None, number: str) -> Stay:
    """Return a stay that is over; how long it was stands in the event itself."""
    dwell_s = event.values.get("dwell_s")
    if before is None:
        lasted_ns = round(dwell_s * NS) if isinstance(dwell_s, float) else 0
        before = Stay(load=number, tank=event.subject, since_ns=event.utc_ns - lasted_ns)
    return replace(before, load=number or before.load, until_ns=event.utc_ns)


def loads_at(stays: Sequence[Stay], at_ns: int) -> str:
    """Return which loads were in at a time: 'load 4109 in'; '' for none."""
    there = [
        clean(each.load, 20) or "?"
        for each in stays
        if each.since_ns <= at_ns and (each.until_ns is None or at_ns < each.until_ns)
    ]
    return f"load {', '.join(there)} in" if there else ""
