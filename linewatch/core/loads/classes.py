"""Published classes of deposits: what a designation such as 'Fe/Zn 8' asks for.

The tables hold published example rows. The drawing and the edition that it names come first.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import Refused

if TYPE_CHECKING:
    from collections.abc import Mapping

ZINC_SOURCE: Final = "ASTM B633, table of thickness classes (ISO 2081 uses the same steps)"
ZINC_ON_STEEL: Final[Mapping[str, str]] = {
    "SC1": "Fe/Zn 5",
    "SC2": "Fe/Zn 8",
    "SC3": "Fe/Zn 12",
    "SC4": "Fe/Zn 25",
}
INCHES: Final[Mapping[str, float]] = {"SC1": 0.0002, "SC2": 0.0003, "SC3": 0.0005, "SC4": 0.001}
"""The same classes as the standard prints them in inches: rounded there, not converted."""
STRONGEST_PLATED_MPA: Final = 1700.0
"""ASTM B633-15, scope: steels above it shall not be electroplated."""
NICKEL_CHROMIUM_SOURCE: Final = (
    "ASTM B456, by way of Metal Finishing, 2011-2012 Surface Finishing Guidebook, p. 227"
)
NICKEL_CHROMIUM_ON_STEEL: Final[Mapping[str, tuple[str, ...]]] = {
    "SC5": ("Fe/Ni35d Cr mc", "Fe/Ni35d Cr mp"),
    "SC4": ("Fe/Ni40d Cr r", "Fe/Ni30d Cr mc", "Fe/Ni30d Cr mp"),
}
CHROMIUM_LEAST_UM: Final = 0.25
"""ASTM B456-03, where the designation gives none; 0.13 is allowed in SC1."""
SEMI_BRIGHT_PERCENT: Final = 60.0
"""Least semi-bright share of a double-layer nickel on steel (Metal Finishing Guide Book
2012-2013, p. 346)."""
_LAYER: Final = re.compile(r"(Zn|Ni|Cu|Cr|Sn|Ag|Cd)\s*(\d+(?:\.\d+)?)?\s*([a-z]{0,2})")


def least_um(designation: str) -> Mapping[str, float]:
    """Return the least local thickness by metal [µm] that a designation asks for.

    Args:
        designation: Base metal, a stroke, then layer by layer: metal, thickness, kind of
            layer ('d' double, 'b' bright, 'mc' microcracked, …), as ASTM B456, ISO 1456 and
            ISO 2081 write it.

    Returns:
        Thickness by metal.

    Raises:
        Refused: it is not written so.
    """
    base, stroke, rest = designation.strip().partition("/")
    layers = list(_LAYER.finditer(rest))
    if not stroke or not base.isalpha() or not layers or _LAYER.sub("", rest).strip():
        raise Refused(
            f"read the designation {designation!r}", "it is written so: 'Fe/Ni30d Cr mc'"
        )
    found: dict[str, float] = {}
    for layer in layers:
        metal, number = layer.group(1), layer.group(2)
        if number is None and metal != "Cr":
            raise Refused(
                f"read the designation {designation!r}", f"it gives no thickness for {metal}"
            )
        found[metal] = float(number) if number is not None else CHROMIUM_LEAST_UM
    return found
