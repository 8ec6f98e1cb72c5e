"""Advice for single kinds of position, where what fits any would mislead.

A dryer has no liquid that a probe could leave, a rinse plates nothing past its tolerance, and
the unit of an electrocleaner lays down no metal. As in `advice`, all of it is common practice.
"""

from __future__ import annotations

from linewatch.config.advice_row import MIN, Advice
from linewatch.config.advice_row import advised as _a

STANDS = "hoist or conveyor stands, or the load was forgotten"
BY_KIND: dict[tuple[str, str, str], Advice] = {
    ("wet", "load-present", "overdue"): _a(
        STANDS,
        "the work tarnishes in the cleaner, and cleaner dries on when it is lifted",
        "lift the load to its rinse before it dries, and write down the time",
        3 * MIN,
    ),
    ("bath", "load-present", "overdue"): _a(
        STANDS,
        "plated past its thickness: out of tolerance, or brittle",
        "lift the load to its rinse and write down the time; quality decides",
        3 * MIN,
    ),
    ("rinse", "load-present", "overdue"): _a(
        STANDS,
        "nickel turns passive, zinc and bare steel rust; the next layer may not hold",
        "send the load on by hand and write down the time; ask quality whether it must be"
        " activated again",
        3 * MIN,
    ),
    ("after", "load-present", "overdue"): _a(
        STANDS,
        "the film turns thick, dull or loose; zinc is dissolved",
        "lift the load to its next step and write down the time; quality decides",
        3 * MIN,
    ),
    ("dry", "load-present", "overdue"): _a(
        STANDS,
        "films crack and parts discolour when they stay too hot for too long",
        "take the load out and write down the time",
        10 * MIN,
    ),
    ("bake", "load-present", "overdue"): _a(
        "nobody took the load out, or its clock was set too long",
        "hard parts may lose temper, coatings discolour; the oven is not free",
        "take the load out as its order says, and write down the time",
        10 * MIN,
    ),
    ("load", "load-present", "overdue"): _a(
        "nobody has unloaded it, or the hoist does not fetch it",
        "the line behind it waits",
        "unload it, or look why it is not fetched",
        10 * MIN,
        "low",
    ),
    ("dry", "temperature", "high"): _a(
        "controller, burner or contactor stuck",
        "passivates crack and parts discolour",
        "heat off, door open; hold the load that is in",
        5 * MIN,
        "high",
    ),
    ("rinse", "temperature", "high"): _a(
        "contactor, valve or mixer stuck; probe out of the water",
        "water boils off; work dries before it is rinsed, with marks",
        "shut the heat or the warm water, then look for what holds it on",
        15 * MIN,
    ),
    ("extract", "ph", "high"): _a(
        "alkali overdosed; probe coated",
        "alkali is wasted, and scale settles in packing and nozzles",
        "stop the dosing, check with a hand meter",
        60 * MIN,
        "low",
    ),
    ("extract", "flow", "low"): _a(
        "pump, valve, strainer or nozzles",
        "the scrubber washes less: fumes leave through the stack",
        "look at the pump, then at strainer and nozzles",
        15 * MIN,
        "high",
    ),
    ("extract", "level", "low"): _a(
        "water shut, drain open, a leak",
        "the pump draws air, and the scrubber runs dry: fumes leave through the stack",
        "look for a leak, then open the water",
        15 * MIN,
        "high",
    ),
    ("supply", "level", "low"): _a(
        "more is drawn than made; inlet shut; a leak",
        "every rinse that it feeds is about to stand",
        "look for a leak and for what draws, then at the inlet",
        15 * MIN,
        "high",
    ),
    **{
        (position, "conductivity", "high"): _a(
            "overdosed, water boiled off and not topped up, another solution carried in",
            "the step is stronger than the recipe counts on, and more is dragged out",
            "look at the level, titrate, then thin as the analysis asks",
            60 * MIN,
        )
        for position in ("bath", "wet", "after")
    },
    ("rinse", "ph", "high"): _a(
        "alkali carried in; probe coated",
        "marks dry on, and the next bath is fed with alkali",
        "check with a hand meter; look at flow, valve and drain time",
        60 * MIN,
    ),
    ("after", "ph", "high"): _a(
        "metal that dissolves uses up acid; alkali carried in; probe coated",
        "the film turns thin, dull or loose",
        "check with a hand meter, then correct in small doses",
        60 * MIN,
    ),
    **{
        (position, "ph", "high"): _a(
            "overdosed, acid carried off, alkali carried in; probe coated",
            "the step works other than the recipe counts on",
            "check with a hand meter, then correct in small doses",
            60 * MIN,
        )
        for position in ("wet", "supply")
    },
    ("rinse", "flow", "low"): _a(
        "valve shut, strainer blocked",
        "the rinse stands still: each load leaves dirtier than the one before",
        "look at valve and strainer",
        15 * MIN,
    ),
    ("treat", "flow", "low"): _a(
        "valve shut, strainer blocked, pump or dosing stopped",
        "nothing is treated or dosed here any more; what comes in backs up",
        "look at pump, valve and strainer; hold what leaves",
        15 * MIN,
    ),
    ("treat", "level", "low"): _a(
        "used up and not filled; a leak; a valve left open",
        "dosing stops, and what it holds goes out of its range; pumps draw air",
        "look for a leak, then fill up; see that the right drum is opened",
        15 * MIN,
        "high",
    ),
    ("treat", "level", "high"): _a(
        "more comes in than goes on; pump or outlet stopped",
        "it runs over before it is treated",
        "cut the feed, look at pump and outlet",
        5 * MIN,
        "high",
    ),
    ("treat", "pressure", "high"): _a(
        "cloth or filter loaded or blinded; outlet shut",
        "the press takes no more, and sludge backs up",
        "end the run, look at cloth and outlet",
        60 * MIN,
        "low",
    ),
    ("*", "pressure.air", "high"): _a(
        "holes of the air pipe plugged; valve half shut",
        "bubbles rise in patches: the step is uneven",
        "look at the pattern of bubbles; flush the pipe",
        480 * MIN,
        "low",
    ),
    ("*", "pressure.air", "low"): _a(
        "blower or belt lost; valve shut; pipe broken",
        "nothing moves the liquid: the step is slow and uneven",
        "look at blower, belt and valve",
        5 * MIN,
    ),
    ("bath", "pressure.air", "low"): _a(
        "blower or belt lost; valve shut; pipe broken",
        "agitation is gone: burning and pits",
        "look at blower, belt and valve; lower the current meanwhile",
        5 * MIN,
    ),
    ("*", "pressure.filter", "low"): _a(
        "pump lost or dry; media torn or not seated; bypass open",
        "nothing is filtered: sudden roughness",
        "look at the pump, then at media and bypass",
        5 * MIN,
    ),
    ("cleaning-rectifier", "current", "low"): _a(
        "bar without contact, voltage limit reached, trip",
        "soil and smut stay on: the deposit will not stick",
        "note the time, look at bar contact and limit flag; send the load back to clean",
        1 * MIN,
        "high",
    ),
    ("cleaning-rectifier", "current", "high"): _a(
        "set-point of another job, part fallen on an electrode",
        "the work is etched or smutted; a short burns parts and bar",
        "lower the current, look into the tank before switching on again",
        1 * MIN,
        "high",
    ),
    ("cleaning-rectifier", "voltage", "high"): _a(
        "cleaner cold or weak, contacts dirty, electrodes coated",
        "the unit runs into its limit and cleans less",
        "feel joints and bar ends, look at electrodes and temperature",
        10 * MIN,
    ),
    ("cleaning-rectifier", "voltage", "low"): _a(
        "short, wrong polarity, or output off",
        "soil stays on, or smut is plated on the work",
        "switch off, look into the tank, check polarity after any service",
        1 * MIN,
        "high",
    ),
    ("cleaning-rectifier", "ripple", "high"): _a(
        "device or input phase lost; unit run far below its rating",
        "the unit heats up and may trip; it cleans less",
        "check fuses and phase currents",
        10 * MIN,
    ),
    ("cleaning-rectifier", "fault", "discrete"): _a(
        "the unit reports a fault of its own",
        "the load may have gone on without having been cleaned",
        "note the time; read the unit's display before a single reset",
        1 * MIN,
        "high",
    ),
}
"""Looked up before the rows for all."""
