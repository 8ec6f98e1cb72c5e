"""What a pH electrode gives in theory.

References:
    W. Nernst, Z. Phys. Chem. 4 (1889) 129-181: 2.303 R T / F a unit of pH.
    R = k N_A with k = 1.380649e-23 J/K, exact since 2019 (SI Brochure, 9th edition, table 1).
"""

from __future__ import annotations

from math import log

from linewatch.core.errors import OutsideValidity

BOLTZMANN_J_PER_K = 1.380649e-23
"""Exact since 2019 (SI Brochure, 9th edition)."""
ELEMENTARY_CHARGE_C = 1.602176634e-19
"""Exact since 2019 (SI Brochure, 9th edition)."""
ZERO_DEGC_K = 273.15
LOW_DEGC = -10.0
HIGH_DEGC = 130.0
"""Range of industrial glass electrodes (common practice)."""


def slope_mv_per_ph(temperature_degc: float) -> float:
    """Return the slope of an ideal electrode: what a real one is compared with.

    Args:
        temperature_degc: Temperature of the solution [degC], from -10 to 130.

    Returns:
        Voltage a unit of pH [mV].

    Raises:
        OutsideValidity: the temperature is outside the range, or not a number.

    Examples:
        >>> slope_mv_per_ph(25.0)
        59.159
    """
    if not LOW_DEGC <= temperature_degc <= HIGH_DEGC:
        raise OutsideValidity("temperature", temperature_degc, LOW_DEGC, HIGH_DEGC, "degC")
    kelvin = temperature_degc + ZERO_DEGC_K
    return 1000.0 * log(10.0) * BOLTZMANN_J_PER_K * kelvin / ELEMENTARY_CHARGE_C
