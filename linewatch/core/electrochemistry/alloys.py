"""Alloys that are plated often, by mass, and how a person names a deposit.

The fractions are the nominal ones by which the trade names these deposits (common practice);
what a bath really lays down is its own, and belongs in the configuration.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.metals import METALS, Deposit, deposit
from linewatch.core.errors import UnitMismatch

if TYPE_CHECKING:
    from collections.abc import Mapping

ALLOYS: Mapping[str, Mapping[str, float]] = {
    "Zn-12Ni": {"Zn(II)": 0.88, "Ni(II)": 0.12},
    "Zn-14Ni": {"Zn(II)": 0.86, "Ni(II)": 0.14},
    "Zn-15Ni": {"Zn(II)": 0.85, "Ni(II)": 0.15},
    "Sn60Pb40": {"Sn(II)": 0.60, "Pb(II)": 0.40},
    "Sn90Pb10": {"Sn(II)": 0.90, "Pb(II)": 0.10},
    # Brass is plated from cyanide, where copper is univalent.
    "brass": {"Cu(I)": 0.70, "Zn(II)": 0.30},
    "Au-0.2Co": {"Au(I)": 0.998, "Co(II)": 0.002},
}
"""Mass fraction [1] by metal and valence, by the name of the alloy."""

ELEMENTS: Mapping[str, str] = {
    "silver": "Ag",
    "gold": "Au",
    "cadmium": "Cd",
    "cobalt": "Co",
    "chromium": "Cr",
    "chrome": "Cr",
    "copper": "Cu",
    "iron": "Fe",
    "indium": "In",
    "nickel": "Ni",
    "lead": "Pb",
    "palladium": "Pd",
    "platinum": "Pt",
    "rhodium": "Rh",
    "tin": "Sn",
    "zinc": "Zn",
}
"""Symbols of the elements that are plated, by their English names (IUPAC); chrome is what the
trade says."""

_PART = re.compile(r"^(.+?)\s*[ =:]\s*([0-9.]+)\s*(%?)$")


def metal_names(symbol: str) -> tuple[str, ...]:
    """Return the names under which an element is plated: ("Cu(I)", "Cu(II)") for "Cu".

    Args:
        symbol: Symbol of the element.

    Returns:
        Its names with valence; empty if it is not plated.
    """
    return tuple(name for name, metal in METALS.items() if metal.symbol == symbol)


def deposit_named(text: str) -> Deposit:
    """Return the deposit that a person names.

    Args:
        text: A metal ("Ni", "nickel", "Cu(II)", in any case), an alloy of `ALLOYS`
            ("Zn-14Ni"), or mass fractions ("Zn(II) 86 % + Ni(II) 14 %").

    Returns:
        The deposit.

    Raises:
        UnitMismatch: the text names no metal, or one that has several valences.
        OutsideValidity: mass fractions do not add up to 1.

    Examples:
        >>> deposit_named("Zn(II) 86 % + Ni(II) 14 %") == deposit_named("Zn-14Ni")
        True
    """
    plain = text.strip()
    alloys = {name.casefold(): parts for name, parts in ALLOYS.items()}
    if plain.casefold() in alloys:
        return deposit(alloys[plain.casefold()])
    pieces = re.split(r"\s*[+,]\s*", plain)
    if len(pieces) == 1 and _PART.match(plain) is None:
        return deposit({_metal_named(plain): 1.0})
    parts: dict[str, float] = {}
    for piece in pieces:
        match = _PART.match(piece)
        if match is None or match[2].count(".") > 1:
            raise UnitMismatch(
                text, "deposit", 'write an alloy as "Zn(II) 86 % + Ni(II) 14 %", by mass'
            )
        name = _metal_named(match[1])
        share = float(match[2]) / (100.0 if match[3] else 1.0)
        parts[name] = parts.get(name, 0.0) + share
    return deposit(parts)


def _metal_named(text: str) -> str:
    plain = text.strip().casefold()
    by_name = {name.casefold(): name for name in METALS}
    if plain in by_name:
        return by_name[plain]
    symbols = {metal.symbol.casefold(): metal.symbol for metal in METALS.values()}
    symbol = ELEMENTS.get(plain, symbols.get(plain, ""))
    found = metal_names(symbol)
    if len(found) == 1:
        return found[0]
    if found:
        raise UnitMismatch(
            text, "metal", f"it is plated with several valences; write {' or '.join(found)}"
        )
    raise UnitMismatch(text, "metal or alloy", f"use one of {', '.join(accepted())}")


def accepted() -> tuple[str, ...]:
    """Return every name that a deposit may have, without a valence where it has only one."""
    metals = [
        metal.symbol if len(metal_names(metal.symbol)) == 1 else name
        for name, metal in METALS.items()
    ]
    return (*metals, *ALLOYS)
