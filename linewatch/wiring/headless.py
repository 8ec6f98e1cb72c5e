"""A demo run without a screen: our totals beside the plant's own truth."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from linewatch.wiring.collector import collect
from linewatch.wiring.processes import when_asked_to_end

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from linewatch.config import Works
    from linewatch.core.ports import RunStart
    from linewatch.core.view import ChargePicture, LinePicture, TankPicture
    from linewatch.wiring.plant import RunningPlant


async def run_headless(
    works: Works, store: Path, plant: RunningPlant, *, for_s: float, speed: float
) -> dict[str, Any]:
    """Collect for a span of line time; return totals, time account, alarms and links.

    Ours and the plant's are compared over the same span: from the run's first instant to the
    last block that was taken.
    """
    loop = asyncio.get_running_loop()
    stop = asyncio.Event()

    def end() -> None:
        loop.call_soon_threadsafe(stop.set)

    when_asked_to_end(end)
    starts_ns: list[int] = []

    def began(run: RunStart) -> None:
        starts_ns.append(run.at.mono_ns)
        loop.call_later(for_s / speed, stop.set)

    engine = await collect(works, store, speed=speed, who="demo", stop=stop, began=began)
    clock, start_ns = engine.clock, starts_ns[0]
    picture = engine.picture()
    end_ns = engine.taken_mono_ns
    before = await asyncio.to_thread(plant.truth, clock.wall_at(start_ns))
    after = await asyncio.to_thread(plant.truth, clock.wall_at(engine.read_mono_ns))
    return {
        "elapsed_s": (end_ns - start_ns) / 1e9,
        "poll_s": picture.poll_s,
        "speed": speed,
        "tanks": [_tank(tank, before, after) for tank in picture.tanks if tank.charge],
        "alarms": _alarms(picture),
        "links": [{"id": link.id, "state": link.state} for link in picture.links],
        "recording": picture.recording is not None and picture.recording.running,
        "plant_lag_s": after.get("lag_s"),
    }


def _tank(
    tank: TankPicture, before: Mapping[str, Any], after: Mapping[str, Any]
) -> dict[str, Any]:
    charge = tank.charge
    assert charge is not None  # noqa: S101 - chosen by the caller
    truth = _differences(before["tanks"].get(tank.id, {}), after["tanks"].get(tank.id, {}))
    return {
        "id": tank.id,
        "charge_ah": charge.cathodic_ah,
        "true_charge_ah": truth.get("cathodic_ah"),
        "anodic_ah": charge.anodic_ah,
        "true_anodic_ah": truth.get("anodic_ah"),
        "metal_g": tank.metal.mass_g if tank.metal is not None else 0.0,
        "true_metal_g": truth.get("metal_g"),
        **_account(charge),
    }


def _account(charge: ChargePicture) -> dict[str, float]:
    return {
        "metered_s": charge.metered_s,
        "recovered_s": charge.recovered_s,
        "unmetered_s": charge.unmetered_s,
    }


def _differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, float]:
    return {
        key: after[key] - before.get(key, 0.0)
        for key in ("cathodic_ah", "anodic_ah", "metal_g")
        if key in after
    }


def _alarms(picture: LinePicture) -> list[dict[str, Any]]:
    return [
        {"id": alarm.id, "state": alarm.state, "priority": alarm.priority}
        for alarm in picture.alarms
    ]
