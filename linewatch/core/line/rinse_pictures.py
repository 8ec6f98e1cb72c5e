"""One rinse as it is shown: means of its last loads, and what follows from them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linewatch.core.electrochemistry.rinse import rinse_ratio
from linewatch.core.errors import OutsideValidity
from linewatch.core.straight import Straight
from linewatch.core.water.rinsing import (
    Work,
    carried_l_per_min,
    flow_by_decay,
    flow_needed_l_per_min,
    middle,
    stage_ratio,
    staged_l_per_min,
)
from linewatch.core.water.seen import RinsePicture

if TYPE_CHECKING:
    from linewatch.core.line.machine import Line
    from linewatch.core.line.rinse_kept import Rinse
    from linewatch.core.line.rinses import Place, Rinses
    from linewatch.core.water.rinsing import Source

TWO_STAGES = 2


def rinse_picture(line: Line, rinses: Rinses, place: Place, rinse: Rinse) -> RinsePicture:
    """Return one rinse.

    Args:
        line: The line.
        rinses: The study.
        place: The rinse as it is planned.
        rinse: What is kept of it.
    """
    means, tank = rinse.means, place.plan
    window = tank.windows.get("conductivity")
    limit_us = window.high if window is not None else None
    feed_us = rinses.feed_us(line, place)
    before = rinse.coming.source if rinse.coming is not None else ""
    before = before or (place.before.id if place.before is not None else "")
    source = rinses.source(line, before)
    flow = line.good(f"{tank.id}.flow")
    told: dict[str, Any] = {
        **_films(means),
        **_flows(place, means, flow, feed_us),
        **_waters(place, means, (source, limit_us, feed_us)),
        **_stages(line, rinses, place, means, source),
    }
    return RinsePicture(
        tank=tank.id,
        source=before,
        source_us=source.value_us if source else None,
        source_from=source.told_by if source else "",
        loads=rinse.loads,
        beyond=rinse.beyond,
        untold=rinse.untold,
        why_untold=rinse.why,
        step_us=means.get("step_us"),
        before_us=means.get("before_us"),
        exit_us=means.get("exit_us"),
        limit_us=limit_us,
        interval_s=means.get("interval_s"),
        dwell_s=means.get("dwell_s"),
        volume_l=place.tank.volume_l,
        flow_l_per_min=flow,
        feed_us=feed_us,
        missing=tuple(_missing(line, place, rinse, (source, limit_us, feed_us))),
        **told,
    )


def _films(means: dict[str, float]) -> dict[str, float]:
    told = {}
    for name, value, pm in (
        ("film", "film_ml", "film_pm_ml"),
        ("per_m2", "film_ml_per_m2", "film_pm_ml_per_m2"),
    ):
        if f"{name}_low" in means:
            told[value], told[pm] = middle(means[f"{name}_low"], means[f"{name}_high"])
    return told


def _flows(
    place: Place, means: dict[str, float], flow: float | None, feed_us: float | None
) -> dict[str, float]:
    told = {}
    if "slope" in means:
        decay = Straight(means["middle_us"], means["slope"], 0.0, means["slope_pm"])
        found = flow_by_decay(decay, means["middle_us"], feed_us, place.tank.volume_l)
        if found is not None:
            told = {
                "decay_flow_l_per_min": found.value,
                "decay_flow_pm_l_per_min": found.pm,
                "decay_s": 60.0 * place.tank.volume_l / found.value,
            }
    if flow and "decay_s" not in told:
        told["decay_s"] = 60.0 * place.tank.volume_l / flow
    return told


def _work(means: dict[str, float]) -> Work | None:
    wanted = ("step_us", "interval_s", "dwell_s")
    if any(not means.get(name, 0.0) > 0.0 for name in wanted):
        return None
    return Work(**{name: means[name] for name in wanted})


def _waters(
    place: Place,
    means: dict[str, float],
    known: tuple[Source | None, float | None, float | None],
) -> dict[str, float | None]:
    source, limit_us, feed_us = known
    work = _work(means)
    if work is None or limit_us is None or feed_us is None:
        return {}
    volume_l = place.tank.volume_l
    told = {"needed_l_per_min": flow_needed_l_per_min(work, limit_us, feed_us, volume_l)}
    source_us = source.value_us if source is not None else None
    if source_us is not None and source_us > means["before_us"]:
        carried = carried_l_per_min(work, source_us, means["before_us"], volume_l)
        conducts = (source_us, limit_us, feed_us)
        told["staged_l_per_min"] = staged_l_per_min(carried, conducts, TWO_STAGES)
    return told


def _stages(
    line: Line, rinses: Rinses, place: Place, means: dict[str, float], source: Source | None
) -> dict[str, Any]:
    """Hold a counterflow stage against theory, by the stage whose water runs into it."""
    after = rinses.places.get(place.plan.rinse.fed_from or "")
    if after is None:
        return {}
    stages = [after]
    while (following := rinses.places.get(stages[-1].plan.rinse.fed_from or "")) is not None:
        if following in stages or following is place:
            return {"next_stage": after.plan.id}
        stages.append(following)
    told: dict[str, Any] = {"next_stage": after.plan.id}
    feed_us = rinses.feed_us(line, stages[-1])
    here, there = (rinses.rinse[each.plan.id].means for each in (place, after))
    if feed_us is None or "exit_us" not in here or "exit_us" not in there:
        return told
    told["ratio"] = stage_ratio(here["exit_us"], there["exit_us"], feed_us)
    work, flow = _work(means), line.good(f"{stages[-1].plan.id}.flow")
    flow = flow if flow is not None else line.good(f"{place.plan.id}.flow")
    source_us = source.value_us if source is not None else None
    if work is None or not flow or source_us is None or source_us <= means["before_us"]:
        return told
    carried = carried_l_per_min(work, source_us, means["before_us"], place.tank.volume_l)
    try:
        below = len(stages)
        told["theory_ratio"] = rinse_ratio(flow / carried, below) / (
            rinse_ratio(flow / carried, below - 1) if below > 1 else 1.0
        )
    except OutsideValidity:
        pass
    return told


def _missing(
    line: Line,
    place: Place,
    rinse: Rinse,
    known: tuple[Source | None, float | None, float | None],
) -> list[str]:
    """Return in words what is missing to tell more."""
    source, limit_us, feed_us = known
    told = []
    if line.positions.present.get(place.plan.id) is None and not rinse.loads:
        told.append("no signal tells when a load is in it")
    if source is None or (source.value_us is None and place.tank.response_us is None):
        name = source.name if source is not None else "the tank before it"
        told.append(
            f"nobody says what {name} conducts: type a hand reading in, state a window of its"
            " conductivity, or pour a litre (rinse.response)"
        )
    if feed_us is None:
        told.append("nobody says what its water conducts: rinse.water or rinse.fed_from")
    if limit_us is None:
        told.append("it has no limit: window.conductivity")
    return told
