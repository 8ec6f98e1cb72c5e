"""The bake that relieves steel of hydrogen after plating: how long, how hot, by its strength.

The table holds published example rows. Editions and standards disagree, see `DISAGREEMENTS`;
the customer's drawing and the edition that it names come first. No bake is a guarantee.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SOURCE: Final = "ASTM B850-98(2009), table of bakes; class letters from memory"
BAKE_LOW_DEGC: Final = 190.0
BAKE_HIGH_DEGC: Final = 220.0
"""ASTM B850-98(2009): 374 to 428 F."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BakeRow:
    """What steels of a range of tensile strengths ask for."""

    name: str
    low_mpa: float
    high_mpa: float
    least_h: float
    source: str = SOURCE


BAKES: Final[tuple[BakeRow, ...]] = (
    BakeRow(name="ER1", low_mpa=1701.0, high_mpa=1800.0, least_h=22.0),
    BakeRow(name="ER2", low_mpa=1601.0, high_mpa=1700.0, least_h=20.0),
    BakeRow(name="ER3", low_mpa=1501.0, high_mpa=1600.0, least_h=18.0),
    BakeRow(name="ER4", low_mpa=1401.0, high_mpa=1500.0, least_h=16.0),
    BakeRow(name="ER5", low_mpa=1301.0, high_mpa=1400.0, least_h=14.0),
    BakeRow(name="ER6", low_mpa=1201.0, high_mpa=1300.0, least_h=12.0),
    BakeRow(name="ER7", low_mpa=1101.0, high_mpa=1200.0, least_h=10.0),
    BakeRow(name="ER8", low_mpa=1001.0, high_mpa=1100.0, least_h=8.0),
)
DISAGREEMENTS: Final = (
    (
        "From which strength a bake is asked for: 1000 MPa (ASTM B849; earlier ISO 2081), or"
        " 1200 MPa (ASTM B633-19)."
    ),
    (
        "An earlier ISO 2081 goes by section too: 1000 to 1150 MPa over 25 mm, 8 h; 1150 to"
        " 1400 MPa up to 12 mm, 4 h; 25 to 40 mm, 24 h; at 190 to 210 °C."
    ),
    "ASTM B633-15 does not plate steels above 1700 MPa at all.",
)


def bake_for(strength_mpa: float) -> BakeRow | None:
    """Return the row that a steel's tensile strength [MPa] falls into; None: no bake asked.

    A strength between two rows, which are printed in whole MPa, goes with the stronger.
    """
    for row in reversed(BAKES):
        if strength_mpa <= row.high_mpa:
            return row if strength_mpa >= BAKES[-1].low_mpa else None
    return BAKES[0]
