"""The works' barrel line: a crane, zinc with passivation, and nickel. All of it is invented.

Half an hour for a layer, two layers an hour and station: common practice.
"""

from __future__ import annotations

from linewatch_sim.lines.crane import Dip, crane_way
from linewatch_sim.rows import RectifierRow, TankRow, TrackRow

INTERVAL_S = 600.0
TURNS_PER_MIN = 6.0


def _rinse(
    name: str, *, conductivity_us: float, flow: float = 16.0, stream: str = ""
) -> TankRow:
    return TankRow(
        id=name,
        volume_l=900.0,
        surface_m2=1.0,
        start_degc=17.0,
        extraction_ratio=1.0,
        conductivity_us=conductivity_us,
        water_l_per_min=flow,
        top_up_l_per_min=0.0,
        turns_per_min=TURNS_PER_MIN,
        stream=stream,
    )


def _zinc(name: str, start_ph: float) -> TankRow:
    return TankRow(
        id=name,
        volume_l=2200.0,
        surface_m2=2.3,
        set_degc=24.0,
        heater_kw=6.0,
        cooling_kw=10.0,
        start_degc=26.0,
        conductivity_us=190_000.0,
        top_up_l_per_min=8.0,
        ph=start_ph,
        ph_per_kah_m3=0.10,
        filter_bar=0.30,
        filter_l_per_min=110.0,
        turns_per_min=TURNS_PER_MIN,
    )


TANKS: tuple[TankRow, ...] = (
    TankRow(
        id="barrel-soak",
        volume_l=1300.0,
        surface_m2=1.4,
        set_degc=68.0,
        heater_kw=26.0,
        start_degc=68.0,
        conductivity_us=76_000.0,
        turns_per_min=TURNS_PER_MIN,
    ),
    TankRow(
        id="barrel-electroclean",
        volume_l=1300.0,
        surface_m2=1.4,
        set_degc=65.0,
        heater_kw=22.0,
        start_degc=65.0,
        conductivity_us=115_000.0,
        turns_per_min=TURNS_PER_MIN,
    ),
    _rinse("barrel-rinse-1", conductivity_us=1050.0),
    TankRow(
        id="pickle",
        volume_l=1300.0,
        surface_m2=1.4,
        start_degc=24.0,
        conductivity_us=480_000.0,
        turns_per_min=TURNS_PER_MIN,
    ),
    _rinse("barrel-rinse-2", conductivity_us=2800.0, flow=20.0),
    _zinc("zinc-1", 5.38),
    _zinc("zinc-2", 5.42),
    _zinc("zinc-3", 5.40),
    TankRow(
        id="barrel-nickel",
        volume_l=2200.0,
        surface_m2=2.3,
        set_degc=55.0,
        heater_kw=24.0,
        start_degc=55.0,
        conductivity_us=66_000.0,
        ph=4.45,
        ph_per_kah_m3=0.10,
        filter_bar=0.30,
        filter_l_per_min=110.0,
        turns_per_min=TURNS_PER_MIN,
    ),
    _rinse("barrel-rinse-3", conductivity_us=2150.0, flow=24.0, stream="general"),
    TankRow(
        id="bright-dip",
        volume_l=700.0,
        surface_m2=0.9,
        start_degc=21.0,
        conductivity_us=60_000.0,
        turns_per_min=TURNS_PER_MIN,
    ),
    TankRow(
        id="passivate",
        volume_l=900.0,
        surface_m2=1.0,
        set_degc=24.0,
        heater_kw=4.0,
        start_degc=24.0,
        conductivity_us=24_000.0,
        ph=1.88,
        ph_per_load=0.004,
        turns_per_min=TURNS_PER_MIN,
    ),
    _rinse("barrel-rinse-4", conductivity_us=480.0),
    TankRow(
        id="seal",
        volume_l=900.0,
        surface_m2=1.0,
        start_degc=23.0,
        conductivity_us=3200.0,
        ph=9.4,
        turns_per_min=TURNS_PER_MIN,
    ),
    TankRow(
        id="barrel-dry",
        volume_l=30.0,
        surface_m2=0.0001,
        set_degc=78.0,
        heater_kw=14.0,
        start_degc=78.0,
        is_air=True,
        wall_w_per_k=80.0,
        top_up_l_per_min=0.0,
    ),
)

TO_NICKEL = {"skip_every": 4, "skip_turn": 3}
"""Each fourth barrel is for nickel: bright dip, passivate and seal are not for it."""
BARREL = TrackRow(
    id="barrel",
    stops=crane_way(
        (
            Dip(tank="barrel-soak", shortest_s=240.0, longest_s=420.0),
            Dip(tank="barrel-electroclean", shortest_s=120.0, longest_s=240.0),
            Dip(tank="barrel-rinse-1", shortest_s=40.0, longest_s=150.0),
            Dip(tank="pickle", shortest_s=180.0, longest_s=360.0),
            Dip(tank="barrel-rinse-2", shortest_s=40.0, longest_s=150.0),
            Dip(tank="zinc-1", shortest_s=1800.0, longest_s=2000.0, every=4, turn=0),
            Dip(tank="zinc-2", shortest_s=1800.0, longest_s=2000.0, every=4, turn=1),
            Dip(tank="zinc-3", shortest_s=1800.0, longest_s=2000.0, every=4, turn=2),
            Dip(tank="barrel-nickel", shortest_s=1800.0, longest_s=2000.0, every=4, turn=3),
            Dip(tank="barrel-rinse-3", shortest_s=40.0, longest_s=150.0),
            Dip(tank="bright-dip", shortest_s=12.0, longest_s=20.0, **TO_NICKEL),
            Dip(tank="passivate", shortest_s=30.0, longest_s=60.0, **TO_NICKEL),
            Dip(tank="barrel-rinse-4", shortest_s=40.0, longest_s=150.0),
            Dip(tank="seal", shortest_s=30.0, longest_s=90.0, **TO_NICKEL),
            Dip(tank="barrel-dry", shortest_s=240.0, longest_s=480.0),
        ),
        interval_s=INTERVAL_S,
        transfer_s=18.0,
        slot_s=30.0,
    ),
    interval_s=INTERVAL_S,
    area_dm2=900.0,
    mass_kg=85.0,
    drag_ml_per_m2=120.0,
    first_load=7200,
    spread_ratio=0.2,
)


def _zinc_unit(number: int, meter_start_ah: float) -> RectifierRow:
    return RectifierRow(
        id=f"rectifier-zinc-{number}",
        feeds=((f"zinc-{number}", 1.0),),
        cell="barrel-zinc",
        density_a_per_dm2=0.8,
        rated_a=1200.0,
        rated_v=12.0,
        ramp_s=15.0,
        bus_mohm=0.25,
        contact_mohm=0.4,
        noise_ratio=0.006,
        rhythm_ratio=0.02,
        meter_modulus_ah=1e5,
        meter_start_ah=meter_start_ah,
        zero_offset_a=0.5,
    )


RECTIFIERS: tuple[RectifierRow, ...] = (
    RectifierRow(
        id="rectifier-barrel-electroclean",
        feeds=(("barrel-electroclean", 1.0),),
        cell="barrel-electrocleaner",
        density_a_per_dm2=1.8,
        rated_a=2500.0,
        rated_v=12.0,
        anodic=True,
        ramp_s=5.0,
        choke_ratio=0.4,
        bus_mohm=0.2,
        contact_mohm=0.3,
        noise_ratio=0.006,
        rhythm_ratio=0.02,
        meter_modulus_ah=1e5,
        meter_start_ah=12_400.0,
        zero_offset_a=1.0,
    ),
    _zinc_unit(1, 84_150.0),
    _zinc_unit(2, 99_850.0),
    _zinc_unit(3, 40_310.0),
    RectifierRow(
        id="rectifier-barrel-nickel",
        feeds=(("barrel-nickel", 1.0),),
        cell="barrel-nickel",
        density_a_per_dm2=0.9,
        rated_a=1500.0,
        rated_v=15.0,
        ramp_s=15.0,
        bus_mohm=0.25,
        contact_mohm=0.4,
        noise_ratio=0.006,
        rhythm_ratio=0.02,
        pulses=0,
        modules=3,
        meter_modulus_ah=1e6,
        meter_start_ah=233_900.0,
        zero_offset_a=0.4,
    ),
)
