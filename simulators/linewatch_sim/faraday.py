"""The plant's own arithmetic of electrolysis, independent of whoever watches it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

ELEMENTARY_CHARGE_C = 1.602176634e-19
"""Exact by definition (SI, 2019)."""
PARTICLES_PER_MOL = 6.02214076e23
"""Exact by definition (SI, 2019)."""
COULOMB_PER_MOL = ELEMENTARY_CHARGE_C * PARTICLES_PER_MOL

MOLAR_G: dict[str, tuple[float, int]] = {
    "Ni(II)": (58.6934, 2),
    "Cu(I)": (63.546, 1),
    "Cu(II)": (63.546, 2),
    "Cr(VI)": (51.9961, 6),
    "Cr(III)": (51.9961, 3),
    "Zn(II)": (65.38, 2),
    "Sn(II)": (118.710, 2),
    "Ag(I)": (107.8682, 1),
}
"""Molar mass [g/mol] and electrons for each atom; IUPAC's abridged standard weights of 2021."""


def gram_per_ah(deposit: Iterable[tuple[str, float]]) -> float:
    """Return what an ampere-hour lays down at full efficiency; 0 for no deposit."""
    # Each metal takes its own share of the charge: what a gram of the alloy needs adds up.
    needs_ah = sum(
        share * electrons * COULOMB_PER_MOL / (molar * 3600.0)
        for metal, share in deposit
        for molar, electrons in (MOLAR_G[metal],)
    )
    return 1.0 / needs_ah if needs_ah else 0.0
