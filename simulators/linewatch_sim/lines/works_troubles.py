"""What may go wrong in the works, part by part; one row a trouble."""

from __future__ import annotations

from linewatch_sim.troubles import (
    Acts,
    Trouble,
    dropped_link,
    for_a_moment,
    forgotten_subscription,
    frozen_link,
    frozen_unit,
    knob,
    sensor,
    shift,
    silent_unit,
    spoiled_value,
    stopped_in_the_air,
    together,
)


def _row(name: str, group: str, tells: str, acts: Acts) -> Trouble:
    return Trouble(name=name, group=group, tells=tells, **acts)


def _tank(wrong: str, tank: str, value: float) -> Acts:
    return knob("solutions", wrong, tank, value)


def _served(wrong: str, tank: str, value: float) -> Acts:
    return knob("services", wrong, tank, value)


def _unit(wrong: str, rectifier: str, value: float) -> Acts:
    return knob("electrics", wrong, rectifier, value)


def _water(wrong: str, subject: str, value: float) -> Acts:
    return knob("utilities", wrong, subject, value)


HEAT: tuple[Trouble, ...] = (
    _row(
        "set-back-not-restored",
        "heating",
        "The night set-back of nickel-4 was restored too late: it starts 12 K cold.",
        shift("solutions", "temperature_degc", "nickel-4", -12.0),
    ),
    _row(
        "element-burns-out",
        "heating",
        "One of three elements of soak-clean-2 gives no heat; duty climbs, it sags under load.",
        _tank("heater_share", "soak-clean-2", 0.67),
    ),
    _row(
        "mixing-lost",
        "heating",
        "Warm and cold streaks pass the probe of soak-clean-1 in turn: nothing mixes the bath.",
        sensor("soak-clean-1.temperature", "swing", 4.0),
    ),
    _row(
        "cold-castings",
        "heating",
        "Heavy cold castings go through barrel-nickel: each pulls the bath down.",
        together(_tank("cold_k", "barrel-nickel", 15.0), _tank("heavy", "barrel-nickel", 22.0)),
    ),
    _row(
        "core-stays-cold",
        "heating",
        "The parts in the bake-oven are packed so tight that their core stays cold.",
        _tank("lag", "bake-oven", 40.0),
    ),
    _row(
        "heater-fails",
        "heating",
        "The heater of nickel-2 gives no heat although its thermostat asks for it.",
        _tank("heater_share", "nickel-2", 0.0),
    ),
    _row(
        "heater-sticks-on",
        "heating",
        "The contactor of the copper-strike heater sticks; the bath warms past its set-point.",
        _tank("heater_stuck_on", "copper-strike", 1.0),
    ),
    _row(
        "cooling-lost",
        "heating",
        "The cooling water of zinc-2 is shut; its own current warms the bath.",
        _tank("cooling_share", "zinc-2", 0.0),
    ),
    _row(
        "sensor-opens",
        "heating",
        "The wire of the temperature probe in nickel-1 breaks.",
        sensor("nickel-1.temperature", "open"),
    ),
    _row(
        "probe-drifts",
        "heating",
        "The temperature probe in nickel-3 reads ever higher, 2 K more each hour.",
        sensor("nickel-3.temperature", "drift", 2.0),
    ),
    _row(
        "probe-pulled-out",
        "heating",
        "The temperature probe of electroclean hangs above the liquid; the heater stays on.",
        _tank("probe_out", "electroclean", 1.0),
    ),
    _row(
        "dryer-cold",
        "after-plating",
        "The rack dryer gets a quarter of its heat.",
        _tank("heater_share", "rack-dry", 0.25),
    ),
    _row(
        "oven-low",
        "after-plating",
        "The relief-bake oven loses two of its three elements and falls below its soak.",
        _tank("heater_share", "bake-oven", 0.2),
    ),
    _row(
        "oven-high",
        "after-plating",
        "The contactor of the relief-bake oven sticks; it warms past its limit.",
        _tank("heater_stuck_on", "bake-oven", 1.0),
    ),
)
LIQUID: tuple[Trouble, ...] = (
    _row(
        "top-up-fails",
        "level",
        "No water comes through the level valve of soak-clean-1.",
        _tank("top_up_share", "soak-clean-1", 0.0),
    ),
    _row(
        "top-up-sticks-open",
        "level",
        "The level valve of copper-strike does not shut; the bath rises and is diluted.",
        _tank("top_up_stuck_open", "copper-strike", 1.0),
    ),
    _row(
        "tank-weeps",
        "level",
        "A flange of barrel-nickel weeps: 3 mm an hour, and its top-up hides it.",
        _tank("leak_l_per_min", "barrel-nickel", 0.115),
    ),
    _row(
        "tank-leaks",
        "level",
        "A hose of the chromium bath leaks 30 L a minute, more than its top-up gives.",
        _tank("leak_l_per_min", "chromium", 30.0),
    ),
    _row(
        "level-probe-sticks",
        "level",
        "The level probe of nickel-4 is fouled and shows a flat line though loads go in.",
        sensor("nickel-4.level", "stuck"),
    ),
    _row(
        "rinse-water-off",
        "preparation",
        "The water of rinse-6 is shut; each rack adds a step and nothing carries it off.",
        _tank("water_share", "rinse-6", 0.0),
    ),
    _row(
        "rinse-probe-dry",
        "preparation",
        "The conductivity probe of rinse-5 is fouled and no longer moves.",
        sensor("rinse-5.conductivity", "stuck"),
    ),
    _row(
        "wrong-liquid",
        "preparation",
        "Somebody puts an acid hose into rinse-3; its conductivity jumps.",
        shift("solutions", "conductivity_us", "rinse-3", 6000.0),
    ),
    _row(
        "passivate-drifts",
        "after-plating",
        "The acid pump of the passivate gives nothing; its pH climbs with each barrel.",
        knob("solutions", "ph_dosing", "passivate", 0.0),
    ),
    _row(
        "nickel-ph-climbs",
        "plating",
        "The acid pump of nickel-1 gives nothing; the pH climbs with the charge.",
        knob("solutions", "ph_dosing", "nickel-1", 0.0),
    ),
    _row(
        "air-lost",
        "agitation",
        "The blower of the acid coppers stops; cells polarise and volts rise.",
        together(*(_served("blower", f"acid-copper-{k}", 0.0) for k in (1, 2, 3))),
    ),
    _row(
        "sparger-plugs",
        "agitation",
        "The air pipe of nickel-2 plugs; its pressure rises.",
        _served("sparger_plugged", "nickel-2", 1.0),
    ),
    _row(
        "filter-clogs",
        "agitation",
        "The filter of nickel-1 fills within minutes: pressure up, flow down.",
        knob("services", "filter_clogged", "nickel-1", 1.0, over_s=300.0),
    ),
    _row(
        "filter-bypassed",
        "agitation",
        "The filter of nickel-3 is torn: pressure falls in one step at good flow.",
        _served("filter_bypassed", "nickel-3", 1.0),
    ),
    _row(
        "pump-runs-dry",
        "level",
        "The filter pump of acid-copper-2 has lost its prime.",
        _served("pump", "acid-copper-2", 0.0),
    ),
    _row(
        "pump-draws-air",
        "agitation",
        "The filter pump of nickel-4 draws air; pressure and flow tremble.",
        _served("air_drawn", "nickel-4", 1.0),
    ),
)
CURRENT: tuple[Trouble, ...] = (
    _row(
        "mains-dips",
        "rectifier",
        "The mains dip: every rectifier and blower drops out for two seconds.",
        together(
            for_a_moment("electrics", "enabled", 0.0, 2.0),
            for_a_moment("services", "blower", 0.0, 2.0),
        ),
    ),
    _row(
        "meter-creeps",
        "rectifier",
        "The ampere-hour meter of copper-strike counts 12 A with no current at all.",
        _unit("meter_creep_a", "rectifier-strike", 12.0),
    ),
    _row(
        "output-disagrees",
        "rectifier",
        "The acid-copper-3 rectifier gives a fifth less than its own set-point says.",
        _unit("output_factor", "rectifier-copper-3", 0.8),
    ),
    _row(
        "turned-down",
        "rectifier",
        "The rectifier of acid-copper-3 runs at the bottom of its range.",
        _unit("set_factor", "rectifier-copper-3", 0.1),
    ),
    _row(
        "barrel-half-empty",
        "rectifier",
        "The barrel of zinc-2 is set for a third of its load.",
        _unit("set_factor", "rectifier-zinc-2", 0.35),
    ),
    _row(
        "unit-repeats",
        "rectifier",
        "The rectifier of nickel-1 repeats its last answers, though it answers.",
        together(
            *(
                sensor(f"rectifier-nickel-1.{kind}", "stuck")
                for kind in ("current", "voltage", "heat-sink")
            )
        ),
    ),
    _row(
        "hoist-stops",
        "movement",
        "The rack line stops while a load hangs over the tank behind rinse-3.",
        stopped_in_the_air("rack", "rinse-3"),
    ),
    _row(
        "dip-left-out",
        "movement",
        "Rack loads pass over acid-2.",
        knob("loads", "left_out", "rack", 9.0),
    ),
    _row(
        "line-hurries",
        "movement",
        "The rack line runs twice as fast as its program says.",
        knob("loads", "moving", "rack", 2.0),
    ),
    _row(
        "reducer-runs-on",
        "treatment",
        "The reducer's pump at chromium-reduction runs on, whatever its controller says.",
        _water("runs_on", "chromium-reduction", 0.8),
    ),
    _row(
        "pad-torn",
        "air",
        "The mist pad of the chromium extraction is torn.",
        _water("torn", "extract-chromium", 1.0),
    ),
    _row(
        "bar-salted",
        "contacts",
        "The contacts of one flight bar are salted: volts rise wherever it hangs.",
        knob("loads", "salted_bar", "rack", 5.0),
    ),
    _row(
        "device-lost",
        "rectifier",
        "One device of the nickel-3 rectifier is open: ripple jumps, the current holds.",
        _unit("lost_devices", "rectifier-nickel-3", 1.0),
    ),
    _row(
        "phase-lost",
        "rectifier",
        "The rectifier of zinc-1 has lost an input phase.",
        _unit("lost_devices", "rectifier-zinc-1", 2.0),
    ),
    _row(
        "voltage-limit",
        "rectifier",
        "Dirty contacts drive the rectifier of copper-strike into its voltage limit.",
        _unit("contact_factor", "rectifier-strike", 320.0),
    ),
    _row(
        "fan-blocked",
        "rectifier",
        "The fan of the acid-copper-1 rectifier stands; its heat-sink warms.",
        _unit("fan", "rectifier-copper-1", 0.0),
    ),
    _row(
        "rectifier-trips",
        "rectifier",
        "The rectifier of nickel-4 trips with work in the tank.",
        _unit("enabled", "rectifier-nickel-4", 0.0),
    ),
    _row(
        "control-hunts",
        "rectifier",
        "The current control of acid-copper-3 swings, faster than any barrel turns.",
        _unit("hunting_ratio", "rectifier-copper-3", 0.08),
    ),
    _row(
        "shunt-wrong",
        "rectifier",
        "Display and meter of the nickel-2 rectifier show 6 % more than flows.",
        _unit("shunt_factor", "rectifier-nickel-2", 1.06),
    ),
    _row(
        "losses-grow",
        "rectifier",
        "A joint inside the rectifier of acid-copper-2 is hot: it loses 30 % more.",
        _unit("loss_factor", "rectifier-copper-2", 1.3),
    ),
    _row(
        "shunt-reads-high",
        "rectifier",
        "Display and meter of the chromium rectifier, whose input is metered, show 6 % more.",
        _unit("shunt_factor", "rectifier-chromium", 1.06),
    ),
    _row(
        "module-lost",
        "rectifier",
        "One of three modules of the barrel-nickel rectifier gives nothing.",
        _unit("dead_module", "rectifier-barrel-nickel", 1.0),
    ),
    _row(
        "set-point-left",
        "rectifier",
        "The nickel-1 rectifier is still set for the last job, 60 % too high.",
        _unit("set_factor", "rectifier-nickel-1", 1.6),
    ),
    _row(
        "polarity-wrong",
        "rectifier",
        "The leads of the zinc-3 rectifier are swapped after service: the parts dissolve.",
        _unit("reversed", "rectifier-zinc-3", 1.0),
    ),
    _row(
        "reversing-switch-wrong",
        "rectifier",
        "The electrocleaner's reversing switch says that the work is the cathode.",
        sensor("rectifier-electroclean.count.work-is-anode", "scale", 0.0),
    ),
    _row(
        "bar-not-seated",
        "rectifier",
        "The bar in chromium does not sit: full volts, no current.",
        _unit("open_circuit", "rectifier-chromium", 1.0),
    ),
    _row(
        "short",
        "rectifier",
        "A part lies on an anode in acid-copper-2: volts collapse.",
        _unit("short_ratio", "rectifier-copper-2", 0.85),
    ),
    _row(
        "current-strays",
        "contacts",
        "The nickel-3 rectifier shows and counts 15 A with no rack in.",
        _unit("stray_a", "rectifier-nickel-3", 15.0),
    ),
    _row(
        "bus-joint-loose",
        "contacts",
        "A bus joint of nickel-2 is loose: volts up at the same current.",
        _unit("bus_factor", "rectifier-nickel-2", 5.0),
    ),
    _row(
        "contacts-bad",
        "contacts",
        "Rack tips in acid-copper-1 lose contact: volts up, noise up.",
        together(
            _unit("contact_factor", "rectifier-copper-1", 8.0),
            _unit("noise_factor", "rectifier-copper-1", 8.0),
        ),
    ),
    _row(
        "anodes-polarise",
        "contacts",
        "The anodes of copper-strike polarise: volts rise by more than a volt.",
        knob("electrics", "overvoltage_v", "rectifier-strike", 2.0, over_s=60.0),
    ),
    _row(
        "electroclean-weak",
        "preparation",
        "The electrocleaner runs at half of its plan.",
        _unit("set_factor", "rectifier-electroclean", 0.5),
    ),
)
MOVEMENT: tuple[Trouble, ...] = (
    _row(
        "conveyor-stalls",
        "transport",
        "The conveyor of the rack line stalls, with racks in acid.",
        knob("loads", "moving", "rack", 0.0),
    ),
    _row(
        "crane-stalls",
        "transport",
        "The crane of the barrel line stands; over-dwell clocks run.",
        knob("loads", "moving", "barrel", 0.0),
    ),
    _row(
        "drip-short",
        "transport",
        "Racks are no longer given time to drain; every rinse takes larger steps.",
        knob("loads", "drag_factor", "rack", 3.0),
    ),
    _row(
        "barrel-overloaded",
        "barrel",
        "Barrels are filled with two thirds too much from now on.",
        knob("loads", "size_factor", "barrel", 1.65),
    ),
    _row(
        "barrel-stands",
        "barrel",
        "The barrel in zinc-2 does not turn; the rhythm leaves its current, volts drift up.",
        _served("turning", "zinc-2", 0.0),
    ),
    _row(
        "barrel-stands-unseen",
        "barrel",
        "The barrel in its electrocleaner does not turn; no speed is read there.",
        _served("turning", "barrel-electroclean", 0.0),
    ),
    _row(
        "dangler-wears",
        "barrel",
        "The dangler of the barrel in zinc-1 begins to wear: its swing grows by two thirds.",
        _unit("noise_factor", "rectifier-zinc-1", 1.7),
    ),
    _row(
        "dangler-worn",
        "barrel",
        "The dangler of the barrel in zinc-3 is worn: the current swings with each turn.",
        together(
            _unit("noise_factor", "rectifier-zinc-3", 7.0),
            _unit("contact_factor", "rectifier-zinc-3", 4.0),
        ),
    ),
)
SERVED: tuple[Trouble, ...] = (
    _row(
        "ph-probe-coated",
        "treatment",
        "The pH probe of neutralising is coated and answers in minutes.",
        _water("coated", "neutralise", 25.0),
    ),
    _row(
        "ph-glass-broken",
        "treatment",
        "The pH glass at the discharge is broken and shows 7.",
        _water("wet_glass", "discharge", 1.0),
    ),
    _row(
        "hypochlorite-empty",
        "treatment",
        "No hypochlorite arrives: cyanide is no longer oxidised.",
        _water("empty", "reagent-hypochlorite", 1.0),
    ),
    _row(
        "acid-in-cyanide",
        "treatment",
        "Acid runs into the cyanide stream: its pH reads a unit less every five minutes.",
        sensor("cyanide-oxidation.ph", "drift", -12.0),
    ),
    _row(
        "reducer-empty",
        "treatment",
        "No reducer arrives: chromium passes unreduced.",
        _water("empty", "reagent-reducer", 1.0),
    ),
    _row(
        "caustic-empty",
        "treatment",
        "No caustic arrives: neutralising turns acid.",
        _water("empty", "reagent-caustic", 1.0),
    ),
    _row(
        "flow-surges",
        "treatment",
        "All rinses open at once: treatment gets two and a half times its flow.",
        _water("surge", "neutralise", 2.5),
    ),
    _row(
        "bath-dumped",
        "treatment",
        "Somebody dumps acid into the general stream.",
        _water("slug", "neutralise", 0.08),
    ),
    _row(
        "polymer-out",
        "treatment",
        "No polymer arrives: flocs stay small and the settler carries over.",
        _water("empty", "reagent-polymer", 1.0),
    ),
    _row(
        "press-blinded",
        "treatment",
        "The cloths of the filter press are blinded.",
        _water("loaded", "filter-press", 1.0),
    ),
    _row(
        "press-cloth-torn",
        "treatment",
        "A cloth of the filter press is torn: its filtrate is turbid.",
        _water("torn", "filter-press", 1.0),
    ),
    _row(
        "resin-spent",
        "preparation",
        "The resin of the water supply is spent.",
        _water("loaded", "water-supply", 1.0),
    ),
    _row(
        "fan-stops",
        "extraction",
        "The fan over the chromium stops.",
        _water("stopped", "extract-chromium", 1.0),
    ),
    _row(
        "fan-belt-slips",
        "extraction",
        "The belt of the fan over the chromium slips.",
        _water("slip", "extract-chromium", 0.3),
    ),
    _row(
        "mesh-pad-loaded",
        "extraction",
        "The mesh pad behind the chromium is loaded.",
        _water("loaded", "extract-chromium", 1.0),
    ),
    _row(
        "scrubber-dry",
        "extraction",
        "The pump of the scrubber stops.",
        _water("stopped", "scrubber", 1.0),
    ),
    _row(
        "scrubber-ph-falls",
        "extraction",
        "The scrubber's alkali is empty.",
        _water("empty", "scrubber", 1.0),
    ),
    _row(
        "make-up-air-lost",
        "extraction",
        "The make-up air fails: all hoods draw less.",
        _water("starved", "extract-line", 1.0),
    ),
)
LINKS: tuple[Trouble, ...] = (
    _row(
        "unit-silent",
        "rectifier",
        "The rectifier of nickel-1 no longer answers behind its gateway.",
        silent_unit("rack-rectifiers", 16),
    ),
    _row(
        "gateway-drops",
        "rectifier",
        "The gateway of the rack rectifiers hangs up and refuses new connections.",
        dropped_link("rack-rectifiers"),
    ),
    _row(
        "services-drop",
        "links",
        "The OPC UA server of treatment, oven and extraction goes down.",
        dropped_link("services"),
    ),
    _row(
        "subscription-lost",
        "links",
        "The OPC UA server forgets its subscriptions and tells nobody.",
        forgotten_subscription("services"),
    ),
    _row(
        "unit-frozen",
        "rectifier",
        "The unit of nickel-4 repeats its last answers, to the last digit.",
        frozen_unit("rack-rectifiers", 19),
    ),
    _row(
        "services-frozen",
        "treatment",
        "The OPC UA server lives on, but its values and their times stand still.",
        frozen_link("services"),
    ),
    _row(
        "value-uncertain",
        "treatment",
        "The pH meter of the discharge says of itself that it is not accurate.",
        spoiled_value("services", "discharge.ph", "uncertain"),
    ),
)
WORKS_TROUBLES: tuple[Trouble, ...] = (*HEAT, *LIQUID, *CURRENT, *MOVEMENT, *SERVED, *LINKS)
