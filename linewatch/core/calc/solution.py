"""Calculations of what goes in and out of a solution: rinses, doses, drag-out, water."""

from __future__ import annotations

from dataclasses import replace

from linewatch.core.calc.desk import Answer, Calculation, Given, Input, Worked
from linewatch.core.calc.inputs import ASK_CHARGE, ASK_EFFICIENCY, ASK_METAL, charge_ah
from linewatch.core.electrochemistry.baths import (
    additive_dose_ml,
    evaporation_l_per_h_m2,
    metal_balance,
)
from linewatch.core.electrochemistry.explanation import (
    FARADAY_LAW,
    Explanation,
    constants_of,
    explain_dose,
)
from linewatch.core.electrochemistry.rinse import flow_for_ratio, rinse_ratio, short_rinse_ratio
from linewatch.core.electrochemistry.validity import (
    AREA,
    CONCENTRATION,
    FILM,
    FLOW,
    VOLUME,
    positive,
)

_MASS_BALANCE = "mass balance of well-mixed stages in counterflow"
_STAGES = Input(
    name="stages", words="counterflow stages", example="2", kind="count", symbol="n"
)
_DRAG_OUT = Input(
    name="drag-out",
    words="solution carried over on the parts",
    example="2 L/h",
    unit="L/min",
    symbol="D",
)
_BATH = Input(
    name="bath",
    words="concentration in the bath; gives that of the last stage",
    example="75 g/L",
    unit="g/L",
    symbol="c",
    is_optional=True,
)


def _rinse(given: Given) -> Worked:
    water = positive("water", given.number("water"), FLOW)
    over = water / positive("drag-out", given.number("drag-out"), FLOW)
    stages = int(given.number("stages"))
    ratio = rinse_ratio(over, stages)
    answers = [
        Answer(name="rinse ratio", value=ratio, unit=""),
        Answer(name="short form (Q/D)^n", value=short_rinse_ratio(over, stages), unit=""),
    ]
    if given.has("bath"):
        bath = positive("concentration in the bath", given.number("bath"), CONCENTRATION)
        answers.append(Answer(name="in the last stage", value=bath / ratio, unit="g/L"))
    explanation = Explanation(
        figure="rinse ratio",
        value=ratio,
        unit="",
        formula="R = 1 + r + r² + … + rⁿ, with r = Q/D",
        inputs=given.typed(),
        source=_MASS_BALANCE,
        notes=("Parts that hold solution in recesses rinse worse than a mixed tank.",),
    )
    return Worked(answers=tuple(answers), explanation=explanation)


RINSE = Calculation(
    name="rinse",
    words="how far a rinse dilutes what the parts bring",
    inputs=(
        Input(
            name="water",
            words="fresh water",
            example="400 L/h",
            unit="L/min",
            symbol="Q",
        ),
        _DRAG_OUT,
        _STAGES,
        _BATH,
    ),
    formula="R = 1 + r + r² + … + rⁿ, with r = Q/D; the short form (Q/D)ⁿ is low",
    sources=(_MASS_BALANCE,),
    work=_rinse,
)


def _rinse_water(given: Given) -> Worked:
    drag_out = positive("drag-out", given.number("drag-out"), FLOW)
    over = flow_for_ratio(given.number("ratio"), int(given.number("stages")))
    explanation = Explanation(
        figure="water for the ratio",
        value=over * drag_out,
        unit="L/min",
        formula="Q = r D, where 1 + r + r² + … + rⁿ = R",
        inputs=given.typed(),
        source=_MASS_BALANCE,
    )
    answers = (
        Answer(name="water", value=over * drag_out, unit="L/min"),
        Answer(name="water over drag-out", value=over, unit=""),
    )
    return Worked(answers=answers, explanation=explanation)


RINSE_WATER = Calculation(
    name="rinse-water",
    words="the water that a dilution takes",
    inputs=(
        Input(
            name="ratio",
            words="dilution wanted, bath over last stage",
            example="2500",
            kind="number",
            symbol="R",
        ),
        _DRAG_OUT,
        _STAGES,
    ),
    formula="Q = r D, where 1 + r + r² + … + rⁿ = R",
    sources=(_MASS_BALANCE,),
    work=_rinse_water,
)


def _dose(given: Given) -> Worked:
    charge = charge_ah(given)
    dose_ml = additive_dose_ml(charge, given.number("rate"))
    return Worked(
        answers=(
            Answer(name="dose", value=dose_ml, unit="mL"),
            Answer(name="charge", value=charge, unit="A.h"),
        ),
        explanation=explain_dose(dose_ml, inputs=given.typed()),
    )


DOSE = Calculation(
    name="dose",
    words="the additive that a charge has used up",
    inputs=(
        Input(
            name="rate",
            words="the supplier's rate",
            example="150 mL/kA.h",
            unit="mL/kA.h",
            symbol="r",
        ),
        *ASK_CHARGE,
    ),
    formula="V = r Q / 1000   [mL, mL/kA·h, A·h]",
    sources=("the supplier's rate by charge (common practice)",),
    work=_dose,
)


def _drag_out(given: Given) -> Worked:
    area = positive("area", given.number("area"), AREA)
    film = positive("film on the parts", given.number("film"), FILM)
    volume_l = film * area / 100_000.0
    answers = [Answer(name="drag-out", value=volume_l, unit="L")]
    if given.has("bath"):
        bath = positive("concentration in the bath", given.number("bath"), CONCENTRATION)
        answers.append(Answer(name="carried out", value=volume_l * bath, unit="g"))
    explanation = Explanation(
        figure="drag-out",
        value=volume_l,
        unit="L",
        formula="V = s A",
        inputs=given.typed(),
        source="definition; the film is measured, or a rule of the trade",
    )
    return Worked(answers=tuple(answers), explanation=explanation)


DRAG_OUT = Calculation(
    name="drag-out",
    words="the solution that parts carry out of a bath",
    inputs=(
        Input(name="area", words="area carried out", example="125 dm2", unit="dm2", symbol="A"),
        Input(
            name="film",
            words="solution that clings to the parts",
            example="80 mL/m2",
            unit="mL/m2",
            symbol="s",
        ),
        replace(_BATH, words="concentration in the bath; gives the mass carried out"),
    ),
    formula="V = s A   [L, mL/m², dm²]",
    sources=("definition; the film is measured, or a rule of the trade",),
    work=_drag_out,
)


def _evaporation(given: Given) -> Worked:
    surface_m2 = positive("surface", given.number("surface"), AREA) / 100.0
    speed = evaporation_l_per_h_m2(given.number("temperature"))
    explanation = Explanation(
        figure="evaporation",
        value=speed * surface_m2,
        unit="L/h",
        formula="E = exp(0.03236 T - 7.2) gal/(h·ft²), T in °F",
        inputs=given.typed(),
        source="common practice",
        notes=("A start only: real tanks differ by 40 % and more; learn it per tank.",),
    )
    answers = (
        Answer(name="evaporation", value=speed * surface_m2, unit="L/h"),
        Answer(name="the level falls", value=speed, unit="mm/h"),
    )
    return Worked(answers=answers, explanation=explanation)


EVAPORATION = Calculation(
    name="evaporation",
    words="the water that a still, open tank loses",
    inputs=(
        Input(
            name="temperature",
            words="temperature of the solution",
            example="60 degC",
            unit="degC",
            symbol="T",
        ),
        Input(name="surface", words="open surface", example="3 m2", unit="dm2", symbol="A"),
    ),
    formula="E = exp(0.03236 T - 7.2) gal/(h·ft²), T in °F",
    sources=("common practice",),
    work=_evaporation,
)


def _balance(given: Given) -> Worked:
    deposit, charge = given.deposit(), charge_ah(given)
    volume_l = positive("volume of the bath", given.number("volume"), VOLUME)
    balance = metal_balance(
        charge,
        deposit.equivalent_g_per_ah,
        cathode_efficiency=given.number("efficiency"),
        anode_efficiency=given.number("anode-efficiency"),
        dragged_out_l=given.number_or("drag-out", 0.0),
        concentration_g_per_l=given.number("bath") if given.has("drag-out") else 0.0,
        added_g=given.number_or("added", 0.0),
    )
    explanation = Explanation(
        figure="change of metal in the bath",
        value=balance.gain_g,
        unit="g",
        formula="Δ(c V) = (η_anode - η) k Q - D c + additions",
        inputs=given.typed(),
        constants=constants_of(deposit),
        source=FARADAY_LAW,
    )
    answers = (
        Answer(name="change of metal", value=balance.gain_g, unit="g"),
        Answer(name="change of concentration", value=balance.gain_g / volume_l, unit="g/L"),
        Answer(name="dissolved", value=balance.dissolved_g, unit="g"),
        Answer(name="deposited", value=balance.deposited_g, unit="g"),
        Answer(name="dragged out", value=balance.dragged_out_g, unit="g"),
        Answer(name="added", value=balance.added_g, unit="g"),
    )
    return Worked(answers=answers, explanation=explanation)


METAL_BALANCE = Calculation(
    name="metal-balance",
    words="what a charge does to the metal in a bath",
    inputs=(
        ASK_METAL,
        ASK_EFFICIENCY,
        Input(
            name="anode-efficiency",
            words="share of the charge that dissolves metal; 0 with inert anodes",
            example="100 %",
            kind="ratio",
            symbol="η_anode",
        ),
        *ASK_CHARGE,
        Input(
            name="volume",
            words="volume of the bath",
            example="4000 L",
            unit="L",
            symbol="V",
        ),
        replace(
            _DRAG_OUT,
            words="solution carried out on the parts; needs bath",
            example="6.5 L",
            unit="L",
            is_optional=True,
        ),
        replace(_BATH, words="concentration of the metal in the bath"),
        Input(
            name="added",
            words="metal put in as salts",
            example="250 g",
            unit="g",
            is_optional=True,
        ),
    ),
    formula="Δ(c V) = (η_anode - η) k Q - D c + additions",
    sources=("conservation of mass", FARADAY_LAW),
    work=_balance,
)
