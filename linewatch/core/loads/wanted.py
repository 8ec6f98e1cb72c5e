"""What was found on a load beside what is wanted of it, and what speaks against its release.

Rule 1: a person decides; here it is only said what the record holds against it.
Rule 2: a thickness found at a named place is held against the least local thickness where one
        is asked for, else against the wanted mean. Of several layers the finding says which
        one it is of ("thickness Ni"); where it does not, nothing is held against it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.errors import UnitMismatch
from linewatch.core.loads.findings import figures_and_unit
from linewatch.core.loads.layers import TOO_THIN, LayerRow
from linewatch.core.loads.record import Gravity, Said

if TYPE_CHECKING:
    from collections.abc import Collection

    from linewatch.core.loads.present import Present
    from linewatch.core.loads.record import LoadRecord

THICKNESS: Final = "thickness"
RELEASED: Final = "released"
_AT_LEAST = re.compile(r"^[>≥+]")
_BETWEEN = re.compile(r"\s*(?:;|/|\bto\b|\band\b|\.\.+|,\s)\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A thickness that was found, beside the one that is wanted."""

    said: Said
    layer: LayerRow
    found_um: float
    """The smallest, where several were told."""
    wanted_um: float
    is_local: bool
    """It is the least local thickness that is wanted."""

    @property
    def is_below(self) -> bool:
        """Say whether less was found than is wanted."""
        return self.found_um < self.wanted_um

    @property
    def words(self) -> str:
        """Return both, side by side: 'found 9.1 µm where 12.0 µm are wanted'."""
        least = " at least" if self.is_local else ""
        place = self.said.values.get("place")
        where = f" at {place}" if place else ""
        return (
            f"found {self.found_um:.3g} µm{where} where{least} {self.wanted_um:.1f} µm"
            " are wanted"
        )


def found_beside_wanted(record: LoadRecord) -> tuple[Beside, ...]:
    """Return each thickness that was found, with what is wanted, where both are known."""
    return tuple(
        found for each in record.inspections if (found := _beside(record, each)) is not None
    )


def _beside(record: LoadRecord, said: Said) -> Beside | None:
    about = str(said.values.get("of") or "").casefold()
    found_um = smallest_um(str(said.values.get("found") or "")) if THICKNESS in about else None
    layer = _layer_of(record, about)
    if found_um is None or layer is None:
        return None
    is_local = bool(said.values.get("place")) and layer.least_um is not None
    wanted_um = layer.least_um if is_local or layer.target_um is None else layer.target_um
    if wanted_um is None:
        return None
    is_local = is_local or layer.target_um is None
    return Beside(
        said=said, layer=layer, found_um=found_um, wanted_um=wanted_um, is_local=is_local
    )


def _layer_of(record: LoadRecord, about: str) -> LayerRow | None:
    if len(record.layers) == 1:
        return record.layers[0]
    words = set(re.split(r"[\s,()]+", about))
    named = [
        layer
        for layer in record.layers
        if layer.deposit.casefold() in words or layer.bath.casefold() in words
    ]
    return named[0] if len(named) == 1 else None


def smallest_um(found: str) -> float | None:
    """Return the smallest thickness that a finding tells [µm]; None where it tells none.

    Examples:
        >>> smallest_um("9.1 um"), smallest_um("7,9 to 8.4 um"), smallest_um("good")
        (9.1, 7.9, None)
    """
    figures, unit = figures_and_unit(found)
    # Of 'at least 5 um' nobody knows how much more it is.
    if not figures or not unit or _AT_LEAST.match(figures):
        return None
    numbers = []
    for part in _BETWEEN.split(figures.partition("±")[0].lstrip("<~≈≤ ")):
        try:
            numbers.append(float(part.strip().replace(",", ".")))
        except ValueError:
            continue
    try:
        return min((units.convert(each, unit, "um") for each in numbers), default=None)
    except UnitMismatch:
        return None


def against_release(record: LoadRecord, growing: Collection[str] = ()) -> tuple[str, ...]:
    """Return what the record holds against letting a load go, the findings first.

    Args:
        record: Of the load.
        growing: Baths from which it may still get metal.
    """
    newest: dict[tuple[object, object], Beside] = {}
    for each in found_beside_wanted(record):
        newest[each.said.values.get("of"), each.said.values.get("place")] = each
    told = [each.words for each in newest.values() if each.is_below]
    for layer in record.thin(growing):
        doubt = f" ± {layer.thickness_pm_um:.1f}" if layer.thickness_pm_um else ""
        told.append(
            f"{layer.deposit} worked out as {layer.thickness_um:.1f}{doubt} µm:"
            f" {layer.verdict}{_wanted(layer)}"
        )
    # That the record itself has a hole is not the work's fault.
    if record.gravity < Gravity.RECORD:
        many = f" and {record.oddities - 1} more" if record.oddities > 1 else ""
        told.append(f"odd on its way: {record.worst}{many}")
    return tuple(told)


def _wanted(layer: LayerRow) -> str:
    if layer.verdict == TOO_THIN and layer.target_um is not None:
        return f", {layer.target_um:.1f} µm are wanted"
    return f", at least {layer.least_um:.1f} µm are wanted" if layer.least_um else ""


def objections(
    record: LoadRecord, decision: str, present: Present | None = None
) -> tuple[str, ...]:
    """Return what the record holds against a decision about a load.

    Args:
        record: Of the load, as it stood before the decision.
        decision: What is decided.
        present: The stay that it is in; None if it is in no tank.
    """
    if decision != RELEASED:
        return ()
    here = [f"it is in {present.tank_name} still"] if present is not None else []
    growing = present.growing if present is not None else ()
    return (*against_release(record, growing), *here)


def decision_remark(record: LoadRecord, decision: str, present: Present | None = None) -> str:
    """Return the same in one sentence; '' for nothing. See `objections`."""
    return "; ".join(objections(record, decision, present))
