"""When a load's deposit reached what is wanted of the tank it hangs in.

Rule 1: the moment is noted once, at a look, between this look and the one before; from then on
        it stands, whatever the current does, until more is wanted or less is known to be on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.line.growth import known_thickness_um

if TYPE_CHECKING:
    from linewatch.core.line.loads import Loads
    from linewatch.core.line.machine import Line
    from linewatch.core.line.trips import Stay
    from linewatch.core.readings import Moment


def note_growth(loads: Loads, line: Line, tank: str, stay: Stay, at: Moment) -> None:
    """Note how thick a load's deposit is by now, and when it reached its target.

    Args:
        loads: All loads.
        line: The line.
        tank: Where the load is.
        stay: Its stay there.
        at: Now.
    """
    plating, visit = line.platings.get(tank), line.positions.visit.get(tank)
    if plating is None or plating.deposit is None or visit is None:
        return
    asked = loads.growing_in(line, loads.catalogue.tank[tank])
    if asked is None or asked.target_um is None:
        return
    now_um = known_thickness_um(visit, plating, at, asked)
    if now_um is None:
        return
    if now_um < asked.target_um:
        stay.reached_ns = -1
    elif stay.reached_ns < 0:
        # What is on grew evenly since the look before, as far as anybody can tell.
        before_ns, before_um = max(stay.grown_ns, stay.since_ns), stay.grown_um
        grown_um = now_um - before_um
        share = (asked.target_um - before_um) / grown_um if grown_um > 0.0 else 0.0
        share = min(1.0, max(0.0, share))
        stay.reached_ns = before_ns + round(share * (at.mono_ns - before_ns))
    stay.grown_ns, stay.grown_um = at.mono_ns, now_um
