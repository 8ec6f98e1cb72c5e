"""What is told besides when something is said of a load: what it counts for, what is odd."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import Refused
from linewatch.core.loads.findings import figures_and_unit
from linewatch.wiring.loads import NEAREST, record_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.loads.layers import LayerRow
    from linewatch.core.plan import LinePlan
    from linewatch.core.ports import Desk

THICKNESS: Final = "thickness"
HARDNESS: Final = "hardness"
SCALES: Final = ("HV", "HK", "HB", "HR", "HL", "HM", "SHORE", "MPA", "GPA", "N/MM2")
"""How the scales of hardness begin, as reports write them: HV 0.05, HRC, HBW. Common
practice."""


def part_remark(plan: LinePlan, part: str) -> str:
    """Return that a part is none of the catalogue, with the nearest; '' if it is one."""
    wanted = part.strip().casefold()
    known = {name.casefold(): name for each in plan.parts for name in (each.id, each.name)}
    if not wanted or not plan.parts or wanted in known:
        return ""
    near = difflib.get_close_matches(wanted, list(known), NEAREST)
    # A part is told once, whether its id or its name is near.
    told = [
        f"{each.name} ({each.id})"
        for each in plan.parts
        if not near or {each.id.casefold(), each.name.casefold()} & set(near)
    ]
    return (
        f"no part of the catalogue is called {part.strip()!r}, so it is kept as a name of its"
        f' own; there is {", ".join(told)}; to correct it name the part and --why "the reason"'
    )


def bake_remark(desk: Desk, number: str) -> str:
    """Return that a load hangs in a tank yet, which went into an oven; '' if it does not."""
    picture = desk.picture()
    here = picture.present(number) if picture is not None else None
    return "" if here is None else f"it is in {here.tank_name} still, as the signals tell"


def check_measured(number: str, what: str, found: str) -> None:
    """Say whether a measured finding has a unit in which it is measured.

    Raises:
        Refused: it is a hardness in no scale that is known.
    """
    figures, written = figures_and_unit(found)
    if HARDNESS not in what.casefold() or not figures:
        return
    if not written.upper().startswith(SCALES):
        raise Refused(
            f"note what was found on load {number}",
            f'{found.strip()!r} is in no scale of hardness; write it as "550 HV", or in HK,'
            " HBW, HRC, MPa, GPa",
        )


def finding_remark(desk: Desk, number: str, what: str) -> str:
    """Return for which layer of a load a thickness is counted, or how to say it."""
    if THICKNESS not in what.casefold():
        return ""
    try:
        layers = record_of(desk, number).layers
    except Refused:  # The collector says of such a load what there is to say.
        return ""
    return layer_words(number, what, layers)


def layer_words(number: str, what: str, layers: Sequence[LayerRow]) -> str:
    """Return in words for which of some layers a thickness is counted, or how to say it."""
    deposits = [each.deposit for each in layers]
    words = set(what.casefold().replace(",", " ").replace("(", " ").replace(")", " ").split())
    named = [
        each.deposit
        for each in layers
        if {each.deposit.casefold(), each.bath.casefold()} & words
    ]
    if len(deposits) == 1 or len(named) == 1:
        return f"counted for its {(named or deposits)[0]}"
    if not deposits:
        return "no layer of it is known yet, so it stands beside none"
    return (
        f"counted for none of its layers ({', '.join(deposits)}): say which, as"
        f' `linewatch load found {number} "thickness {deposits[-1]}" …`'
    )
