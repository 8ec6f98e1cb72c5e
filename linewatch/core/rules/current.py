"""Rectifiers, contacts, barrels. Limits are common practice of the trade unless sourced.

What follows a rectifier over weeks (its cell, its ripple) is core/diagnostics.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.gauges import habit
from linewatch.core.rules.rule import Rule, Told

if TYPE_CHECKING:
    from linewatch.core.rules.rule import Kept, Seen

FLOWS_RATIO: Final = 0.05
"""Below this share of the rated current nothing is judged."""
SETTLED_S: Final = 100.0
"""After a ramp: common practice."""
HEIGHT_RATIO: Final = 0.8
"""A current lower than so much of the highest with the same load is on its way up or down."""
RAMPED_S: Final = 55.0
LOADS: Final = 10.0
LEARNS: Final = 20.0


def _flows(seen: Seen) -> float | None:
    """Return the current, without its sign, if work has long been in and it flows."""
    current = seen.value["current"]
    if current is None or not seen.work or seen.since_s < SETTLED_S:
        return None
    return abs(current) if abs(current) > FLOWS_RATIO * seen.rated_a else None


def _loaded(seen: Seen) -> tuple[float, float] | None:
    """Return current and volts, without their signs, while work is in and a current flows."""
    current, volts = seen.value["current"], seen.value["voltage"]
    if current is None or volts is None or not seen.work:
        return None
    return None if abs(current) < FLOWS_RATIO * seen.rated_a else (abs(current), abs(volts))


def _height(seen: Seen, kept: Kept, current_a: float) -> tuple[bool, Kept]:
    """Say whether a current stands at the height that it has with this load.

    On its way down at the end of a program it resists more and takes fewer volts: looks that
    fall there, load after load, would teach a wrong habit.

    Returns:
        Whether it does; the habit with (when the load came, its highest current [A]) behind.
    """
    came_s = seen.now_s - seen.since_s
    top_a = current_a
    if len(kept) == 4 and abs(came_s - kept[2]) < 1.0:  # noqa: PLR2004 - the same load
        top_a = max(top_a, kept[3])
    is_high = seen.since_s > SETTLED_S and current_a > HEIGHT_RATIO * top_a
    return is_high, (*(kept[:2] or (0.0, 0.0)), came_s, top_a)


def _taught(value: float, kept: Kept) -> Kept:
    """Return a habit that has learned a value, with what stands behind it."""
    return (*habit(value, kept[:2], 500), *kept[2:])


def short(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a collapsed resistance of the loaded cell; kept: (how many, mean Ω, _height)."""
    loaded = _loaded(seen)
    if loaded is None:
        return None, kept
    current, volts = loaded
    ohm = volts / current
    is_high, kept = _height(seen, kept, current)
    if kept[0] < LEARNS:
        return None, _taught(ohm, kept) if is_high else kept
    ratio = ohm / kept[1]
    if ratio > 0.5 * (1.0 + seen.limit / 100.0) and is_high:
        kept = _taught(ohm, kept)
    return Told(ratio < seen.limit / 100.0, 100.0 * ratio), kept


def polarity(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell volts of the wrong sign while current flows through work."""
    current, volts = seen.value["current"], seen.value["voltage"]
    if current is None or volts is None or not seen.work:
        return None, kept
    is_on = abs(current) > FLOWS_RATIO * seen.rated_a
    return Told(is_on and volts < -seen.limit, -volts), kept


def polarity_told(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a reversing switch that stands other than the plan says."""
    current, anode = seen.value["current"], seen.value["count.work-is-anode"]
    if current is None or anode is None or not seen.work:
        return None, kept
    is_on = abs(current) > FLOWS_RATIO * seen.rated_a
    return Told(is_on and (anode > 0.5) != seen.is_anodic, anode), kept  # noqa: PLR2004


def _visits(seen: Seen, kept: Kept) -> tuple[float | None, Kept]:
    """Return what is set over the usual, once a load; kept: (how many, mean, last entry)."""
    wanted = seen.value["current-set"]
    if wanted is None or wanted <= 0.0 or not seen.work or seen.since_s < RAMPED_S:
        return None, kept
    came_s = seen.now_s - seen.since_s
    if kept and came_s - kept[2] < 1.0:
        return None, kept
    if not kept or kept[0] < LOADS:
        return None, (*habit(wanted, kept[:2], 50), came_s)
    ratio = wanted / kept[1]
    if 0.6 < ratio < 1.3:  # noqa: PLR2004 - what is odd is not learned
        return ratio, (*habit(wanted, kept[:2], 50), came_s)
    return ratio, (*kept[:2], came_s)


def set_high(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a set current far over what loads usually get here."""
    ratio, kept = _visits(seen, kept)
    return (None if ratio is None else Told(ratio > seen.limit, ratio)), kept


def set_low(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a set current far under what loads usually get here."""
    ratio, kept = _visits(seen, kept)
    return (None if ratio is None else Told(ratio < seen.limit, ratio)), kept


def light_load(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a set current at the bottom of the unit's range."""
    wanted = seen.value["current-set"]
    if wanted is None or wanted <= 0.0 or not seen.work or seen.since_s < SETTLED_S:
        return None, kept
    share = 100.0 * wanted / seen.rated_a
    return Told(share < seen.limit, share), kept


def volts_high(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell volts far over the usual, whatever a load's area; kept: (how many, mean V, …)."""
    loaded = _loaded(seen)
    if loaded is None:
        return None, kept
    current, volts = loaded
    is_high, kept = _height(seen, kept, current)
    if seen.since_s < SETTLED_S:
        return None, kept
    if kept[0] < LEARNS:
        return None, _taught(volts, kept) if is_high else kept
    ratio = volts / kept[1] if kept[1] > 0.0 else 1.0
    if ratio < 0.5 * (1.0 + seen.limit) and is_high:
        kept = _taught(volts, kept)
    return Told(ratio > seen.limit, ratio), kept


def barrel_contact(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a barrel's current that swings with each turn."""
    if _flows(seen) is None or seen.spread is None:
        return None, kept
    return Told(seen.spread > seen.limit / 100.0, 100.0 * seen.spread), kept


def unit_still(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a unit that repeats its last answers; kept: (current, volts, sink, looks)."""
    values = tuple(seen.value[kind] for kind in ("current", "voltage", "heat-sink"))
    if any(each is None for each in values):
        return None, kept
    now = tuple(float(each) for each in values if each is not None)
    if abs(now[0]) < FLOWS_RATIO * seen.rated_a:
        return Told(is_there=False, value=0.0), ()
    looks = kept[3] + 1.0 if len(kept) == 4 and kept[:3] == now else 0.0  # noqa: PLR2004
    return Told(looks >= seen.limit * 2.0, looks / 2.0), (*now, looks)


CLEANING: Final = "cleaning-rectifier"
"""A unit that feeds cleaners alone, and lays down no metal."""
NOT_CLEAN: Final = "soil and smut stay on: the deposit will not stick"
REST: Final = ("line-rests",)
NO_CURRENT: Final = ("current.low", "current.low-low", "current.deviation")
"""Limits that a current which does not flow, or flows the wrong way, passes besides."""
CURRENT: Final[tuple[Rule, ...]] = (
    Rule(
        name="short",
        title="short in the tank",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=short,
        limit=45.0,
        unit="%",
        evidence="resistance of the loaded cell over the usual one",
        priority="highest",
        cause="a part on an anode, a fallen part, a barrel or rack against the anodes",
        consequence="burnt parts and bars, a hole in the lining, fire",
        action="output off, look into the tank, free the work before switching on",
        respond_within_s=60.0,
        is_safety=True,
    ),
    Rule(
        name="polarity",
        title="polarity wrong",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=polarity,
        limit=0.3,
        unit="V",
        evidence="volts the wrong way at the work",
        looks=2,
        priority="highest",
        cause="leads swapped after service, reversing switch left over",
        consequence="the work dissolves, anodes are plated, the bath is polluted",
        consequences={CLEANING: "smut is plated on, hydrogen goes into hard steel"},
        action="stop, look at reversing switch and leads; hold the load",
        respond_within_s=60.0,
        explains=(
            *NO_CURRENT,
            "voltage.low",
            "voltage.low-low",
            "voltage.deviation",
        ),
    ),
    Rule(
        name="polarity-told",
        title="work on the wrong pole",
        of=("rectifier",),
        needs=("current", "count.work-is-anode"),
        beside=("load-present",),
        judge=polarity_told,
        limit=0.5,
        unit="",
        evidence="the unit says whether the work is the anode (1: yes)",
        limit_says="",
        looks=2,
        priority="high",
        cause="reversing switch or recipe of the electrocleaner stands wrong",
        consequence="metal and smut are plated on, hydrogen goes into hard steel",
        action="look at the reversing switch; finish steel as the anode",
        respond_within_s=60.0,
    ),
    Rule(
        name="set-high",
        title="set current far over the usual",
        of=("rectifier",),
        needs=("current-set",),
        beside=("load-present",),
        not_beside=("speed",),
        judge=set_high,
        limit=1.45,
        unit="times",
        evidence="what is set over what loads usually get here",
        cause="set point left from another job, or an area typed wrongly",
        consequence="burnt edges, nodules, chromium beyond its bright range",
        consequences={CLEANING: "the work is etched or smutted"},
        action="compare the card's area and recipe with the unit before the next load",
        respond_within_s=120.0,
        suppress_when=REST,
    ),
    Rule(
        name="set-low",
        title="set current far under the usual",
        of=("rectifier",),
        needs=("current-set",),
        beside=("load-present",),
        not_beside=("speed",),
        judge=set_low,
        limit=0.6,
        unit="times",
        evidence="what is set over what loads usually get here",
        cause="set point left from a smaller job, missing area; turned down by hand",
        consequence="thin deposit, dull recesses",
        consequences={CLEANING: NOT_CLEAN},
        action="compare the card's area and recipe with the unit; look for a half-empty bar",
        respond_within_s=300.0,
        suppress_when=REST,
    ),
    Rule(
        name="barrel-overloaded",
        title="barrel overloaded",
        of=("rectifier",),
        needs=("current-set",),
        beside=("load-present", "speed"),
        judge=set_high,
        limit=1.45,
        unit="times",
        evidence="current set for this barrel over the usual",
        cause="more parts or more area than the card says; filled over its mark",
        consequence="thin deposit of wide spread; bare parts in the middle",
        action="weigh it, split the load",
        respond_within_s=300.0,
        suppress_when=REST,
    ),
    Rule(
        name="barrel-underloaded",
        title="barrel nearly empty",
        of=("rectifier",),
        needs=("current-set",),
        beside=("load-present", "speed"),
        judge=set_low,
        limit=0.45,
        unit="times",
        evidence="current set for this barrel over the usual",
        priority="low",
        cause="a rest of a lot, or ballast forgotten",
        consequence="the dangler lies bare, parts burn",
        action="add ballast, lower the current",
        respond_within_s=300.0,
        suppress_when=REST,
    ),
    Rule(
        name="light-load",
        title="unit far too large for this load",
        of=("rectifier",),
        needs=("current-set",),
        beside=("load-present",),
        judge=light_load,
        limit=10.0,
        unit="%",
        evidence="set current over the unit's rating",
        looks=2,
        priority="low",
        cause="few parts on the bar, or a unit that was bought for larger work",
        consequence="ripple and the meter's own error grow: haze and wrong thickness",
        consequences={CLEANING: "ripple grows, and little is cleaned"},
        action="fill the bar, add thieves, or use a smaller unit",
        respond_within_s=900.0,
        suppress_when=REST,
    ),
    Rule(
        name="volts-high",
        title="volts far over the usual",
        of=("rectifier",),
        needs=("current", "voltage"),
        beside=("load-present",),
        judge=volts_high,
        limit=1.25,
        unit="times",
        evidence="volts with work in over the usual ones",
        looks=2,
        cause="anodes polarise: too little anode area, free cyanide, caustic or chloride; cold"
        " bath; air lost; rack tips losing contact",
        consequence="the unit runs into its limit; metal falls, additive is oxidised",
        consequences={CLEANING: "the unit runs into its limit and cleans less"},
        action="look at the anodes for gas and film; lower the current to let them recover",
        respond_within_s=600.0,
        suppress_when=REST,
    ),
    Rule(
        name="barrel-contact",
        title="barrel loses contact with each turn",
        of=("rectifier",),
        needs=("current",),
        beside=("load-present", "speed"),
        judge=barrel_contact,
        limit=13.0,
        unit="%",
        evidence="swing of the current within a minute",
        looks=3,
        cause="dangler worn, broken or riding on top; its cable",
        consequence="arcing marks, thin and layered deposit",
        action="dangler's length, tip and cable at the next change",
        respond_within_s=600.0,
        suppress_when=REST,
    ),
    Rule(
        name="unit-still",
        title="unit repeats its last values",
        of=("rectifier",),
        needs=("current", "voltage", "heat-sink"),
        judge=unit_still,
        limit=5.0,
        unit="min",
        evidence="since when three values stand to the last digit while current flows",
        cause="the unit's own board hangs, or its gateway answers from memory",
        consequence="blind: a trip or a short would not be seen",
        action="read the unit's own display; restart its communication",
        respond_within_s=120.0,
        doubts=("current", "voltage", "heat-sink"),
        late_s=420.0,
    ),
)
