"""What the signals can never tell, by the place where someone would look for it."""

from __future__ import annotations

from typing import Final

from linewatch.ui.draw.rows import Row, Span, row, wrap

SOLUTION: Final = (
    "additive level, metal contamination, free against complexed cyanide",
    "ask the test cell panel and the titration",
)
DEPOSIT: Final = (
    "thickness spread, adhesion, hidden pores, oil on the parts, contact of a single tip",
    "ask the thickness gauge, the bend test and the eye",
)
WATER: Final = (
    "hexavalent chromium at trace level, free against complexed cyanide",
    "ask the spot test and the laboratory",
)
AIR: Final = (
    "concentration of gas in breathing air",
    "ask the gas detector and the smoke tube; a running fan proves nothing",
)
SURFACE: Final = (
    "oil on the parts, strength of the solution",
    "ask the water-break panel and the titration",
)
RINSE: Final = (
    "oil, wetting agent and fines, which do not conduct; a dead corner of the tank",
    "look at the water and the work, and ask the water-break test",
)
CONTACT: Final = (
    "contact of a single tip on a large rack, and where between the parts the current goes",
    "ask the thickness gauge and the eye",
)

BY_KIND: Final[dict[str, tuple[str, str]]] = {
    "clean": SURFACE,
    "electroclean": SURFACE,
    "activate": SURFACE,
    "rinse": RINSE,
    "strike": SOLUTION,
    "plate": SOLUTION,
    "passivate": SOLUTION,
    "seal": SOLUTION,
    "cell": SOLUTION,
    "treat": WATER,
    "extract": AIR,
}
"""By kind of position."""

EVERYTHING: Final = (SOLUTION, DEPOSIT, CONTACT, WATER, RINSE, AIR, SURFACE)


def unmeasured_words(said: tuple[str, str]) -> str:
    """Return in two sentences what is not measured, and whom to ask instead."""
    what, ask = said
    return f"not measured: {what}. {ask[0].upper()}{ask[1:]}."


def unmeasured_rows(said: tuple[str, str] | None, width: int) -> list[Row]:
    """Return what is not measured here, and whom to ask instead."""
    if said is None:
        return []
    return [row(Span(line, "quiet")) for line in wrap(unmeasured_words(said), width)]
