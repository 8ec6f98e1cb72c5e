"""Thermoelectric voltages of types J, K, N and T, with cold junction.

Rule: voltages add up, temperatures do not. The voltage of the terminals' temperature is added
before the inverse is taken; adding the temperatures is wrong by more than half a kelvin at
60 °C already.

References:
    NIST ITS-90 Thermocouple Database (Standard Reference Database 60), which reproduces
    G. W. Burns et al., NIST Monograph 175 (1993); the same functions as IEC 60584-1:2013.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from linewatch.core.errors import OutsideValidity


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of a reference function."""

    low_degc: float
    high_degc: float
    coefficients: tuple[float, ...]
    """Of rising powers of the temperature [mV/degC^n]."""


# NIST Monograph 175, reference functions E(t), millivolts and degrees Celsius.
PIECES: dict[str, tuple[Piece, ...]] = {
    "J": (
        Piece(
            low_degc=-210.0,
            high_degc=760.0,
            coefficients=(
                0.0,
                0.050381187815,
                3.047583693e-05,
                -8.568106572e-08,
                1.3228195295e-10,
                -1.7052958337e-13,
                2.0948090697e-16,
                -1.2538395336e-19,
                1.5631725697e-23,
            ),
        ),
        Piece(
            low_degc=760.0,
            high_degc=1200.0,
            coefficients=(
                296.45625681,
                -1.4976127786,
                0.0031787103924,
                -3.1847686701e-06,
                1.5720819004e-09,
                -3.0691369056e-13,
            ),
        ),
    ),
    "K": (
        Piece(
            low_degc=-270.0,
            high_degc=0.0,
            coefficients=(
                0.0,
                0.039450128025,
                2.3622373598e-05,
                -3.2858906784e-07,
                -4.9904828777e-09,
                -6.7509059173e-11,
                -5.7410327428e-13,
                -3.1088872894e-15,
                -1.0451609365e-17,
                -1.9889266878e-20,
                -1.6322697486e-23,
            ),
        ),
        Piece(
            low_degc=0.0,
            high_degc=1372.0,
            coefficients=(
                -0.017600413686,
                0.038921204975,
                1.8558770032e-05,
                -9.9457592874e-08,
                3.1840945719e-10,
                -5.6072844889e-13,
                5.6075059059e-16,
                -3.2020720003e-19,
                9.7151147152e-23,
                -1.2104721275e-26,
            ),
        ),
    ),
    "N": (
        Piece(
            low_degc=-270.0,
            high_degc=0.0,
            coefficients=(
                0.0,
                0.026159105962,
                1.0957484228e-05,
                -9.3841111554e-08,
                -4.6412039759e-11,
                -2.6303357716e-12,
                -2.2653438003e-14,
                -7.6089300791e-17,
                -9.3419667835e-20,
            ),
        ),
        Piece(
            low_degc=0.0,
            high_degc=1300.0,
            coefficients=(
                0.0,
                0.025929394601,
                1.571014188e-05,
                4.3825627237e-08,
                -2.5261169794e-10,
                6.4311819339e-13,
                -1.0063471519e-15,
                9.9745338992e-19,
                -6.0863245607e-22,
                2.0849229339e-25,
                -3.0682196151e-29,
            ),
        ),
    ),
    "T": (
        Piece(
            low_degc=-270.0,
            high_degc=0.0,
            coefficients=(
                0.0,
                0.038748106364,
                4.4194434347e-05,
                1.1844323105e-07,
                2.0032973554e-08,
                9.0138019559e-10,
                2.2651156593e-11,
                3.6071154205e-13,
                3.8493939883e-15,
                2.8213521925e-17,
                1.4251594779e-19,
                4.8768662286e-22,
                1.079553927e-24,
                1.3945027062e-27,
                7.9795153927e-31,
            ),
        ),
        Piece(
            low_degc=0.0,
            high_degc=400.0,
            coefficients=(
                0.0,
                0.038748106364,
                3.329222788e-05,
                2.0618243404e-07,
                -2.1882256846e-09,
                1.0996880928e-11,
                -3.0815758772e-14,
                4.547913529e-17,
                -2.7512901673e-20,
            ),
        ),
    ),
}
"""By type letter."""

K_BUMP_MV = 0.1185976
K_BUMP_PER_DEGC2 = -1.183432e-4
K_BUMP_DEGC = 126.9686
"""Type K above 0 °C has the further term a0 exp(a1 (t - a2)^2) (NIST Monograph 175)."""


def emf_mv(kind: str, temperature_degc: float) -> float:
    """Return the thermoelectric voltage against a reference junction at 0 °C.

    Args:
        kind: Type letter: J, K, N or T.
        temperature_degc: Temperature of the measuring junction [degC].

    Returns:
        Voltage [mV].

    Raises:
        KeyError: the type is not known.
        OutsideValidity: the temperature is outside the type's reference function.

    Examples:
        >>> emf_mv("K", 100.0)
        4.0962
    """
    pieces = PIECES[kind]
    t = temperature_degc
    for piece in pieces:
        if piece.low_degc <= t <= piece.high_degc:
            total = 0.0
            for coefficient in reversed(piece.coefficients):
                total = total * t + coefficient
            if kind == "K" and piece.low_degc >= 0.0:
                total += K_BUMP_MV * exp(K_BUMP_PER_DEGC2 * (t - K_BUMP_DEGC) ** 2)
            return total
    raise OutsideValidity("temperature", t, pieces[0].low_degc, pieces[-1].high_degc, "degC")


LOWEST_DEGC = -200.0
"""Below it the voltage hardly changes any more, and no inverse is worth having."""
BISECTIONS = 60


def temperature_degc(kind: str, voltage_mv: float, *, cold_junction_degc: float) -> float:
    """Return the temperature of a measuring junction.

    Args:
        kind: Type letter: J, K, N or T.
        voltage_mv: Voltage at the terminals [mV].
        cold_junction_degc: Temperature of the terminals [degC]; it has no default.

    Returns:
        Temperature [degC].

    Raises:
        KeyError: the type is not known.
        OutsideValidity: the voltage or the cold junction is outside the type's range.

    Examples:
        >>> temperature_degc("K", 1.4362, cold_junction_degc=25.0)
        60.00
    """
    low, high = LOWEST_DEGC, PIECES[kind][-1].high_degc
    whole_mv = voltage_mv + emf_mv(kind, cold_junction_degc)
    low_mv, high_mv = emf_mv(kind, low), emf_mv(kind, high)
    if not low_mv <= whole_mv <= high_mv:
        raise OutsideValidity("thermoelectric voltage", whole_mv, low_mv, high_mv, "mV")
    # Halving the range inverts the reference function itself; the published inverse
    # polynomials are only within 0.05 K of it.
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        if emf_mv(kind, middle) < whole_mv:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
