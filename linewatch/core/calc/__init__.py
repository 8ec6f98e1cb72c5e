"""The desk's calculator: questions that need no line. Metric and US units, in and out.

`desk` what a calculation is made of · `inputs` what several of them ask for · `plating` mass,
thickness, charge, time, current · `solution` rinses, doses, drag-out, water.

Nothing here loads NumPy: an answer at the desk must not wait for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.calc import plating, solution
from linewatch.core.calc.desk import Answer, Calculation, Input, Worked
from linewatch.core.errors import Refused

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["CALCULATIONS", "Answer", "Calculation", "Input", "Worked", "work_out"]

CALCULATIONS: dict[str, Calculation] = {
    each.name: each
    for each in (
        plating.MASS,
        plating.THICKNESS_OF_CHARGE,
        plating.CHARGE_FOR_THICKNESS,
        plating.TIME,
        plating.CURRENT_DENSITY,
        plating.CURRENT,
        plating.EQUIVALENT,
        solution.RINSE,
        solution.RINSE_WATER,
        solution.DOSE,
        solution.DRAG_OUT,
        solution.EVAPORATION,
        solution.METAL_BALANCE,
    )
}
"""Every calculation by name, in the order in which help lists them."""


def work_out(name: str, texts: Mapping[str, str]) -> Worked:
    """Return the answers to a question.

    Args:
        name: Name of the calculation, a key of `CALCULATIONS`.
        texts: What a person wrote, by the name of the input.

    Returns:
        Answers and explanation.

    Raises:
        Refused: the calculation or an input is not known, missing, or given twice over.
        UnitMismatch: a text is no quantity of the input's dimension.
        OutsideValidity: a number is outside what the formula holds for.

    Examples:
        >>> done = work_out("dose", {"rate": "150 mL/kA.h", "charge": "18 kA.h"})
        >>> done.answers[0].value, done.answers[0].unit
        (2700.0, 'mL')
    """
    if name not in CALCULATIONS:
        raise Refused(f"calculate {name}", f"use one of {', '.join(CALCULATIONS)}")
    return CALCULATIONS[name].work_out(texts)
