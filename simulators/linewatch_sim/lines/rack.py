"""The works' rack line: a conveyor that moves all racks at once. All of it is invented."""

from __future__ import annotations

from linewatch_sim.rows import RectifierRow, StopRow, TankRow, TrackRow

TAKT_S = 300.0
"""The conveyor moves each so often; a rack that is due to come out sooner is lifted early."""


def _rinse(
    name: str, *, conductivity_us: float, stream: str = "", flow: float = 14.0
) -> TankRow:
    return TankRow(
        id=name,
        volume_l=1200.0,
        surface_m2=1.3,
        start_degc=17.0,
        extraction_ratio=1.0,
        conductivity_us=conductivity_us,
        water_l_per_min=flow,
        top_up_l_per_min=0.0,
        stream=stream,
    )


def _copper(name: str) -> TankRow:
    return TankRow(
        id=name,
        volume_l=3000.0,
        surface_m2=3.1,
        set_degc=23.5,
        heater_kw=6.0,
        cooling_kw=12.0,
        start_degc=25.0,
        conductivity_us=520_000.0,
        top_up_l_per_min=8.0,
        air_mbar=155.0,
        filter_bar=0.35,
        filter_l_per_min=220.0,
    )


def _nickel(name: str, start_ph: float) -> TankRow:
    return TankRow(
        id=name,
        volume_l=2800.0,
        surface_m2=2.9,
        set_degc=60.0,
        heater_kw=42.0,
        start_degc=60.0,
        conductivity_us=62_000.0,
        ph=start_ph,
        ph_per_kah_m3=0.12,
        air_mbar=160.0,
        filter_bar=0.30,
        filter_l_per_min=140.0,
    )


def _alkaline(name: str, *, degc: float, heater_kw: float, conductivity_us: float) -> TankRow:
    return TankRow(
        id=name,
        volume_l=1800.0,
        surface_m2=1.9,
        set_degc=degc,
        heater_kw=heater_kw,
        start_degc=degc,
        conductivity_us=conductivity_us,
    )


TANKS: tuple[TankRow, ...] = (
    _alkaline("soak-clean-1", degc=70.0, heater_kw=48.0, conductivity_us=78_000.0),
    _alkaline("soak-clean-2", degc=68.0, heater_kw=46.0, conductivity_us=74_000.0),
    _alkaline("electroclean", degc=65.0, heater_kw=36.0, conductivity_us=120_000.0),
    _rinse("rinse-1", conductivity_us=680.0),
    TankRow(
        id="acid-1",
        volume_l=1200.0,
        surface_m2=1.3,
        start_degc=21.5,
        conductivity_us=260_000.0,
    ),
    _rinse("rinse-2", conductivity_us=720.0, flow=24.0),
    TankRow(
        id="copper-strike",
        volume_l=1800.0,
        surface_m2=1.9,
        set_degc=50.0,
        heater_kw=26.0,
        start_degc=50.0,
        conductivity_us=95_000.0,
        filter_bar=0.25,
        filter_l_per_min=80.0,
    ),
    _rinse("rinse-3", conductivity_us=690.0, stream="cyanide", flow=12.0),
    TankRow(
        id="acid-2",
        volume_l=1200.0,
        surface_m2=1.3,
        start_degc=21.0,
        conductivity_us=180_000.0,
    ),
    _copper("acid-copper-1"),
    _copper("acid-copper-2"),
    _copper("acid-copper-3"),
    _rinse("rinse-4", conductivity_us=1550.0, stream="general", flow=16.0),
    _nickel("nickel-1", 4.10),
    _nickel("nickel-2", 4.12),
    _nickel("nickel-3", 4.05),
    _nickel("nickel-4", 4.08),
    _rinse("rinse-5", conductivity_us=530.0, stream="general", flow=12.0),
    TankRow(
        id="chromium",
        volume_l=2400.0,
        surface_m2=2.5,
        set_degc=43.0,
        heater_kw=12.0,
        cooling_kw=25.0,
        start_degc=43.0,
        extraction_ratio=1.8,
        conductivity_us=480_000.0,
    ),
    _rinse("rinse-6", conductivity_us=1500.0, stream="chromium", flow=15.0),
    TankRow(
        id="hot-rinse",
        volume_l=1200.0,
        surface_m2=1.3,
        set_degc=62.0,
        heater_kw=44.0,
        start_degc=62.0,
        conductivity_us=32.0,
        water_l_per_min=2.5,
        water_us=8.0,
        top_up_l_per_min=8.0,
    ),
    TankRow(
        id="rack-dry",
        volume_l=40.0,
        surface_m2=0.0001,
        set_degc=75.0,
        heater_kw=28.0,
        start_degc=75.0,
        is_air=True,
        wall_w_per_k=110.0,
        top_up_l_per_min=0.0,
    ),
)

DWELLS_S: dict[str, float] = {
    "electroclean": 120.0,
    "acid-1": 60.0,
    "rinse-2": 90.0,
    "copper-strike": 150.0,
    "acid-2": 40.0,
    "chromium": 180.0,
}
"""Stations from which a rack is lifted before the conveyor moves on."""
RACK = TrackRow(
    id="rack",
    stops=tuple(
        StopRow(tank=tank.id, enters_s=k * TAKT_S, dwell_s=DWELLS_S.get(tank.id, TAKT_S - 20.0))
        for k, tank in enumerate(TANKS)
    ),
    interval_s=TAKT_S,
    area_dm2=250.0,
    mass_kg=140.0,
    drag_ml_per_m2=80.0,
    first_load=4100,
    gap_every=13,
)


def _nickel_unit(number: int, meter_start_ah: float, modulus_ah: float) -> RectifierRow:
    return RectifierRow(
        id=f"rectifier-nickel-{number}",
        feeds=((f"nickel-{number}", 1.0),),
        cell="bright-nickel",
        density_a_per_dm2=4.0,
        rated_a=1500.0,
        rated_v=8.0,
        ramp_s=10.0,
        meter_modulus_ah=modulus_ah,
        meter_start_ah=meter_start_ah,
        zero_offset_a=0.5,
    )


def _copper_unit(number: int, meter_start_ah: float) -> RectifierRow:
    return RectifierRow(
        id=f"rectifier-copper-{number}",
        feeds=((f"acid-copper-{number}", 1.0),),
        cell="acid-copper",
        density_a_per_dm2=3.5,
        rated_a=1200.0,
        rated_v=6.0,
        ramp_s=8.0,
        pulses=0,
        bus_mohm=0.2,
        meter_modulus_ah=1e6,
        meter_start_ah=meter_start_ah,
        zero_offset_a=0.3,
    )


RECTIFIERS: tuple[RectifierRow, ...] = (
    RectifierRow(
        id="rectifier-electroclean",
        feeds=(("electroclean", 1.0),),
        cell="electrocleaner",
        density_a_per_dm2=8.0,
        rated_a=3000.0,
        rated_v=10.0,
        anodic=True,
        ramp_s=3.0,
        choke_ratio=0.4,
        bus_mohm=0.15,
        meter_modulus_ah=1e5,
        meter_start_ah=48_210.0,
        zero_offset_a=1.0,
    ),
    RectifierRow(
        id="rectifier-strike",
        feeds=(("copper-strike", 1.0),),
        cell="copper-strike",
        density_a_per_dm2=1.5,
        rated_a=600.0,
        rated_v=8.0,
        ramp_s=2.0,
        pulses=0,
        bus_mohm=0.5,
        meter_modulus_ah=1e6,
        meter_start_ah=318_440.0,
        zero_offset_a=0.2,
    ),
    _copper_unit(1, 120_730.0),
    _copper_unit(2, 120_410.0),
    _copper_unit(3, 999_700.0),
    _nickel_unit(1, 99_800.0, 1e5),
    _nickel_unit(2, 640.0, 1000.0),
    _nickel_unit(3, 21_377.0, 1e5),
    _nickel_unit(4, 66_030.0, 1e5),
    RectifierRow(
        id="rectifier-chromium",
        feeds=(("chromium", 1.0),),
        cell="chromium",
        density_a_per_dm2=14.0,
        rated_a=5000.0,
        rated_v=12.0,
        ramp_s=4.0,
        pulses=12,
        choke_ratio=0.12,
        bus_mohm=0.08,
        contact_mohm=0.02,
        meter_modulus_ah=1e6,
        meter_start_ah=705_120.0,
        zero_offset_a=2.0,
    ),
)
