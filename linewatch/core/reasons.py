"""Why the figures of a tank, rectifier or bath are what they are, from picture and plan.

The picture holds the numbers, the plan the constants of this line; the explanation puts both
beside the formula. Nothing is worked out here that was not worked out before: what stands in
the picture is explained, not computed a second time.
"""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from typing import TYPE_CHECKING

from linewatch.core.alarms.wording import called
from linewatch.core.electrochemistry.explanation import (
    Explanation,
    GivenInput,
    explain_charge,
    explain_current_density,
    explain_dose,
    explain_mass,
    explain_rate,
    explain_thickness,
    explain_time_to_target,
)
from linewatch.core.electrochemistry.metals import deposit
from linewatch.core.electrochemistry.uncertainty import (
    COVERAGE,
    Budget,
    Term,
    bound_words,
    charge_budget,
    limits_term,
    mass_budget,
    thickness_budget,
)
from linewatch.core.errors import Refused
from linewatch.core.loads.reversal import wrong_way_words
from linewatch.core.view import LITTLE_AH
from linewatch.core.water.why import why_rinse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.electrochemistry.metals import Deposit
    from linewatch.core.plan import BathPlan, LinePlan, RectifierPlan
    from linewatch.core.view import (
        BathPicture,
        ChargePicture,
        Figure,
        LinePicture,
        MetalPicture,
        TankPicture,
    )
    from linewatch.core.water.seen import RinsePicture

CONFIGURED = "configuration"
LEAST, MOST = "At least", "At most"
"""With which a note begins that says that its figure is a bound."""
TOLD_WHOLE = frozenset({"additive", "alarm", "link", "tag"})
"""Kinds of things whose figures stand in the picture with all that they were made of."""
NOTICEABLE_RATIO = 1e-4
"""A part of the stated ± below this share of the figure is not worth a term of its own."""
LITTLE_ML = 0.5
"""Less of an additive is not worth a line."""
NS = 1e9


def bound_of(why: Explanation) -> str:
    """Return what stands before a figure of which a note says that it is a bound.

    '' before others, and before one that is told as a range.
    """
    if why.most is not None:
        return ""
    return bound_words(
        is_short=any(note.startswith(LEAST) for note in why.notes),
        is_less=any(note.startswith(MOST) for note in why.notes),
    )


def explain(plan: LinePlan, picture: LinePicture, subject: str) -> Sequence[Explanation]:
    """Return why the figures of a thing are what they are.

    Args:
        plan: The line as configured.
        picture: The line as it is.
        subject: Id of a tank, rectifier or bath; a word before it ('tank nickel-1') is
            allowed. Of what the picture tells whole, such as an alarm, nothing is worked out.

    Returns:
        An explanation a figure; empty if the thing has no figure that is worked out.

    Raises:
        Refused: there is no such thing on the line.
    """
    if subject.partition(" ")[0] in TOLD_WHOLE:
        return []
    name = subject.rsplit(maxsplit=1)[-1] if subject.split() else ""
    for tank in picture.tanks:
        if tank.id == name:
            rinse = next((each for each in picture.rinses if each.tank == name), None)
            found = _of_tank(plan, picture, tank)
            return [*found, *(_of_rinse(plan, rinse) if rinse is not None else ())]
    for rectifier in picture.rectifiers:
        if rectifier.id == name:
            return [_of_charge(rectifier.name, rectifier.charge, _rectifiers(plan, {name}))]
    for bath in picture.baths:
        if bath.id == name:
            return _of_bath(plan, bath)
    known = [f"{each.called} ({each.id})" for each in picture.tanks]
    known += [f"{each.name} ({each.id})" for each in picture.rectifiers]
    known += [f"{each.name} ({each.id})" for each in picture.baths]
    raise Refused(f"explain {subject}", f"there is no such thing; there are {', '.join(known)}")


def _of_rinse(plan: LinePlan, rinse: RinsePicture) -> Sequence[Explanation]:
    return why_rinse(replace(rinse, source=called(plan, rinse.source)))


def _of_tank(plan: LinePlan, picture: LinePicture, tank: TankPicture) -> list[Explanation]:
    if tank.charge is None:
        return []
    rectifiers = _rectifiers(plan, set(tank.rectifiers))
    found = [_of_charge(tank.called, tank.charge, rectifiers)]
    bath = next((each for each in plan.baths if each.id == tank.bath), None)
    if bath is None or bath.deposit is None or tank.metal is None:
        return found
    laid = deposit(dict(bath.deposit.parts))
    found += _of_metal(plan, bath, tank, laid)
    found += _of_load(picture, bath, tank, laid)
    return found


def _of_charge(
    name: str, charge: ChargePicture, rectifiers: Sequence[RectifierPlan]
) -> Explanation:
    anodic = bool(rectifiers) and all(each.polarity == "anodic" for each in rectifiers)
    amount, pm_ah = (
        (charge.anodic_ah, charge.anodic_uncertainty_ah)
        if anodic
        else (charge.cathodic_ah, charge.uncertainty_ah)
    )
    metered_s, recovered_s, unmetered_s, elapsed_s = charge.whole_s
    more = f"{LEAST}: up to {charge.missed_ah:.0f} A·h more may have flowed, not metered."
    short = (more,) if charge.is_short else ()
    tags = ", ".join(f"{each.name} ({each.id}.current)" for each in rectifiers)
    return explain_charge(
        GivenInput(
            name=f"{'anodic' if anodic else 'cathodic'} charge through {name}",
            symbol="Q",
            value=amount,
            unit="A.h",
            source=f"samples of the current of {tags}" if tags else "samples of the current",
        ),
        budget=_charge_budget(pm_ah, rectifiers, amount),
        notes=(
            (
                f"Metered {metered_s} s, recovered from the meter {recovered_s} s, unmetered"
                f" {unmetered_s} s of {elapsed_s} s."
            ),
            *short,
        ),
    )


def _charge_budget(
    pm_ah: float, rectifiers: Sequence[RectifierPlan], amount_ah: float
) -> Budget | None:
    if not rectifiers or not amount_ah > 0.0:
        return None
    by_class = charge_budget(
        sensor_class_ratio=max(each.current_class_ratio for each in rectifiers)
    )
    return _completed(by_class, pm_ah / amount_ah, "zero and calibration")


def _completed(budget: Budget, stated_ratio: float, name: str) -> Budget:
    """Return a budget whose sum is the ± that the picture states.

    The line knows of doubts that the plan alone does not tell: zero error over the time that
    current flowed, what the last calibration found.
    """
    rest = (stated_ratio / COVERAGE) ** 2 - budget.standard_ratio**2
    if rest <= NOTICEABLE_RATIO**2:
        return budget
    return budget.and_(Term(name=name, standard_ratio=sqrt(rest), source="this line's record"))


def _of_metal(
    plan: LinePlan, bath: BathPlan, tank: TankPicture, laid: Deposit
) -> list[Explanation]:
    metal, charge = tank.metal, tank.charge
    if metal is None or charge is None or metal.refused or bath.deposit is None:
        return []
    planned = next(each for each in plan.tanks if each.id == tank.id)
    units = _rectifiers(plan, set(tank.rectifiers))
    efficiency = _efficiency(bath)
    counted = GivenInput(
        name="cathodic charge",
        symbol="Q",
        value=charge.cathodic_ah,
        unit="A.h",
        source=f"counted for {tank.called}",
    )
    ratio = metal.uncertainty_g / metal.mass_g if metal.mass_g > 0.0 else 0.0
    believed = bath.deposit.efficiency
    budget = mass_budget(
        Budget(terms=()),
        efficiency=believed.value,
        low=believed.low,
        high=believed.high,
        equivalent_spread_ratio=laid.equivalent_spread_ratio,
    )
    mass = explain_mass(
        metal.mass_g,
        laid,
        inputs=(counted, efficiency),
        budget=_completed(budget, ratio, "charge") if ratio else None,
    )
    back = _dissolved_words(charge, units)
    found = [replace(mass, notes=(*mass.notes, *_short_words(metal), *back))]
    current = tank.figures.get("current")
    if current is None or current.value is None or planned.area_dm2 is None:
        return found
    if metal.current_density_a_per_dm2 is None:
        return found
    unit = called(plan, current.tag.partition(".")[0])
    read = _read(current, "I", "A", f"{unit} ({current.tag})")
    by_class = charge_budget(
        sensor_class_ratio=max((each.current_class_ratio for each in units), default=0.0)
    )
    tolerance = max((each.area_tolerance_ratio for each in units), default=0.0)
    area = _area(planned.area_dm2)
    if tank.load is not None and tank.load.area_dm2 is not None:
        # What hangs there now is what the figure was worked out with.
        area = _given("area", "A", tank.load.area_dm2, "dm2", f"load {tank.load.number}")
        tolerance = tank.load.area_tolerance_ratio or tolerance
    found.append(
        explain_current_density(
            metal.current_density_a_per_dm2,
            inputs=(read, area),
            budget=by_class.and_(limits_term("area", tolerance, "tolerance of the area")),
        )
    )
    if metal.rate_um_per_h is not None:
        found.append(
            explain_rate(
                metal.rate_um_per_h,
                laid,
                inputs=(read, efficiency, area),
                budget=thickness_budget(
                    by_class.and_(*budget.terms),
                    area_tolerance_ratio=tolerance,
                    density_spread_ratio=laid.density_spread_ratio,
                ),
            )
        )
    return found


def _of_load(
    picture: LinePicture, bath: BathPlan, tank: TankPicture, laid: Deposit
) -> list[Explanation]:
    load = tank.load
    if load is None or load.thickness_um is None or load.charge_ah is None:
        return []
    received = GivenInput(
        name="charge since the load came in",
        symbol="Q",
        value=load.charge_ah,
        unit="A.h",
        source=f"counted for load {load.number} in {tank.called}",
    )
    doubt = load.thickness_uncertainty_um
    stated = doubt / load.thickness_um if doubt and load.thickness_um > 0.0 else 0.0
    by_density = thickness_budget(
        Budget(terms=()),
        area_tolerance_ratio=0.0,
        density_spread_ratio=laid.density_spread_ratio,
    )
    found = [
        explain_thickness(
            load.thickness_um,
            laid,
            inputs=(received, _efficiency(bath)),
            budget=_completed(by_density, stated, "charge, efficiency and area")
            if stated
            else None,
        )
    ]
    rate = tank.metal.rate_um_per_h if tank.metal is not None else None
    if load.pull_utc_ns is not None and load.target_um is not None and rate:
        found.append(
            explain_time_to_target(
                max(0.0, (load.pull_utc_ns - picture.utc_ns) / NS),
                inputs=(
                    _given("target thickness", "δ_target", load.target_um, "um", CONFIGURED),
                    _given("present thickness", "δ", load.thickness_um, "um", "above"),
                    _given("deposition rate", "dδ/dt", rate, "um/h", "above"),
                ),
            )
        )
    return found


def _of_bath(plan: LinePlan, bath: BathPicture) -> list[Explanation]:
    planned = next(each for each in plan.baths if each.id == bath.id)
    rates = {each.id: each.dose_ml_per_kah for each in planned.additives}
    tanks = ", ".join(called(plan, each) for each in bath.tanks)
    product_ah = bath.product_ah or bath.charge_ah
    found = []
    for additive in bath.additives:
        if additive.id not in rates:
            continue
        dose = explain_dose(
            additive.owed_ml,
            inputs=(
                _given("rate", "r", rates[additive.id], "mL/kA.h", CONFIGURED),
                _given("charge with a load there", "Q", product_ah, "A.h", tanks),
                _given("dosed", "V_dosed", additive.dosed_ml, "mL", "logged additions"),
            ),
        )
        other_ml = additive.accrued_ml - rates[additive.id] * product_ah / 1000.0
        if abs(other_ml) >= LITTLE_ML:
            rest = _given("used up otherwise", "V_other", other_ml, "mL", additive.rates)
            dose = replace(
                dose,
                formula="V = r Q / 1000 + V_other - V_dosed",
                inputs=(*dose.inputs[:-1], rest, dose.inputs[-1]),
            )
        # A bath may have several, and each has to be told from the others.
        dose = replace(dose, figure=f"additive owed: {additive.name}")
        if additive.owed_high_ml > additive.owed_ml:
            dose = replace(dose, most=additive.owed_high_ml, notes=(_range_words(bath),))
        found.append(dose)
    return [*found, *_of_bath_metal(planned, bath, tanks), *_of_concentration(bath)]


def _range_words(bath: BathPicture) -> str:
    """Return what the upper end of what a bath is owed counts besides."""
    parts = ((bath.unmetered_ah, "unmetered"), (bath.idle_ah, "with no load there"))
    told = [f"{each:.0f} A·h {what}" for each, what in parts if each >= LITTLE_AH]
    besides = f": {' and '.join(told)}" if told else ""
    return f"The upper end counts charge that is not certain{besides}."


def _of_bath_metal(bath: BathPlan, shown: BathPicture, tanks: str) -> list[Explanation]:
    """Return why the metal that all tanks of a bath laid down is what it is."""
    metal = shown.metal
    if metal is None or metal.refused or bath.deposit is None:
        return []
    charge = _given("cathodic charge", "Q", shown.charge_ah, "A.h", tanks)
    ratio = metal.uncertainty_g / metal.mass_g if metal.mass_g > 0.0 else 0.0
    mass = explain_mass(
        metal.mass_g,
        deposit(dict(bath.deposit.parts)),
        inputs=(charge, _efficiency(bath)),
        budget=_completed(Budget(terms=()), ratio, "charge and efficiency") if ratio else None,
    )
    return [replace(mass, notes=(*mass.notes, *_short_words(metal)))]


def _short_words(metal: MetalPicture) -> tuple[str, ...]:
    if not metal.is_short:
        return ()
    return (f"{LEAST}: up to {metal.missed_g:.0f} g more, of charge that was not metered.",)


def _dissolved_words(
    charge: ChargePicture, rectifiers: Sequence[RectifierPlan]
) -> tuple[str, ...]:
    """Return that some of what was laid down may be gone again; () where none can be."""
    said = wrong_way_words(charge.cathodic_ah, charge.anodic_ah)
    if not said or any(each.reverses for each in rectifiers):
        return ()
    return (f"{MOST}: {said}.",)


def _of_concentration(bath: BathPicture) -> list[Explanation]:
    """Return why the metal in a bath is predicted to be what it is."""
    found = bath.concentration
    if found is None:
        return []
    from_where = "the last analysis" if found.measured_utc_ns is not None else CONFIGURED
    litres = "its level" if found.by_level else "no level tells: taken as full"
    dragged = "loads that left"
    if found.drag_out_ml_per_m2 is None:
        dragged = "drag-out is not known: left out"
    return [
        Explanation(
            figure=f"{found.metal} in the bath, predicted",
            value=found.predicted_g_per_l,
            unit="g/L",
            formula="c = (c0 V0 + m_anodes - m_laid - m_dragged + m_salts) / V",
            inputs=(
                GivenInput(
                    name="it began with",
                    symbol="c0",
                    value=found.measured_g_per_l,
                    unit="g/L",
                    source=from_where,
                    utc_ns=found.measured_utc_ns,
                ),
                _given("the bath at its usual level", "V0", found.usual_l, "L", CONFIGURED),
                _given("anodes gave", "m_anodes", found.dissolved_g, "g", "its charge"),
                _given("laid down since", "m_laid", found.laid_g, "g", "its charge"),
                _given("dragged out", "m_dragged", found.dragged_g, "g", dragged),
                _given("salts gave", "m_salts", found.salts_g, "g", "logged additions"),
                _given("solution now", "V", found.solution_l, "L", litres),
            ),
            source="balance of mass",
            notes=(
                f"± {found.uncertainty_g_per_l:.2g} g/L by what went in and out since.",
                "How sure c0 itself is, nobody told.",
                "What flowed while nobody metered is in neither: not dissolved, not laid down.",
            ),
        )
    ]


def _rectifiers(plan: LinePlan, names: set[str]) -> list[RectifierPlan]:
    return [each for each in plan.rectifiers if each.id in names]


def _efficiency(bath: BathPlan) -> GivenInput:
    assert bath.deposit is not None  # noqa: S101 - the callers looked
    plan = bath.deposit.efficiency
    words = "cathode efficiency" if not plan.curve_ratio else "cathode efficiency (of a curve)"
    return _given(words, "η", plan.value, "", plan.source)


def _area(area_dm2: float) -> GivenInput:
    return _given("area", "A", area_dm2, "dm2", CONFIGURED)


def _given(name: str, symbol: str, value: float, unit: str, source: str) -> GivenInput:
    return GivenInput(name=name, symbol=symbol, value=value, unit=unit, source=source)


def _read(figure: Figure, symbol: str, unit: str, source: str) -> GivenInput:
    return GivenInput(
        name=figure.kind,
        symbol=symbol,
        value=figure.value if figure.value is not None else 0.0,
        unit=unit,
        source=source,
        quality=figure.quality,
        utc_ns=figure.utc_ns,
    )
