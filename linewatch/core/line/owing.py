"""What a bath is owed, as people see it: due or not, how much now, what speaks against it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.additions.balance import charge_counts_ah, millilitres
from linewatch.core.additions.doubts import LITTLE_ML, Dose, Standing, next_dose_ml
from linewatch.core.additions.water import evaporates_l_per_h, water_l
from linewatch.core.integration.charge import UAS_PER_AH
from linewatch.core.line.metals_in_baths import loses_solution, usual_level_mm
from linewatch.core.view import AdditivePicture, EntryPicture, WaterPicture

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from linewatch.core.additions.balance import Account, Counts, Entry
    from linewatch.core.line.additions import Additions
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import AdditivePlan, BathPlan, TankPlan

NS = 1_000_000_000
HOUR_NS = 3600 * NS
REST_NS = 15 * 60 * NS
"""A bath through which no current passed for so long is at rest: common practice."""


def is_due(additive: AdditivePlan, account: Account, counts: Counts, now_ns: int) -> bool:
    """Say whether a dose is due: by amount, or by time if anything can be dosed.

    Args:
        additive: As it is planned.
        account: Its account.
        counts: What its bath has seen up to now.
        now_ns: Line time [ns].

    Returns:
        Whether somebody should dose now.
    """
    owed_ml = millilitres(account.owed_at(counts))
    if owed_ml < max(LITTLE_ML, additive.least_dose_ml):
        return False
    if owed_ml >= due_at_ml(additive):
        return True
    doses = account.standing()
    if additive.due_every_s is None or not doses:
        return False
    return now_ns - doses[-1].mono_ns >= additive.due_every_s * NS


def due_at_ml(additive: AdditivePlan) -> float:
    """Return the debt at which a dose is due [mL]."""
    at_ml = additive.due_at_ml if additive.due_at_ml is not None else additive.least_dose_ml
    return max(LITTLE_ML, at_ml)


def has_current(line: Line, bath: str) -> bool:
    """Say whether current passes through a bath now."""
    return any(
        feed.ledger.last is not None and feed.ledger.last.ua > 0
        for tank in line.plan.tanks
        if tank.bath == bath and tank.id in line.platings
        for feed in line.platings[tank.id].feeds
    )


def concerns(line: Line, additions: Additions, bath: str) -> tuple[str, ...]:
    """Return why a bath is not fit for a dose now; empty if it is."""
    found = []
    for tank in line.plan.tanks:
        if tank.bath != bath:
            continue
        for kind in ("temperature", "level"):
            plan, value = (
                line.plan.tags.get(f"{tank.id}.{kind}"),
                line.sure(f"{tank.id}.{kind}"),
            )
            if plan is not None and value is not None:
                side = plan.window.side(value)
                found += [f"{kind} {side} in {tank.name}"] if side.startswith("low") else []
    flowed_ns = additions.flowed_ns.get(bath)
    rests_ns = line.now_ns - (flowed_ns if flowed_ns is not None else line.now_ns)
    if rests_ns > REST_NS and not has_current(line, bath):
        found.append(f"no current for {rests_ns // (60 * NS)} min")
    return tuple(found)


def looked_at(line: Line, bath: BathPlan) -> tuple[str, ...]:
    """Return what to look at before a brightener is blamed for dull work."""
    found = []
    for kind, called in (("temperature", "temperature"), ("ph", "pH")):
        sides = []
        for tank in line.plan.tanks:
            name = f"{tank.id}.{kind}"
            if tank.bath == bath.id and name in line.plan.tags:
                value = line.sure(name)
                side = "not read" if value is None else line.plan.tags[name].window.side(value)
                sides += [f"{side} in {tank.name}"] if side else [""]
        wrong = ", ".join(each for each in sides if each)
        said = wrong or ("inside its window" if sides else "no signal tells; measure it")
        found.append(f"{called}: {said}")
    found.append("contact: no signal tells; look at volts, hooks and bars")
    found.append("metal: predicted from the last analysis; analyse before a correction")
    return tuple(found)


def doses(account: Account) -> tuple[Dose, ...]:
    """Return the doses that count, oldest first."""
    return tuple(
        Dose(
            utc_ns=each.utc_ns,
            amount_ml=each.amount_nl / 1e6,
            who=each.who,
            lot=each.lot,
            is_beyond=each.is_beyond,
        )
        for each in account.standing()
    )


def standing(line: Line, additions: Additions, bath: str, additive: str, lot: str) -> Standing:
    """Return how an additive stands before a dose is logged."""
    name = f"{bath}/{additive}"
    account, plan = additions.accounts[name], additions.additive(bath, additive)
    before = additions.lots.get(lot.strip().casefold(), "") if lot.strip() else ""
    return Standing(
        owed_ml=millilitres(account.most_owed_at(additions.counts(line, bath))),
        least_ml=plan.least_dose_ml if plan is not None else 0.0,
        largest_ml=plan.largest_dose_ml if plan is not None else None,
        last_hour_ml=account.dosed_since_nl(line.now_ns - HOUR_NS) / 1e6,
        doses=doses(account),
        concerns=concerns(line, additions, bath),
        lot_of=before if before != name else "",
    )


def rate_words(additive: AdditivePlan) -> str:
    """Return the rates in force, in words."""
    unit = additive.measure
    rates = (
        (additive.dose_ml_per_kah, "kA·h"),
        (additive.dose_ml_per_m2, "m² of work"),
        (additive.dose_ml_per_load, "load"),
        (additive.dose_ml_per_day, "day"),
    )
    said = [f"{rate:g} {unit} a {of}" for rate, of in rates if rate]
    if additive.dummy_ratio != 1.0 and additive.dose_ml_per_kah:
        said.append(f"dummies at {100 * additive.dummy_ratio:g} % of it")
    return ", ".join(said)


def additive_pictures(
    line: Line, additions: Additions, bath: BathPlan, utc_ns: int
) -> tuple[AdditivePicture, ...]:
    """Return what every additive of a bath is owed."""
    counts = additions.counts(line, bath.id)
    found = []
    for additive in bath.additives:
        account = additions.accounts.get(f"{bath.id}/{additive.id}")
        if account is not None:
            found.append(_picture(line, additions, (bath, additive, account), counts, utc_ns))
    return tuple(found)


def _picture(
    line: Line,
    additions: Additions,
    of: tuple[BathPlan, AdditivePlan, Account],
    counts: Counts,
    utc_ns: int,
) -> AdditivePicture:
    bath, additive, account = of
    owed_ml = millilitres(account.owed_at(counts))
    most_ml = millilitres(account.most_owed_at(counts))
    ml_per_ns = account.ml_per_ns(line.now_ns, counts)
    last_hour_ml = account.dosed_since_nl(line.now_ns - HOUR_NS) / 1e6
    due = account.due_utc_ns is not None
    due_utc_ns = account.due_utc_ns
    if not due and ml_per_ns > 0.0 and (additive.least_dose_ml or additive.due_at_ml):
        due_utc_ns = utc_ns + round((due_at_ml(additive) - owed_ml) / ml_per_ns)
    own = f"{bath.id}/{additive.id}"
    return AdditivePicture(
        id=additive.id,
        name=additive.name,
        owed_ml=owed_ml,
        accrued_ml=millilitres(account.accrued_at(counts)),
        dosed_ml=account.dosed_nl / 1e6,
        owed_high_ml=most_ml,
        due=due,
        due_utc_ns=due_utc_ns,
        may_be_due=not due and most_ml >= due_at_ml(additive),
        measure=additive.measure,
        next_ml=next_dose_ml(
            owed_ml,
            least_ml=additive.least_dose_ml,
            largest_ml=additive.largest_dose_ml,
            last_hour_ml=last_hour_ml,
        ),
        least_ml=additive.least_dose_ml,
        largest_ml=additive.largest_dose_ml,
        last_hour_ml=last_hour_ml,
        rate_ml_per_h=ml_per_ns * HOUR_NS if account.marks else None,
        used_up_in_s=-owed_ml / ml_per_ns / NS if owed_ml < 0.0 < ml_per_ns else None,
        rates=rate_words(additive),
        is_anode=additive.is_anode,
        lots={lot: name for lot, name in additions.lots.items() if name != own},
        entries=tuple(_entry(each) for each in account.entries),
    )


def _entry(entry: Entry) -> EntryPicture:
    return EntryPicture(
        number=entry.number,
        utc_ns=entry.utc_ns,
        amount_ml=entry.amount_nl / 1e6,
        who=entry.who,
        lot=entry.lot,
        corrects=entry.corrects,
        corrected_by=entry.corrected_by,
        why=entry.why,
        is_beyond=entry.is_beyond,
    )


def bath_parts(
    line: Line, additions: Additions, bath: BathPlan, utc_ns: int
) -> Mapping[str, Any]:
    """Return what a bath's picture tells of its additions, metal and water."""
    counts = additions.counts(line, bath.id)
    tanks = [tank for tank in line.plan.tanks if tank.bath == bath.id]
    reverse = sum(
        line.platings[tank.id].anodic_uas() for tank in tanks if tank.id in line.platings
    )
    counted = any(tank.id in line.platings for tank in tanks)
    return {
        "additives": additive_pictures(line, additions, bath, utc_ns),
        "product_ah": charge_counts_ah(counts.product),
        "dummy_ah": charge_counts_ah(counts.dummy),
        "idle_ah": charge_counts_ah(counts.idle),
        "reverse_ah": reverse / UAS_PER_AH,
        "unmetered_ah": charge_counts_ah(counts.unmetered),
        "dummies": tuple(tank.id for tank in tanks if tank.id in additions.dummies),
        "concerns": concerns(line, additions, bath.id) if counted else (),
        "looked_at": looked_at(line, bath) if bath.additives else (),
        "concentration": additions.metals.picture(line, bath),
        "water": tuple(_waters(line, tanks)) if counted else (),
    }


def _waters(line: Line, tanks: list[TankPlan]) -> list[WaterPicture]:
    found = []
    for tank in tanks:
        if tank.surface_m2 is None:
            continue
        temperature, level = line.sure(f"{tank.id}.temperature"), line.sure(f"{tank.id}.level")
        wanted = usual_level_mm(tank)
        evaporates = (
            evaporates_l_per_h(temperature, tank.surface_m2)
            if temperature is not None
            else None
        )
        # What runs out is not made up for by water.
        is_told = level is not None and not loses_solution(line, tank.id)
        top_up = (
            water_l(level, wanted, tank.surface_m2)
            if is_told and level is not None and wanted is not None
            else None
        )
        if evaporates is not None or top_up is not None:
            found.append(
                WaterPicture(tank=tank.id, evaporates_l_per_h=evaporates, top_up_l=top_up)
            )
    return found
