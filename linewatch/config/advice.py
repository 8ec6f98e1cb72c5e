"""What usually causes a condition, what it does to the work, and what to do first.

One row a kind of position, quantity and side. Looked up from the particular to the general:
the position's own kind, then its group, then any. All of it is common practice of the trade
in our own words, to be overwritten in the configuration by what a shop knows better; the
chemical suppliers' instructions and the shop's own rules come first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.config.advice_by_kind import BY_KIND
from linewatch.config.advice_row import HOUR, MIN, Advice
from linewatch.config.advice_row import advised as _a

if TYPE_CHECKING:
    from collections.abc import Mapping

GROUPS: dict[str, str] = {
    "clean": "wet",
    "electroclean": "wet",
    "activate": "wet",
    "strike": "bath",
    "plate": "bath",
    "cell": "bath",
    "passivate": "after",
    "seal": "after",
    "dry": "hot-air",
    "bake": "hot-air",
    "treat": "water",
    "supply": "water",
    "cyanide-rinse": "rinse",
    "cyanide-bath": "bath",
    "cleaning-rectifier": "rectifier",
}
"""Kinds of position that share advice."""

HEATED = "heated"
"""Any position whose window tells that it is heated; asked for by that name."""

NOTHING = Advice(cause="", consequence="", action="", priority="medium")


_ROWS: dict[tuple[str, str, str], Advice] = {
    ("*", "temperature", "low"): _a(
        "heater element, fuse or cut-out lost; steam short; many cold loads one after another",
        "the step works slower than the recipe counts on",
        "look at the level first, then at cut-out, fuses and phase currents of the heater",
        60 * MIN,
    ),
    ("*", "temperature", "high"): _a(
        "contactor or valve stuck; probe out of the liquid; cooling lost",
        "additives break down, water boils off, linings and parts suffer",
        "switch the heat off at the isolator, then look for what holds it on",
        10 * MIN,
        "high",
    ),
    ("bath", "temperature", "low"): _a(
        "heater element, fuse or cut-out lost; steam short; many cold loads one after another",
        "the deposit burns earlier, turns dull and pits; rate and efficiency fall",
        "hold the next load; level first, then cut-out, fuses and phase currents of the heater",
        15 * MIN,
        "high",
    ),
    ("wet", "temperature", "low"): _a(
        "heater element, fuse or cut-out lost; steam short; set-back not restored",
        "soil stays on the work; the deposit will not stick",
        "check work for water breaks; level first, then the heater's cut-out and fuses",
        30 * MIN,
    ),
    ("rinse", "temperature", "low"): _a(
        "heater or warm water lost",
        "salts rinse off slowly; work dries with marks",
        "look at the heater and the warm water supply",
        60 * MIN,
        "low",
    ),
    ("dry", "temperature", "low"): _a(
        "burner, element or fan; blocked filter; door left open",
        "work leaves wet: stains and white rust in the box",
        "check door, fan and filter; let the load stay until it is dry",
        15 * MIN,
    ),
    ("bake", "temperature", "low"): _a(
        "door open, element lost, load too large",
        "time below the soak temperature does not count: hydrogen stays in hard steel",
        "keep the load in, close the door, note the time; quality decides about the soak",
        10 * MIN,
        "high",
    ),
    ("bake", "temperature", "high"): _a(
        "controller or contactor stuck",
        "hard parts lose their temper, coatings are destroyed",
        "heat off, open the door, quarantine the load",
        2 * MIN,
        "high",
    ),
    ("*", "level", "low"): _a(
        "evaporation without top-up; leak at hose, pump seal or drain; supply shut",
        "work stays bare where it is not covered; pumps draw air",
        "look for a leak before refilling, then at valve and strainer",
        15 * MIN,
        "high",
    ),
    **{
        (position, "level", "low"): _a(
            "evaporation without top-up; leak at filter hose, pump seal or drain",
            "tops of the work stay bare; below the heater's hot zone element and lining burn",
            "heat off if it is near the heater; look for a leak before refilling",
            5 * MIN,
            "highest",
        )
        for position in ("bath", "clean", "electroclean")
    },
    ("rinse", "level", "low"): _a(
        "water shut off, drain or dump valve open",
        "work comes out unrinsed and dirties the next tank",
        "open the water, close the drain, look at the weir",
        15 * MIN,
    ),
    ("*", "level", "high"): _a(
        "top-up stuck open, coil leaking, hose left running",
        "the solution is diluted and runs over into the pit",
        "shut the water by hand and keep the overflow; take a sample",
        5 * MIN,
        "high",
    ),
    ("*", "conductivity", "high"): _a(
        "water short, drain time too short, wrong liquid carried in",
        "what clings to the work goes into the next bath, or dries on it as stains",
        "look at flow and valve; let the load drain longer; stop before a bath that is at risk",
        15 * MIN,
    ),
    ("cyanide-rinse", "conductivity", "high"): _a(
        "water short, drain time too short; or acid or another liquid was put in: conductivity"
        " does not tell which",
        "more cyanide goes on with the work; if it is acid, hydrogen cyanide rises",
        "if it rose at once, leave, warn and call whoever is responsible; else look at flow and"
        " valve, and let the load drain longer",
        5 * MIN,
        "high",
    ),
    **{
        (position, "ph", "low"): _a(
            "acid put in or carried in; probe coated or broken",
            "acid frees hydrogen cyanide, which kills",
            "leave, warn and call whoever is responsible; extraction on; drain and add nothing",
            1 * MIN,
            "highest",
        )
        for position in ("cyanide-rinse", "cyanide-bath")
    },
    ("*", "conductivity", "low"): _a(
        "solution used up or diluted; probe dry or fouled",
        "the step is weaker than the recipe counts on",
        "wipe the probe, titrate, then add what the analysis asks for",
        8 * HOUR,
        "low",
    ),
    ("supply", "conductivity", "high"): _a(
        "resin exhausted, membrane broken or bypass open",
        "every last rinse leaves spots; seals fail",
        "change the resin bottle or close the bypass; hold stain-critical work",
        60 * MIN,
    ),
    ("*", "ph", "low"): _a(
        "acid carried in or overdosed; probe coated",
        "the solution leaves the range in which it works",
        "check with a hand meter before dosing anything",
        60 * MIN,
    ),
    ("*", "ph", "high"): _a(
        "hydrogen discharged at the work uses up acid; alkali carried in; probe coated",
        "pits, haze and brittle deposit; hydroxides fall out",
        "check with a hand meter, then correct in small doses",
        60 * MIN,
    ),
    ("treat", "ph", "low"): _a(
        "alkali empty, pump air-locked, acid dumped into the stream, probe coated",
        "metals stay dissolved; in a cyanide stream acid frees deadly gas",
        "stop the feed and hold the discharge; check by hand; never add anything blind",
        2 * MIN,
        "highest",
    ),
    ("treat", "ph", "high"): _a(
        "alkali overdosed, acid empty, probe coated",
        "zinc and chromium dissolve again; the discharge leaves its permit",
        "stop the alkali, hold the discharge, check by hand",
        10 * MIN,
        "high",
    ),
    ("treat", "orp", "low"): _a(
        "oxidiser empty, old or air-locked; probe fouled",
        "cyanide passes untreated",
        "hold the transfer; look at reagent and pump; spot test before release",
        10 * MIN,
        "high",
    ),
    ("treat", "orp", "high"): _a(
        "reducer empty, old or air-locked; probe fouled; oxidiser overdosed",
        "hexavalent chromium passes unreduced",
        "hold the transfer; look at reagent and pump; spot test before release",
        10 * MIN,
        "high",
    ),
    ("*", "turbidity", "high"): _a(
        "flow too high, polymer out, sludge blanket high",
        "metals leave as solids and the discharge exceeds its limit",
        "cut the flow, draw sludge, look at the polymer pump",
        10 * MIN,
        "high",
    ),
    ("*", "flow", "low"): _a(
        "valve shut, strainer blocked, pump dry",
        "what it feeds stands still",
        "look at valve and strainer, then prime the pump",
        15 * MIN,
    ),
    ("*", "speed", "low"): _a(
        "gear out of mesh, shear pin, motor, reversing contactor",
        "outer parts burn, inner ones stay bare, parts stick together",
        "look at gear and motor; lift a barrel that does not turn",
        2 * MIN,
        "high",
    ),
    ("treat", "flow", "high"): _a(
        "a bath dumped or all rinses open at once",
        "water leaves before it has reacted",
        "find out who let it go; divert it to the holding tank",
        5 * MIN,
    ),
    ("*", "pressure", "high"): _a(
        "filter or cloth loaded; outlet shut",
        "flow falls; roughness follows",
        "change the media and look at what it caught",
        8 * HOUR,
        "low",
    ),
    ("*", "pressure", "low"): _a(
        "blower or pump lost; media torn or not seated",
        "what it drives stands still or works less",
        "look at pump or blower, then at valve and media",
        5 * MIN,
    ),
    ("extract", "draught", "low"): _a(
        "fan stopped, belt slipping, damper shut, pad loaded",
        "mist and gas reach the people at the tanks",
        "rectifiers of toxic tanks off, cover, leave the tank; then fan and belt",
        1 * MIN,
        "highest",
    ),
    ("extract", "draught", "high"): _a(
        "mesh pad or packing loaded",
        "the fan moves less air at every hood",
        "wash the pad down",
        8 * HOUR,
        "low",
    ),
    ("extract", "running", "discrete"): _a(
        "fan tripped or switched off",
        "mist and gas reach the people at the tanks",
        "rectifiers of toxic tanks off, cover, leave; no reset before the cause is known",
        1 * MIN,
        "highest",
    ),
    ("extract", "ph", "low"): _a(
        "alkali of the scrubber empty",
        "acid fumes, or hydrogen cyanide from a cyanide scrubber, leave through the stack",
        "look at the dosing pump and its tank",
        15 * MIN,
        "high",
    ),
    ("*", "volume", "low"): _a(
        "reagent or stock nearly used up",
        "dosing stops and what it holds goes out of its range",
        "fill up or change the drum; see that the right one is opened",
        60 * MIN,
    ),
    ("*", "mass", "low"): _a(
        "stock nearly used up",
        "dosing stops and what it holds goes out of its range",
        "fill up or change the drum; see that the right one is opened",
        60 * MIN,
    ),
    ("rectifier", "current", "low"): _a(
        "bar without contact, voltage limit reached, anodes depleted, trip",
        "thin deposit; an interrupted nickel or chromium layer will not hold the next one",
        "note the time, look at bar contact and limit flag; quality decides about the load",
        1 * MIN,
        "high",
    ),
    ("rectifier", "current", "high"): _a(
        "set-point of another job, part fallen on an anode",
        "burnt edges; a short burns parts and bar",
        "lower the current, look into the tank before switching on again",
        1 * MIN,
        "high",
    ),
    ("rectifier", "voltage", "high"): _a(
        "bath cold, contacts dirty, anodes polarised or depleted, bags plugged",
        "the unit runs into its limit and the current falls",
        "feel joints and bar ends, look at anodes and bath temperature",
        10 * MIN,
    ),
    ("rectifier", "voltage", "low"): _a(
        "short, wrong polarity, or output off",
        "no deposit, or the work dissolves",
        "switch off, look into the tank, check polarity after any service",
        1 * MIN,
        "high",
    ),
    ("rectifier", "ripple", "high"): _a(
        "device or input phase lost; unit run far below its rating",
        "chromium turns dull and layered, nickel hazy",
        "check fuses and phase currents; move the load to a smaller unit",
        10 * MIN,
    ),
    ("rectifier", "heat-sink", "high"): _a(
        "fan, air filter or cooling water",
        "the unit will trip in the middle of a load",
        "clean the mat, look at fan or water, reduce the load",
        10 * MIN,
        "high",
    ),
    ("rectifier", "fault", "discrete"): _a(
        "the unit reports a fault of its own",
        "the load may have been without current",
        "note the time; read the unit's display before a single reset",
        1 * MIN,
        "high",
    ),
    ("*", "fault", "discrete"): _a(
        "the device reports a fault of its own",
        "what it does may have stopped",
        "read the device's display before a single reset",
        10 * MIN,
    ),
    ("*", "load-present", "overdue"): _a(
        "hoist or conveyor stands, or the load was forgotten",
        "treated for longer than its order allows",
        "send the load on by hand and write down the time",
        3 * MIN,
    ),
    ("activate", "load-present", "overdue"): _a(
        "hoist or conveyor stands, or the load was forgotten",
        "over-pickled; hard steel takes up hydrogen and may crack later",
        "lift the load to its rinse by hand, write down the time, let quality decide",
        1 * MIN,
        "high",
    ),
    ("*", "*", "bad-quality"): _a(
        "sensor, wiring, or the link to the device",
        "this quantity is not watched at all until it is back",
        "read it by hand meanwhile; look at probe, plug and the links screen",
        30 * MIN,
        "low",
    ),
    ("treat", "*", "bad-quality"): _a(
        "probe, wiring, sample line, or the link to the device",
        "the discharge is not watched until it is back",
        "hold the discharge or check it by hand",
        5 * MIN,
        "medium",
    ),
    ("*", "level", "bad-quality"): _a(
        "level probe, wiring, or the link to the device",
        "a leak or a bare heater would not be seen",
        "look at the tank; dip the level by hand until it is back",
        15 * MIN,
        "medium",
    ),
    (HEATED, "temperature", "bad-quality"): _a(
        "probe open, wiring, or the link to the device",
        "the heater may be fully on, or off: nothing tells it",
        "measure by hand; heater to manual or off until the probe is back",
        5 * MIN,
        "medium",
    ),
    ("*", "*", "frozen"): _a(
        "probe dead or fouled, sample line stopped, device no longer updating",
        "the value looks calm but tells nothing",
        "compare by hand; look at probe, sample line and device",
        30 * MIN,
    ),
}


def advice(position: str, measurement: str, side: str) -> Advice:
    """Return what to tell with a condition.

    Args:
        position: Kind of position, or 'rectifier'.
        measurement: Kind of measurement, with the suffix that tells twins apart.
        side: 'low', 'high', 'bad-quality', or another kind of condition.
    """
    places = (position, GROUPS.get(position, ""), "*")
    kinds = dict.fromkeys((measurement, measurement.partition(".")[0]))
    for what in (*kinds, "*"):
        for place in places:
            row = BY_KIND.get((place, what, side)) or _ROWS.get((place, what, side))
            if row is not None:
                return row
    return NOTHING


def fitting(position: str, texts: Mapping[str, str], otherwise: str) -> str:
    """Return the text for a kind of position, or for its group.

    Args:
        position: Kind of position, or 'rectifier'.
        texts: By kind or group.
        otherwise: What fits any other.
    """
    return texts.get(position) or texts.get(GROUPS.get(position, "")) or otherwise
