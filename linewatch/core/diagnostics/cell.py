"""The cell line: rectifier voltage against current, V = V0 + k i.

V0 is the electrode part (reversible difference and both overvoltages), nearly constant over
the working range; k holds the solution, contacts, bus bars and anodes. A slow rise of k is
contacts or anodes; a sudden step is a lost contact. Neither can be told from a fit through
one working point: the line is refused unless the current varied enough and the area is known.

References:
    H. Theil, "A rank-invariant method of linear and polynomial regression analysis", Indag.
    Math. 12 (1950) 85-91; P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379-1389, as
    `scipy.stats.theilslopes` has it: up to 29 % of the points may be wild.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.errors import OutsideValidity, Refused

if TYPE_CHECKING:
    from numpy.typing import NDArray

INFINITE = float("inf")
LEAST_VARIATION_RATIO = 0.30
"""The current must have varied by this share of its largest value."""
LARGEST_AREA_TOLERANCE_RATIO = 0.05
"""The area must be known to this share; otherwise k would be the area's doubt."""
LEAST_POINTS = 20
MOST_POINTS = 400
"""Slopes are taken of all pairs; more points are thinned evenly to this many."""
TEMPERATURE_PER_K = 0.0175
"""k falls by 1.5 to 2 % a kelvin of temperature rise (from memory; the middle is used)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellLine:
    """A fitted line of one cell, at a reference temperature and area."""

    v0_v: float
    """Voltage at no current [V]: the electrodes' part."""
    slope_ohm_dm2: float
    """Rise over current density [V/(A/dm2)]."""
    slope_low_ohm_dm2: float
    """Lower end of the slope's 95 % interval."""
    slope_high_ohm_dm2: float
    spread_v: float
    """Robust standard deviation of the residuals [V]."""
    points: int
    temperature_degc: float

    def voltage_v(self, current_density_a_per_dm2: float, temperature_degc: float) -> float:
        """Return the voltage that the line expects.

        Args:
            current_density_a_per_dm2: Current density [A/dm2].
            temperature_degc: Of the bath [degC].

        Returns:
            Voltage [V].
        """
        slope = self.slope_ohm_dm2 * temperature_factor(temperature_degc, self.temperature_degc)
        return self.v0_v + slope * current_density_a_per_dm2


def temperature_factor(temperature_degc: float, reference_degc: float) -> float:
    """Return by how much the solution's part differs from that at a reference temperature.

    Args:
        temperature_degc: Of the bath [degC].
        reference_degc: At which the line was learned [degC].

    Returns:
        Factor on the slope [1]; below 1 for a warmer bath.
    """
    return float(np.exp(-TEMPERATURE_PER_K * (temperature_degc - reference_degc)))


def fit_cell_line(
    current_density_a_per_dm2: NDArray[np.float64],
    voltage_v: NDArray[np.float64],
    temperature_degc: NDArray[np.float64],
    *,
    area_tolerance_ratio: float,
) -> CellLine:
    """Return the line through a span of working points.

    Args:
        current_density_a_per_dm2: Current density [A/dm2], shape (n,); NaN points are left out.
        voltage_v: Voltage [V], shape (n,).
        temperature_degc: Of the bath [degC], shape (n,).
        area_tolerance_ratio: How well the area is known [1].

    Returns:
        The line, at the span's median temperature.

    Raises:
        Refused: too few points, too little variation, or an area that is not known well.
        OutsideValidity: the area's tolerance is negative or not a number.
    """
    if not 0.0 <= area_tolerance_ratio < INFINITE:
        raise OutsideValidity("tolerance of the area", area_tolerance_ratio, 0.0, INFINITE, "")
    asked = "line of the cell"
    if area_tolerance_ratio > LARGEST_AREA_TOLERANCE_RATIO:
        raise Refused(asked, f"the area is known to {area_tolerance_ratio:.0%} only")
    good = (
        np.isfinite(current_density_a_per_dm2)
        & np.isfinite(voltage_v)
        & np.isfinite(temperature_degc)
        & (current_density_a_per_dm2 > 0.0)
    )
    density, volts = current_density_a_per_dm2[good], voltage_v[good]
    warmth = temperature_degc[good]
    if density.size < LEAST_POINTS:
        raise Refused(asked, f"only {density.size} good points, {LEAST_POINTS} are needed")
    low, high = np.quantile(density, [0.02, 0.98])
    if high - low < LEAST_VARIATION_RATIO * high:
        raise Refused(asked, f"the current varied by {(high - low) / high:.0%} only")
    reference = float(np.median(warmth))
    thin = np.linspace(0, density.size - 1, min(density.size, MOST_POINTS)).astype(int)
    # The temperature acts on the slope's part alone: a warmer point is one of less current.
    scaled = density * np.exp(-TEMPERATURE_PER_K * (warmth - reference))
    # Imported here: SciPy costs a tenth of a second at start.
    from scipy.stats import theilslopes

    slope, intercept, slope_low, slope_high = theilslopes(volts[thin], scaled[thin], alpha=0.95)
    residual = volts - (intercept + slope * scaled)
    spread = 1.4826 * float(np.median(np.abs(residual - np.median(residual))))
    return CellLine(
        v0_v=float(intercept),
        slope_ohm_dm2=float(slope),
        slope_low_ohm_dm2=float(slope_low),
        slope_high_ohm_dm2=float(slope_high),
        spread_v=spread,
        points=int(density.size),
        temperature_degc=reference,
    )


def contact_loss_w(current_a: float, extra_resistance_ohm: float) -> float:
    """Return the heat that an extra resistance makes.

    Args:
        current_a: Current [A].
        extra_resistance_ohm: Resistance above the good one's [ohm], not negative.

    Returns:
        Loss [W].

    Raises:
        OutsideValidity: an argument is not finite, or the resistance negative.

    Examples:
        >>> contact_loss_w(5000.0, 10e-3 / 5000.0)
        50.0
    """
    if not abs(current_a) < INFINITE:
        raise OutsideValidity("current", current_a, -INFINITE, INFINITE, "A")
    if not 0.0 <= extra_resistance_ohm < INFINITE:
        raise OutsideValidity("extra resistance", extra_resistance_ohm, 0.0, INFINITE, "ohm")
    return current_a**2 * extra_resistance_ohm


COPPER_OHM_M = 1.0 / 58.0e6
"""Resistivity of annealed copper at 20 °C: 58 MS/m is 100 % IACS (IEC 60028, 1925)."""


def bus_drop_v(current_a: float, length_m: float, section_mm2: float) -> float:
    """Return the voltage drop of copper bus bars at 20 °C.

    Args:
        current_a: Current [A].
        length_m: Copper length, both ways together [m], not negative.
        section_mm2: Cross-section [mm2], above 0.

    Returns:
        Drop [V].

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    References:
        IEC 60028 (1925): resistivity of copper.

    Examples:
        >>> bus_drop_v(5000.0, 10.0, 5 * 645.16)
        0.26724
    """
    if not abs(current_a) < INFINITE:
        raise OutsideValidity("current", current_a, -INFINITE, INFINITE, "A")
    if not 0.0 <= length_m < INFINITE:
        raise OutsideValidity("length", length_m, 0.0, INFINITE, "m")
    if not 0.0 < section_mm2 < INFINITE:
        raise OutsideValidity("cross-section", section_mm2, 0.0, INFINITE, "mm2")
    return current_a * COPPER_OHM_M * length_m / (section_mm2 * 1e-6)
