"""What a load received in one stay: charge, metal, thickness, and how sure each is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.faraday import deposited_mass_g
from linewatch.core.electrochemistry.thickness import thinnest_um
from linewatch.core.electrochemistry.uncertainty import limits_term
from linewatch.core.line.dissolving import reversed_ah, why_not_known
from linewatch.core.line.metal import shared
from linewatch.core.loads.record import MOST_UNMETERED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.electrochemistry.metals import Deposit
    from linewatch.core.electrochemistry.uncertainty import Budget, Term
    from linewatch.core.line.counting import Rectifier
    from linewatch.core.line.metal import Plating
    from linewatch.core.line.trips import Asked, Stay

NS = 1_000_000_000
UAS_PER_AH = 3_600_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """The figures of a stay, with all that they were worked out from."""

    charge_ah: float
    charge_pm_ah: float
    """Expanded (k = 2) uncertainty."""
    anodic_ah: float
    unmetered_s: float
    reversed_ah: float = 0.0
    """Charge that flowed the wrong way, where metal is laid down; see `reversed_ah`."""
    deposit: str = ""
    """'Ni', 'Zn-Ni'; '' where the bath lays down none."""
    mass_g: float | None = None
    efficiency: float | None = None
    """Mass over what the charge would lay down at 100 % [1]."""
    equivalent_g_per_ah: float | None = None
    density_g_per_cm3: float | None = None
    area_dm2: float | None = None
    area_from: str = ""
    thickness_um: float | None = None
    thickness_pm_um: float | None = None
    """Expanded (k = 2) uncertainty."""
    thinnest_um: float | None = None
    thickness_refused: str = ""
    """Why there is no thickness; '' if there is, or none was to be expected."""
    shared_with: str = ""
    """The loads with which it shared a rectifier, by area; '' if it hung alone."""
    doubts: str = ""
    """What its ± was worked out from: 'meter 0.29 %; area 0.58 %', standard uncertainties."""


def open_ns(rectifier: Rectifier, now_ns: int) -> int:
    """Return how much time before now a meter may still tell of, read later [ns]."""
    last, pending_ns = rectifier.ledger.last, rectifier.ledger.track.pending_ns
    if last is None or now_ns - last.ns <= rectifier.longest_gap_ns:
        return pending_ns
    return pending_ns + now_ns - last.ns


def received(plating: Plating, stay: Stay, until: tuple[int, float], asked: Asked) -> Received:
    """Return what a load received in a stay.

    Args:
        plating: The tank.
        stay: What was noted when it came in.
        until: Line time of leaving [ns], and for how long nobody had looked before it was
            seen to have left [s].
        asked: How large the load is, and how evenly it is plated.

    Returns:
        The figures.
    """
    now_ns, unseen_s = until
    since = stay.sums
    charge_ah, anodic, ratio = _charge(plating, stay)
    unmetered_ns = max(
        plating.unmetered_ns(now_ns)[feed.name] - since["unmetered"].get(feed.name, 0)
        for feed in plating.feeds
    )
    # The span since the last sample is not metered yet; the next sample joins it.
    longest_ns = max(feed.rectifier.longest_gap_ns for feed in plating.feeds)
    unmetered_ns = 0 if unmetered_ns <= longest_ns else unmetered_ns
    more = _stay_terms(plating, stay, (unmetered_ns, now_ns, unseen_s), charge_ah)
    charge_budget = plating.charge_budget().and_(*more)
    beside = [each for portion in stay.portions.values() for each in portion.beside]
    rest: dict[str, object] = {
        "doubts": _doubts(charge_budget),
        "shared_with": ", ".join(dict.fromkeys(beside)),
    }
    dwell_ns = max(1, now_ns - stay.since_ns)
    back_ah = reversed_ah(plating, charge_ah, anodic / UAS_PER_AH, dwell_ns / NS)
    if back_ah and plating.deposit is not None:
        rest |= _of_metal(plating.deposit, asked)
        rest["thickness_refused"] = why_not_known(back_ah)
    elif plating.deposit is not None and plating.efficiency is not None:
        rest |= _metal(plating, since, (charge_ah, ratio), asked, more)
        thickness = rest.get("thickness_um")
        spread = asked.distribution_ratio
        if isinstance(thickness, float) and spread is not None:
            rest["thinnest_um"] = thinnest_um(thickness, distribution_ratio=spread)
    pm_ah = abs(charge_ah) * charge_budget.expanded_ratio
    if unmetered_ns > MOST_UNMETERED * dwell_ns:
        # A share of next to nothing says nothing: anything up to the rating may have flowed.
        pm_ah += unmetered_ns / 1e9 / 3600.0 * _rated_a(plating)
        not_metered = (
            f"{unmetered_ns / NS:.0f} of its {dwell_ns / NS:.0f} s here were not metered"
        )
        rest = {
            **{key: rest[key] for key in ("doubts", "shared_with", "deposit") if key in rest},
            "area_dm2": asked.area_dm2,
            "area_from": asked.area_from,
            "thickness_refused": why_not_known(back_ah) or not_metered,
        }
    return Received(
        charge_ah=charge_ah,
        charge_pm_ah=pm_ah,
        anodic_ah=anodic / UAS_PER_AH,
        unmetered_s=unmetered_ns / NS,
        reversed_ah=back_ah,
        **rest,  # type: ignore[arg-type]  # the fields that `_metal` names
    )


def _rated_a(plating: Plating) -> float:
    """Return the most that a tank's rectifiers can give it [A]."""
    return sum(feed.share * feed.rectifier.plan.rated_current_a for feed in plating.feeds)


def _charge(plating: Plating, stay: Stay) -> tuple[float, int, float]:
    """Return what a load received.

    Returns:
        (charge [A h], anodic charge [µA s], the first over what the tank's configured share
        would have given it).
    """
    cathodic = anodic = 0
    for feed in plating.feeds:
        portion = stay.portions.get(feed.name)
        if portion is not None:
            cathodic += portion.cathodic_uas
            anodic += portion.anodic_uas
            continue
        before = (stay.sums[each].get(feed.name, 0) for each in ("cathodic", "anodic"))
        ledger = feed.ledger
        now = (ledger.cathodic, ledger.anodic)
        more = [shared(n - b, feed.share) for n, b in zip(now, before, strict=True)]
        cathodic, anodic = cathodic + more[0], anodic + more[1]
    configured = plating.cathodic_uas(stay.sums["cathodic"])
    ratio = cathodic / configured if stay.portions and configured else 1.0
    return cathodic / UAS_PER_AH, anodic, ratio


def _stay_terms(
    plating: Plating, stay: Stay, end: tuple[int, int, float], charge_ah: float
) -> tuple[Term, ...]:
    """Return the doubts that belong to one stay: its edges, and what nothing told in time."""
    unmetered_ns, now_ns, unseen_s = end
    dwell_ns = max(1, now_ns - stay.since_ns)
    period_ns = max(
        tag.period_ns
        for feed in plating.feeds
        if (tag := feed.rectifier.current or feed.rectifier.meter) is not None
    )
    # Current is switched between two samples: at either edge half a period may be wrong. Where
    # the station was not read, the load may have come or gone at any time within.
    edges_ns = sum(_edge_ns(period_ns, each) for each in (stay.unseen_s, unseen_s))
    # A program is on for a part of the stay only: what a second may have brought is the
    # largest current that was seen, not the mean.
    a_second = max(1.0 / (dwell_ns / NS), _peak_share(stay, charge_ah))
    terms = [limits_term("switching between two samples", min(1.0, edges_ns / NS * a_second))]
    open_before_ns = max(stay.open_ns.values(), default=0)
    if unmetered_ns or open_before_ns:
        metered_ns = max(1, dwell_ns - unmetered_ns)
        a_second = max(1.0 / (metered_ns / NS), _peak_share(stay, charge_ah))
        share = min(1.0, (unmetered_ns + open_before_ns) / NS * a_second)
        terms.append(limits_term("time that nothing metered", share))
    doubt_ah = sum(each.doubt_uas for each in stay.portions.values()) / UAS_PER_AH
    if doubt_ah and charge_ah > 0.0:
        terms.append(limits_term("shared by area", min(1.0, doubt_ah / charge_ah)))
    steps_ah = _told_by_meter(plating, stay)
    if steps_ah and charge_ah > 0.0:
        share = min(1.0, steps_ah / charge_ah)
        terms.append(limits_term("whole counts of the meter that filled a gap", share))
    return tuple(terms)


def _peak_share(stay: Stay, charge_ah: float) -> float:
    """Return what a second of the largest current is of a stay's charge [1/s]."""
    return stay.peak_a / 3600.0 / charge_ah if charge_ah > 0.0 else 0.0


def _edge_ns(period_ns: int, unseen_s: float) -> float:
    unseen_ns = unseen_s * NS
    return period_ns / 2 if unseen_ns <= 2 * period_ns else unseen_ns


def _told_by_meter(plating: Plating, stay: Stay) -> float:
    """Return the counts of the meters that filled gaps of a stay [A h]; 0 if none did."""
    return sum(
        feed.share * feed.rectifier.plan.meter_resolution_ah
        for feed in plating.feeds
        if feed.ledger.recovered != stay.sums["recovered"].get(feed.name, 0)
    )


def _metal(
    plating: Plating,
    since: Mapping[str, Mapping[str, int]],
    got: tuple[float, float],
    asked: Asked,
    more: tuple[Term, ...],
) -> dict[str, object]:
    deposit, (charge_ah, ratio) = plating.deposit, got
    assert deposit is not None  # noqa: S101 - the caller has looked
    found = _of_metal(deposit, asked)
    refused = plating.refused_for(asked.area_dm2, ratio)
    if refused:
        return {**found, "thickness_refused": refused}
    mass_g = plating.mass_since_g(since["cathodic"], since["deposits"]) * ratio
    full_g = deposited_mass_g(max(0.0, charge_ah), deposit.equivalent_g_per_ah, efficiency=1.0)
    found |= {"mass_g": mass_g, "efficiency": mass_g / full_g if full_g else None}
    if asked.area_dm2 is None:
        return {**found, "thickness_refused": "the load's area is not known"}
    mean_um, budget = plating.thickness(
        mass_g, asked.area_dm2, asked.area_tolerance_ratio, more
    )
    return {
        **found,
        "thickness_um": mean_um,
        "thickness_pm_um": mean_um * budget.expanded_ratio,
        "doubts": _doubts(budget),
    }


def _of_metal(deposit: Deposit, asked: Asked) -> dict[str, object]:
    """Return what a stay's metal and area are, whether or not there is a figure for it."""
    return {
        "deposit": deposit.name,
        "equivalent_g_per_ah": deposit.equivalent_g_per_ah,
        "density_g_per_cm3": deposit.density_g_per_cm3,
        "area_dm2": asked.area_dm2,
        "area_from": asked.area_from,
    }


def _doubts(budget: Budget) -> str:
    """Return a budget's terms in words."""
    return "; ".join(
        f"{term.name} {100.0 * term.standard_ratio:.3g} %"
        for term in budget.terms
        if term.standard_ratio > 0.0
    )
