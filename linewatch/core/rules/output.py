"""Units whose output does not bring the current that is set, or none. Common practice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.current import (
    CLEANING,
    FLOWS_RATIO,
    NO_CURRENT,
    NOT_CLEAN,
    RAMPED_S,
    REST,
    SETTLED_S,
)
from linewatch.core.rules.rule import Rule, Told

if TYPE_CHECKING:
    from linewatch.core.rules.rule import Kept, Seen

STARTED_S: Final = 40.0
"""By then a unit drives a current through a load that has come in: common practice."""
LIVE_RATIO: Final = 0.4
AT_LIMIT_RATIO: Final = 0.96
"""Beyond this share of its rated volts a unit stands at its limit: common practice."""


def _percent(current_a: float, seen: Seen) -> float:
    """Return a current, without its sign, over what the unit is built for [%]."""
    return 100.0 * abs(current_a) / seen.rated_a if seen.rated_a > 0.0 else 0.0


def _suspected(value: float) -> Told:
    """Return that something looks like what a rule tells, too early to say it."""
    return Told(is_there=False, value=value, is_suspected=True)


def at_limit(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell volts at the unit's limit with too little current."""
    current, volts, wanted = (seen.value[k] for k in ("current", "voltage", "current-set"))
    if current is None or volts is None or wanted is None or not seen.work:
        return None, kept
    if min(wanted, abs(current)) < FLOWS_RATIO * seen.rated_a:
        # It is off, as before its load leaves, or its circuit is open: neither tells of this.
        return None, kept
    short_of = 100.0 * (1.0 - abs(current) / wanted)
    is_there = abs(volts) > AT_LIMIT_RATIO * seen.rated_v and short_of > seen.limit
    if seen.since_s < RAMPED_S:
        # A ramp may pass there; the volts that are high meanwhile wait for what it becomes.
        return _suspected(short_of) if is_there else None, kept
    return Told(is_there and short_of < 90.0, short_of), kept  # noqa: PLR2004 - else: open


def open_circuit(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell volts that drive no current through work."""
    current, volts = seen.value["current"], seen.value["voltage"]
    if current is None or volts is None or not seen.work:
        return None, kept
    percent = _percent(current, seen)
    is_dead = percent < seen.limit
    is_open = is_dead and abs(volts) > LIVE_RATIO * seen.rated_v
    if is_dead and not is_open:
        # The unit is off, as when its load is about to leave: that mends nothing.
        return None, kept
    if seen.since_s < STARTED_S:
        # It may still come on; the volts that are high meanwhile wait for what it becomes.
        return _suspected(percent) if is_open else None, kept
    return Told(is_open, percent), kept


def stopped(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a current that ceases within a load; kept: (when the load came, it has flowed)."""
    current, volts = seen.value["current"], seen.value["voltage"]
    if current is None or not seen.work:
        # What stopped with the last load goes on until a current shows otherwise.
        return None, kept
    came_s = seen.now_s - seen.since_s
    if not kept or abs(came_s - kept[0]) > 1.0:
        kept = (came_s, 0.0)
    percent = _percent(current, seen)
    if percent > seen.limit:
        return Told(is_there=False, value=percent), (kept[0], 1.0)
    is_live = volts is not None and abs(volts) > LIVE_RATIO * seen.rated_v
    is_due = bool(kept[1]) or seen.since_s > SETTLED_S
    return Told(not is_live, percent) if is_due else None, kept


OUTPUT: Final[tuple[Rule, ...]] = (
    Rule(
        name="at-voltage-limit",
        title="at its voltage limit",
        of=("rectifier",),
        needs=("current", "voltage", "current-set"),
        beside=("load-present",),
        judge=at_limit,
        limit=2.0,
        unit="%",
        evidence="how much of the set current is missing",
        looks=2,
        cause="anodes polarised or depleted, contacts dirty, bath cold, too much area",
        consequence="thin and slow; chromium may fall under the current that covers",
        consequences={CLEANING: NOT_CLEAN},
        action="feel contacts, look at anodes and bath temperature, then at the area",
        respond_within_s=600.0,
        suppress_when=REST,
        # It is told two looks after a ramp, and the volts are high from the load's start.
        late_s=240.0,
        # At its limit the cell alone makes the current: it is not what is set, and moves.
        explains=("voltage.high", "off-set-point", "hunting"),
    ),
    Rule(
        name="open-circuit",
        title="volts but no current",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=open_circuit,
        limit=2.0,
        unit="%",
        evidence="current with work in over what the unit is built for",
        limit_says="less than {} is none",
        priority="high",
        cause="bar or saddle not seated, cable or output fuse, a barrel's dangler cable",
        consequence="bare work; what was begun before will not hold the next layer",
        consequences={CLEANING: NOT_CLEAN},
        action="seat the bar again; then cable and output fuse; note the seconds",
        respond_within_s=60.0,
        explains=(*NO_CURRENT, "voltage.high", "voltage.high-high"),
    ),
    Rule(
        name="current-stopped",
        title="current stopped with work in",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=stopped,
        limit=5.0,
        unit="%",
        evidence="current with work in over what the unit is built for, long after its start",
        limit_says="less than {} is none",
        looks=2,
        priority="high",
        cause="the unit tripped, was switched off, or did not come on for this load",
        consequence="nickel on passive nickel peels; chromium turns grey or layered; other"
        " baths lose time, chloride zinc and acid copper etch after half a minute",
        consequences={CLEANING: NOT_CLEAN},
        action="write down the seconds; reset once after the cause is known; quality decides",
        respond_within_s=60.0,
        suppress_when=REST,
        explains=(*NO_CURRENT, "voltage.low", "voltage.low-low"),
    ),
)
