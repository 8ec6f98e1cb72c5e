"""What ripple a rectifier should have, from its circuit: healthy, turned down, or broken.

Rule 1: nothing is tabled. Every figure is computed from ideal sinusoidal phases, the devices
        that conduct and the firing angle.
Rule 2: ripple is the rms of the alternating part over the mean ('rms/dc'), or the swing from
        peak to peak over the mean ('pp/dc'); both of the unsmoothed voltage. A choke makes a
        real unit's ripple smaller by a factor that is its own, so that a measured figure is
        compared with the unit's own good running, scaled by these.
Rule 3: a unit turned down ripples more. A figure without its firing angle (or its share of
        full output) says nothing about health.

References:
    The waveforms follow from the circuits; see any text on power electronics, for example
    N. Mohan, T. Undeland, W. Robbins, "Power Electronics", 3rd ed. (2003), chapters 5 and 6.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.errors import OutsideValidity

if TYPE_CHECKING:
    from numpy.typing import NDArray

SAMPLES = 14_400
"""Points over one mains period: a multiple of 12 and 5, so that every commutation of a 3-,
6- or 12-pulse circuit falls on a point."""

FULL_TURN_RAD = 2.0 * np.pi


class Circuit(StrEnum):
    """How the devices are connected."""

    ONE_PULSE = "one-pulse"
    TWO_PULSE = "two-pulse"
    THREE_PULSE = "three-pulse star"
    SIX_PULSE = "six-pulse bridge"
    DOUBLE_STAR = "double star with interphase transformer"
    TWELVE_PULSE = "twelve-pulse, bridges in series"


class Fault(StrEnum):
    """What is broken."""

    NONE = "none"
    DEVICE = "one device open"
    PHASE = "one phase lost"
    TWO_SAME_HALF = "two devices open in the same half"
    BRIDGE = "one bridge bypassed"


CIRCUIT_OF_PULSES: dict[int, Circuit] = {
    1: Circuit.ONE_PULSE,
    2: Circuit.TWO_PULSE,
    3: Circuit.THREE_PULSE,
    6: Circuit.SIX_PULSE,
    12: Circuit.TWELVE_PULSE,
}
"""The usual circuit of each pulse number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RipplePicture:
    """What an unsmoothed waveform shows."""

    dc_ratio: float
    """Mean over the mean of the same circuit healthy and fully on [1]."""
    rms_ratio: float
    """Rms of the alternating part over the mean [1]."""
    pp_ratio: float
    """Peak to peak over the mean [1]."""


def _phases(turn_rad: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the three phase voltages, amplitude 1, shape (3, n)."""
    shift = FULL_TURN_RAD * np.arange(3)[:, np.newaxis] / 3.0
    waves: NDArray[np.float64] = np.cos(turn_rad[np.newaxis, :] - shift)
    return waves


def _group(
    turn_rad: NDArray[np.float64], delay_rad: float, devices: tuple[int, ...], sign: float
) -> NDArray[np.float64]:
    """Return the voltage of one commutating group of devices over one period.

    Args:
        turn_rad: Angle [rad], shape (n,).
        delay_rad: Firing angle [rad].
        devices: Which of the three devices still conduct.
        sign: 1 for the group with common cathodes, -1 for the other.

    Returns:
        Voltage against the star point, in phase amplitudes, shape (n,).
    """
    # With firing delayed, the device that conducts at an angle is the one that a diode
    # circuit would have had a delay earlier; the voltage is still that of the angle.
    natural = sign * _phases(turn_rad - delay_rad)[list(devices)]
    chosen = np.argmax(natural, axis=0)
    present: NDArray[np.float64] = _phases(turn_rad)[list(devices)]
    picked: NDArray[np.float64] = present[chosen, np.arange(turn_rad.size)]
    return picked


def _bridge(
    turn_rad: NDArray[np.float64],
    delay_rad: float,
    upper: tuple[int, ...],
    lower: tuple[int, ...],
) -> NDArray[np.float64]:
    high = _group(turn_rad, delay_rad, upper, 1.0)
    low = _group(turn_rad, delay_rad, lower, -1.0)
    # A device cannot carry current backwards: with a resistive load the output never goes
    # below zero, whatever the firing angle.
    return np.maximum(high - low, 0.0)


_ALL = (0, 1, 2)
_UPPER_LOWER: dict[Fault, tuple[tuple[int, ...], tuple[int, ...]]] = {
    Fault.NONE: (_ALL, _ALL),
    Fault.DEVICE: ((1, 2), _ALL),
    Fault.PHASE: ((1, 2), (1, 2)),
    Fault.TWO_SAME_HALF: ((2,), _ALL),
}


def waveform(
    circuit: Circuit, fault: Fault, firing_rad: float, samples: int = SAMPLES
) -> NDArray[np.float64]:
    """Return the unsmoothed output voltage over one mains period into a resistive load.

    Args:
        circuit: How the devices are connected.
        fault: What is broken.
        firing_rad: Firing angle [rad], from 0 (fully on, as diodes) to below pi.
        samples: Points over the period, a multiple of 12.

    Returns:
        Voltage in phase amplitudes, shape (samples,).

    Raises:
        OutsideValidity: the firing angle is outside 0 to pi.
        ValueError: the circuit cannot have that fault.
    """
    if not 0.0 <= firing_rad < np.pi:
        raise OutsideValidity("firing angle", firing_rad, 0.0, float(np.pi), "rad")
    turn_rad = FULL_TURN_RAD * np.arange(samples) / samples
    match circuit:
        case Circuit.ONE_PULSE | Circuit.TWO_PULSE:
            return _single_phase(turn_rad, circuit, fault, firing_rad)
        case Circuit.THREE_PULSE:
            upper, _ = _devices(circuit, fault)
            return np.maximum(_group(turn_rad, firing_rad, upper, 1.0), 0.0)
        case Circuit.SIX_PULSE | Circuit.DOUBLE_STAR:
            upper, lower = _devices(circuit, fault)
            whole = _bridge(turn_rad, firing_rad, upper, lower)
            # The interphase transformer shows the load the mean of two stars half a pulse
            # apart, which has the bridge's shape at half its height.
            return whole if circuit is Circuit.SIX_PULSE else whole / 2.0
        case Circuit.TWELVE_PULSE:
            return _twelve_pulse(turn_rad, fault, firing_rad)


def _devices(circuit: Circuit, fault: Fault) -> tuple[tuple[int, ...], tuple[int, ...]]:
    if fault not in _UPPER_LOWER or (circuit is Circuit.THREE_PULSE and fault is Fault.PHASE):
        raise ValueError(f"a {circuit} cannot have the fault '{fault}'")
    return _UPPER_LOWER[fault]


def _single_phase(
    turn_rad: NDArray[np.float64], circuit: Circuit, fault: Fault, firing_rad: float
) -> NDArray[np.float64]:
    broken = fault is Fault.DEVICE and circuit is Circuit.TWO_PULSE
    if fault is not Fault.NONE and not broken:
        raise ValueError(f"a {circuit} cannot have the fault '{fault}'")
    wave = np.sin(turn_rad)
    half = np.mod(turn_rad, np.pi)
    if broken or circuit is Circuit.ONE_PULSE:
        wave = np.maximum(wave, 0.0)
    return np.where(half >= firing_rad, np.abs(wave), 0.0)


def _twelve_pulse(
    turn_rad: NDArray[np.float64], fault: Fault, firing_rad: float
) -> NDArray[np.float64]:
    first = _bridge(turn_rad, firing_rad, _ALL, _ALL)
    if fault is Fault.BRIDGE:
        return first
    upper, lower = _devices(Circuit.TWELVE_PULSE, fault)
    return first + _bridge(turn_rad + np.pi / 6.0, firing_rad, upper, lower)


@lru_cache(maxsize=4096)
def expected(
    circuit: Circuit, fault: Fault, firing_rad: float = 0.0, samples: int = SAMPLES
) -> RipplePicture:
    """Return what the unsmoothed output of a circuit shows.

    Args:
        circuit: How the devices are connected.
        fault: What is broken.
        firing_rad: Firing angle [rad].
        samples: Points over the period; fewer for a table that is only read between points.

    Returns:
        Mean against the healthy circuit fully on, and both ripples.

    Raises:
        OutsideValidity: the firing angle is outside 0 to pi.
        ValueError: the circuit cannot have that fault.

    Examples:
        >>> round(expected(Circuit.SIX_PULSE, Fault.NONE).rms_ratio, 4)
        0.042
        >>> round(expected(Circuit.SIX_PULSE, Fault.DEVICE).dc_ratio, 4)
        0.8333
    """
    wave = waveform(circuit, fault, firing_rad, samples)
    mean = float(wave.mean())
    whole = float(waveform(circuit, Fault.NONE, 0.0, samples).mean())
    if mean <= 0.0:
        return RipplePicture(dc_ratio=0.0, rms_ratio=float("inf"), pp_ratio=float("inf"))
    return RipplePicture(
        dc_ratio=mean / whole,
        rms_ratio=float(wave.std()) / mean,
        pp_ratio=float(wave.max() - wave.min()) / mean,
    )


def harmonic_ratio(circuit: Circuit, order: int) -> float:
    """Return the peak of one harmonic of the mains over the mean, healthy and fully on.

    Args:
        circuit: How the devices are connected.
        order: Harmonic of the mains frequency, from 1.

    Returns:
        Peak over mean [1].

    Raises:
        OutsideValidity: `order` is below 1 or beyond what the sampling shows.
    """
    if not 1 <= order <= SAMPLES // 20:
        raise OutsideValidity("harmonic", order, 1, SAMPLES // 20, "")
    wave = waveform(circuit, Fault.NONE, 0.0)
    spectrum = np.abs(np.fft.rfft(wave)) / wave.size
    return float(2.0 * spectrum[order] / spectrum[0])


def firing_for_output(circuit: Circuit, output_ratio: float) -> float:
    """Return the firing angle at which a healthy circuit gives a share of its full output.

    Args:
        circuit: How the devices are connected.
        output_ratio: Mean over the fully-on mean [1], above 0 to 1.

    Returns:
        Firing angle [rad].

    Raises:
        OutsideValidity: the share is not above 0 and at most 1.
    """
    if not 0.0 < output_ratio <= 1.0:
        raise OutsideValidity("share of full output", output_ratio, 0.0, 1.0, "")
    # Imported here: SciPy costs a tenth of a second at start.
    from scipy.optimize import brentq

    def above(firing_rad: float) -> float:
        return expected(circuit, Fault.NONE, firing_rad).dc_ratio - output_ratio

    if above(0.0) <= 0.0:
        return 0.0
    return float(brentq(above, 0.0, np.pi * (1.0 - 1e-9), xtol=1e-4))
