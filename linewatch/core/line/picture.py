"""The line as one frozen picture.

Rule 1: a value that is not good or uncertain is not in the picture; its quality says why.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.alarms.states import STANDING, TO_ACKNOWLEDGE, State
from linewatch.core.alarms.wording import title, unit
from linewatch.core.electrochemistry.thickness import Growth, rate_um_per_h
from linewatch.core.integration.charge import UAS_PER_AH
from linewatch.core.plan import PRIORITIES
from linewatch.core.readings import Quality, is_bad, is_good
from linewatch.core.view import (
    AlarmPicture,
    BathPicture,
    ChargePicture,
    Figure,
    LinePicture,
    LoadPicture,
    MetalPicture,
    RectifierPicture,
    TankPicture,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.line.machine import Line
    from linewatch.core.line.metal import Plating
    from linewatch.core.plan import TagPlan, TankPlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000


def line_picture(line: Line, at: Moment) -> LinePicture:
    """Return the whole picture.

    Args:
        line: The line.
        at: Now, on both clocks.

    Returns:
        The picture, without links and recording.
    """
    plan = line.plan
    figures = _figures(line, at)
    alarms = _alarms(line)
    by_subject: dict[str, list[AlarmPicture]] = {}
    for alarm in alarms:
        by_subject.setdefault(alarm.subject, []).append(alarm)
    flood = line.alarms.flood
    return LinePicture(
        line_id=plan.line_id,
        name=plan.name,
        run_id=line.run_id,
        fingerprint=plan.fingerprint,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        started_utc_ns=at.utc_ns,
        speed=line.speed,
        units=plan.units,
        state=line.positions.line,
        tanks=tuple(_tank(line, tank, figures, by_subject, at) for tank in plan.tanks),
        rectifiers=tuple(_rectifiers(line, figures, at)),
        baths=tuple(_baths(line)),
        alarms=tuple(alarms),
        flood=flood.is_on,
        first_out=plan.conditions[flood.first_out].id if flood.is_on else "",
    )


def _figures(line: Line, at: Moment) -> dict[str, dict[str, Figure]]:
    """Return every tag's figure by subject, then by measurement kind with its suffix."""
    found: dict[str, dict[str, Figure]] = {}
    for tag in line.plan.tags.values():
        name = tag.id.removeprefix(f"{tag.subject}.")
        found.setdefault(tag.subject, {})[name] = _figure(line, tag, at)
    return found


def _figure(line: Line, tag: TagPlan, at: Moment) -> Figure:
    window = tag.window
    place = line.watch_of_tag.get(tag.id)
    value, quality, utc_ns, good_utc_ns = None, int(Quality.NOT_YET), 0, None
    if place is not None:
        watch, column = place
        quality, utc_ns = int(watch.quality[column]), watch.utc_ns
        good_utc_ns = watch.good_utc_ns(column)
        silent_ns = at.mono_ns - watch.heard_ns
        if not is_bad(quality) and silent_ns > watch.patience_ns[column]:
            quality = int(Quality.STALE)
        if not is_bad(quality):
            value = float(watch.value[column])
    return Figure(
        tag=tag.id,
        kind=tag.kind,
        value=value,
        quality=quality,
        utc_ns=utc_ns,
        good_utc_ns=good_utc_ns,
        low=window.low,
        high=window.high,
        target=window.target,
        side=_side(tag, value) if is_good(quality) else "",
    )


def _side(tag: TagPlan, value: float | None) -> str:
    window = tag.window
    if value is None:
        return ""
    if window.low_low is not None and value < window.low_low:
        return "low-low"
    if window.high_high is not None and value > window.high_high:
        return "high-high"
    if window.low is not None and value < window.low:
        return "low"
    if window.high is not None and value > window.high:
        return "high"
    return ""


def _alarms(line: Line) -> list[AlarmPicture]:
    """Return every alarm that is not plainly normal, in the order of the plan."""
    alarms, plan = line.alarms, line.plan
    found = []
    for number, state in enumerate(alarms.state):
        if state is State.NORMAL:
            continue
        if state is State.SUPPRESSED and not alarms.active[number]:
            # Expected, and not even there.
            continue
        condition = plan.conditions[number]
        detail = alarms.detail.get(number)
        subject = alarms.subject(condition)
        found.append(
            AlarmPicture(
                id=condition.id,
                tag=condition.tag,
                subject=subject,
                kind=condition.kind,
                state=state.word,
                priority=condition.priority,
                text=title(plan, condition),
                since_utc_ns=detail.since_utc_ns if detail else 0,
                value=detail.value if detail else None,
                limit=None if condition.kind == "bad-quality" else condition.limit,
                unit=unit(plan, condition),
                acknowledged_by=detail.acknowledged_by if detail else "",
                until_utc_ns=detail.until_utc_ns if detail else None,
                why=detail.why if detail else "",
                cause=condition.cause,
                consequence=condition.consequence,
                action=condition.action,
                respond_within_s=condition.respond_within_s,
                group=_group(line, condition.tag, subject, condition.kind),
            )
        )
    return found


def _group(line: Line, tag: str, subject: str, kind: str) -> str:
    """Return what explains an alarm: its link, its device, or in a flood its subject."""
    place = line.watch_of_tag.get(tag)
    if kind == "bad-quality" and place is not None:
        watch = place[0]
        layout = watch.layout
        if bool((watch.quality == Quality.NOT_CONNECTED).all()):
            return f"link {layout.link}"
        if len(layout.tags) > 1 and bool((watch.quality >= Quality.BAD).all()):
            return f"device {layout.device}"
    return subject if line.alarms.flood.is_on else ""


def _tank(
    line: Line,
    tank: TankPlan,
    figures: Mapping[str, Mapping[str, Figure]],
    alarms: Mapping[str, list[AlarmPicture]],
    at: Moment,
) -> TankPicture:
    sources = line.positions.feeding(tank.id)
    shown: dict[str, Figure] = {}
    for source in reversed(sources):
        shown |= figures.get(source, {})
    shown |= figures.get(tank.id, {})
    own = [each for name in (tank.id, *sources) for each in alarms.get(name, ())]
    standing = [each for each in own if each.state in _STANDING]
    plating = line.platings.get(tank.id)
    return TankPicture(
        id=tank.id,
        name=tank.name,
        kind=tank.kind,
        number=tank.number,
        track=tank.track,
        bath=tank.bath,
        rectifiers=sources,
        state=line.positions.state(tank.id, at.mono_ns),
        figures=shown,
        charge=_tank_charge(line, plating) if plating is not None else None,
        metal=_metal(plating, shown) if plating is not None else None,
        load=_load(line, tank, at),
        alarms=len(standing),
        worst=max((each.priority for each in standing), key=_rank, default=""),
        unacknowledged=sum(1 for each in own if each.state in _TO_ACKNOWLEDGE),
        out_of_service=tank.id in line.alarms.out,
    )


_STANDING = frozenset(state.word for state in STANDING)
_TO_ACKNOWLEDGE = frozenset(state.word for state in TO_ACKNOWLEDGE)


def _rank(priority: str) -> int:
    return [str(each) for each in PRIORITIES].index(priority)


def _charge(totals: Mapping[str, int], expanded_ratio: float) -> ChargePicture:
    cathodic_ah = totals["cathodic_uas"] / UAS_PER_AH
    return ChargePicture(
        cathodic_ah=cathodic_ah,
        anodic_ah=totals["anodic_uas"] / UAS_PER_AH,
        metered_s=totals["metered_ns"] / NS,
        recovered_s=totals["recovered_ns"] / NS,
        unmetered_s=totals["unmetered_ns"] / NS,
        elapsed_s=totals["elapsed_ns"] / NS,
        uncertainty_ah=cathodic_ah * expanded_ratio,
    )


def _tank_charge(line: Line, plating: Plating) -> ChargePicture:
    totals = line.rectifiers[plating.worst(line.now_ns)].ledger.totals(line.now_ns)
    totals["cathodic_uas"] = plating.cathodic_uas()
    totals["anodic_uas"] = plating.anodic_uas()
    return _charge(totals, plating.charge_budget().expanded_ratio)


def _metal(plating: Plating, figures: Mapping[str, Figure]) -> MetalPicture | None:
    deposit, efficiency = plating.deposit, plating.efficiency
    if deposit is None or efficiency is None:
        return None
    refused = plating.refused()
    mass_g = 0.0 if refused else plating.mass_g()
    density, rate = _rate(plating, figures.get("current"))
    return MetalPicture(
        deposit=deposit.name,
        mass_g=mass_g,
        uncertainty_g=mass_g * plating.mass_budget().expanded_ratio,
        refused=refused,
        rate_um_per_h=rate,
        current_density_a_per_dm2=density,
    )


def _rate(plating: Plating, current: Figure | None) -> tuple[float | None, float | None]:
    """Return present current density [A/dm2] and deposition rate [µm/h], where known."""
    area, efficiency, deposit = plating.tank.area_dm2, plating.efficiency, plating.deposit
    if area is None or current is None or current.value is None or not is_good(current.quality):
        return None, None
    feed = plating.feeds[0]
    through_a = current.value * feed.share * feed.rectifier.ledger.source.sign
    density = through_a / area
    if deposit is None or efficiency is None or through_a < 0.0:
        return density, None
    ratio = efficiency.value
    if feed.curve is not None and through_a > 0.0:
        curve = feed.rectifier.ledger.source.curves[feed.curve]
        if not curve.covers(current.value):
            return density, None
        ratio = curve.deposit_ua(round(current.value * 1e6)) / (through_a * 1e6)
    growth = Growth(
        equivalent_g_per_ah=deposit.equivalent_g_per_ah,
        density_g_per_cm3=deposit.density_g_per_cm3,
        efficiency=min(1.0, ratio),
        area_dm2=area,
    )
    return density, rate_um_per_h(through_a, growth)


def _load(line: Line, tank: TankPlan, at: Moment) -> LoadPicture | None:
    visit = line.positions.visit.get(tank.id)
    if visit is None:
        return None
    plating = line.platings.get(tank.id)
    return LoadPicture(
        number=visit.number,
        since_utc_ns=visit.since_utc_ns,
        dwell_s=max(0, at.mono_ns - visit.since_ns) / NS,
        shortest_s=tank.shortest_dwell_s,
        longest_s=tank.longest_dwell_s,
        charge_ah=plating.charge_ah(visit.cathodic) if plating is not None else None,
    )


def _rectifiers(
    line: Line, figures: Mapping[str, Mapping[str, Figure]], at: Moment
) -> Iterable[RectifierPicture]:
    for name, rectifier in line.rectifiers.items():
        plan = rectifier.plan
        budget = next(
            (
                p.charge_budget()
                for p in line.platings.values()
                for f in p.feeds
                if f.rectifier is rectifier
            ),
            None,
        )
        yield RectifierPicture(
            id=name,
            name=plan.name,
            feeds=tuple(tank for tank, _ in plan.feeds),
            figures=figures.get(name, {}),
            charge=_charge(
                rectifier.ledger.totals(line.now_ns),
                budget.expanded_ratio if budget is not None else 0.0,
            ),
            rated_current_a=plan.rated_current_a,
            rated_voltage_v=plan.rated_voltage_v,
            polarity=plan.polarity,
            out_of_service=name in line.alarms.out,
        )


def _baths(line: Line) -> Iterable[BathPicture]:
    for bath in line.plan.baths:
        tanks = tuple(tank.id for tank in line.plan.tanks if tank.bath == bath.id)
        platings = [line.platings[tank] for tank in tanks if tank in line.platings]
        refused = next((why for why in (p.refused() for p in platings) if why), "")
        metal = None
        if platings and platings[0].deposit is not None:
            masses = [] if refused else [(p.mass_g(), p.mass_budget()) for p in platings]
            metal = MetalPicture(
                deposit=platings[0].deposit.name,
                mass_g=sum(mass for mass, _ in masses),
                # One efficiency for all tanks of a bath: their doubts add up, not in squares.
                uncertainty_g=sum(mass * budget.expanded_ratio for mass, budget in masses),
                refused=refused,
            )
        yield BathPicture(
            id=bath.id,
            name=bath.name,
            tanks=tanks,
            charge_ah=sum(plating.charge_ah() for plating in platings),
            metal=metal,
            note=bath.note,
            caution=bath.caution,
        )
