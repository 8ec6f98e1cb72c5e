"""Charge by trapezoids, in integers, so that no split, merge or order of work changes a bit.

Rule 1: a current is a whole number of microamperes, a time a whole number of nanoseconds.
        Twice the area of a trapezoid is then whole: `FINE` units of half a microampere-
        nanosecond. Sums of them are exact, and a total in microampere-seconds is cut from
        the sum when it is asked for, never before.
Rule 2: one sample at a time and many at once give the same sum: both add the same integers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

NS = 1_000_000_000
FINE_PER_UAS = 2 * NS
"""Fine units in one microampere-second: half a microampere-nanosecond each."""
UAS_PER_AH = 3_600_000_000
LARGEST_A = 1_000_000.0
"""A current beyond this is no current: a hundred times the largest plating rectifiers."""

_LOW_BITS = 20
_LOW_MASK = (1 << _LOW_BITS) - 1
_LONGEST_AT_ONCE_NS = 1 << 41
"""Up to here (37 min) the partial products of `_sum_products` fit in 63 bits."""


def microamperes(current_a: float) -> int:
    """Return a current in whole microamperes, half to even.

    Args:
        current_a: Current [A]; finite.

    Returns:
        Current [µA].
    """
    return round(current_a * 1e6)


def whole_microamperes(current_a: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return currents in whole microamperes; bit for bit as `microamperes`.

    Args:
        current_a: Currents [A], shape (n,); finite, at most `LARGEST_A`.

    Returns:
        Currents [µA], shape (n,).
    """
    return np.rint(current_a * 1e6).astype(np.int64)


def uas(fine: int) -> int:
    """Return a sum in whole microampere-seconds.

    Args:
        fine: Sum in fine units.

    Returns:
        Charge [µA s], rounded down; the rest stays in the sum.
    """
    return fine // FINE_PER_UAS


def trapezoid(before_ua: int, after_ua: int, dt_ns: int) -> tuple[int, int]:
    """Return the charge between two samples, forward and reverse apart.

    A line that crosses zero is split at the crossing. There the two triangles are rounded
    down to a fine unit each, so that turning the sign swaps them exactly.

    Args:
        before_ua: Current at the beginning [µA].
        after_ua: Current at the end [µA].
        dt_ns: Time between [ns].

    Returns:
        (charge of positive current, charge of negative current), both in fine units and
        not negative.
    """
    if before_ua >= 0 and after_ua >= 0:
        return (before_ua + after_ua) * dt_ns, 0
    if before_ua <= 0 and after_ua <= 0:
        return 0, -(before_ua + after_ua) * dt_ns
    swing = abs(before_ua) + abs(after_ua)
    head = before_ua * before_ua * dt_ns // swing
    tail = after_ua * after_ua * dt_ns // swing
    return (head, tail) if before_ua > 0 else (tail, head)


def trapezoids(current_ua: NDArray[np.int64], dt_ns: NDArray[np.int64]) -> tuple[int, int]:
    """Return the charge along many samples; the exact sum of `trapezoid` over them.

    Args:
        current_ua: Currents [µA], shape (n + 1,).
        dt_ns: Time between neighbours [ns], shape (n,); not negative.

    Returns:
        (charge of positive current, charge of negative current) in fine units.
    """
    before, after = current_ua[:-1], current_ua[1:]
    if int(current_ua.min(initial=0)) >= 0:
        return sum_products(before + after, dt_ns), 0
    if int(current_ua.max(initial=0)) <= 0:
        return 0, sum_products(-(before + after), dt_ns)
    crossing = ((before > 0) & (after < 0)) | ((before < 0) & (after > 0))
    both = np.where(crossing, 0, before + after)
    forward = sum_products(np.maximum(both, 0), dt_ns)
    reverse = sum_products(np.maximum(-both, 0), dt_ns)
    for k in np.flatnonzero(crossing).tolist():
        more = trapezoid(int(before[k]), int(after[k]), int(dt_ns[k]))
        forward += more[0]
        reverse += more[1]
    return forward, reverse


def sum_products(each: NDArray[np.int64], dt_ns: NDArray[np.int64]) -> int:
    """Return the exact sum of products, which 64 bits could not hold.

    Args:
        each: Values from 0 to 2**41, shape (n,).
        dt_ns: Times [ns], shape (n,); not negative.

    Returns:
        The sum as a Python integer.
    """
    total = 0
    pieces = [(each, dt_ns)]
    while pieces:
        values, times = pieces.pop()
        if int(times.sum()) <= _LONGEST_AT_ONCE_NS:
            high = int((values >> _LOW_BITS) @ times)
            total += (high << _LOW_BITS) + int((values & _LOW_MASK) @ times)
        elif len(times) == 1:
            total += int(values[0]) * int(times[0])
        else:
            half = len(times) // 2
            pieces += [(values[:half], times[:half]), (values[half:], times[half:])]
    return total
