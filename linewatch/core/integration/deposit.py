"""The part of a charge that lays down metal, where efficiency follows current density.

Deposit charge is the integral of efficiency times cathodic current, added up in the same
integers as charge itself. Where the curve does not reach, nothing is extrapolated: the
charge is added up apart, so that the figure can say how much of it is not covered.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.integration.charge import sum_products

if TYPE_CHECKING:
    from numpy.typing import NDArray

NOT_COVERED = -1
"""Stands for a deposit current that the curve does not tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepositCurve:
    """Efficiency over current density in one tank that a rectifier feeds.

    Args:
        tank: Id of the tank.
        share: Share of the rectifier's current that goes through this tank [1].
        area_dm2: Area it is spread over [dm2].
        density_a_per_dm2: Points of the curve [A/dm2], rising, two or more.
        ratio: Efficiencies at the points [1].
    """

    tank: str
    share: float
    area_dm2: float
    density_a_per_dm2: tuple[float, ...]
    ratio: tuple[float, ...]

    def covers(self, current_a: float) -> bool:
        """Say whether the curve tells the efficiency at a current of the rectifier [A]."""
        density = self.density(current_a)
        return self.density_a_per_dm2[0] <= density <= self.density_a_per_dm2[-1]

    def density(self, current_a: float) -> float:
        """Return the current density in the tank [A/dm2] at a current of the rectifier [A]."""
        return current_a * self.share / self.area_dm2

    def deposit_ua(self, cathodic_ua: int) -> int:
        """Return the current that lays down metal.

        Args:
            cathodic_ua: Cathodic current of the rectifier [µA]; anodic if negative.

        Returns:
            Deposit current in the tank [µA]; 0 without cathodic current; `NOT_COVERED`
            where the curve does not reach.
        """
        if cathodic_ua <= 0:
            return 0
        # The same operations in the same order as for many: the same bits.
        through_ua = cathodic_ua * self.share
        density = through_ua / (1e6 * self.area_dm2)
        points = self.density_a_per_dm2
        if not points[0] <= density <= points[-1]:
            return NOT_COVERED
        k = min(bisect_right(points, density) - 1, len(points) - 2)
        part = (density - points[k]) / (points[k + 1] - points[k])
        return round(through_ua * (self.ratio[k] + part * (self.ratio[k + 1] - self.ratio[k])))

    def deposits_ua(self, cathodic_ua: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the currents that lay down metal; bit for bit as `deposit_ua`.

        Args:
            cathodic_ua: Cathodic currents of the rectifier [µA], shape (n,).

        Returns:
            Deposit currents in the tank [µA], shape (n,).
        """
        through_ua = cathodic_ua * self.share
        density = through_ua / (1e6 * self.area_dm2)
        points, ratio = np.array(self.density_a_per_dm2), np.array(self.ratio)
        k = np.clip(np.searchsorted(points, density, side="right") - 1, 0, len(points) - 2)
        part = (density - points[k]) / (points[k + 1] - points[k])
        found = through_ua * (ratio[k] + part * (ratio[k + 1] - ratio[k]))
        known = (density >= points[0]) & (density <= points[-1])
        found = np.rint(np.where(known, found, NOT_COVERED)).astype(np.int64)
        return np.where(cathodic_ua > 0, found, 0)


def deposit(cathodic_ua: tuple[int, int], deposit_ua: tuple[int, int], dt_ns: int) -> int:
    """Return the deposit charge between two samples that the curve covers.

    Args:
        cathodic_ua: Cathodic current at the beginning and end [µA].
        deposit_ua: Deposit current at the beginning and end [µA].
        dt_ns: Time between [ns].

    Returns:
        Deposit charge in fine units; only the cathodic part of a crossing counts.
    """
    before, after = cathodic_ua
    if before > 0 > after:
        return deposit_ua[0] * before * dt_ns // (before - after)
    if before < 0 < after:
        return deposit_ua[1] * after * dt_ns // (after - before)
    return (deposit_ua[0] + deposit_ua[1]) * dt_ns


def deposits(
    cathodic_ua: NDArray[np.int64], deposit_ua: NDArray[np.int64], dt_ns: NDArray[np.int64]
) -> tuple[int, NDArray[np.bool_]]:
    """Return the deposit charge along many samples, and which intervals are not covered.

    Args:
        cathodic_ua: Cathodic currents [µA], shape (n + 1,).
        deposit_ua: Deposit currents [µA], shape (n + 1,); may hold `NOT_COVERED`.
        dt_ns: Time between neighbours [ns], shape (n,).

    Returns:
        (deposit charge in fine units, mask of the intervals left out, shape (n,)).
    """
    before, after = cathodic_ua[:-1], cathodic_ua[1:]
    lost = (deposit_ua[:-1] == NOT_COVERED) | (deposit_ua[1:] == NOT_COVERED)
    crossing = ((before > 0) & (after < 0)) | ((before < 0) & (after > 0))
    both = np.where(lost | crossing, 0, deposit_ua[:-1] + deposit_ua[1:])
    total = sum_products(both, dt_ns)
    for k in np.flatnonzero(crossing & ~lost).tolist():
        total += deposit(
            (int(before[k]), int(after[k])),
            (int(deposit_ua[k]), int(deposit_ua[k + 1])),
            int(dt_ns[k]),
        )
    return total, lost
