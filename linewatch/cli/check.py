"""Commands for the desk: check, schema, calc, keys. They touch no line and no device."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from linewatch.cli import app
from linewatch.core.errors import Refused

Json = Annotated[bool, Parameter(name="--json")]


@app.command
def check(file: Path) -> int:
    """Check a configuration and list every fault at once.

    Args:
        file: The configuration.
    """
    from linewatch import config

    works = config.read(file)
    plan = works.plan
    print(
        f"{file}: no fault; line {plan.line_id} with {len(plan.tanks)} tanks,"
        f" {len(plan.rectifiers)} rectifiers, {len(plan.tags)} tags on"
        f" {len(works.links)} links and {len(plan.conditions)} alarm conditions"
    )
    return 0


@app.command
def schema() -> int:
    """Print the JSON schema of a configuration, for editors."""
    from linewatch.config.schema import schema_text

    print(schema_text())
    return 0


@app.command
def calc(
    calculation: str = "",
    *inputs: str,
    units: Literal["metric", "us", "both"] = "both",
    json_: Json = False,
) -> int:
    """Work something out at the desk; no line is read.

    Without a calculation, all are listed with what they ask for. Two examples:

    linewatch calc mass metal=Ni charge="2400 A.h" efficiency="95 %"

    linewatch calc thickness metal="Ni(II)" charge="2400 A.h" efficiency="95 %" area="500 dm2"

    Args:
        calculation: mass, thickness, charge, time, current-density, rinse, dose and others.
        inputs: Each as name=quantity, by the names in that list.
        units: Units of the answers.
        json_: Print answers and explanation as one JSON object.
    """
    from linewatch.cli.explanations import in_words, quantity
    from linewatch.core.calc import CALCULATIONS, work_out

    if not calculation:
        for each in CALCULATIONS.values():
            print(f"{each.name:<16}{each.words}")
            for asked in each.inputs:
                optional = ", optional" if asked.is_optional else ""
                print(f'    {asked.name}="{asked.example}"  {asked.words}{optional}')
        return 0
    worked = work_out(calculation, dict(_pair(calculation, text) for text in inputs))
    if json_:
        print(json.dumps(dataclasses.asdict(worked), indent=1))
        return 0
    for answer in worked.answers:
        shown = [quantity(answer.value, answer.unit, "metric", answer.plus_or_minus)]
        shown.append(quantity(answer.value, answer.unit, "us", answer.plus_or_minus))
        chosen = {"metric": shown[:1], "us": shown[1:], "both": list(dict.fromkeys(shown))}
        print(f"{answer.name}: {' = '.join(chosen[units])}")
    print(in_words(worked.explanation))
    return 0


def _pair(calculation: str, text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign:
        raise Refused(f"calc {calculation}", f'{text!r} is no input; write name="12 unit"')
    return name.strip(), value.strip()


@app.command
def keys(*, names: bool = False) -> int:
    """Print the card of keys, to hang beside the terminal, with the shop's own keys in it.

    Args:
        names: Print the name of each key instead, as a person's screen.toml has it.
    """
    from linewatch.ui.keys import BY_ID, Keys
    from linewatch.wiring.preferences import preferences

    shop = Keys(preferences().keys)
    if names:
        for name in BY_ID:
            print(f"{name:<24}{shop.of(name)}")
    else:
        print(shop.card())
    return 0
