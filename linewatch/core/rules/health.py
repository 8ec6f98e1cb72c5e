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
EFFICIENCY: Final = "efficiency-drifts"
SHARING: Final = "shares-badly"
CONTACT_WEARS: Final = "contact-wears"
RHYTHM_LOST: Final = "rhythm-lost"
MODULE: Final = "current.module-"
"""How the currents of modules in parallel begin: 'current.module-1', 'current.module-2'."""
TURNING: Final = "turning"
"""Stands among the kinds that are measured beside a rectifier where a tank turns its work: its
speed is read, or its configuration says so."""
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
    Rule(
        name=EFFICIENCY,
        title="efficiency is not what it was",
        of=("rectifier",),
        needs=("current", "voltage", "power"),
        judge=heard,
        limit=2.0,
        unit="%",
        evidence="output over input at this current, less what was learned there",
        priority="low",
        cause="lower: a device that conducts poorly or leaks, a hot joint inside, shorted"
        " turns; higher: its shunt or voltmeter reads too much",
        consequence="heat inside before it fails; with a wrong shunt, wrong thickness",
        action="clamp meter on output and input first; then joints and devices by their heat",
        respond_within_s=8 * 3600.0,
    ),
    Rule(
        name=SHARING,
        title="a module takes none or too much",
        of=("rectifier",),
        needs=("current", "current.module-1", "current.module-2"),
        judge=heard,
        limit=20.0,
        unit="%",
        evidence="share of the module over its usual share, less one",
        cause="the module has tripped, its output fuse or joint is open; sharing signal lost",
        consequence="the others carry its part: they age, then trip in mid load",
        action="look at the module's lamps and fuse; then the sharing cable; then its joints",
        respond_within_s=3600.0,
    ),
    Rule(
        name=CONTACT_WEARS,
        title="barrel's contact is worse than it was",
        of=("rectifier",),
        needs=("current",),
        beside=("load-present", TURNING),
        judge=heard,
        limit=1.4,
        unit="times",
        evidence="swing of the current within ten seconds over the usual one",
        priority="low",
        cause="dangler or its tip worn, horn or saddle dirty, its cable breaking",
        consequence="arcing marks and layered deposit; then no current at all",
        action="dangler's tip, length and cable at the next change; clean horns and saddles",
        respond_within_s=8 * 3600.0,
        suppress_when=REST,
    ),
    Rule(
        name=RHYTHM_LOST,
        title="current has lost the barrel's rhythm",
        of=("rectifier",),
        needs=("current",),
        beside=("load-present", TURNING),
        not_beside=("speed",),
        judge=heard,
        limit=0.65,
        unit="times",
        evidence="swing of the current within ten seconds over the usual one",
        cause="the barrel stands: drive, coupling or gear; or a load that no longer tumbles",
        consequence="bare and burnt parts in one load, gas under the upper ones",
        action="look whether it turns; motor's fuse and gears; lift it out before parts burn",
        respond_within_s=300.0,
        suppress_when=REST,
    ),
)
