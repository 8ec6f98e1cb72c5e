"""Levels, rinses, filters, air. Limits are common practice of the trade unless sourced."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.gauges import habit, slope
from linewatch.core.rules.leaks import SETTLES_S, slow_leak
from linewatch.core.rules.rule import Rule, Told

if TYPE_CHECKING:
    from linewatch.core.rules.rule import Kept, Seen

TANKS: Final = (
    "clean", "electroclean", "activate", "strike", "plate", "passivate", "seal", "cell",
)  # fmt: skip
LEVEL_SPAN_S: Final = 240.0
ENTRIES: Final = 5
READ_S: Final = 10.0
"""How long a load must be in before a value is held to have been read with it: a dip of a few
seconds falls between two polls, and says nothing of a probe."""
STILL: Final = 0.2
"""Share of what five loads usually move, below which nothing is seen of them."""
DEAD: Final = 0.05
"""Share of a rule's limit, below which a value is dead whatever was usual."""
LEARNS: Final = 0.2
FRESH_S: Final = 95.0
"""Looks further apart than this are not compared."""
PUMP_OFF_S: Final = 2.0 * 3600.0
PUMP_WATCH_S: Final = 3600.0


def _level_slope(seen: Seen, kept: Kept) -> tuple[float | None, Kept]:
    """Return how fast the level moves [mm/h]; kept: (time, level, with work).

    Work displaces some of the bath, so that levels with work are compared with one another,
    and levels without.
    """
    level = seen.value["level"]
    if level is None or seen.since_s < SETTLES_S:
        return None, kept
    state = float(bool(seen.work))
    if len(kept) == 3 and kept[2] != state and seen.now_s - kept[0] < 2.0 * LEVEL_SPAN_S:  # noqa: PLR2004
        return None, kept
    if len(kept) == 3 and kept[2] != state:  # noqa: PLR2004
        kept = ()
    found, sample = slope(seen.now_s, level, kept[:2], LEVEL_SPAN_S)
    return found, (*sample, state)


def level_runs_out(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a level that falls faster, from empty to empty, than water evaporates."""
    found, kept = _level_slope(seen, kept)
    return (None if found is None else Told(-found > seen.limit, -found)), kept


def level_runs_over(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a level above its usual half that goes on rising; kept: slope's two."""
    level, window = seen.value["level"], seen.window["level"]
    found, kept = _level_slope(seen, kept)
    if found is None or level is None or window.high is None:
        return None, kept
    low = window.low if window.low is not None else 0.0
    is_high = level > window.high - 0.25 * (window.high - low)
    return Told(is_high and found > seen.limit, found), kept


def _came_s(seen: Seen, before_s: float) -> float:
    """Return when the newest load came in [s]; what was known before, if none is in."""
    return seen.now_s - seen.since_s if seen.work else before_s


def _entered(seen: Seen, before_s: float) -> bool:
    """Say whether a load came in since; between two looks it may have been empty."""
    return _came_s(seen, before_s) - before_s > 1.0


def still(seen: Seen, kept: Kept, kind: str) -> tuple[Told | None, Kept]:
    """Tell a value that does not answer to work any more.

    What five loads usually move is learned: a last rinse may move by a fraction of what the
    first one does.

    Returns:
        (what is told, (entry, entries, least, largest, what five loads usually move)).
    """
    value = seen.value[kind]
    if value is None or seen.work is None:
        return None, kept
    if len(kept) != 5:  # noqa: PLR2004 - as said above
        return None, (_came_s(seen, 0.0), 0.0, value, value, 0.0)
    came_s, entries, low, high, usual = kept
    low, high = min(low, value), max(high, value)
    if seen.since_s >= READ_S:
        entries += _entered(seen, came_s)
        came_s = _came_s(seen, came_s)
    moved = high - low
    is_still = moved <= max(DEAD * seen.limit, min(seen.limit, STILL * usual))
    if entries < ENTRIES or is_still:
        there = Told(is_still and entries >= ENTRIES, moved)
        tells = not is_still or entries >= ENTRIES
        return (there if tells else None), (came_s, entries, low, high, usual)
    usual = moved if not usual else usual + LEARNS * (moved - usual)
    return Told(is_there=False, value=moved), (came_s, 0.0, value, value, usual)


def level_still(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a level probe that does not see work come and go."""
    return still(seen, kept, "level")


def probe_still(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a conductivity probe that does not see work come and go."""
    return still(seen, kept, "conductivity")


def rinse_stands(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a rinse that climbs with each load; kept: (entry, low, peak, last, count)."""
    value = seen.value["conductivity"]
    if value is None or seen.work is None:
        return None, kept
    if len(kept) != 5:  # noqa: PLR2004 - as said above
        return None, (_came_s(seen, 0.0), value, value, value, 0.0)
    came_s, low, peak, last, count = kept
    if not _entered(seen, came_s):
        return None, (came_s, low, max(peak, value), value, count)
    # A new load: what did the last one add, and how much of that was carried off?
    rose, fell = peak - low, peak - last
    count = count + 1.0 if rose > seen.limit and fell < 0.1 * rose else 0.0
    return Told(count >= 3.0, rose), (_came_s(seen, came_s), last, value, value, count)  # noqa: PLR2004


def rinse_steps(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell steps larger than usual; kept: (entry, low, peak, last, how many, mean step)."""
    value = seen.value["conductivity"]
    if value is None or seen.work is None:
        return None, kept
    if len(kept) != 6:  # noqa: PLR2004 - as said above
        return None, (_came_s(seen, 0.0), value, value, value, 0.0, 0.0)
    came_s, low, peak, last, count, mean = kept
    if not _entered(seen, came_s):
        return None, (came_s, low, max(peak, value), value, count, mean)
    step = peak - low
    if count < 10.0:  # noqa: PLR2004 - ten loads to learn by
        count, mean = habit(step, (count, mean) if count else (), 30)
        return None, (_came_s(seen, came_s), last, value, value, count, mean)
    ratio = step / mean if mean > 0.0 else 1.0
    if ratio < seen.limit:
        count, mean = habit(step, (count, mean), 30)
    told = Told(ratio > seen.limit and step > 0.0, ratio)
    return told, (_came_s(seen, came_s), last, value, value, count, mean)


def wrong_liquid(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a jump beyond what work brings; kept: (time, last, before the jump)."""
    value, high = seen.value["conductivity"], seen.window["conductivity"].high
    if value is None or high is None:
        return None, kept
    if len(kept) != 3:  # noqa: PLR2004 - as said above
        kept = (seen.now_s, value, -1.0)
    elif seen.now_s - kept[0] > FRESH_S:
        # Nobody looked for long: no jump is told by it, and none that was told is over.
        kept = (seen.now_s, value, kept[2])
    _, last, before = kept
    if value - last > seen.limit * high and before < 0.0:
        before = last
    elif before >= 0.0 and value < before + 0.5 * seen.limit * high:
        before = -1.0
    rose = (value - (before if before >= 0.0 else last)) / high
    return Told(before >= 0.0, rose), (seen.now_s, value, before)


def rinse_idles(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell water that runs with no work for long."""
    flow = seen.value["flow"]
    if flow is None or seen.work is None:
        return None, kept
    usual = seen.window["flow"].low or 0.0
    idle_s = 0.0 if seen.work else seen.since_s
    return Told(idle_s > seen.limit * 60.0 and flow > 0.5 * usual > 0.0, idle_s / 60.0), kept


def filter_restarted(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a pump that runs again after hours; kept: (off since, on since; -1: not)."""
    pressure = seen.value["pressure.filter"]
    if pressure is None:
        return None, kept
    off_s, on_s = kept if len(kept) == 2 else (-1.0, -1.0)  # noqa: PLR2004
    if pressure < seen.limit:
        off_s = off_s if off_s >= 0.0 else seen.now_s
        return Told(is_there=False, value=0.0), (off_s, -1.0)
    if off_s >= 0.0:
        on_s = seen.now_s if seen.now_s - off_s > PUMP_OFF_S else -1.0
    runs_s = seen.now_s - on_s
    is_stirred = on_s >= 0.0 and runs_s < PUMP_WATCH_S
    return Told(is_stirred, runs_s / 60.0 if is_stirred else 0.0), (-1.0, on_s)


def sparger_plugs(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell air pressure that stays above its habit; kept: (how many, mean)."""
    pressure = seen.value["pressure.air"]
    if pressure is None or pressure < 0.02:  # noqa: PLR2004 - the blower is off
        return None, kept
    if not kept or kept[0] < 120.0:  # noqa: PLR2004 - an hour to learn by
        return None, habit(pressure, kept, 2880)
    ratio = pressure / kept[1]
    if ratio < 0.5 * (1.0 + seen.limit):
        kept = habit(pressure, kept, 2880)
    return Told(ratio > seen.limit, ratio), kept


LIQUID: Final[tuple[Rule, ...]] = (
    Rule(
        name="level-runs-out",
        title="level falls faster than water evaporates",
        of=TANKS,
        needs=("level",),
        judge=level_runs_out,
        limit=60.0,
        unit="mm/h",
        evidence="fall over four minutes, with work compared to with work",
        looks=2,
        cause="leak at filter hose, pump seal, drain or tank; a siphon through a fill pipe",
        consequence="the bath is lost to the pit; the heater may stand dry",
        action="hose and seals, then drains, then the tank; heat off if it nears the heater",
        respond_within_s=300.0,
    ),
    Rule(
        name="level-runs-over",
        title="level rises and goes on rising",
        of=TANKS,
        needs=("level",),
        judge=level_runs_over,
        limit=40.0,
        unit="mm/h",
        evidence="rise over four minutes, in the upper quarter of the window",
        looks=2,
        cause="top-up stuck open, hose left in, coil leaking into the bath",
        consequence="the bath is diluted and runs over; streams mix in the pit",
        action="shut the water by hand, keep the overflow, take a sample",
        respond_within_s=300.0,
    ),
    Rule(
        name="leaks-slowly",
        title="loses more than it evaporates",
        of=TANKS,
        needs=("level", "temperature", "load-present"),
        judge=slow_leak,
        limit=2.0,
        unit="mm/h",
        evidence="fall while nothing moves and nobody fills, beyond evaporation and habit",
        looks=1,
        priority="low",
        cause="seal, flange, liner or coil weeps; a drain does not shut; more is dragged out",
        consequence="solution is lost to the pit and filled up with water: the bath thins",
        action="dry the floor and look again in an hour; pump seal, flanges, then the liner",
        respond_within_s=8 * 3600.0,
        suppress_when=("line-rests",),
    ),
    Rule(
        name="level-still",
        title="level probe sees no work",
        of=TANKS,
        needs=("level", "load-present"),
        judge=level_still,
        limit=1.0,
        unit="mm",
        evidence="all that it moved while five loads came in",
        limit_says="at most {}, or a fifth of what five loads usually move",
        cause="probe stuck, fouled or in foam",
        consequence="neither a leak nor a bare heater would be seen",
        action="wipe the probe, look for foam, compare with a dip stick",
        respond_within_s=1800.0,
        doubts=("level",),
    ),
    Rule(
        name="rinse-stands",
        title="rinse climbs and does not clear",
        of=("rinse",),
        needs=("conductivity", "load-present"),
        judge=rinse_stands,
        limit=10.0,
        unit="µS/cm",
        evidence="what the last load added; three times running, nothing was carried off",
        cause="water shut, strainer blocked, overflow shut, no movement in the rinse",
        consequence="each load carries more into the next bath; stains",
        action="valve, strainer and overflow; then air or pump in the rinse",
        respond_within_s=900.0,
        suppress_when=("line-rests",),
    ),
    Rule(
        name="rinse-probe-still",
        title="rinse probe sees no work",
        of=("rinse",),
        needs=("conductivity", "load-present"),
        judge=probe_still,
        limit=0.2,
        unit="µS/cm",
        evidence="all that it moved while five loads came in",
        limit_says="at most {}, or a fifth of what five loads usually move",
        cause="probe fouled, dry or hung up; its cable",
        consequence="blind: water is wasted, or a dirty rinse looks clean",
        action="wipe and re-seat the probe, check it against a hand meter",
        respond_within_s=3600.0,
        doubts=("conductivity",),
    ),
    Rule(
        name="rinse-steps",
        title="each load brings more into the rinse",
        of=("rinse",),
        needs=("conductivity", "load-present"),
        judge=rinse_steps,
        limit=1.8,
        unit="times",
        evidence="step of a load over that of the last thirty, three times in a row",
        looks=3,
        priority="low",
        cause="drip time cut short, a barrel's drain turn skipped, cup-shaped parts",
        consequence="the bath before is dragged out, the one after is fed with it",
        action="look at the drip time in the program and at how the work hangs",
        respond_within_s=3600.0,
        suppress_when=("line-rests",),
    ),
    Rule(
        name="wrong-liquid",
        title="rinse jumps: wrong liquid",
        of=("rinse",),
        needs=("conductivity",),
        judge=wrong_liquid,
        limit=1.0,
        unit="times",
        evidence="rise within half a minute over the upper limit of its window",
        priority="high",
        cause="wrong hose, a spill, a valve of another tank",
        consequence="the next load carries it into the next bath",
        action="stop the line before the next tank; find out what came in before anything is"
        " drained, and into which stream it may go",
        respond_within_s=60.0,
    ),
    Rule(
        name="rinse-idles",
        title="rinse runs with no work",
        of=("rinse",),
        needs=("flow", "load-present"),
        judge=rinse_idles,
        limit=60.0,
        unit="min",
        evidence="how long no work has come while the water runs",
        priority="low",
        cause="timer or valve left open; nobody shut the water at the stop",
        consequence="water and treatment are paid for nothing",
        action="shut it, or let the probe control it",
        respond_within_s=8 * 3600.0,
    ),
    Rule(
        name="filter-restarted",
        title="filter runs again after hours",
        of=("strike", "plate"),
        needs=("pressure.filter",),
        judge=filter_restarted,
        limit=0.05,
        unit="min",
        evidence="since when it runs again; it stood for more than two hours",
        limit_says="it stands below {} bar",
        priority="low",
        cause="the pump was off; what had settled is stirred up",
        consequence="rough work for one or two turnovers of the tank",
        action="hold critical loads until the tank has turned over two or three times",
        respond_within_s=1800.0,
    ),
    Rule(
        name="sparger-plugs",
        title="air pressure creeps up",
        of=("strike", "plate", "clean", "rinse"),
        needs=("pressure.air",),
        judge=sparger_plugs,
        limit=1.12,
        unit="times",
        evidence="pressure over its habit of the last day",
        looks=40,
        priority="low",
        cause="holes of the air pipe plug with salts",
        consequence="patchy bubbles: parts of the work are cleaned or rinsed less",
        consequences={"bath": "patchy bubbles: streaks and local burning"},
        action="look at the pattern of bubbles; flush the pipe",
        respond_within_s=24 * 3600.0,
    ),
)
