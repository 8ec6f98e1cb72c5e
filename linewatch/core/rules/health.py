"""What fails in a rectifier, its bars and its cell.

These are told by core/line/health.py against the unit's own past (core/diagnostics), not by one
look. Limits are common practice of the trade unless sourced.
"""

from __future__ import annotations

from typing import Final

from linewatch.core.rules.movement import heard
from linewatch.core.rules.rule import Rule

RIPPLE_FAULT: Final = "ripple-fault"
CELL_RISES: Final = "cell-rises"
CELL_STEPS: Final = "cell-steps"
RUNS_HOT: Final = "runs-hot"
REST: Final = ("line-rests",)

HEALTH: Final[tuple[Rule, ...]] = (
    Rule(
        name=RIPPLE_FAULT,
        title="ripple as of a lost device or phase",
        of=("rectifier",),
        needs=("current", "voltage", "ripple"),
        judge=heard,
        limit=1.35,
        unit="times",
        evidence="ripple over what this unit shows at this output",
        cause="a device or its fuse is open; an input phase is lost; smoothing has failed",
        consequence="chromium dull or laminated, nickel hazy; the transformer overheats",
        action="ripple at the tank with a meter; phase amperes; device fuses; gate leads",
        respond_within_s=600.0,
        suppress_when=REST,
    ),
    Rule(
        name=CELL_RISES,
        title="more volts than usual for the same current",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=heard,
        limit=4.0,
        unit="%",
        evidence="volts over those of the learned line, load after load",
        priority="low",
        cause="contacts and bus joints, anodes low or passive, bags clogged, bath weak",
        consequence="heat at a joint, uneven work; then the voltage limit and thin deposits",
        action="volts joint by joint under load, from the rectifier on; anodes; then bags",
        respond_within_s=8 * 3600.0,
        suppress_when=REST,
    ),
    Rule(
        name=CELL_STEPS,
        title="volts jumped at the same current",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=heard,
        limit=5.0,
        unit="%",
        evidence="volts over those of this same load a moment ago",
        cause="a contact, an anode hook or bar was lost; rack tips let go",
        consequence="one side thin, parts bare beside others burnt",
        action="hooks and bar ends first; then the rack's tips; hold the load",
        respond_within_s=1800.0,
        suppress_when=REST,
    ),
    Rule(
        name=RUNS_HOT,
        title="rectifier hotter than its load explains",
        of=("rectifier",),
        needs=("current", "heat-sink"),
        judge=heard,
        limit=10.0,
        unit="%",
        evidence="thermal resistance over the learned one, room taken out",
        priority="low",
        cause="filter mat or fan, water flow or scale, cabinet doors",
        consequence="it trips in mid load: a lamination; devices age",
        action="mat and fan, then flow; less load until it is cool",
        respond_within_s=3600.0,
    ),
)
