"""A load's deposit as it grows: thickness, rate, and when to pull it, or why not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.thickness import (
    Growth,
    rate_um_per_h,
    thinnest_um,
    time_to_target_s,
)
from linewatch.core.errors import Refused
from linewatch.core.line.dissolving import why_not_known
from linewatch.core.line.study import LOOK_NS
from linewatch.core.readings import is_good
from linewatch.core.view import LoadPicture

if TYPE_CHECKING:
    from linewatch.core.line.metal import Feed, Plating
    from linewatch.core.line.positions import Visit
    from linewatch.core.line.trips import Asked
    from linewatch.core.readings import Moment
    from linewatch.core.view import Figure

NS = 1_000_000_000
HOUR_S = 3600.0
UNMETERED_RATIO = 0.02
"""With more of a load's time unmetered, its thickness is not known. Common practice."""


def density_and_rate(
    plating: Plating, current: Figure | None, asked: Asked
) -> tuple[float | None, float | None]:
    """Return present current density and deposition rate.

    Args:
        plating: The tank.
        current: The figure of its rectifier's current.
        asked: How large the load in it is, or a usual one, and what share it gets.

    Returns:
        (current density [A/dm2], mean rate [µm/h]); None where it is not known. A current
        below the sensor's cutoff is none, as it is where charge is counted.
    """
    efficiency, deposit, area = plating.efficiency, plating.deposit, asked.area_dm2
    if area is None or current is None or current.value is None or not is_good(current.quality):
        return None, None
    feed = plating.feeds[0]
    device_a = current.value * feed.ledger.source.sign
    if abs(device_a) < feed.rectifier.plan.zero_cutoff_a:
        device_a = 0.0
    through_a = device_a * feed.share * asked.current_ratio
    density = through_a / area
    if deposit is None or efficiency is None:
        return density, None
    ratio = _efficiency(feed, device_a, efficiency.value)
    if ratio is None:
        return density, None
    growth = Growth(
        equivalent_g_per_ah=deposit.equivalent_g_per_ah,
        density_g_per_cm3=deposit.density_g_per_cm3,
        efficiency=ratio,
        area_dm2=area,
    )
    return density, rate_um_per_h(max(0.0, through_a), growth)


def _efficiency(feed: Feed, cathodic_a: float, value: float) -> float | None:
    """Return the efficiency at a rectifier's present current; None if the curve ends before."""
    if feed.curve is None or cathodic_a <= 0.0:
        return value
    curve = feed.ledger.source.curves[feed.curve]
    if not curve.covers(cathodic_a):
        return None
    return min(1.0, curve.deposit_ua(round(cathodic_a * 1e6)) / (cathodic_a * 1e6 * feed.share))


def load_picture(
    visit: Visit,
    plating: Plating | None,
    flow: tuple[float | None, float | None],
    at: Moment,
    asked: Asked,
) -> LoadPicture:
    """Return a load in its position.

    Args:
        visit: Its visit.
        plating: What the position lays down, if it is fed at all.
        flow: Present current density [A/dm2] and deposition rate [µm/h]; None where it is not
            known.
        at: Now.
        asked: How large the load is, and what is asked of it here.

    Returns:
        The picture.
    """
    thickness, plus_minus, refused = None, None, ""
    if plating is not None and plating.deposit is not None:
        refused = _refused(plating, visit, at, asked)
        if not refused:
            thickness, plus_minus = _thickness(plating, visit, asked)
    pull_utc_ns = None
    if thickness is not None and plating is not None:
        pull_utc_ns, refused = _pull(plating, thickness, flow, at, asked)
    factor = asked.distribution_ratio
    return LoadPicture(
        number=visit.number,
        since_utc_ns=visit.since_utc_ns,
        dwell_s=max(0, at.mono_ns - visit.since_ns) / NS,
        shortest_s=asked.shortest_s,
        longest_s=asked.longest_s,
        part=asked.part,
        area_dm2=asked.area_dm2,
        area_tolerance_ratio=asked.area_tolerance_ratio,
        charge_ah=(
            plating.charge_ah(visit.cathodic) * asked.charge_ratio
            if plating is not None
            else None
        ),
        unmetered_s=_unmetered_s(plating, visit, at) if plating is not None else 0.0,
        thickness_um=thickness,
        thickness_uncertainty_um=plus_minus,
        thinnest_um=(
            thinnest_um(thickness, distribution_ratio=factor)
            if thickness is not None and factor is not None
            else None
        ),
        target_um=asked.target_um,
        pull_utc_ns=pull_utc_ns,
        pull_refused=refused,
        grave=asked.grave,
    )


def known_thickness_um(
    visit: Visit, plating: Plating, at: Moment, asked: Asked
) -> float | None:
    """Return a load's mean thickness in a tank that lays something down; None: not known."""
    if _refused(plating, visit, at, asked):
        return None
    return _thickness(plating, visit, asked)[0]


def _refused(plating: Plating, visit: Visit, at: Moment, asked: Asked) -> str:
    """Return why a load's thickness is not known, '' if it is."""
    if asked.reversed_ah:
        return why_not_known(asked.reversed_ah)
    if asked.area_dm2 is None:
        return "the load's area is not known"
    refused = plating.refused_for(asked.area_dm2, asked.charge_ratio)
    if refused:
        return refused
    unmetered_s = _unmetered_s(plating, visit, at)
    return f"{unmetered_s:.0f} s of its time here were not metered" if unmetered_s else ""


def _unmetered_s(plating: Plating, visit: Visit, at: Moment) -> float:
    """Return how much of a load's time was not metered, where it is too much to pass over."""
    dwell_ns = at.mono_ns - visit.since_ns
    for feed in plating.feeds:
        unmetered_ns = feed.ledger.unmetered_ns(at.mono_ns) - visit.unmetered_ns.get(
            feed.name, 0
        )
        # Up to a gap of samples that may still be joined, time is only not metered yet.
        if unmetered_ns > max(feed.rectifier.longest_gap_ns, UNMETERED_RATIO * dwell_ns):
            return unmetered_ns / NS
    return 0.0


def _thickness(plating: Plating, visit: Visit, asked: Asked) -> tuple[float, float]:
    """Return (mean thickness, its expanded uncertainty) of a load [µm]."""
    assert asked.area_dm2 is not None  # noqa: S101 - `_refused` has looked
    mass_g = plating.mass_since_g(visit.cathodic, visit.deposits) * asked.charge_ratio
    mean_um, budget = plating.thickness(mass_g, asked.area_dm2, asked.area_tolerance_ratio)
    return mean_um, mean_um * budget.expanded_ratio


def _flows_back(plating: Plating, density: float | None, asked: Asked) -> bool:
    """Say whether a current that is not the sensor's offset takes off what was laid down."""
    if density is None or asked.area_dm2 is None:
        return False
    cutoff_a = max(feed.share * feed.rectifier.plan.zero_cutoff_a for feed in plating.feeds)
    return -density * asked.area_dm2 > cutoff_a


def _pull(
    plating: Plating,
    thickness_um: float,
    flow: tuple[float | None, float | None],
    at: Moment,
    asked: Asked,
) -> tuple[int | None, str]:
    """Return (when to pull on the wall clock, '') or (None, why that means nothing)."""
    target_um = asked.target_um
    if target_um is None:
        return None, "no thickness is asked of this tank alone"
    if thickness_um >= target_um:
        return at.utc_ns - _over_ns(thickness_um - target_um, flow[1], at, asked), ""
    density, rate = flow
    if _flows_back(plating, density, asked):
        return None, "current flows the wrong way"
    if rate is None:
        return None, "the present deposition rate is not known"
    spread = max(feed.ledger.steadiness.spread_ratio(at.mono_ns) for feed in plating.feeds)
    try:
        left_s = time_to_target_s(
            target_um=target_um,
            present_um=thickness_um,
            rate_um_per_h=rate,
            spread_ratio=spread,
        )
    except Refused as refused:
        return None, refused.reason
    return at.utc_ns + round(left_s * NS), ""


def _over_ns(over_um: float, rate_um_per_h: float | None, at: Moment, asked: Asked) -> int:
    """Return how long ago a load reached its target [ns].

    Until a look has found when that was, which is soon, the present rate tells.
    """
    if asked.reached_ns >= 0:
        return at.mono_ns - asked.reached_ns
    if not rate_um_per_h:
        return 0
    return round(min(over_um / rate_um_per_h * HOUR_S, LOOK_NS / NS) * NS)
