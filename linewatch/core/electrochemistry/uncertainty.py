"""How sure a figure is: a budget of named terms, added in quadrature.

Every figure here is a product, so relative uncertainties add as squares. A term is a standard
uncertainty; what people are shown is twice that (k = 2), about 95 %.

References:
    JCGM 100:2008, "Guide to the expression of uncertainty in measurement" (GUM), 4.3.7
    (rectangular distribution), 5.1.6 (products), 6.2 (expanded uncertainty).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import floor, log10, sqrt

from linewatch.core.electrochemistry.validity import SHARE, not_negative, positive
from linewatch.core.errors import OutsideValidity

COVERAGE = 2.0
"""Coverage factor of every ± on screen (GUM 6.2.1: about 95 %)."""

AT_LEAST, AT_MOST = "at least ", "at most "
"""Before a total that misses what nobody metered; before one of which some may be gone."""


def bound_words(*, is_short: bool, is_less: bool) -> str:
    """Return what stands before a figure that misses some, or of which some may be gone."""
    if is_short and is_less:
        return "about "
    return AT_LEAST if is_short else AT_MOST if is_less else ""


def with_its_digits(value: float, doubt: float) -> tuple[str, str]:
    """Return a figure and its ± as text, with no digit that the ± does not allow.

    Args:
        value: The figure.
        doubt: Its ±, above 0, in the same unit.

    Returns:
        (figure, ±): the ± with two digits, the figure down to the place of the second.

    References:
        GUM 7.2.6.

    Examples:
        >>> with_its_digits(0.61728, 0.03582)
        ('0.617', '0.036')
    """
    places = 1 - floor(log10(float(f"{doubt:.2g}")))
    decimals = max(places, 0)
    return f"{round(value, places):.{decimals}f}", f"{round(doubt, places):.{decimals}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One cause of doubt."""

    name: str
    standard_ratio: float
    """Standard uncertainty over the figure [1]."""
    source: str = ""


def limits_term(name: str, half_width_ratio: float, source: str = "") -> Term:
    """Return the term of limits of error: nobody knows where between them the truth lies.

    Args:
        name: What is doubtful.
        half_width_ratio: Limit of error over the figure [1], not negative.
        source: Where the limit comes from.

    Returns:
        The term: half the width over the square root of three.

    Raises:
        OutsideValidity: the limit is negative or not a number.

    References:
        GUM 4.3.7.
    """
    not_negative(f"limit of error of {name}", half_width_ratio, SHARE)
    return Term(name=name, standard_ratio=half_width_ratio / sqrt(3.0), source=source)


@dataclass(frozen=True, kw_only=True)
class Budget:
    """All causes of doubt of one figure."""

    terms: tuple[Term, ...]

    @cached_property
    def standard_ratio(self) -> float:
        """Return the combined standard uncertainty over the figure [1]."""
        return sqrt(sum(term.standard_ratio**2 for term in self.terms))

    @property
    def expanded_ratio(self) -> float:
        """Return the ± that people are shown, over the figure [1]."""
        return COVERAGE * self.standard_ratio

    def and_(self, *more: Term) -> Budget:
        """Return this budget with further terms."""
        return Budget(terms=self.terms + more)


@lru_cache(maxsize=256)
def charge_budget(*, sensor_class_ratio: float, offset_ratio: float = 0.0) -> Budget:
    """Return the budget of a charge.

    Args:
        sensor_class_ratio: Limit of error of the current sensor over its reading [1].
        offset_ratio: Limit of its zero error over the mean current [1].

    Returns:
        The budget.

    Raises:
        OutsideValidity: a limit is negative or not a number.
    """
    terms = [limits_term("current sensor", sensor_class_ratio, "its class")]
    if offset_ratio:
        terms.append(limits_term("zero of the current sensor", offset_ratio, "calibration"))
    return Budget(terms=tuple(terms))


def mass_budget(
    charge: Budget,
    *,
    efficiency: float,
    low: float,
    high: float,
    equivalent_spread_ratio: float = 0.0,
) -> Budget:
    """Return the budget of a mass: the charge's, the efficiency's range, lead's molar mass.

    Args:
        charge: Budget of the charge.
        efficiency: Efficiency used [1], above 0.
        low: Lowest believed [1].
        high: Highest believed [1].
        equivalent_spread_ratio: The deposit's own, which only lead makes more than 0 [1].

    Returns:
        The budget.

    Raises:
        OutsideValidity: the efficiency is not above 0, or outside its own range.
    """
    positive("efficiency", efficiency, SHARE)
    if not low <= efficiency <= high:
        raise OutsideValidity("efficiency", efficiency, low, high, "")
    half = (high - low) / 2.0
    budget = charge.and_(limits_term("efficiency", half / efficiency, "its believed range"))
    if not equivalent_spread_ratio:
        return budget
    return budget.and_(
        limits_term("molar mass", equivalent_spread_ratio, "interval of the table")
    )


def thickness_budget(
    mass: Budget, *, area_tolerance_ratio: float, density_spread_ratio: float
) -> Budget:
    """Return the budget of a mean thickness: the mass's, the area's and the density's.

    Args:
        mass: Budget of the mass.
        area_tolerance_ratio: Limit of error of the area [1].
        density_spread_ratio: Half the spread of the density [1].

    Returns:
        The budget.

    Raises:
        OutsideValidity: a limit is negative or not a number.
    """
    return mass.and_(
        limits_term("area", area_tolerance_ratio, "tolerance of the area"),
        limits_term("density", density_spread_ratio, "spread of reference works"),
    )
