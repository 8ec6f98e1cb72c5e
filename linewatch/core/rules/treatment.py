"""Waste water and extraction. Limits are common practice of the trade unless sourced."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.gauges import habit
from linewatch.core.rules.rule import LOOK_S, Rule, Told

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.plan import Window
    from linewatch.core.rules.rule import Kept, Seen

ALKALINE_PH: Final = 9.5
ACID_PH: Final = 4.0
NEUTRAL_PH: Final = 7.0
FRESH_S: Final = 95.0
"""Looks further apart than this are not compared."""
STANDS_LOOKS: Final = 6
"""Looks near 7 that make a glass that stands there: three minutes."""
FALLS_PH: Final = 0.5
FALLS_LOOKS: Final = 10


OXIDISES_CYANIDE_SAYS: Final = "it watches where ORP is read and pH is held at 9.5 or more"
REDUCES_CHROMIUM_SAYS: Final = "it watches where ORP is read and pH is held at 4 or less"
ONLY_DOSES_SAYS: Final = "it watches where a flow is all that is read"


def oxidises_cyanide(windows: Mapping[str, Window]) -> bool:
    """Say whether pH and ORP windows are those of an alkaline oxidation."""
    ph = windows.get("ph")
    return "orp" in windows and ph is not None and (ph.low or 0.0) >= ALKALINE_PH


def reduces_chromium(windows: Mapping[str, Window]) -> bool:
    """Say whether pH and ORP windows are those of an acid reduction."""
    ph = windows.get("ph")
    return "orp" in windows and ph is not None and ph.high is not None and ph.high <= ACID_PH


def only_doses(windows: Mapping[str, Window]) -> bool:
    """Say whether a place measures a flow and nothing that would tell its effect."""
    return set(windows) == {"flow"}


def cyanide_acid(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell acid in a cyanide stream: pH low, or half a unit lost within five minutes."""
    ph = seen.value["ph"]
    if ph is None:
        return None, kept
    kept = (*kept[-(FALLS_LOOKS - 1) :], ph)
    fell = max(kept) - ph
    is_falling = fell > FALLS_PH and ph < (seen.window["ph"].low or seen.limit) + FALLS_PH
    return Told(ph < seen.limit or is_falling, ph), kept


def oxidation_fails(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell an ORP that stays far under its window."""
    orp, low = seen.value["orp"], seen.window["orp"].low
    if orp is None or low is None:
        return None, kept
    return Told(orp < low - seen.limit, low - orp), kept


def reduction_fails(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell an ORP that stays far over its window."""
    orp, high = seen.value["orp"], seen.window["orp"].high
    if orp is None or high is None:
        return None, kept
    return Told(orp > high + seen.limit, orp - high), kept


def reducer_overfed(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell an ORP far on the reduced side."""
    orp, low = seen.value["orp"], seen.window["orp"].low
    if orp is None or low is None:
        return None, kept
    return Told(orp < low - seen.limit, low - orp), kept


def slug(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a pH that jumps further than dosing moves it; kept: (time, last, before it)."""
    ph = seen.value["ph"]
    if ph is None:
        return None, kept
    if len(kept) != 3:  # noqa: PLR2004 - as said above
        kept = (seen.now_s, ph, -1.0)
    elif seen.now_s - kept[0] > FRESH_S:
        # Nobody looked for long: no jump is told by it, and none that was told is over.
        kept = (seen.now_s, ph, kept[2])
    _, last, before = kept
    if abs(ph - last) > seen.limit:
        before = last if before < 0.0 else before
    elif before >= 0.0 and abs(ph - before) < 0.5 * seen.limit:
        before = -1.0
    moved = abs(ph - (before if before >= 0.0 else last))
    return Told(before >= 0.0, moved), (seen.now_s, ph, before)


def glass_broken(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a pH that stands near 7, where a wet or broken glass stands; kept: last looks."""
    ph = seen.value["ph"]
    if ph is None:
        return None, kept
    kept = (*kept[-(STANDS_LOOKS - 1) :], ph)
    if len(kept) < STANDS_LOOKS:
        return None, kept
    low, high = min(kept), max(kept)
    is_near = low > NEUTRAL_PH - 0.12 and high < NEUTRAL_PH + 0.12
    return Told(is_near and high - low < seen.limit, high - low), kept


def dosing_stops(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a dosing flow that ceases; kept: (how many, mean)."""
    flow = seen.value["flow"]
    if flow is None:
        return None, kept
    if not kept or kept[0] < 40.0:  # noqa: PLR2004 - twenty minutes to learn by
        return None, habit(flow, kept, 1000)
    ratio = flow / kept[1] if kept[1] > 0.0 else 1.0
    if ratio > 0.5:  # noqa: PLR2004
        kept = habit(flow, kept, 1000)
    return Told(100.0 * ratio < seen.limit, 100.0 * ratio), kept


def extraction_lost(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a fan that stands, or a draught of less than half its window."""
    draught, runs, amps = (seen.value[kind] for kind in ("draught", "running", "motor-current"))
    low = seen.window["draught"].low
    if draught is None or low is None:
        return None, kept
    stands = runs == 0.0 or (amps is not None and amps <= 0.2)  # noqa: PLR2004 - of an ampere
    percent = 100.0 * draught / low if low > 0.0 else 0.0
    return Told(stands or draught < seen.limit / 100.0 * low, percent), kept


def belt_slips(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a fan that takes too little and moves too little; kept: (n, amps, n, draught)."""
    draught, amps = seen.value["draught"], seen.value["motor-current"]
    if draught is None or amps is None or amps < 0.2 or draught <= 0.0:  # noqa: PLR2004
        return None, kept
    if not kept or kept[0] < 40.0:  # noqa: PLR2004 - twenty minutes to learn by
        return None, (*habit(amps, kept[:2], 2880), *habit(draught, kept[2:], 2880))
    of_amps, of_draught = amps / kept[1], draught / kept[3]
    told = Told(of_amps < 0.85 and of_draught < seen.limit / 100.0, 100.0 * of_draught)  # noqa: PLR2004
    if of_amps > 0.93 and of_draught > 0.9:  # noqa: PLR2004 - what is odd is not learned
        kept = (*habit(amps, kept[:2], 2880), *habit(draught, kept[2:], 2880))
    return told, kept


def hoods_starve(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell less draught at the fan's usual current; kept: (n, amps, n, draught)."""
    draught, amps = seen.value["draught"], seen.value["motor-current"]
    if draught is None or amps is None or amps < 0.2 or draught <= 0.0:  # noqa: PLR2004
        return None, kept
    if not kept or kept[0] < 40.0:  # noqa: PLR2004 - twenty minutes to learn by
        return None, (*habit(amps, kept[:2], 2880), *habit(draught, kept[2:], 2880))
    of_amps, of_draught = amps / kept[1], draught / kept[3]
    told = Told(of_amps > 0.86 and of_draught < seen.limit / 100.0, 100.0 * of_draught)  # noqa: PLR2004
    if of_amps > 0.93 and of_draught > 0.9:  # noqa: PLR2004 - what is odd is not learned
        kept = (*habit(amps, kept[:2], 2880), *habit(draught, kept[2:], 2880))
    return told, kept


def pad_torn(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a pad that holds nothing back while the hood draws as it should."""
    pad, draught = seen.value["draught.pad"], seen.value["draught"]
    low, hood_low = seen.window["draught.pad"].low, seen.window["draught"].low
    if pad is None or draught is None or low is None or hood_low is None:
        return None, kept
    percent = 100.0 * pad / low if low > 0.0 else 0.0
    return Told(pad < seen.limit / 100.0 * low and draught > hood_low, percent), kept


TREATMENT: Final[tuple[Rule, ...]] = (
    Rule(
        name="cyanide-acid",
        title="acid in cyanide",
        of=("treat",),
        needs=("ph", "orp"),
        fits=oxidises_cyanide,
        fits_says=OXIDISES_CYANIDE_SAYS,
        judge=cyanide_acid,
        limit=10.0,
        unit="pH",
        evidence="pH when it was told; lower than the limit",
        evidence_inside="it fell by more than half a unit within five minutes; pH by then",
        priority="highest",
        cause="acid dumped or pumped into the cyanide stream, caustic empty, a wrong valve",
        consequence="deadly gas: hydrogen cyanide, and with bleach cyanogen chloride",
        action="leave, warn and ventilate; stop feed and bleach; add nothing blind",
        respond_within_s=60.0,
        is_safety=True,
        explains=("slug",),
    ),
    Rule(
        name="oxidation-fails",
        title="cyanide is not oxidised",
        of=("treat",),
        needs=("ph", "orp"),
        fits=oxidises_cyanide,
        fits_says=OXIDISES_CYANIDE_SAYS,
        judge=oxidation_fails,
        limit=150.0,
        unit="mV",
        evidence="how far ORP lies under its window",
        looks=8,
        priority="high",
        cause="bleach empty, stale or air-locked; nickel or iron cyanide that hardly reacts",
        consequence="cyanide passes untreated",
        action="hold the transfer; bleach, pump and probe; spot test before release",
        respond_within_s=600.0,
    ),
    Rule(
        name="reduction-fails",
        title="chromium is not reduced",
        of=("treat",),
        needs=("ph", "orp"),
        fits=reduces_chromium,
        fits_says=REDUCES_CHROMIUM_SAYS,
        judge=reduction_fails,
        limit=80.0,
        unit="mV",
        evidence="how far ORP lies over its window",
        looks=8,
        priority="high",
        cause="reducer empty, old or air-locked; acid lost; more flow than it can treat",
        consequence="hexavalent chromium reaches the sewer",
        action="hold the transfer; reducer, pump, pH, then the probe; spot test",
        respond_within_s=600.0,
    ),
    Rule(
        name="reducer-overfed",
        title="too much reducer",
        of=("treat",),
        needs=("ph", "orp"),
        fits=reduces_chromium,
        fits_says=REDUCES_CHROMIUM_SAYS,
        judge=reducer_overfed,
        limit=40.0,
        unit="mV",
        evidence="how far ORP lies under its window",
        looks=4,
        cause="the pump's gain is too high, or its probe is fouled",
        consequence="sulfur dioxide at the tank; hydroxides settle badly; money",
        action="lower the pump's gain, clean the probe",
        respond_within_s=900.0,
    ),
    Rule(
        name="slug",
        title="pH jumps: dumped, or glass broken",
        of=("treat",),
        needs=("ph",),
        judge=slug,
        limit=1.0,
        unit="pH",
        evidence="how far it is from where it stood half a minute before it jumped",
        priority="high",
        cause="a bath, a drum or a batch was let go into this stream; or the glass is broken,"
        " and soon stands near 7",
        consequence="reagents cannot follow, metals pass; or nothing tells the pH any more",
        action="divert to the holding tank; a strip by hand tells a dump from a broken glass;"
        " then ask who let it go",
        respond_within_s=180.0,
    ),
    Rule(
        name="glass-broken",
        title="pH stands near 7",
        of=("treat",),
        needs=("ph",),
        judge=glass_broken,
        limit=0.15,
        unit="pH",
        evidence="all that it moved within three minutes, always near 7",
        limit_says="less than {}",
        looks=2,
        priority="high",
        cause="glass broken, wire wet, or the cap is still on",
        consequence="dosing runs away with a reading that looks harmless",
        action="dosing off, a strip by hand, another probe",
        respond_within_s=300.0,
        doubts=("ph",),
        # Its glass jumps to 7 first: told once it has stood there, and a look more.
        late_s=LOOK_S * (STANDS_LOOKS + 2),
    ),
    Rule(
        name="dosing-stops",
        title="dosing flow stops",
        of=("treat",),
        needs=("flow",),
        fits=only_doses,
        fits_says=ONLY_DOSES_SAYS,
        judge=dosing_stops,
        limit=20.0,
        unit="%",
        evidence="flow over its habit",
        looks=4,
        cause="polymer or reagent empty, pump stopped, make-down blocked",
        consequence="flocs stay small; the settler carries over within the hour",
        action="pump, tank and make-down unit; then age of the polymer",
        respond_within_s=900.0,
    ),
    Rule(
        name="extraction-lost",
        title="extraction lost",
        of=("extract",),
        needs=("draught", "running", "motor-current"),
        judge=extraction_lost,
        limit=50.0,
        unit="%",
        evidence="draught over the lower limit of its window",
        limit_says="less than {}, or the fan stands",
        priority="highest",
        cause="fan tripped or switched off, belt gone, damper shut",
        consequence="hexavalent chromium mist, or what else the hood holds, at the face",
        action="rectifiers of toxic tanks off, cover, leave; no reset until the cause is known",
        respond_within_s=60.0,
        is_safety=True,
    ),
    Rule(
        name="belt-slips",
        title="fan's belt slips",
        of=("extract",),
        needs=("draught", "motor-current"),
        judge=belt_slips,
        limit=80.0,
        unit="%",
        evidence="draught over its habit, with too little motor current",
        looks=2,
        cause="belt worn or loose; after a repair: the fan runs backwards",
        consequence="the hoods hardly capture",
        action="look at the belt, then at which way the fan turns",
        respond_within_s=1800.0,
    ),
    Rule(
        name="hoods-starve",
        title="hoods draw less than usual",
        of=("extract",),
        needs=("draught", "motor-current"),
        judge=hoods_starve,
        limit=80.0,
        unit="%",
        evidence="draught over its habit, at the fan's usual current",
        looks=4,
        cause="make-up air lost, damper moved, slots crusted",
        consequence="mist escapes at every hood of this fan",
        action="the air supply unit first (doors hard to open?), then dampers and slots",
        respond_within_s=3600.0,
    ),
    Rule(
        name="pad-torn",
        title="mesh pad holds nothing back",
        of=("extract",),
        needs=("draught", "draught.pad"),
        judge=pad_torn,
        limit=80.0,
        unit="%",
        evidence="drop over the pad over the lower limit of its window, at good draught",
        looks=4,
        cause="pad dry, torn, shrunk or left out",
        consequence="mist leaves through the stack",
        action="look at pad and seal; wash and seat it",
        respond_within_s=8 * 3600.0,
    ),
)
