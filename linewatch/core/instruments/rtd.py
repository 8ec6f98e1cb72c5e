"""Platinum resistance thermometers.

References:
    IEC 60751:2022: R(t) = R0 (1 + A t + B t^2) from 0 to 850 °C, with the further term
    C (t - 100) t^3 from -200 to 0 °C (Callendar - Van Dusen).
"""

from __future__ import annotations

from math import sqrt

from linewatch.core.errors import OutsideValidity

A_PER_DEGC = 3.9083e-3
"""IEC 60751."""
B_PER_DEGC2 = -5.775e-7
"""IEC 60751."""
C_PER_DEGC4 = -4.183e-12
"""IEC 60751; below 0 °C only."""
LOW_DEGC = -200.0
HIGH_DEGC = 850.0
PT100_OHM = 100.0


def resistance_ohm(temperature_degc: float, *, zero_ohm: float = PT100_OHM) -> float:
    """Return the resistance of a platinum thermometer.

    Args:
        temperature_degc: Temperature [degC], from -200 to 850.
        zero_ohm: Resistance at 0 °C [ohm].

    Returns:
        Resistance [ohm].

    Raises:
        OutsideValidity: the temperature is outside the standard's range.

    Examples:
        >>> resistance_ohm(100.0)
        138.5055
    """
    t = temperature_degc
    if not LOW_DEGC <= t <= HIGH_DEGC:
        raise OutsideValidity("temperature", t, LOW_DEGC, HIGH_DEGC, "degC")
    below = C_PER_DEGC4 * (t - 100.0) * t**3 if t < 0.0 else 0.0
    return zero_ohm * (1.0 + A_PER_DEGC * t + B_PER_DEGC2 * t * t + below)


LOW_RATIO = resistance_ohm(LOW_DEGC) / PT100_OHM
HIGH_RATIO = resistance_ohm(HIGH_DEGC) / PT100_OHM
NEWTON_STEPS = 8
"""From the quadratic's start four steps reach the last bit everywhere in the range."""


def temperature_degc(resistance: float, *, zero_ohm: float = PT100_OHM) -> float:
    """Return the temperature of a platinum thermometer; the inverse of `resistance_ohm`.

    Args:
        resistance: Resistance [ohm].
        zero_ohm: Resistance at 0 °C [ohm].

    Returns:
        Temperature [degC].

    Raises:
        OutsideValidity: the resistance is outside what the standard's range gives: an open or
            shorted thermometer, or another kind.

    Examples:
        >>> temperature_degc(108.5)
        21.8189
    """
    ratio = resistance / zero_ohm
    if not LOW_RATIO <= ratio <= HIGH_RATIO:
        raise OutsideValidity(
            "resistance", resistance, LOW_RATIO * zero_ohm, HIGH_RATIO * zero_ohm, "ohm"
        )
    root = A_PER_DEGC**2 - 4.0 * B_PER_DEGC2 * (1.0 - ratio)
    t = (sqrt(root) - A_PER_DEGC) / (2.0 * B_PER_DEGC2)
    if ratio >= 1.0:
        return t
    for _ in range(NEWTON_STEPS):
        short = 1.0 + A_PER_DEGC * t + B_PER_DEGC2 * t * t + C_PER_DEGC4 * (t - 100.0) * t**3
        slope = A_PER_DEGC + 2.0 * B_PER_DEGC2 * t + C_PER_DEGC4 * t * t * (4.0 * t - 300.0)
        t -= (short - ratio) / slope
    return t
