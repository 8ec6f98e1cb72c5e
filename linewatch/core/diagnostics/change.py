"""Has a figure changed? Two charts with a stated rate of false alarms.

A residual is first brought to standard units: (value - mean) / standard deviation, both
learned from good running. The cumulative sum finds a small lasting shift soon; the
exponentially weighted mean shows it to people.

References:
    E. S. Page, "Continuous inspection schemes", Biometrika 41 (1954) 100-115 (cumulative sum).
    S. W. Roberts, "Control chart tests based on geometric moving averages", Technometrics 1
    (1959) 239-250 (exponentially weighted mean).
    D. Brook, D. A. Evans, "An approach to the probability distribution of cusum run length",
    Biometrika 59 (1972) 539-549 (run length by a Markov chain).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erf, sqrt

import numpy as np

from linewatch.core.errors import OutsideValidity

INFINITE = float("inf")
MOST = 3.0
"""Thresholds that a sum grows to at most, so that what has ended is soon seen to have ended."""
OVER = 0.2
"""Share of the threshold at which a change that was told is over."""


def summed(total: float, standard: float, slack: float, threshold: float) -> float:
    """Return a one-sided sum after one more residual, bounded above.

    Args:
        total: The sum before.
        standard: Residual in standard units; its negative for the sum of falls.
        slack: Half the shift that is to be found, in standard units [1].
        threshold: Sum at which a change is said.
    """
    return max(0.0, min(total + standard - slack, MOST * threshold))


def stands(total: float, threshold: float, *, was: bool, is_large: bool) -> bool:
    """Say whether a change stands: from the threshold on, until its sum is nearly gone.

    Args:
        total: Its sum.
        threshold: Sum at which it is said.
        was: Whether it stood before.
        is_large: Whether it is worth saying, however sure.

    Returns:
        Whether it stands now.
    """
    if total >= threshold and is_large:
        return True
    return was and total >= OVER * threshold


@dataclass(frozen=True, slots=True, kw_only=True)
class CusumChart:
    """A one-sided pair of cumulative sums.

    Args:
        slack: Half the shift that is to be found, in standard units [1].
        threshold: Sum at which a change is said, in standard units [1].
    """

    slack: float = 0.5
    threshold: float = 5.0

    def __post_init__(self) -> None:
        for name, value in (("slack", self.slack), ("threshold", self.threshold)):
            if not 0.0 < value < INFINITE:
                raise OutsideValidity(f"{name} of the chart", value, 0.0, INFINITE, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cusum:
    """Where a cumulative sum stands."""

    chart: CusumChart
    up: float = 0.0
    down: float = 0.0
    rising_since_ns: int | None = None
    """Line time at which the upper sum last left zero: when a rise began, if it is one."""
    falling_since_ns: int | None = None

    def take(self, standard: float, mono_ns: int) -> Cusum:
        """Return the sums after one more residual.

        Args:
            standard: Residual in standard units; NaN leaves everything as it is.
            mono_ns: Line time [ns].

        Returns:
            The sums.
        """
        if standard != standard:  # noqa: PLR0124 - NaN is the only number unlike itself
            return self
        up = max(0.0, self.up + standard - self.chart.slack)
        down = max(0.0, self.down - standard - self.chart.slack)
        return replace(
            self,
            up=up,
            down=down,
            rising_since_ns=_since(self.rising_since_ns, up, mono_ns),
            falling_since_ns=_since(self.falling_since_ns, down, mono_ns),
        )

    @property
    def has_risen(self) -> bool:
        """Say whether the figure has risen."""
        return self.up >= self.chart.threshold

    @property
    def has_fallen(self) -> bool:
        """Say whether the figure has fallen."""
        return self.down >= self.chart.threshold


def _since(before_ns: int | None, total: float, mono_ns: int) -> int | None:
    if total <= 0.0:
        return None
    return mono_ns if before_ns is None else before_ns


@dataclass(frozen=True, slots=True, kw_only=True)
class Ewma:
    """An exponentially weighted mean.

    Args:
        weight: Of the newest value [1], above 0 to 1.
        mean: Where it stands; None before the first value.
    """

    weight: float
    mean: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.weight <= 1.0:
            raise OutsideValidity("weight of the newest value", self.weight, 0.0, 1.0, "")

    def take(self, value: float) -> Ewma:
        """Return the mean after one more value; NaN leaves it as it is.

        Args:
            value: The value.

        Returns:
            The mean.
        """
        if value != value:  # noqa: PLR0124 - NaN is the only number unlike itself
            return self
        if self.mean is None:
            return replace(self, mean=value)
        return replace(self, mean=self.mean + self.weight * (value - self.mean))


STATES = 400
"""States of the Markov chain; more change the run length by under a percent."""


def run_length(chart: CusumChart, shift: float = 0.0) -> float:
    """Return the mean number of residuals until a one-sided sum says a change.

    With no shift this is the time between false alarms; two-sided charts have half of it.
    Residuals are taken as independent and normal: where they are not, the chart must be fed
    means over spans long enough that they are.

    Args:
        chart: Slack and threshold.
        shift: True shift of the mean, in standard units [1].

    Returns:
        Average run length [residuals].

    References:
        D. Brook, D. A. Evans, Biometrika 59 (1972) 539-549.
    """
    width = 2.0 * chart.threshold / (2 * STATES - 1)
    centre = np.arange(STATES) * width
    step = centre[np.newaxis, :] - centre[:, np.newaxis] + chart.slack - shift
    upper = _normal_below(step + width / 2.0)
    lower = _normal_below(step - width / 2.0)
    move = upper - lower
    # Whatever would fall below zero stays at zero.
    move[:, 0] = upper[:, 0]
    lengths = np.linalg.solve(np.eye(STATES) - move, np.ones(STATES))
    return float(lengths[0])


def _normal_below(standard: np.ndarray) -> np.ndarray:
    flat = [0.5 * (1.0 + erf(x / sqrt(2.0))) for x in standard.ravel()]
    return np.array(flat).reshape(standard.shape)


def false_alarms_per_1000(chart: CusumChart, residuals_per_unit: float) -> float:
    """Return how often a two-sided chart cries wolf in a thousand units of running.

    Args:
        chart: Slack and threshold.
        residuals_per_unit: How many residuals a unit of running (an hour, say) brings.

    Returns:
        False alarms in a thousand units.

    Raises:
        OutsideValidity: there is no residual.
    """
    if not 0.0 < residuals_per_unit < INFINITE:
        raise OutsideValidity("residuals a unit", residuals_per_unit, 0.0, INFINITE, "")
    return 1000.0 * residuals_per_unit * 2.0 / run_length(chart)
