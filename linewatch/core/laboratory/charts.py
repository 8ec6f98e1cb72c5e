"""Is a bath under control? Shewhart's chart of individuals and moving ranges, with run rules.

References:
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals control charts) and
    6.3.2 (the Western Electric rules): the rules in use here.
    W. A. Shewhart, "Economic Control of Quality of Manufactured Product" (1931).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt
from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.errors import UnitMismatch

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.laboratory.analyses import Analysis

D2: Final = 2.0 / sqrt(pi)
"""Mean range of two normal values over their standard deviation: worked out, not tabled."""
D3: Final = sqrt(2.0 - 4.0 / pi)
"""Standard deviation of that range, over that of the values."""
E2: Final = 3.0 / D2
"""Three standard deviations of a value, over the mean moving range."""
UPPER_RANGE: Final = 1.0 + 3.0 * D3 / D2
"""Upper limit of a moving range, over its mean (the tables' D4 for two)."""
LEAST: Final = 8
"""Values from which limits are formed; fewer say nothing. The handbook wants 20 or more."""
BASE: Final = 25
"""First values, from which the limits are formed and then stand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """The limits of a chart."""

    mean: float
    sigma: float
    """Standard deviation by the mean moving range."""
    values: int
    """From how many values."""

    @property
    def low(self) -> float:
        """Lower control limit."""
        return self.mean - 3.0 * self.sigma

    @property
    def high(self) -> float:
        """Upper control limit."""
        return self.mean + 3.0 * self.sigma

    @property
    def largest_range(self) -> float:
        """Upper limit of a moving range."""
        return UPPER_RANGE * self.sigma * D2


def chart_of(values: Sequence[float]) -> Chart | None:
    """Return the chart of values in order of time.

    Args:
        values: Found values; the first `BASE` of them make the limits.

    Returns:
        The chart; None from fewer than `LEAST` values, or from values that never differ.
    """
    base = list(values[:BASE])
    if len(base) < LEAST:
        return None
    ranges = [abs(after - before) for before, after in pairwise(base)]
    sigma = sum(ranges) / len(ranges) / D2
    if not sigma > 0.0:
        return None
    return Chart(mean=sum(base) / len(base), sigma=sigma, values=len(base))


def in_one_unit(found: Sequence[Analysis]) -> tuple[list[float], str, bool]:
    """Return the values of one substance in the unit in which it is usually told.

    What was typed stays in the record; only the chart is in one unit.

    Returns:
        (values, unit, whether all of them could be converted).
    """
    if not found:
        return [], "", True
    # Of units that are as usual as each other the first, so that a chart keeps its unit.
    unit = Counter(each.unit for each in found).most_common(1)[0][0]
    values = [_converted(each, unit) for each in found]
    told = [
        each.value if value is None else value
        for each, value in zip(found, values, strict=True)
    ]
    return told, unit, None not in values


def _converted(analysis: Analysis, unit: str) -> float | None:
    try:
        return units.convert(analysis.value, analysis.unit, unit)
    except UnitMismatch:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A value at which a rule speaks."""

    index: int
    rule: str


def signals(values: Sequence[float], chart: Chart) -> tuple[Signal, ...]:
    """Return where the Western Electric rules speak.

    Args:
        values: Found values in order of time.
        chart: The limits.

    Returns:
        At most one signal a value, the strongest.
    """
    found = []
    standard = [(value - chart.mean) / chart.sigma for value in values]
    for index in range(len(standard)):
        rule = _rule(standard[: index + 1])
        if not rule and index:
            moved = abs(values[index] - values[index - 1])
            rule = "jump from the value before" if moved > chart.largest_range else ""
        if rule:
            found.append(Signal(index=index, rule=rule))
    return tuple(found)


def _rule(standard: Sequence[float]) -> str:
    if abs(standard[-1]) > 3.0:  # noqa: PLR2004 - the rule's own
        return "beyond three standard deviations"
    for side in (1.0, -1.0):
        on_side = [side * each for each in standard]
        # Only a value that is part of the pattern itself completes it.
        if on_side[-1] > 2.0 and _among(on_side, 3, 2.0) >= 2:  # noqa: PLR2004
            return "two of three beyond two standard deviations"
        if on_side[-1] > 1.0 and _among(on_side, 5, 1.0) >= 4:  # noqa: PLR2004
            return "four of five beyond one standard deviation"
        if len(on_side) >= 8 and all(each > 0.0 for each in on_side[-8:]):  # noqa: PLR2004
            return "eight in a row on one side"
    return ""


def _among(on_side: Sequence[float], last: int, beyond: float) -> int:
    return sum(each > beyond for each in on_side[-last:])
