"""The line as one frozen picture.

Rule 1: a value that is not good or uncertain is not in the picture; its quality says why.
Rule 2: the picture is made bare, its figures as columns beside it: nobody pays for a figure at
        which nobody looks. A tank without current and load of which nothing else has changed
        is the same object as in the last picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from linewatch.core.alarms.states import GONE, STANDING, TO_ACKNOWLEDGE, State
from linewatch.core.integration.charge import UAS_PER_AH
from linewatch.core.line.additions import additions_of
from linewatch.core.line.alarms_seen import alarms_seen
from linewatch.core.line.attention import (
    NO_EVIDENCE,
    NO_EVIDENCE_OF,
    attention,
    facts,
    findings,
)
from linewatch.core.line.discharge import MAY, MUST_NOT, may_discharge, not_analysed
from linewatch.core.line.duties import duties_of
from linewatch.core.line.growth import density_and_rate, load_picture
from linewatch.core.line.health import health_of
from linewatch.core.line.holding import held
from linewatch.core.line.levels import levels_of
from linewatch.core.line.loads import loads_of
from linewatch.core.line.notices import failing_of
from linewatch.core.line.on_the_way import on_their_way
from linewatch.core.line.owing import bath_parts
from linewatch.core.line.rinses import rinses_of
from linewatch.core.line.sheets import checks_of, signed_of
from linewatch.core.line.trips import usual
from linewatch.core.plan import PRIORITIES
from linewatch.core.view import (
    BathPicture,
    ChargePicture,
    LinePicture,
    MetalPicture,
    RectifierPicture,
    TankPicture,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from linewatch.core.figures import FigureColumns
    from linewatch.core.line.counting import Rectifier
    from linewatch.core.line.machine import Line
    from linewatch.core.line.metal import Plating
    from linewatch.core.plan import TankPlan
    from linewatch.core.readings import Moment
    from linewatch.core.view import AlarmPicture

NS = 1_000_000_000


class Pictures:
    """Makes a line's pictures.

    Args:
        line: The line.
    """

    def __init__(self, line: Line) -> None:
        self._line = line
        self._idle: dict[str, tuple[_Seen, TankPicture]] = {}

    def bare(self, at: Moment) -> tuple[LinePicture, FigureColumns]:
        """Return the present picture without figures, links and recording; and its figures.

        Args:
            at: Now, on both clocks.
        """
        read = self._line.gathering.columns(at)
        # What raised an alarm is told as it was read; elsewhere it is marked.
        alarms = alarms_seen(self._line, read, at)
        figures = read.doubting(self._line.doubted.everywhere(self._line))
        return _line_picture(self._line, self._idle, (figures, alarms), at), figures


def _line_picture(
    line: Line,
    idle: dict[str, tuple[_Seen, TankPicture]],
    seen: tuple[FigureColumns, Sequence[AlarmPicture]],
    at: Moment,
) -> LinePicture:
    plan = line.plan
    figures, alarms = seen
    by_subject: dict[str, list[AlarmPicture]] = {}
    for alarm in alarms:
        by_subject.setdefault(alarm.subject, []).append(alarm)
    flood = line.alarms.flood
    rinses = rinses_of(line)
    return LinePicture(
        line_id=plan.line_id,
        name=plan.name,
        run_id=line.run_id,
        fingerprint=plan.fingerprint,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        started_utc_ns=line.started_utc_ns,
        speed=line.speed,
        units=plan.units,
        state=line.positions.line,
        tanks=tuple(_tank(line, tank, figures, by_subject, idle, at) for tank in plan.tanks),
        rectifiers=tuple(_rectifiers(line, figures, alarms)),
        baths=tuple(_baths(line, at)),
        alarms=tuple(alarms),
        not_heard=failing_of(line),
        duties=duties_of(line),
        ways=on_their_way(line, at),
        held=held(line),
        rinses=rinses,
        levels=levels_of(line, rinses),
        shift_s=plan.shift_s,
        checks=checks_of(line),
        sheet_signed=signed_of(line),
        flood=flood.is_on,
        first_out=plan.conditions[flood.first_out].id if flood.is_on else "",
    )


class _Counted(NamedTuple):
    """What is told of the alarms of a tank and its rectifiers; see `TankPicture`."""

    alarms: int = 0
    worst: str = ""
    unacknowledged: int = 0
    has_gone: bool = False
    follows: int = 0
    shelved: str = ""


class _Seen(NamedTuple):
    """What a tank without current and load can change."""

    state: str
    out_of_service: bool
    counted: _Counted

    def parts(self) -> dict[str, Any]:
        """Return it as parts of a picture."""
        told = {"state": self.state, "out_of_service": self.out_of_service}
        return {**told, **self.counted._asdict()}


def _tank(
    line: Line,
    tank: TankPlan,
    figures: FigureColumns,
    alarms: Mapping[str, list[AlarmPicture]],
    idle: dict[str, tuple[_Seen, TankPicture]],
    at: Moment,
) -> TankPicture:
    name, sources = tank.id, line.positions.feeding(tank.id)
    own: list[AlarmPicture] = []
    if alarms:
        own = [each for subject in (name, *sources) for each in alarms.get(subject, ())]
    state = line.positions.state(name, at.mono_ns)
    seen = _Seen(state, name in line.alarms.out, _counted(own) if own else _NO_ALARMS)
    plating, visit = line.platings.get(name), line.positions.visit.get(name)
    if plating is None and visit is None and not tank.permit:
        kept = idle.get(name)
        if kept is None or kept[0] != seen:
            kept = idle[name] = seen, TankPicture(**_of_plan(tank, sources), **seen.parts())
        return kept[1]
    density, rate = None, None
    load = None
    if plating is not None or visit is not None:
        loads = loads_of(line) if visit is not None else None
        asked = (loads.growing_in(line, tank) if loads is not None else None) or usual(tank)
        if plating is not None:
            current = figures.of_tank(name, sources).get("current")
            density, rate = density_and_rate(plating, current, asked)
        if visit is not None:
            load = load_picture(visit, plating, (density, rate), at, asked)
    against = may_discharge(line, tank, at) if tank.permit else ()
    return TankPicture(
        **_of_plan(tank, sources),
        **seen.parts(),
        charge=_tank_charge(line, plating) if plating is not None else None,
        metal=(
            _metal(plating, *_at_work(seen, density, rate), line.now_ns)
            if plating is not None
            else None
        ),
        load=load,
        permit=(MUST_NOT if against else MAY) if tank.permit else "",
        permit_reasons=against,
        permit_unknown=not_analysed(line, tank, at) if tank.permit else (),
    )


def _of_plan(tank: TankPlan, sources: tuple[str, ...]) -> dict[str, Any]:
    return {
        "id": tank.id,
        "name": tank.name,
        "kind": tank.kind,
        "number": tank.number,
        "track": tank.track,
        "bath": tank.bath,
        "rectifiers": sources,
    }


def _at_work(
    seen: _Seen, density: float | None, rate: float | None
) -> tuple[float | None, float | None]:
    """Return density and rate where there is a load to have them, and a current."""
    return (None, None) if seen.state == "empty" or not density else (density, rate)


_NO_ALARMS = _Counted()


def _counted(own: list[AlarmPicture]) -> _Counted:
    listed = [each for each in own if each.state in _STANDING]
    # One that is still so goes before a graver one that is over.
    still = [each for each in listed if each.state not in _GONE]
    shown = still or listed
    aside = [each.priority for each in own if each.state == State.SHELVED.word]
    return _Counted(
        alarms=len(listed),
        worst=max((each.priority for each in shown), key=_rank, default=""),
        unacknowledged=sum(1 for each in shown if each.state in _TO_ACKNOWLEDGE),
        has_gone=bool(listed) and not still,
        follows=sum(1 for each in own if each.behind and each.state == State.SUPPRESSED.word),
        shelved=max(aside, key=_rank, default=""),
    )


_STANDING = frozenset(state.word for state in STANDING)
_TO_ACKNOWLEDGE = frozenset(state.word for state in TO_ACKNOWLEDGE)
_GONE = frozenset(state.word for state in GONE)


def _rank(priority: str) -> int:
    return [str(each) for each in PRIORITIES].index(priority)


def _charge(
    totals: Mapping[str, int], expanded_ratio: float, missed_ah: float
) -> ChargePicture:
    cathodic_ah = totals["cathodic_uas"] / UAS_PER_AH
    anodic_ah = totals["anodic_uas"] / UAS_PER_AH
    return ChargePicture(
        cathodic_ah=cathodic_ah,
        anodic_ah=anodic_ah,
        metered_s=totals["metered_ns"] / NS,
        recovered_s=totals["recovered_ns"] / NS,
        unmetered_s=totals["unmetered_ns"] / NS,
        elapsed_s=totals["elapsed_ns"] / NS,
        uncertainty_ah=cathodic_ah * expanded_ratio,
        anodic_uncertainty_ah=anodic_ah * expanded_ratio,
        missed_ah=missed_ah,
    )


def _tank_charge(line: Line, plating: Plating) -> ChargePicture:
    ratio = plating.charge_budget().expanded_ratio
    now_ns = line.now_ns
    return _charge(plating.totals(now_ns), ratio, plating.missed_ah(now_ns))


def _metal(
    plating: Plating, density: float | None, rate: float | None, now_ns: int
) -> MetalPicture | None:
    if plating.deposit is None:
        return None
    refused = plating.refused()
    mass_g = 0.0 if refused else plating.mass_g()
    return MetalPicture(
        deposit=plating.deposit.name,
        mass_g=mass_g,
        uncertainty_g=mass_g * plating.mass_budget().expanded_ratio if mass_g else 0.0,
        refused=refused,
        missed_g=plating.missed_g(now_ns),
        rate_um_per_h=rate,
        current_density_a_per_dm2=density,
        reverses=any(feed.rectifier.plan.reverses for feed in plating.feeds),
    )


def _rectifiers(
    line: Line, figures: FigureColumns, alarms: Iterable[AlarmPicture]
) -> Iterable[RectifierPicture]:
    health = health_of(line)
    standing: dict[str, list[str]] = {}
    gone: dict[str, list[str]] = {}
    for each in alarms:
        is_evidence = each.kind not in NO_EVIDENCE and not each.id.endswith(NO_EVIDENCE_OF)
        if each.state in _STANDING and is_evidence:
            of = gone if each.state in _GONE else standing
            of.setdefault(each.subject, []).append(each.priority)
    for name, rectifier in line.rectifiers.items():
        plan = rectifier.plan
        unit = health.units.get(name) if health is not None else None
        found = findings(unit) if unit is not None else ()
        shown = figures.of(name)
        yield RectifierPicture(
            id=name,
            name=plan.name,
            feeds=tuple(tank for tank, _ in plan.feeds),
            charge=_charge(
                rectifier.ledger.totals(line.now_ns),
                rectifier.charge_budget().expanded_ratio,
                rectifier.missed_ah(line.now_ns),
            ),
            rated_current_a=plan.rated_current_a,
            rated_voltage_v=plan.rated_voltage_v,
            polarity=plan.polarity,
            out_of_service=name in line.alarms.out,
            findings=(*_findings(rectifier), *found),
            attention=attention(unit, standing.get(name, ()), gone.get(name, ())),
            base_utc_ns=unit.base_utc_ns if unit is not None else 0,
            health=facts(unit, shown) if unit is not None else (),
        )


def _findings(rectifier: Rectifier) -> tuple[str, ...]:
    if rectifier.is_pulsed and rectifier.meter is None:
        return ("it pulses faster than it is polled and has no meter: charge is not metered",)
    if rectifier.is_pulsed:
        return ("it pulses faster than it is polled: its meter counts the charge",)
    return ()


def _baths(line: Line, at: Moment) -> Iterable[BathPicture]:
    additions = additions_of(line)
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
                missed_g=sum(plating.missed_g(line.now_ns) for plating in platings),
            )
        yield BathPicture(
            id=bath.id,
            name=bath.name,
            tanks=tanks,
            charge_ah=sum(plating.charge_ah() for plating in platings),
            metal=metal,
            note=bath.note,
            caution=bath.caution,
            **(bath_parts(line, additions, bath, at.utc_ns) if additions is not None else {}),
        )
