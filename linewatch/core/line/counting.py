"""The line's rectifiers: which tags feed which ledger, and what the counting tells people."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.uncertainty import charge_budget, limits_term
from linewatch.core.events import Event, EventKind
from linewatch.core.integration.charge import UAS_PER_AH, microamperes, uas
from linewatch.core.integration.deposit import DepositCurve
from linewatch.core.integration.gaps import late_ns, longest_gap_ns
from linewatch.core.integration.ledger import ChargeLedger, Source
from linewatch.core.integration.meter import MeterKind, uas_of_meter
from linewatch.core.plan import RectifierPlan, TagPlan
from linewatch.core.rules.health import MODULE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.core.electrochemistry.uncertainty import Budget
    from linewatch.core.integration.recovery import News, NewsKind
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000
MS = 1_000_000
PULSE_POLLS = 2
"""A pulse shorter than this many polls cannot be sampled."""
LEAST_TOLD_UAS = 3_600_000
"""0.001 A h: the last digit in which a recovered charge is told."""


@dataclass(slots=True)
class Rectifier:
    """One rectifier as it is counted."""

    plan: RectifierPlan
    current: TagPlan | None
    meter: TagPlan | None
    ledger: ChargeLedger
    longest_gap_ns: int = 0

    def set_speed(self, speed: float) -> None:
        """Take the speed of a run: how far apart two samples may lie depends on it."""
        tag = self.current or self.meter
        period_ns = tag.period_ns if tag is not None else NS
        self.longest_gap_ns = longest_gap_ns(period_ns, speed, self.plan.max_gap_ns)
        self.ledger.late_ns = late_ns(speed)

    @property
    def is_pulsed(self) -> bool:
        """Say whether it pulses faster than it is polled."""
        return _is_pulsed(self.plan, self.current)

    def charge_budget(self) -> Budget:
        """Return how sure the charge is.

        Returns:
            The budget: the class of its sensor, its zero error over as long as current flowed,
            and what was found at its last calibration.
        """
        tag, ledger = self.current, self.ledger
        ratio = self.plan.current_class_ratio
        if tag is None:
            return charge_budget(sensor_class_ratio=ratio)
        charge_ah = uas(ledger.cathodic + ledger.anodic) / UAS_PER_AH
        offset_ah = tag.class_absolute * ledger.flowing_ns / (3600.0 * NS)
        budget = charge_budget(
            sensor_class_ratio=tag.class_ratio or ratio,
            offset_ratio=offset_ah / charge_ah if charge_ah else 0.0,
        )
        if not tag.as_found_ratio:
            return budget
        found = limits_term("as found at calibration", abs(tag.as_found_ratio), "calibration")
        return budget.and_(found)

    def missed_ns(self, now_ns: int) -> int:
        """Return the time for which nothing accounts, up to now [ns].

        The span since the last sample is no gap as long as the next one may still join it.
        """
        ledger = self.ledger
        ns, last_ns = ledger.unmetered_ns(now_ns), None
        if ledger.last is not None:
            last_ns = ledger.last.ns
        elif ledger.track.last_uas is not None:
            last_ns = ledger.track.last_ns
        if last_ns is not None:
            open_ns = now_ns - last_ns
            if ledger.source.by_meter or open_ns <= self.longest_gap_ns:
                ns -= min(open_ns, self.longest_gap_ns)
        return max(0, ns)

    def missed_ah(self, now_ns: int) -> float:
        """Return what may have flowed at most in time for which nothing accounts [A h]."""
        return self.plan.rated_current_a * self.missed_ns(now_ns) / (3600.0 * NS)

    def told(self, news: Iterable[News], at: Moment) -> list[Event]:
        """Return what counting found, as events.

        A recovered charge that is less than its meter's own step is none: the account has it.
        """
        least_uas = max(LEAST_TOLD_UAS, uas_of_meter(self.plan.meter_resolution_ah))
        return [
            _event(self.plan, each, at)
            for each in news
            if each.kind not in RECOVERED or abs(each.charge_uas) >= least_uas
        ]


def rectifiers(plan: LinePlan) -> dict[str, Rectifier]:
    """Return the rectifiers of a plan, with empty ledgers."""
    found = {}
    for each in plan.rectifiers:
        current, meter = _tag(plan, each.id, "current"), _tag(plan, each.id, "charge-meter")
        source = Source(
            sign=1 if each.polarity == "cathodic" else -1,
            zero_cutoff_ua=microamperes(each.zero_cutoff_a),
            meter=_meter_kind(each) if meter is not None else None,
            by_meter=current is None or _is_pulsed(each, current),
            curves=_curves(plan, each),
        )
        found[each.id] = Rectifier(each, current, meter, ChargeLedger(source))
    return found


def _tag(plan: LinePlan, subject: str, kind: str) -> TagPlan | None:
    """Return a subject's tag of a kind; the one without a twin's suffix, if there are more.

    The current of one module is never that of its rectifier.
    """
    tags = [
        tag for tag in plan.tags_of(subject) if tag.kind == kind and f".{MODULE}" not in tag.id
    ]
    return min(tags, key=lambda tag: len(tag.id), default=None)


def _is_pulsed(plan: RectifierPlan, current: TagPlan | None) -> bool:
    if plan.pulse_on_ms is None or plan.pulse_off_ms is None or current is None:
        return False
    return (plan.pulse_on_ms + plan.pulse_off_ms) * MS < PULSE_POLLS * current.period_ns


def _meter_kind(plan: RectifierPlan) -> MeterKind:
    modulus = plan.meter_modulus_ah
    return MeterKind(
        modulus_uas=None if modulus is None else uas_of_meter(modulus),
        resolution_uas=uas_of_meter(plan.meter_resolution_ah),
        counts=plan.meter_counts,
        rated_ua=microamperes(plan.rated_current_a),
    )


def _curves(plan: LinePlan, rectifier: RectifierPlan) -> tuple[DepositCurve, ...]:
    baths = {bath.id: bath for bath in plan.baths}
    tanks = {tank.id: tank for tank in plan.tanks}
    curves = []
    for tank_id, share in rectifier.feeds:
        tank = tanks.get(tank_id)
        bath = baths.get(tank.bath or "") if tank is not None else None
        if tank is None or bath is None or bath.deposit is None or tank.area_dm2 is None:
            continue
        efficiency = bath.deposit.efficiency
        if efficiency.curve_a_per_dm2:
            curves.append(
                DepositCurve(
                    tank=tank_id,
                    share=share,
                    area_dm2=tank.area_dm2,
                    density_a_per_dm2=efficiency.curve_a_per_dm2,
                    ratio=efficiency.curve_ratio,
                )
            )
    return tuple(curves)


RECOVERED: frozenset[NewsKind] = frozenset({"recovered", "more recovered"})
_TOLD: dict[NewsKind, tuple[EventKind, str]] = {
    "recovered": (
        EventKind.CHARGE_RECOVERED,
        "{meter:.3f} A·h of a gap of {span:.0f} s recovered from its meter",
    ),
    "more recovered": (
        EventKind.CHARGE_RECOVERED,
        "{meter:.3f} A·h more flowed in the last gap, by its meter's next count",
    ),
    "reset": (
        EventKind.METER_RESET,
        "its meter was reset or stepped back: {meter:+.1f} A·h",
    ),
    "implausible": (
        EventKind.METER_RESET,
        "its meter jumped by {meter:.1f} A·h, more than it can deliver",
    ),
    "drift": (
        EventKind.METER_DRIFT,
        "its meter counted {meter:.1f} A·h where the samples add up to {own:.1f} A·h",
    ),
}


def _event(plan: RectifierPlan, news: News, at: Moment) -> Event:
    kind, text = _TOLD[news.kind]
    return Event(
        kind=kind,
        subject=plan.id,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=text.format(
            meter=news.charge_uas / UAS_PER_AH,
            own=news.own_uas / UAS_PER_AH,
            span=news.span_ns / NS,
        ),
        values={
            "what": news.kind,
            "charge_uas": news.charge_uas,
            "own_uas": news.own_uas,
            "span_ns": news.span_ns,
        },
    )
