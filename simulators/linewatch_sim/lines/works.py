"""The whole works: rack line, barrel line, relief-bake oven, prototype cell, all that serves.

How it is wired, link by link and unit by unit, stands here; what stands in the lines, in
`rack` and `barrel`. All of it is invented.
"""

from __future__ import annotations

from linewatch_sim.lines import barrel, rack
from linewatch_sim.lines.cards import (
    analogue,
    bits,
    floats,
    levels,
    load_numbers,
    modules,
    new_rectifier,
    node,
    old_rectifier,
    temperatures,
    tenths,
)
from linewatch_sim.lines.cells import CELLS
from linewatch_sim.rows import (
    LineRow,
    LinkRow,
    NodeRow,
    RectifierRow,
    RegisterRow,
    StopRow,
    TankRow,
    TrackRow,
)

OVEN = TankRow(
    id="bake-oven",
    volume_l=180.0,
    surface_m2=0.0001,
    set_degc=200.0,
    heater_kw=40.0,
    start_degc=200.0,
    is_air=True,
    wall_w_per_k=75.0,
    part_s=1500.0,
    top_up_l_per_min=0.0,
)
CELL = TankRow(
    id="cell",
    volume_l=20.0,
    surface_m2=0.08,
    level_mm=220.0,
    set_degc=50.0,
    heater_kw=0.6,
    start_degc=50.0,
    wall_w_per_k=3.0,
    conductivity_us=70_000.0,
    top_up_l_per_min=0.5,
    ph=4.0,
    ph_per_kah_m3=0.1,
)
CELL_UNIT = RectifierRow(
    id="rectifier-cell",
    feeds=(("cell", 1.0),),
    cell="sulfamate-nickel",
    density_a_per_dm2=5.0,
    rated_a=30.0,
    rated_v=10.0,
    ramp_s=5.0,
    pulses=0,
    bus_mohm=4.0,
    contact_mohm=2.0,
    meter_modulus_ah=1000.0,
    meter_start_ah=997.2,
    meter_step_ah=0.01,
    zero_offset_a=0.01,
)
BAKE = TrackRow(
    id="bake",
    stops=(StopRow(tank="bake-oven", enters_s=0.0, dwell_s=17_400.0),),
    interval_s=18_000.0,
    area_dm2=800.0,
    mass_kg=160.0,
    drag_ml_per_m2=0.0,
    first_load=310,
)
SAMPLES = TrackRow(
    id="samples",
    stops=(StopRow(tank="cell", enters_s=0.0, dwell_s=1500.0),),
    interval_s=2100.0,
    area_dm2=2.4,
    mass_kg=0.4,
    drag_ml_per_m2=60.0,
    first_load=90,
)
TANKS = (*rack.TANKS, *barrel.TANKS, OVEN, CELL)
_ALL = {tank.id: tank for tank in TANKS}

IO, BARREL_IO = "rack-io", "barrel-io"
RACK_UNITS, BARREL_UNITS = "rack-rectifiers", "barrel-rectifiers"
SERVICES = "services"
PLANT_URI = "urn:example:works:services"


def _holding_heat(tanks: tuple[TankRow, ...]) -> tuple[str, ...]:
    return tuple(tank.id for tank in tanks if tank.set_degc is not None or tank.ph is not None)


def _topped_up(tanks: tuple[TankRow, ...]) -> tuple[str, ...]:
    return tuple(tank.id for tank in tanks if tank.top_up_l_per_min > 0.0)


def _salted(tanks: tuple[TankRow, ...]) -> tuple[str, ...]:
    """Return where conductivity is measured: rinses, acids and cleaners."""
    kinds = ("rinse", "acid", "soak", "pickle")
    return tuple(tank.id for tank in tanks if any(kind in tank.id for kind in kinds))


def _rinsing(tanks: tuple[TankRow, ...]) -> tuple[TankRow, ...]:
    """Return the rinses that water runs through."""
    return tuple(tank for tank in tanks if tank.water_l_per_min > 0.0)


def _named(tanks: tuple[TankRow, ...], kind: str) -> tuple[str, ...]:
    return tuple(f"{tank.id}.{kind}" for tank in tanks)


def _line_cards(link: str, tanks: tuple[TankRow, ...]) -> tuple[RegisterRow, ...]:
    """Return a line's cards: thermometers, levels, meters, stations, filters and air."""
    ids = tuple(tank.id for tank in tanks)
    filtered = tuple(tank for tank in tanks if tank.filter_bar > 0.0)
    aired = tuple(tank for tank in tanks if tank.air_mbar > 0.0)
    acid = tuple(tank for tank in tanks if tank.ph is not None)
    return (
        *temperatures(link, 1, _holding_heat(tanks)),
        *levels(link, 2, _topped_up(tanks), (0.0, 1200.0)),
        *floats(link, 3, tuple(f"{tank}.conductivity" for tank in _salted(tanks))),
        *tenths(link, 3, _named(acid, "ph"), first=0, scale=0.01),
        *tenths(link, 3, _named(_rinsing(tanks), "flow"), first=40),
        *bits(link, 4, tuple(f"{tank}.load-present" for tank in ids)),
        *load_numbers(link, 4, ids),
        *analogue(link, 5, _named(filtered, "pressure.filter"), (0.0, 2.5)),
        *analogue(link, 5, _named(aired, "pressure.air"), (0.0, 0.4), first=40),
    )


METERED_HEATERS = ("soak-clean-1.heater-current", "soak-clean-2.heater-current")
"""Heaters with a current transformer in one phase."""
METERED_RACK = ("copper-1", "copper-2", "copper-3", "chromium")
"""Rectifiers with a meter of their AC input."""


def _named_units(units: tuple[str, ...], kind: str) -> tuple[str, ...]:
    return tuple(f"rectifier-{unit}.{kind}" for unit in units)


RACK_CARDS: tuple[RegisterRow, ...] = (
    *_line_cards(IO, rack.TANKS),
    *tenths(IO, 6, ("works.line-state",), first=0, scale=1.0),
    *bits(IO, 6, ("rack.running",)),
    *analogue(IO, 5, METERED_HEATERS, (0.0, 100.0), first=60),
    *floats(IO, 7, _named_units(METERED_RACK, "power"), first=0),
)
TURNING = ("zinc-1", "zinc-2", "zinc-3", "barrel-nickel")
BARREL_CARDS: tuple[RegisterRow, ...] = (
    *_line_cards(BARREL_IO, barrel.TANKS),
    *tenths(BARREL_IO, 6, tuple(f"{tank}.speed" for tank in TURNING), first=0, scale=0.1),
    *bits(BARREL_IO, 6, ("barrel.running",)),
    *temperatures(BARREL_IO, 7, ("cell",)),
    *levels(BARREL_IO, 7, ("cell",), (0.0, 300.0)),
    *bits(BARREL_IO, 7, ("cell.load-present",)),
    *new_rectifier(BARREL_IO, 8, "rectifier-cell", meter_scale=0.01),
    *floats(BARREL_IO, 9, _named_units(("barrel-nickel",), "power"), first=0),
)
RACK_RECTIFIERS: tuple[RegisterRow, ...] = (
    *old_rectifier(RACK_UNITS, 11, "rectifier-electroclean", scale_a=1.0),
    *new_rectifier(RACK_UNITS, 12, "rectifier-strike"),
    *new_rectifier(RACK_UNITS, 13, "rectifier-copper-1"),
    *new_rectifier(RACK_UNITS, 14, "rectifier-copper-2"),
    *new_rectifier(RACK_UNITS, 15, "rectifier-copper-3"),
    *old_rectifier(RACK_UNITS, 16, "rectifier-nickel-1", scale_a=0.1),
    *old_rectifier(RACK_UNITS, 17, "rectifier-nickel-2", scale_a=0.1),
    *old_rectifier(RACK_UNITS, 18, "rectifier-nickel-3", scale_a=0.1),
    *old_rectifier(RACK_UNITS, 19, "rectifier-nickel-4", scale_a=0.1),
    *new_rectifier(RACK_UNITS, 20, "rectifier-chromium", order="CDAB"),
)
BARREL_RECTIFIERS: tuple[RegisterRow, ...] = (
    *old_rectifier(BARREL_UNITS, 21, "rectifier-barrel-electroclean", scale_a=1.0),
    *old_rectifier(BARREL_UNITS, 22, "rectifier-zinc-1", scale_a=0.1),
    *old_rectifier(BARREL_UNITS, 23, "rectifier-zinc-2", scale_a=0.1),
    *old_rectifier(BARREL_UNITS, 24, "rectifier-zinc-3", scale_a=0.1),
    *new_rectifier(BARREL_UNITS, 25, "rectifier-barrel-nickel", order="CDAB"),
    *modules(BARREL_UNITS, 25, "rectifier-barrel-nickel", 3, order="CDAB"),
)

SERVED: tuple[str, ...] = (
    "bake-oven.temperature",
    "bake-oven.temperature.load",
    "bake-oven.load-present",
    "bake-oven.heater-duty",
    "extract-chromium.running",
    "extract-chromium.motor-current",
    "extract-chromium.draught",
    "extract-chromium.draught.pad",
    "extract-line.running",
    "extract-line.motor-current",
    "extract-line.draught",
    "scrubber.ph",
    "scrubber.flow",
    "scrubber.draught",
    "scrubber.motor-current",
    "scrubber.level",
    "cyanide-oxidation.ph",
    "cyanide-oxidation.orp",
    "cyanide-oxidation.flow",
    "chromium-reduction.ph",
    "chromium-reduction.orp",
    "chromium-reduction.flow",
    "neutralise.ph",
    "neutralise.flow",
    "flocculate.flow",
    "settler.turbidity",
    "settler.level",
    "filter-press.pressure",
    "filter-press.flow",
    "discharge.ph",
    "discharge.flow",
    "discharge.turbidity",
    "discharge.level",
    "reagent-caustic.level",
    "reagent-acid.level",
    "reagent-hypochlorite.level",
    "reagent-reducer.level",
    "reagent-coagulant.level",
    "reagent-polymer.level",
    "water-supply.level",
    "water-supply.flow",
    "water-supply.conductivity",
    "water-supply.pressure",
)
NODES: tuple[NodeRow, ...] = tuple(node(SERVICES, PLANT_URI, what) for what in SERVED)

WORKS = LineRow(
    id="works",
    cells=CELLS,
    tanks=TANKS,
    rectifiers=(*rack.RECTIFIERS, *barrel.RECTIFIERS, CELL_UNIT),
    tracks=(rack.RACK, barrel.BARREL, BAKE, SAMPLES),
    links=(
        LinkRow(id=IO, protocol="modbus-tcp"),
        LinkRow(id=RACK_UNITS, protocol="modbus-rtu-over-tcp"),
        LinkRow(id=BARREL_IO, protocol="modbus-tcp"),
        LinkRow(id=BARREL_UNITS, protocol="modbus-rtu-over-tcp"),
        LinkRow(id=SERVICES, protocol="opcua"),
    ),
    registers=(*RACK_CARDS, *RACK_RECTIFIERS, *BARREL_CARDS, *BARREL_RECTIFIERS),
    nodes=NODES,
)
