"""Heaters, probes, cooling, ovens. Limits are common practice of the trade unless sourced."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.gauges import slope
from linewatch.core.rules.rule import Rule, Told

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.plan import Window
    from linewatch.core.rules.rule import Kept, Seen

WET: Final = ("clean", "electroclean", "strike", "plate", "passivate", "seal", "cell")
WARM_DEGC: Final = 35.0
"""A bath that is meant to be warmer than this has a heater: common practice."""
HEAT_SPAN_S: Final = 900.0
WARM_SPAN_S: Final = 600.0
LAGS_S: Final = 3.0 * 3600.0
UNDER_K: Final = 0.5
PULLED_K: Final = 5.0
FRESH_S: Final = 95.0


IS_WARM_SAYS: Final = (
    "it watches what is heated: a target, or else a lower limit, of 35 °C or more"
)
IS_COOL_SAYS: Final = (
    "it watches what is not heated (target under 35 °C) and has an upper limit"
)


def is_warm(windows: Mapping[str, Window]) -> bool:
    """Say whether windows tell of a heated bath."""
    window = windows.get("temperature")
    if window is None:
        return False
    wanted = window.target if window.target is not None else window.low
    return wanted is not None and wanted >= WARM_DEGC


def is_cool(windows: Mapping[str, Window]) -> bool:
    """Say whether windows tell of a bath near the room's temperature, with an upper limit."""
    window = windows.get("temperature")
    return window is not None and window.high is not None and not is_warm(windows)


def _wanted(window: Window) -> float:
    if window.target is not None:
        return window.target
    return window.low if window.low is not None else 0.0


def heat_lost(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a bath below its target that goes on cooling as an unheated tank does."""
    degc = seen.value["temperature"]
    found, kept = slope(seen.now_s, degc, kept, HEAT_SPAN_S)
    if found is None or degc is None:
        return None, kept
    under_k = _wanted(seen.window["temperature"]) - degc
    return Told(under_k > UNDER_K and found < -seen.limit, -found), kept


def heat_stuck(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a bath above its target that goes on warming."""
    degc = seen.value["temperature"]
    found, kept = slope(seen.now_s, degc, kept, WARM_SPAN_S)
    if found is None or degc is None:
        return None, kept
    over_k = degc - _wanted(seen.window["temperature"])
    return Told(over_k > 1.0 and found > seen.limit, found), kept


def warms_itself(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a cool bath that its own current warms towards its upper limit."""
    degc, window = seen.value["temperature"], seen.window["temperature"]
    found, kept = slope(seen.now_s, degc, kept, 2.0 * HEAT_SPAN_S)
    if found is None or degc is None or window.high is None:
        return None, kept
    middle = window.target if window.target is not None else window.high - 2.0
    return Told(degc > 0.5 * (middle + window.high) and found > seen.limit, found), kept


def probe_out(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a probe that cools far faster than any bath; kept: (time, last, before, from)."""
    degc = seen.value["temperature"]
    if degc is None:
        return None, kept
    if len(kept) != 4 or seen.now_s - kept[0] > FRESH_S:  # noqa: PLR2004 - as said above
        fell_from = kept[3] if len(kept) == 4 else 0.0  # noqa: PLR2004
        kept = (seen.now_s, degc, degc, fell_from)
    _, last, before, fell_from = kept
    if before - degc > seen.limit:
        fell_from = max(fell_from, before)
    elif fell_from and degc > fell_from - seen.limit:
        fell_from = 0.0
    told = Told(fell_from > 0.0, fell_from - degc if fell_from else 0.0)
    return told, (seen.now_s, degc, last, fell_from)


def heater_uncovered(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a level at which the heater's hot zone may stand dry."""
    level = seen.value["level"]
    window = seen.window["level"]
    if level is None or window.low is None:
        return None, kept
    least = window.low_low if window.low_low is not None else window.low - seen.limit
    return Told(level < least, window.low - level), kept


def bath_cycles(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell wide swings of a bath; kept: (start of the hour, least, largest, turns, way)."""
    degc = seen.value["temperature"]
    if degc is None:
        return None, kept
    if len(kept) != 5 or seen.now_s - kept[0] > 1.5 * 3600.0:  # noqa: PLR2004 - as said above
        return None, (seen.now_s, degc, degc, 0.0, 0.0)
    began_s, low, high, turns, way = kept
    middle = 0.5 * (low + high)
    side = 1.0 if degc > middle + 1.0 else -1.0 if degc < middle - 1.0 else way
    turns += float(way not in {0.0, side})
    low, high = min(low, degc), max(high, degc)
    if seen.now_s - began_s < 4.0 * HEAT_SPAN_S:
        return None, (began_s, low, high, turns, side)
    return Told(high - low > seen.limit and turns >= 4, high - low), ()  # noqa: PLR2004


def loads_chill(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a bath that cold work pulls down; kept: (time of entry, degC then)."""
    degc = seen.value["temperature"]
    if degc is None or seen.work is None:
        return None, kept
    if not seen.work:
        return Told(is_there=False, value=0.0), ()
    if not kept:
        return None, (seen.now_s, degc)
    fell_k = kept[1] - degc
    is_cold = seen.limit < fell_k < PULLED_K
    return Told(is_cold and seen.now_s - kept[0] < 1200.0, fell_k), kept  # noqa: PLR2004


def soak_broken(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a soak that was left; kept: (time since which it has been hot)."""
    degc, low = seen.value["temperature"], seen.window["temperature"].low
    if degc is None or low is None or seen.work is None:
        return None, kept
    if not seen.work:
        return Told(is_there=False, value=low - degc), ()
    if degc >= low:
        return Told(is_there=False, value=low - degc), kept or (seen.now_s,)
    was_hot = bool(kept) and seen.now_s - kept[0] > 600.0  # noqa: PLR2004 - ten minutes
    return Told(was_hot and degc < low - seen.limit, low - degc), kept


def core_lags(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell parts that stay colder than the air; kept: (time since which the air is hot)."""
    air, core = seen.value["temperature"], seen.value["temperature.load"]
    low = seen.window["temperature"].low
    if air is None or core is None or low is None or seen.work is None:
        return None, kept
    if not seen.work or air < low:
        return Told(is_there=False, value=0.0), ()
    kept = kept or (seen.now_s,)
    is_late = seen.now_s - kept[0] > LAGS_S and core < low
    return Told(is_late and air - core > seen.limit, air - core), kept


REST: Final = ("heating-up", "line-rests")
HEAT: Final[tuple[Rule, ...]] = (
    Rule(
        name="heat-lost",
        title="bath cools: no heat arrives",
        of=WET,
        needs=("temperature",),
        fits=is_warm,
        fits_says=IS_WARM_SAYS,
        judge=heat_lost,
        limit=1.2,
        unit="K/h",
        evidence="how fast the bath cools below its target",
        looks=2,
        priority="high",
        cause="fuse, contactor, tripped cut-out, steam valve shut, or locked out by the level",
        consequence="the step works slower than the recipe counts on",
        consequences={
            "wet": "the cleaner stops cleaning, and the deposit will not stick",
            "bath": "the deposit burns early, dulls and pits; less metal in the same time",
            "passivate": "the film stays thin and pale",
            "seal": "the seal does not close or set",
        },
        action="level first, then over-temperature cut-out, fuses, contactor or steam",
        respond_within_s=900.0,
        suppress_when=REST,
    ),
    Rule(
        name="heat-stuck",
        title="bath warms past its target",
        of=WET,
        needs=("temperature",),
        fits=is_warm,
        fits_says=IS_WARM_SAYS,
        judge=heat_stuck,
        limit=2.0,
        unit="K/h",
        evidence="how fast the bath warms above its target",
        priority="high",
        cause="contactor welded, thermostat stuck, steam valve passing",
        consequence="water boils off, the solution breaks down, linings suffer",
        consequences={"bath": "additives break down, edges are etched, linings suffer"},
        action="open the heater's isolator by hand, then change the contactor; a lower set"
        " point does not help",
        respond_within_s=300.0,
    ),
    Rule(
        name="warms-itself",
        title="own current warms the bath",
        of=("plate", "strike", "cell"),
        needs=("temperature",),
        fits=is_cool,
        fits_says=IS_COOL_SAYS,
        judge=warms_itself,
        limit=0.5,
        unit="K/h",
        evidence="how fast the bath warms near its upper limit",
        cause="cooling water or chiller lost; more current than the tank can shed",
        consequence="the deposit clouds, throw and levelling are lost, additives are used up",
        action="cooling flow and its inlet temperature, then the coil; less current meanwhile",
        respond_within_s=600.0,
        suppress_when=("line-rests",),
    ),
    Rule(
        name="probe-out",
        title="temperature probe out of the liquid",
        of=WET,
        needs=("temperature",),
        fits=is_warm,
        fits_says=IS_WARM_SAYS,
        judge=probe_out,
        limit=PULLED_K,
        unit="K",
        evidence="how far it fell, faster than any bath cools",
        priority="highest",
        cause="probe pulled out, hung up, or the level has left it",
        consequence="the controller heats without end: the bath boils over, a lining may burn",
        action="heat off at the isolator; put the probe back; ask who worked on the tank",
        respond_within_s=60.0,
        is_safety=True,
        doubts=("temperature",),
    ),
    Rule(
        name="heater-uncovered",
        title="level near the heater's hot zone",
        of=WET,
        needs=("temperature", "level"),
        fits=is_warm,
        fits_says=IS_WARM_SAYS,
        judge=heater_uncovered,
        limit=50.0,
        unit="mm",
        evidence="how far the level lies under its window",
        limit_says="its outer limit counts; where none is set, {}",
        priority="highest",
        cause="leak, evaporation without top-up, or a drain left open",
        consequence="the element runs dry; lining and tank can take fire, often at night",
        action="heat off now, look from a distance, stop the leak, only then refill",
        respond_within_s=60.0,
        is_safety=True,
    ),
    Rule(
        name="bath-cycles",
        title="temperature swings",
        of=WET,
        needs=("temperature",),
        fits=is_warm,
        fits_says=IS_WARM_SAYS,
        judge=bath_cycles,
        limit=5.0,
        unit="K",
        evidence="from least to largest within an hour, to and fro at least twice",
        priority="low",
        cause="poor mixing round the probe: air or pump off, probe beside the heater",
        consequence="the step differs from top to bottom of the work",
        consequences={"bath": "the deposit differs from top to bottom"},
        action="look at air and pump, then at where the probe hangs",
        respond_within_s=3600.0,
        suppress_when=REST,
    ),
    Rule(
        name="loads-chill",
        title="cold work pulls the bath down",
        of=WET,
        needs=("temperature", "load-present"),
        fits=is_warm,
        fits_says=IS_WARM_SAYS,
        judge=loads_chill,
        limit=2.5,
        unit="K",
        evidence="how far it fell since this load came in",
        looks=2,
        priority="low",
        cause="heavy cold loads follow faster than the heater makes up for",
        consequence="the first minutes run at the cold edge of the window",
        action="space the loads, warm the rinse before, look at the heater's size",
        respond_within_s=1800.0,
        suppress_when=REST,
    ),
    Rule(
        name="soak-broken",
        title="bake fell out of its soak",
        of=("bake",),
        needs=("temperature", "load-present"),
        judge=soak_broken,
        limit=2.0,
        unit="K",
        evidence="how far the air fell under its window, after the soak had begun",
        priority="high",
        cause="door opened, power or an element lost, load too large",
        consequence="time below the soak does not count; parts of a bake do not add up",
        action="close the door, note the time, start the soak again as the order says",
        respond_within_s=600.0,
    ),
    Rule(
        name="core-lags",
        title="parts lag behind the oven's air",
        of=("bake",),
        needs=("temperature", "temperature.load", "load-present"),
        judge=core_lags,
        limit=10.0,
        unit="K",
        evidence="air less parts, after three hours of hot air",
        priority="low",
        cause="a thick pile, a large load, or the load's probe not in the load",
        consequence="a soak counted by the air is too short for the parts",
        action="count the soak by the parts' probe; spread the load",
        respond_within_s=1800.0,
    ),
)
