"""Loads between two positions: from where, since when, and to where as far as it is known.

Rule 1: where a load goes is told by its route; where it has none, by where loads from there
        have come in, if that is one position alone.
Rule 2: a load that has ended its way is not on it: its route is done, or loads that leave
        where it was are not seen again.
Rule 3: it is late by what is usual and allowed where it left, as its alarm is, whatever
        becomes of the alarm: one that stands behind another says nothing less of the load.
Rule 4: after half an hour a load is no more on its way, but for one that was told to hang.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.line.loads import loads_of
from linewatch.core.line.moves import Moves
from linewatch.core.line.ways import LAST_KINDS, LOST_NS
from linewatch.core.loads.travel import last_done
from linewatch.core.view import WayPicture

if TYPE_CHECKING:
    from linewatch.core.line.loads import Loads
    from linewatch.core.line.machine import Line
    from linewatch.core.line.trips import Trip
    from linewatch.core.line.ways import Ways
    from linewatch.core.readings import Moment

NS: Final = 1_000_000_000
TOLD: Final = frozenset({"number", "key", "card"})
"""What told of loads whose number is one that people know."""


def on_their_way(line: Line, at: Moment) -> tuple[WayPicture, ...]:
    """Return the loads that left a position and came into none yet, the longest out first.

    Args:
        line: The line.
        at: Now.
    """
    loads, moves = loads_of(line), line.studies.of(Moves)
    if loads is None:
        return ()
    ways = moves.ways if moves is not None else None
    found = []
    for trip in loads.trips.values():
        out_ns = at.mono_ns - trip.left_ns
        if trip.left_ns < 0 or not trip.tanks or out_ns < 0:
            continue
        if out_ns > LOST_NS and not trip.hangs:
            continue
        if trip.number in loads.ovens.baking:
            continue
        to = _to(loads, ways, trip)
        if to is None:
            continue
        found.append(
            WayPicture(
                load=trip.number,
                number=trip.number if trip.by in TOLD else "",
                part=_part(loads, trip),
                before=trip.tanks[-1],
                to=to,
                since_utc_ns=at.utc_ns - out_ns,
                out_s=out_ns / NS,
                **_allowed(line, ways, trip),
                hangs=trip.hangs,
            )
        )
    return tuple(sorted(found, key=lambda each: -each.out_s))


def _allowed(line: Line, ways: Ways | None, trip: Trip) -> dict[str, float]:
    """Return how long a load may be out, and what of its time does not count [s]."""
    loads = loads_of(line)
    out = ways.out.get(trip.number) if ways is not None else None
    if loads is None or ways is None or out is None:
        return {}
    allowed_ns = ways.allowed_ns(line, out, loads.catalogue.hangs_s.get(out.tank))
    if allowed_ns is None:
        return {}
    return {"allowed_s": allowed_ns / NS, "unseen_s": (out.since_ns - out.left_ns) / NS}


def _part(loads: Loads, trip: Trip) -> str:
    part = loads.catalogue.part_of(trip)
    return part.name if part is not None else ""


def _to(loads: Loads, ways: Ways | None, trip: Trip) -> tuple[str, ...] | None:
    """Return where a load may come in next; () if that is not known; None: nowhere."""
    before = trip.tanks[-1]
    if ways is not None and ways.ends(before):
        return None
    targets = tuple(ways.targets(before)) if ways is not None else ()
    route = loads.catalogue.route_of(trip)
    if route is not None:
        done = last_done(route, trip.tanks)
        if done == len(route.steps) - 1:
            return None
        if done >= 0:
            return _likely(route.steps[done + 1].tanks, targets)
    if not targets and _is_last(loads, before):
        return None
    return targets if len(targets) == 1 else ()


def _is_last(loads: Loads, tank: str) -> bool:
    """Say whether a tank looks like the end of its track, by what it is and where it stands."""
    tanks = loads.catalogue.tank
    own = [name for name, each in tanks.items() if each.track == tanks[tank].track]
    return tanks[tank].kind in LAST_KINDS or own[-1] == tank


def _likely(tanks: tuple[str, ...], targets: tuple[str, ...]) -> tuple[str, ...]:
    """Return those of a step's tanks into which loads have come from there, else all."""
    return tuple(tank for tank in tanks if tank in targets) or tanks
