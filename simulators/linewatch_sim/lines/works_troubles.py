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
    together,
)


def _row(name: str, row: str, tells: str, acts: Acts) -> Trouble:
    return Trouble(name=name, row=row, tells=tells, **acts)


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
        "HT-16",
        "The night set-back of nickel-4 was restored too late: it starts 12 K cold.",
        shift("solutions", "temperature_degc", "nickel-4", -12.0),
    ),
    _row(
        "element-burns-out",
        "HT-01",
        "One of three elements of soak-clean-2 gives no heat; duty climbs, it sags under load.",
        _tank("heater_share", "soak-clean-2", 0.67),
    ),
    _row(
        "heater-fails",
        "HT-02",
        "The heater of nickel-2 gives no heat although its thermostat asks for it.",
        _tank("heater_share", "nickel-2", 0.0),
    ),
    _row(
        "heater-sticks-on",
        "HT-03",
        "The contactor of the copper-strike heater sticks; the bath warms past its set-point.",
        _tank("heater_stuck_on", "copper-strike", 1.0),
    ),
    _row(
        "cooling-lost",
        "HT-09",
        "The cooling water of zinc-2 is shut; its own current warms the bath.",
        _tank("cooling_share", "zinc-2", 0.0),
    ),
    _row(
        "sensor-opens",
        "HT-11",
        "The wire of the temperature probe in nickel-1 breaks.",
        sensor("nickel-1.temperature", "open"),
    ),
    _row(
        "probe-drifts",
        "HT-12",
        "The temperature probe in nickel-3 reads ever higher, 2 K more each hour.",
        sensor("nickel-3.temperature", "drift", 2.0),
    ),
    _row(
        "probe-pulled-out",
        "HT-13",
        "The temperature probe of electroclean hangs above the liquid; the heater stays on.",
        _tank("probe_out", "electroclean", 1.0),
    ),
    _row(
        "dryer-cold",
        "PT-07",
        "The rack dryer gets a quarter of its heat.",
        _tank("heater_share", "rack-dry", 0.25),
    ),
    _row(
        "oven-low",
        "PT-09",
        "The relief-bake oven loses two of its three elements and falls below its soak.",
        _tank("heater_share", "bake-oven", 0.2),
    ),
    _row(
        "oven-high",
        "PT-10",
        "The contactor of the relief-bake oven sticks; it warms past its limit.",
        _tank("heater_stuck_on", "bake-oven", 1.0),
    ),
)
LIQUID: tuple[Trouble, ...] = (
    _row(
        "top-up-fails",
        "LV-01",
        "No water comes through the level valve of soak-clean-1.",
        _tank("top_up_share", "soak-clean-1", 0.0),
    ),
    _row(
        "top-up-sticks-open",
        "LV-02",
        "The level valve of copper-strike does not shut; the bath rises and is diluted.",
        _tank("top_up_stuck_open", "copper-strike", 1.0),
    ),
    _row(
        "tank-leaks",
        "LV-03",
        "A hose of the chromium bath leaks 30 L a minute, more than its top-up gives.",
        _tank("leak_l_per_min", "chromium", 30.0),
    ),
    _row(
        "level-probe-sticks",
        "LV-05",
        "The level probe of nickel-4 is fouled and shows a flat line though loads go in.",
        sensor("nickel-4.level", "stuck"),
    ),
    _row(
        "rinse-water-off",
        "PR-09",
        "The water of rinse-6 is shut; each rack adds a step and nothing carries it off.",
        _tank("water_share", "rinse-6", 0.0),
    ),
    _row(
        "rinse-probe-dry",
        "PR-11",
        "The conductivity probe of rinse-5 is fouled and no longer moves.",
        sensor("rinse-5.conductivity", "stuck"),
    ),
    _row(
        "wrong-liquid",
        "PR-16",
        "Somebody puts an acid hose into rinse-3; its conductivity jumps.",
        shift("solutions", "conductivity_us", "rinse-3", 6000.0),
    ),
    _row(
        "passivate-drifts",
        "PT-01",
        "The acid pump of the passivate gives nothing; its pH climbs with each barrel.",
        knob("solutions", "ph_dosing", "passivate", 0.0),
    ),
    _row(
        "nickel-ph-climbs",
        "PL-13",
        "The acid pump of nickel-1 gives nothing; the pH climbs with the charge.",
        knob("solutions", "ph_dosing", "nickel-1", 0.0),
    ),
    _row(
        "air-lost",
        "AG-01",
        "The blower of the acid coppers stops; cells polarise and volts rise.",
        together(*(_served("blower", f"acid-copper-{k}", 0.0) for k in (1, 2, 3))),
    ),
    _row(
        "sparger-plugs",
        "AG-02",
        "The air pipe of nickel-2 plugs; its pressure rises.",
        _served("sparger_plugged", "nickel-2", 1.0),
    ),
    _row(
        "filter-clogs",
        "AG-05",
        "The filter of nickel-1 fills within minutes: pressure up, flow down.",
        knob("services", "filter_clogged", "nickel-1", 1.0, over_s=300.0),
    ),
    _row(
        "filter-bypassed",
        "AG-06",
        "The filter of nickel-3 is torn: pressure falls in one step at good flow.",
        _served("filter_bypassed", "nickel-3", 1.0),
    ),
    _row(
        "pump-runs-dry",
        "LV-08",
        "The filter pump of acid-copper-2 has lost its prime.",
        _served("pump", "acid-copper-2", 0.0),
    ),
    _row(
        "pump-draws-air",
        "AG-08",
        "The filter pump of nickel-4 draws air; pressure and flow tremble.",
        _served("air_drawn", "nickel-4", 1.0),
    ),
)
CURRENT: tuple[Trouble, ...] = (
    _row(
        "mains-dips",
        "RX-17",
        "The mains dip: every rectifier and blower drops out for two seconds.",
        together(
            for_a_moment("electrics", "enabled", 0.0, 2.0),
            for_a_moment("services", "blower", 0.0, 2.0),
        ),
    ),
    _row(
        "meter-creeps",
        "RX-19",
        "The ampere-hour meter of copper-strike counts 12 A with no current at all.",
        _unit("meter_creep_a", "rectifier-strike", 12.0),
    ),
    _row(
        "output-disagrees",
        "RX-20",
        "The acid-copper-3 rectifier gives a fifth less than its own set-point says.",
        _unit("output_factor", "rectifier-copper-3", 0.8),
    ),
    _row(
        "bar-salted",
        "EL-02",
        "The contacts of one flight bar are salted: volts rise wherever it hangs.",
        knob("loads", "salted_bar", "rack", 5.0),
    ),
    _row(
        "device-lost",
        "RX-01",
        "One device of the nickel-3 rectifier is open: ripple jumps, the current holds.",
        _unit("lost_devices", "rectifier-nickel-3", 1.0),
    ),
    _row(
        "phase-lost",
        "RX-02",
        "The rectifier of zinc-1 has lost an input phase.",
        _unit("lost_devices", "rectifier-zinc-1", 2.0),
    ),
    _row(
        "voltage-limit",
        "RX-03",
        "Dirty contacts drive the rectifier of copper-strike into its voltage limit.",
        _unit("contact_factor", "rectifier-strike", 320.0),
    ),
    _row(
        "fan-blocked",
        "RX-05",
        "The fan of the acid-copper-1 rectifier stands; its heat-sink warms.",
        _unit("fan", "rectifier-copper-1", 0.0),
    ),
    _row(
        "rectifier-trips",
        "RX-07",
        "The rectifier of nickel-4 trips with work in the tank.",
        _unit("enabled", "rectifier-nickel-4", 0.0),
    ),
    _row(
        "control-hunts",
        "RX-08",
        "The current control of acid-copper-3 swings, faster than any barrel turns.",
        _unit("hunting_ratio", "rectifier-copper-3", 0.08),
    ),
    _row(
        "shunt-wrong",
        "RX-10",
        "Display and meter of the nickel-2 rectifier show 6 % more than flows.",
        _unit("shunt_factor", "rectifier-nickel-2", 1.06),
    ),
    _row(
        "set-point-left",
        "RX-11",
        "The nickel-1 rectifier is still set for the last job, 60 % too high.",
        _unit("set_factor", "rectifier-nickel-1", 1.6),
    ),
    _row(
        "polarity-wrong",
        "RX-13",
        "The leads of the zinc-3 rectifier are swapped after service: the parts dissolve.",
        _unit("reversed", "rectifier-zinc-3", 1.0),
    ),
    _row(
        "bar-not-seated",
        "RX-14",
        "The bar in chromium does not sit: full volts, no current.",
        _unit("open_circuit", "rectifier-chromium", 1.0),
    ),
    _row(
        "short",
        "RX-15",
        "A part lies on an anode in acid-copper-2: volts collapse.",
        _unit("short_ratio", "rectifier-copper-2", 0.85),
    ),
    _row(
        "current-strays",
        "EL-10",
        "The nickel-3 rectifier shows and counts 15 A with no rack in.",
        _unit("stray_a", "rectifier-nickel-3", 15.0),
    ),
    _row(
        "bus-joint-loose",
        "EL-01",
        "A bus joint of nickel-2 is loose: volts up at the same current.",
        _unit("bus_factor", "rectifier-nickel-2", 5.0),
    ),
    _row(
        "contacts-bad",
        "EL-03",
        "Rack tips in acid-copper-1 lose contact: volts up, noise up.",
        together(
            _unit("contact_factor", "rectifier-copper-1", 8.0),
            _unit("noise_factor", "rectifier-copper-1", 8.0),
        ),
    ),
    _row(
        "anodes-polarise",
        "EL-07",
        "The anodes of copper-strike polarise: volts rise by more than a volt.",
        knob("electrics", "overvoltage_v", "rectifier-strike", 2.0, over_s=60.0),
    ),
    _row(
        "electroclean-weak",
        "PR-03",
        "The electrocleaner runs at half of its plan.",
        _unit("set_factor", "rectifier-electroclean", 0.5),
    ),
)
MOVEMENT: tuple[Trouble, ...] = (
    _row(
        "conveyor-stalls",
        "TR-01",
        "The conveyor of the rack line stalls, with racks in acid.",
        knob("loads", "moving", "rack", 0.0),
    ),
    _row(
        "crane-stalls",
        "TR-10",
        "The crane of the barrel line stands; over-dwell clocks run.",
        knob("loads", "moving", "barrel", 0.0),
    ),
    _row(
        "drip-short",
        "TR-09",
        "Racks are no longer given time to drain; every rinse takes larger steps.",
        knob("loads", "drag_factor", "rack", 3.0),
    ),
    _row(
        "barrel-overloaded",
        "BR-03",
        "Barrels are filled with two thirds too much from now on.",
        knob("loads", "size_factor", "barrel", 1.65),
    ),
    _row(
        "barrel-stands",
        "BR-01",
        "The barrel in zinc-2 does not turn; the rhythm leaves its current, volts drift up.",
        _served("turning", "zinc-2", 0.0),
    ),
    _row(
        "dangler-worn",
        "BR-02",
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
        "WT-01",
        "The pH probe of neutralising is coated and answers in minutes.",
        _water("coated", "neutralise", 25.0),
    ),
    _row(
        "ph-glass-broken",
        "WT-02",
        "The pH glass at the discharge is broken and shows 7.",
        _water("wet_glass", "discharge", 1.0),
    ),
    _row(
        "hypochlorite-empty",
        "WT-05",
        "No hypochlorite arrives: cyanide is no longer oxidised.",
        _water("empty", "reagent-hypochlorite", 1.0),
    ),
    _row(
        "reducer-empty",
        "WT-08",
        "No reducer arrives: chromium passes unreduced.",
        _water("empty", "reagent-reducer", 1.0),
    ),
    _row(
        "caustic-empty",
        "WT-09",
        "No caustic arrives: neutralising turns acid.",
        _water("empty", "reagent-caustic", 1.0),
    ),
    _row(
        "flow-surges",
        "WT-12",
        "All rinses open at once: treatment gets two and a half times its flow.",
        _water("surge", "neutralise", 2.5),
    ),
    _row(
        "bath-dumped",
        "WT-13",
        "Somebody dumps acid into the general stream.",
        _water("slug", "neutralise", 0.08),
    ),
    _row(
        "polymer-out",
        "WT-16",
        "No polymer arrives: flocs stay small and the settler carries over.",
        _water("empty", "reagent-polymer", 1.0),
    ),
    _row(
        "press-blinded",
        "WT-18",
        "The cloths of the filter press are blinded.",
        _water("loaded", "filter-press", 1.0),
    ),
    _row(
        "press-cloth-torn",
        "WT-19",
        "A cloth of the filter press is torn: its filtrate is turbid.",
        _water("torn", "filter-press", 1.0),
    ),
    _row(
        "resin-spent",
        "PR-14",
        "The resin of the water supply is spent.",
        _water("loaded", "water-supply", 1.0),
    ),
    _row(
        "fan-stops",
        "EX-01",
        "The fan over the chromium stops.",
        _water("stopped", "extract-chromium", 1.0),
    ),
    _row(
        "fan-belt-slips",
        "EX-02",
        "The belt of the fan over the chromium slips.",
        _water("slip", "extract-chromium", 0.3),
    ),
    _row(
        "mesh-pad-loaded",
        "EX-04",
        "The mesh pad behind the chromium is loaded.",
        _water("loaded", "extract-chromium", 1.0),
    ),
    _row(
        "scrubber-dry",
        "EX-07",
        "The pump of the scrubber stops.",
        _water("stopped", "scrubber", 1.0),
    ),
    _row(
        "scrubber-ph-falls",
        "EX-08",
        "The scrubber's alkali is empty.",
        _water("empty", "scrubber", 1.0),
    ),
    _row(
        "make-up-air-lost",
        "EX-10",
        "The make-up air fails: all hoods draw less.",
        _water("starved", "extract-line", 1.0),
    ),
)
LINKS: tuple[Trouble, ...] = (
    _row(
        "unit-silent",
        "RX-21",
        "The rectifier of nickel-1 no longer answers behind its gateway.",
        silent_unit("rack-rectifiers", 16),
    ),
    _row(
        "gateway-drops",
        "RX-21",
        "The gateway of the rack rectifiers hangs up and refuses new connections.",
        dropped_link("rack-rectifiers"),
    ),
    _row(
        "services-drop",
        "DM-01",
        "The OPC UA server of treatment, oven and extraction goes down.",
        dropped_link("services"),
    ),
    _row(
        "subscription-lost",
        "DM-01",
        "The OPC UA server forgets its subscriptions and tells nobody.",
        forgotten_subscription("services"),
    ),
    _row(
        "unit-frozen",
        "RX-21",
        "The unit of nickel-4 repeats its last answers, to the last digit.",
        frozen_unit("rack-rectifiers", 19),
    ),
    _row(
        "services-frozen",
        "WT-20",
        "The OPC UA server lives on, but its values and their times stand still.",
        frozen_link("services"),
    ),
    _row(
        "value-uncertain",
        "WT-01",
        "The pH meter of the discharge says of itself that it is not accurate.",
        spoiled_value("services", "discharge.ph", "uncertain"),
    ),
)
WORKS_TROUBLES: tuple[Trouble, ...] = (*HEAT, *LIQUID, *CURRENT, *MOVEMENT, *SERVED, *LINKS)
