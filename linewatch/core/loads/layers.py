"""What a load has of each bath, held against what is wanted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from linewatch.core.events import Event
    from linewatch.core.loads.record import StayRow

TOO_THIN: Final = "too thin"
"""How the verdict on a layer begins that has less than is wanted."""
SO_FAR: Final = "so far"
"""What stands in its place while the layer may still grow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerRow:
    """What all stays in the tanks of one bath gave together."""

    bath: str
    deposit: str
    charge_ah: float
    """What was metered: the least, where `not_metered` names a tank."""
    mass_g: float | None
    """None, like the thickness, where one of its stays has none."""
    thickness_um: float | None
    """None where one of its stays has none."""
    thickness_pm_um: float | None
    """Expanded (k = 2); the stays' own are added, for efficiency and area err together."""
    thinnest_um: float | None
    target_um: float | None
    least_um: float | None
    """Least local thickness that its designation asks for; held against the thinnest."""
    stays: int
    refused: str = ""
    is_whole: bool = True
    """False: what laid it down was not seen from the beginning: it was in one of its tanks when
    the record began, or may have been before."""
    charge_pm_ah: float | None = None
    """Expanded (k = 2), added over the stays that were metered."""
    not_metered: tuple[str, ...] = ()
    """Names of the tanks in which nobody metered what flowed."""

    @property
    def hole(self) -> str:
        """Return where nobody metered what flowed: 'Nickel 1 not metered'; '': nowhere."""
        return f"{', '.join(self.not_metered)} not metered" if self.not_metered else ""

    @property
    def not_known(self) -> str:
        """Return that its thickness is not known, and where nobody metered what flowed."""
        return f"not known: {self.hole}" if self.hole else "not known"

    def verdict_among(self, growing: Collection[str]) -> str:
        """Return its verdict; of one that may still grow nothing is too thin yet.

        Args:
            growing: Baths from which the load may still get metal.
        """
        is_early = self.bath in growing and self.verdict.startswith(TOO_THIN)
        return SO_FAR if is_early else self.verdict

    @property
    def verdict(self) -> str:
        """Return what the layer is, held against what is wanted, beyond its doubt; '': well."""
        if self.thickness_um is None:
            return ""
        if not self.is_whole:
            return "not seen whole"
        doubt = self.thickness_pm_um or 0.0
        if self.target_um is not None and self.thickness_um + doubt < self.target_um:
            return TOO_THIN
        if self.least_um is None or self.thinnest_um is None:
            return ""
        # The doubt of the thinnest place is that of the mean, in the same proportion.
        share = doubt / self.thickness_um if self.thickness_um else 0.0
        return f"{TOO_THIN} locally" if self.thinnest_um * (1.0 + share) < self.least_um else ""


def layers_of(stays: Sequence[StayRow], told: Sequence[Event]) -> tuple[LayerRow, ...]:
    """Return the layers of a load.

    Args:
        stays: Its stays.
        told: All that was told of it.
    """
    wanted = {
        str(each.values.get("bath")): each.values
        for each in told
        if each.values.get("what") == "stay"
    }
    not_whole = _not_whole(told)
    by_bath: dict[str, list[StayRow]] = {}
    for stay in stays:
        if stay.deposit:
            by_bath.setdefault(stay.bath, []).append(stay)
    found = []
    for bath, rows in by_bath.items():
        target, least = (wanted[bath].get(f"layer_{each}_um") for each in ("target", "least"))
        found.append(
            LayerRow(
                bath=bath,
                deposit=rows[0].deposit,
                charge_ah=sum(row.charge_ah or 0.0 for row in rows),
                mass_g=_total([row.mass_g for row in rows]),
                thickness_um=_total([row.thickness_um for row in rows]),
                thickness_pm_um=_total([row.thickness_pm_um for row in rows]),
                thinnest_um=_total([row.thinnest_um for row in rows]),
                target_um=target if isinstance(target, float) else None,
                least_um=least if isinstance(least, float) else None,
                stays=len(rows),
                refused=_refused(rows),
                charge_pm_ah=_total([row.charge_pm_ah for row in rows if not row.is_unmetered]),
                not_metered=_not_metered(rows),
                is_whole=bath not in not_whole,
            )
        )
    return tuple(found)


def _not_metered(rows: Sequence[StayRow]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(row.tank_name for row in rows if row.is_unmetered))


def _refused(rows: Sequence[StayRow]) -> str:
    """Return why a layer has no thickness: with the tank, where it is not all of them."""
    refused = [(row.tank_name, row.thickness_refused) for row in rows if row.thickness_refused]
    reasons = dict.fromkeys(why for _, why in refused)
    if len(refused) == len(rows) and len(reasons) == 1:
        return next(iter(reasons))
    return "; ".join(dict.fromkeys(f"{tank}: {why}" for tank, why in refused))


def _not_whole(told: Sequence[Event]) -> set[str]:
    """Return the baths of which a load may have had more than was seen."""
    stays = [each.values for each in told if each.values.get("what") == "stay"]
    was_on_its_way = any(each.get("is_first") for each in stays)
    return {
        str(each.get("bath"))
        for each in stays
        if each.get("is_first") or (was_on_its_way and each.get("is_bath_before"))
    }


def _total(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if known and len(known) == len(values) else None
