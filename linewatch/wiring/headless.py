"""A demo run without a screen: our totals beside the plant's own truth."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms.alarm import By
from linewatch.core.alarms.states import STANDING
from linewatch.core.view import ChargePicture
from linewatch.wiring.collector import collect
from linewatch.wiring.processes import when_asked_to_end

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from linewatch.config import Works
    from linewatch.core.view import LinePicture, TankPicture
    from linewatch.engine.engine import Engine
    from linewatch.wiring.plant import RunningPlant

_STANDING = frozenset(state.word for state in STANDING)


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
    pictures: list[LinePicture] = []

    def began(engine: Engine) -> None:
        pictures.append(engine.picture())
        loop.call_later(for_s / speed, stop.set)

    engine = await collect(works, store, speed=speed, by=By("demo"), stop=stop, began=began)
    clock, first, picture = engine.clock, pictures[0], engine.picture()
    before = await asyncio.to_thread(plant.truth, clock.wall_at(first.mono_ns))
    after = await asyncio.to_thread(plant.truth, clock.wall_at(engine.read_mono_ns))
    return {
        "elapsed_s": (engine.taken_mono_ns - first.mono_ns) / 1e9,
        "poll_s": picture.poll_s,
        "speed": speed,
        "tanks": [
            {
                "id": tank.id,
                **_ours(start, tank),
                **_true(before["tanks"].get(tank.id, {}), after["tanks"].get(tank.id, {})),
            }
            for start, tank in zip(first.tanks, picture.tanks, strict=True)
            if tank.charge is not None
        ],
        "alarms": _alarms(picture),
        "links": [{"id": link.id, "state": link.state} for link in picture.links],
        "recording": picture.recording is not None and picture.recording.running,
        "plant_began_s": before.get("line_s"),
        "plant_lag_s": after.get("lag_s"),
    }


def _ours(first: TankPicture, last: TankPicture) -> dict[str, float]:
    """Return what a run added to a tank's totals; an earlier run's stay out of it."""
    start, end = first.charge or ChargePicture(), last.charge or ChargePicture()
    start_g = first.metal.mass_g if first.metal is not None else 0.0
    end_g = last.metal.mass_g if last.metal is not None else 0.0
    return {
        "charge_ah": end.cathodic_ah - start.cathodic_ah,
        "anodic_ah": end.anodic_ah - start.anodic_ah,
        "metal_g": end_g - start_g,
        "metered_s": end.metered_s - start.metered_s,
        "recovered_s": end.recovered_s - start.recovered_s,
        "unmetered_s": end.unmetered_s - start.unmetered_s,
    }


def _true(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, float]:
    names = {
        "true_charge_ah": "cathodic_ah",
        "true_anodic_ah": "anodic_ah",
        "true_metal_g": "metal_g",
    }
    return {
        ours: after[theirs] - before.get(theirs, 0.0)
        for ours, theirs in names.items()
        if theirs in after
    }


def _alarms(picture: LinePicture) -> list[dict[str, Any]]:
    return [
        {
            "id": alarm.id,
            "state": alarm.state,
            "priority": alarm.priority,
            "stands": alarm.state in _STANDING,
            "behind": alarm.behind,
        }
        for alarm in picture.alarms
    ]
