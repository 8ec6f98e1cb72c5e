"""How much of a charge lays metal down: one value, or a curve over current density.

Rule: outside a curve's points the efficiency is refused with the reason. Chromium gains
efficiency with current density, most baths lose it; a guess beyond what was measured would
be wrong by an unknown amount.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.validity import SHARE, not_negative
from linewatch.core.errors import OutsideValidity

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Efficiency:
    """A current efficiency with the range in which it is believed to lie.

    Raises:
        OutsideValidity: a ratio is outside 0 to 1, the range does not hold the value, or the
            curve does not rise in current density.
    """

    value: float
    """Single value [1]; with a curve, its value at the usual density."""
    low: float
    high: float
    curve_a_per_dm2: tuple[float, ...] = ()
    """Current densities of the curve's points [A/dm2], rising; empty: no curve."""
    curve_ratio: tuple[float, ...] = ()
    source: str = "common practice"

    def __post_init__(self) -> None:
        for quantity, value in (
            ("efficiency", self.value),
            ("lowest efficiency", self.low),
            ("highest efficiency", self.high),
            *(("efficiency of the curve", ratio) for ratio in self.curve_ratio),
        ):
            not_negative(quantity, value, SHARE)
        if not self.low <= self.value <= self.high:
            raise OutsideValidity("efficiency", self.value, self.low, self.high, "")
        points = self.curve_a_per_dm2
        if len(points) != len(self.curve_ratio) or len(points) == 1:
            raise OutsideValidity(
                "points of the efficiency curve", len(points), 2, float("inf"), ""
            )
        for before, after in pairwise(points):
            if not before < after:
                raise OutsideValidity(
                    "current density of the curve", after, before, float("inf"), "A/dm2"
                )

    def at(self, current_density_a_per_dm2: float) -> float:
        """Return the efficiency at a current density.

        Args:
            current_density_a_per_dm2: Cathodic current density [A/dm2].

        Returns:
            Efficiency [1]; the single value where there is no curve.

        Raises:
            OutsideValidity: there is a curve, and it does not reach so far.
        """
        points = self.curve_a_per_dm2
        if not points:
            return self.value
        density = current_density_a_per_dm2
        if not points[0] <= density <= points[-1]:
            raise OutsideValidity("current density", density, points[0], points[-1], "A/dm2")
        k = min(bisect_right(points, density) - 1, len(points) - 2)
        share = (density - points[k]) / (points[k + 1] - points[k])
        return self.curve_ratio[k] + share * (self.curve_ratio[k + 1] - self.curve_ratio[k])

    def at_each(self, current_density_a_per_dm2: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the efficiencies at many current densities; each as `at` gives it.

        Args:
            current_density_a_per_dm2: Cathodic current densities [A/dm2], shape (n,).

        Returns:
            Efficiencies [1], shape (n,); NaN where the curve does not reach, for one density
            outside it must not cost the rest of an array. A NaN density gives NaN.
        """
        # Here, not at the top: the desk calculator reads this module and must not wait.
        import numpy as np

        density = current_density_a_per_dm2
        if not self.curve_a_per_dm2:
            return np.where(np.isnan(density), np.nan, self.value)
        points, ratio = np.array(self.curve_a_per_dm2), np.array(self.curve_ratio)
        k = np.clip(np.searchsorted(points, density, side="right") - 1, 0, len(points) - 2)
        share = (density - points[k]) / (points[k + 1] - points[k])
        found = ratio[k] + share * (ratio[k + 1] - ratio[k])
        return np.where((density >= points[0]) & (density <= points[-1]), found, np.nan)
