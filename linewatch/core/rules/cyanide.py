"""Acid where there is cyanide. Limits are common practice of the trade unless sourced.

The stream to the treatment has a rule of its own (treatment.py): there pH is always measured.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.liquid import FRESH_S, wrong_liquid
from linewatch.core.rules.rule import Rule, Told

if TYPE_CHECKING:
    from linewatch.core.rules.rule import Kept, Seen

FALLS_PH: Final = 1.0
"""Neither running water nor drag-out lowers a pH by so much within a minute."""
ACID_LOOKS: Final = 2
HALF_IS_GAS_PH: Final = 9.2
"""Below this more than half of all free cyanide is hydrogen cyanide: its pKa is 9.21 at 25 °C
(CRC Handbook of Chemistry and Physics, from memory)."""
PEOPLE_FIRST: Final = (
    "leave the fumes, warn and keep everybody out; do NOT drain it, do NOT dump it, do NOT add"
    " anything; extraction stays on; call whoever is responsible, follow the site's emergency"
    " plan; it must never reach an acid line"
)


def cyanide_jumps(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a jump where there is cyanide and no pH says that it is no acid."""
    if kept:
        # What came in while nobody looked is no less dangerous: held against the last look.
        kept = (seen.now_s, *kept[1:])
    told, kept = wrong_liquid(seen, kept)
    is_ph_known = seen.value.get("ph") is not None and "ph" not in seen.doubted
    if told is not None and is_ph_known:
        # Whether it is acid is told by that; what jumps is still a wrong liquid.
        told = Told(is_there=False, value=told.value)
    return told, kept


def cyanide_turns_acid(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a pH that falls where there is cyanide; kept: (time, pH of the last looks)."""
    ph, low = seen.value["ph"], seen.window["ph"].low
    if ph is None:
        return None, kept
    is_fresh = bool(kept) and seen.now_s - kept[0] <= FRESH_S
    past = (*(kept[1:][-ACID_LOOKS:] if is_fresh else ()), ph)
    least = seen.limit if low is None else max(seen.limit, low - FALLS_PH)
    is_falling = max(past) - ph > FALLS_PH and ph < HALF_IS_GAS_PH
    return Told(ph < least or is_falling, ph), (seen.now_s, *past)


CYANIDE: Final[tuple[Rule, ...]] = (
    Rule(
        name="cyanide-turns-acid",
        title="acid in cyanide",
        of=("rinse", "strike", "plate", "cell"),
        needs=("ph",),
        in_cyanide=True,
        judge=cyanide_turns_acid,
        # Water for drinking is no more acid than this (Directive (EU) 2020/2184, annex I,
        # part C, from memory).
        limit=6.5,
        unit="pH",
        evidence="pH when it was told; lower than the limit",
        evidence_inside="it fell by more than a unit within a minute; pH by then",
        priority="highest",
        cause="acid put in or dripped in: a wrong hose, a valve, work that was not rinsed; or"
        " the pH glass is broken",
        consequence="deadly gas: acid frees hydrogen cyanide, which kills at once",
        action=PEOPLE_FIRST,
        respond_within_s=60.0,
        is_safety=True,
        explains=(
            "wrong-liquid",
            "ph.low",
            "ph.low-low",
            "ph.deviation",
            "ph.rate",
            "conductivity.high",
            "conductivity.high-high",
        ),
    ),
    Rule(
        name="cyanide-jumps",
        title="may be acid in cyanide: the rinse jumps",
        of=("rinse",),
        needs=("conductivity",),
        in_cyanide=True,
        judge=cyanide_jumps,
        limit=1.0,
        unit="times",
        evidence="rise since the look before over the upper limit of its window",
        priority="highest",
        cause="acid or another liquid put in: a wrong hose, a spill, a valve of another tank;"
        " conductivity tells that something came in, not what",
        consequence="if it is acid, hydrogen cyanide rises, which kills at once",
        action=PEOPLE_FIRST,
        respond_within_s=60.0,
        is_safety=True,
        explains=("wrong-liquid", "conductivity.high", "conductivity.high-high"),
    ),
)
