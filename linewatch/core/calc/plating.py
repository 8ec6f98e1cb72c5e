"""Calculations of what a charge lays down, and of what it takes to lay it down."""

from __future__ import annotations

from dataclasses import replace

from linewatch.core.calc.desk import Answer, Calculation, Given, Input, Worked
from linewatch.core.calc.inputs import (
    ASK_AREA,
    ASK_CHARGE,
    ASK_EFFICIENCY,
    ASK_METAL,
    ASK_THICKNESS,
    MASS_DOUBTS,
    THICKNESS_DOUBTS,
    area_dm2,
    charge_ah,
    density_a_per_dm2,
    mass_doubt,
    thickness_doubt,
)
from linewatch.core.electrochemistry import validity
from linewatch.core.electrochemistry.explanation import (
    FARADAY_LAW,
    Explanation,
    constants_of,
    explain_current_density,
    explain_mass,
    explain_thickness,
)
from linewatch.core.electrochemistry.faraday import (
    FARADAY_SOURCE,
    charge_for_mass_ah,
    deposited_mass_g,
)
from linewatch.core.electrochemistry.metals import DENSITY_SOURCE, MASS_SOURCE, Deposit
from linewatch.core.electrochemistry.thickness import (
    Growth,
    current_density_a_per_dm2,
    mass_for_thickness_g,
    mean_thickness_um,
    rate_um_per_h,
    thinnest_um,
)
from linewatch.core.units import convert

_METAL_SOURCES = (FARADAY_LAW, FARADAY_SOURCE, MASS_SOURCE)
_THICKNESS_SOURCES = (*_METAL_SOURCES, f"densities: {DENSITY_SOURCE}")
_DISTRIBUTION = Input(
    name="distribution",
    words="thinnest place over mean, measured on parts; gives the thinnest place",
    example="0.6",
    kind="ratio",
    symbol="d",
    is_optional=True,
)
_CURRENT_DENSITY = Input(
    name="current-density",
    words="current density; or give current and the area",
    example="4 A/dm2",
    unit="A/dm2",
    symbol="j",
    is_optional=True,
)
_CURRENT = replace(ASK_CHARGE[1], is_optional=False)


def _mass(given: Given) -> Worked:
    deposit, budget = given.deposit(), mass_doubt(given)
    charge = charge_ah(given)
    mass_g = deposited_mass_g(
        charge, deposit.equivalent_g_per_ah, efficiency=given.number("efficiency")
    )
    explanation = explain_mass(mass_g, deposit, inputs=given.typed(), budget=budget)
    answers = [
        Answer(
            name="deposited mass",
            value=mass_g,
            unit="g",
            plus_or_minus=explanation.plus_or_minus,
        )
    ]
    if len(deposit.parts) > 1:
        answers += [
            Answer(name=f"of it {metal.symbol}", value=mass_g * fraction, unit="g")
            for metal, fraction in deposit.parts
        ]
    answers.append(Answer(name="charge", value=charge, unit="A.h"))
    return Worked(answers=tuple(answers), explanation=explanation)


MASS = Calculation(
    name="mass",
    words="the metal that a charge lays down",
    inputs=(ASK_METAL, ASK_EFFICIENCY, *ASK_CHARGE, *MASS_DOUBTS),
    formula="m = k η Q, with k = M / (n F); alloys: k = 1 / Σ (w / k)",
    sources=_METAL_SOURCES,
    work=_mass,
)


def _thickness(given: Given) -> Worked:
    deposit, budget = given.deposit(), thickness_doubt(given)
    area, charge = area_dm2(given), charge_ah(given)
    mass_g = deposited_mass_g(
        charge, deposit.equivalent_g_per_ah, efficiency=given.number("efficiency")
    )
    mean_um = mean_thickness_um(mass_g, deposit.density_g_per_cm3, area)
    explanation = explain_thickness(mean_um, deposit, inputs=given.typed(), budget=budget)
    answers = [
        Answer(
            name="mean thickness",
            value=mean_um,
            unit="um",
            plus_or_minus=explanation.plus_or_minus,
        )
    ]
    if given.has("distribution"):
        least_um = thinnest_um(mean_um, distribution_ratio=given.number("distribution"))
        answers.append(Answer(name="thinnest place", value=least_um, unit="um"))
    answers += [
        Answer(name="deposited mass", value=mass_g, unit="g"),
        Answer(name="charge", value=charge, unit="A.h"),
        Answer(name="area", value=area, unit="dm2"),
    ]
    return Worked(answers=tuple(answers), explanation=explanation)


THICKNESS_OF_CHARGE = Calculation(
    name="thickness",
    words="the mean thickness that a charge gives on an area",
    inputs=(
        ASK_METAL,
        ASK_EFFICIENCY,
        *ASK_CHARGE,
        *ASK_AREA,
        _DISTRIBUTION,
        *THICKNESS_DOUBTS,
    ),
    formula="δ = 100 k η Q / (ρ A)   [µm, g/A·h, A·h, g/cm³, dm²]",
    sources=_THICKNESS_SOURCES,
    work=_thickness,
)


def _charge(given: Given) -> Worked:
    deposit, budget = given.deposit(), thickness_doubt(given)
    area = area_dm2(given)
    target_um = validity.positive(
        "thickness", given.number("thickness"), validity.TYPED_THICKNESS
    )
    mass_g = mass_for_thickness_g(target_um, deposit.density_g_per_cm3, area)
    charge = charge_for_mass_ah(
        mass_g, deposit.equivalent_g_per_ah, efficiency=given.number("efficiency")
    )
    explanation = Explanation(
        figure="charge for the thickness",
        value=charge,
        unit="A.h",
        formula="Q = δ ρ A / (100 k η)",
        inputs=given.typed(),
        constants=constants_of(deposit, with_density=True),
        budget=budget,
        source=FARADAY_LAW,
    )
    answers = (
        Answer(
            name="charge", value=charge, unit="A.h", plus_or_minus=explanation.plus_or_minus
        ),
        Answer(name="deposited mass", value=mass_g, unit="g"),
        Answer(name="area", value=area, unit="dm2"),
    )
    return Worked(answers=answers, explanation=explanation)


CHARGE_FOR_THICKNESS = Calculation(
    name="charge",
    words="the charge that a mean thickness takes on an area",
    inputs=(ASK_METAL, ASK_EFFICIENCY, ASK_THICKNESS, *ASK_AREA, *THICKNESS_DOUBTS),
    formula="Q = δ ρ A / (100 k η)   [A·h, µm, g/cm³, dm², g/A·h]",
    sources=_THICKNESS_SOURCES,
    work=_charge,
)


def _growth(given: Given, deposit: Deposit) -> Growth:
    return Growth(
        equivalent_g_per_ah=deposit.equivalent_g_per_ah,
        density_g_per_cm3=deposit.density_g_per_cm3,
        efficiency=validity.positive("efficiency", given.number("efficiency"), validity.SHARE),
        area_dm2=1.0,
    )


def _time(given: Given) -> Worked:
    deposit, budget = given.deposit(), thickness_doubt(given)
    density = density_a_per_dm2(given)
    # The rate of one square decimetre: a current density is the current through it.
    rate = rate_um_per_h(density, _growth(given, deposit))
    target_um = validity.positive(
        "thickness", given.number("thickness"), validity.TYPED_THICKNESS
    )
    minutes = 60.0 * target_um / rate
    explanation = Explanation(
        figure="time for the thickness",
        value=minutes,
        unit="min",
        formula="t = δ ρ / (100 k η j)",
        inputs=given.typed(),
        constants=constants_of(deposit, with_density=True),
        budget=budget,
        source=FARADAY_LAW,
        notes=("For the mean thickness; the thinnest place takes longer.",),
    )
    answers = (
        Answer(name="time", value=minutes, unit="min", plus_or_minus=explanation.plus_or_minus),
        Answer(name="deposition rate", value=rate, unit="um/h"),
        Answer(name="current density", value=density, unit="A/dm2"),
    )
    return Worked(answers=answers, explanation=explanation)


TIME = Calculation(
    name="time",
    words="how long a mean thickness takes",
    inputs=(
        ASK_METAL,
        ASK_EFFICIENCY,
        ASK_THICKNESS,
        _CURRENT_DENSITY,
        replace(_CURRENT, is_optional=True),
        *ASK_AREA,
        *THICKNESS_DOUBTS,
    ),
    formula="t = δ ρ / (100 k η j)   [h, µm, g/cm³, g/A·h, A/dm²]",
    sources=_THICKNESS_SOURCES,
    work=_time,
)


def _current_density(given: Given) -> Worked:
    area = area_dm2(given)
    density = current_density_a_per_dm2(given.number("current"), area)
    return Worked(
        answers=(
            Answer(name="current density", value=density, unit="A/dm2"),
            Answer(name="area", value=area, unit="dm2"),
        ),
        explanation=explain_current_density(density, inputs=given.typed()),
    )


CURRENT_DENSITY = Calculation(
    name="current-density",
    words="the mean current density of a rack or a barrel",
    inputs=(_CURRENT, *ASK_AREA),
    formula="j = I / A, with A = N A₁ on a rack and A = W a in a barrel",
    sources=("definition",),
    work=_current_density,
)


def _current(given: Given) -> Worked:
    area = area_dm2(given)
    density = validity.positive(
        "current density", given.number("current-density"), validity.CURRENT_DENSITY
    )
    current_a = density * area
    return Worked(
        answers=(
            Answer(name="current", value=current_a, unit="A"),
            Answer(name="area", value=area, unit="dm2"),
        ),
        explanation=Explanation(
            figure="current",
            value=current_a,
            unit="A",
            formula="I = j A",
            inputs=given.typed(),
            source="definition",
        ),
    )


CURRENT = Calculation(
    name="current",
    words="the current that a load needs for a current density",
    inputs=(
        replace(_CURRENT_DENSITY, words="current density", is_optional=False),
        *ASK_AREA,
    ),
    formula="I = j A, with A = N A₁ on a rack and A = W a in a barrel",
    sources=("definition",),
    work=_current,
)


def _equivalent(given: Given) -> Worked:
    deposit = given.deposit()
    equivalent, density = deposit.equivalent_g_per_ah, deposit.density_g_per_cm3
    per_ah_um = mean_thickness_um(equivalent, density, 1.0)
    mil_um, ft2_dm2 = convert(1.0, "mil", "um"), convert(1.0, "ft2", "dm2")
    explanation = Explanation(
        figure=f"mass of {deposit.name} by 1 A·h",
        value=equivalent,
        unit="g",
        formula="k = M / (n F); alloys: k = 1 / Σ (w / k), ρ = 1 / Σ (w / ρ)",
        inputs=(),
        constants=constants_of(deposit, with_density=True),
        source=FARADAY_LAW,
        notes=("At full efficiency; multiply by the bath's own.",),
    )
    answers = (
        Answer(name="mass by 1 A·h", value=equivalent, unit="g"),
        Answer(name="density", value=density, unit="g/cm3"),
        Answer(name="thickness by 1 A·h on 1 dm²", value=per_ah_um, unit="um"),
        Answer(name="charge for 1 µm on 1 dm²", value=1.0 / per_ah_um, unit="A.h"),
        Answer(
            name="charge for 1 mil on 1 ft²", value=mil_um * ft2_dm2 / per_ah_um, unit="A.h"
        ),
    )
    return Worked(answers=answers, explanation=explanation)


EQUIVALENT = Calculation(
    name="equivalent",
    words="what one ampere-hour of full efficiency lays down of a metal or alloy",
    inputs=(ASK_METAL,),
    formula="k = M / (n F); alloys: k = 1 / Σ (w / k), ρ = 1 / Σ (w / ρ)",
    sources=_THICKNESS_SOURCES,
    work=_equivalent,
)
