"""Ripple of the rectifiers: by phase angle, smoothing and lost devices.

Worked out from the wave itself. A bridge of p pulses shows the highest of p shifted sines; a
phase-cut one fires each late by an angle. A pulse whose device is gone never fires: the one
before it goes on along its own sine until it would turn negative.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

ALIVE: dict[tuple[int, int], tuple[int, ...]] = {
    (2, 0): (0, 1),
    (2, 1): (0,),
    (3, 0): (0, 1, 2),
    (3, 1): (0, 1),
    (6, 0): (0, 1, 2, 3, 4, 5),
    (6, 1): (0, 1, 2, 3),
    (6, 2): (0, 3),
    (12, 0): tuple(range(12)),
    (12, 1): tuple(range(10)),
}
"""Pulses that fire, by pulse number and kind of loss: 1 is one device, 2 an input phase."""


def _phase_cut(
    pulses: int, alive: tuple[int, ...]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (mean against the whole bridge fully fired, rms ripple against the mean [%])."""
    angle = np.linspace(0.0, 2.0 * np.pi, 1440, endpoint=False)
    width = 2.0 * np.pi / pulses
    centre = np.array(alive) * width
    spacing = (centre - np.roll(centre, 1) - 1e-9) % (2.0 * np.pi)
    natural = centre - np.minimum(spacing / 2.0, np.pi / 2.0)
    full = float(np.sin(width / 2.0) / (width / 2.0))
    means, ripples = [], []
    for late in np.linspace(0.0, 0.97, 98) * (np.pi / 2.0 + width / 2.0):
        # The one that fired last conducts.
        since = (angle[:, None] - natural - late) % (2.0 * np.pi)
        on = since.argmin(axis=1)
        wave = np.maximum(np.cos(natural[on] + late + since.min(axis=1) - centre[on]), 0.0)
        mean = float(np.mean(wave))
        means.append(mean / full)
        swing = float(np.sqrt(max(np.mean(wave * wave) - mean * mean, 0.0)))
        ripples.append(100.0 * swing / mean)
    order = np.argsort(means)
    return np.array(means)[order], np.array(ripples)[order]


CURVES = {key: _phase_cut(key[0], alive) for key, alive in ALIVE.items()}
"""Ripple against output, by pulse number and kind of loss."""


def ripple_percent(
    share: NDArray[np.float64],
    pulses: NDArray[np.float64],
    choke: NDArray[np.float64],
    lost: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return rms ripple against the mean [%]: by output share, pulses, smoothing and loss."""
    ripple = 0.4 + 0.8 * (1.0 - share)
    for (p, gone), (mean, curve) in CURVES.items():
        mine = (pulses == p) & (lost == gone)
        if mine.any():
            # A device that is lost leaves holes that no choke of this size bridges.
            left = choke if gone == 0 else np.maximum(choke, 0.7)
            ripple[mine] = np.interp(share[mine], mean, curve) * left[mine]
    return ripple
