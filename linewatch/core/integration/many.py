"""Many samples of one rectifier at once: the same to the bit as one by one.

`plain_rows` tells how many coming samples have nothing about them that needs a second look: no
gap, no reset, no rollover, no debt of the meter, no comparison due. Those are taken here; all
others go through `ChargeLedger.current` and `recovery.read_meter`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.integration.charge import (
    FINE_PER_UAS,
    LARGEST_A,
    NS,
    UAS_PER_AH,
    trapezoid,
    trapezoids,
    whole_microamperes,
)
from linewatch.core.integration.deposit import deposits
from linewatch.core.integration.meter import MARGIN_PERCENT, uas_of_meter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from linewatch.core.integration.ledger import ChargeLedger
    from linewatch.core.integration.meter import MeterKind

_CLOSE = 0.999
"""What comes near the largest step that is believed is looked at one by one."""


def plain_rows(
    ledger: ChargeLedger,
    at_ns: NDArray[np.int64],
    current_a: NDArray[np.float64] | None,
    reading_ah: NDArray[np.float64] | None,
    longest_gap_ns: int,
) -> int:
    """Return how many of the coming samples may be taken at once.

    Args:
        ledger: The rectifier's ledger.
        at_ns: Line times [ns], shape (n,), strictly rising.
        current_a: Currents, shape (n,); None if they are not good.
        reading_ah: Meter readings, shape (n,); None if they are not good.
        longest_gap_ns: Longest gap that is joined by a trapezoid [ns].

    Returns:
        Count from 0 to n.
    """
    odd = np.zeros(len(at_ns), dtype=np.bool_)
    if current_a is not None:
        if ledger.last is None:
            return 0
        dt_ns = np.diff(at_ns, prepend=ledger.last.ns)
        odd |= ~(np.abs(current_a) <= LARGEST_A) | (dt_ns > longest_gap_ns) | (dt_ns <= 0)
        if ledger.source.by_meter:
            # The direction of what the meter counts is that of each sample.
            odd |= current_a < 0.0
    kind = ledger.source.meter
    if reading_ah is not None and kind is not None:
        if current_a is None and not ledger.source.by_meter:
            return 0
        odd |= _odd_readings(ledger, at_ns, reading_ah, kind)
        odd |= np.diff(at_ns, prepend=ledger.track.last_ns) > longest_gap_ns
    return int(odd.argmax()) if odd.any() else len(odd)


def _odd_readings(
    ledger: ChargeLedger,
    at_ns: NDArray[np.int64],
    reading_ah: NDArray[np.float64],
    kind: MeterKind,
) -> NDArray[np.bool_]:
    track = ledger.track
    if track.last_uas is None or track.pending_ns or track.owed:
        return np.ones(len(at_ns), dtype=np.bool_)
    first_uas = uas_of_meter(float(np.nan_to_num(reading_ah[0], posinf=0.0, neginf=0.0)))
    step_ah = np.diff(reading_ah, prepend=reading_ah[:1])
    step_ah[0] += (first_uas - track.last_uas) / UAS_PER_AH
    dt_ns = np.diff(at_ns, prepend=track.last_ns)
    per_ns = kind.rated_ua * MARGIN_PERCENT / (100.0 * NS * UAS_PER_AH)
    largest_ah = _CLOSE * (dt_ns * per_ns + kind.resolution_uas / UAS_PER_AH)
    odd = ~((step_ah >= 0.0) & (step_ah <= largest_ah))
    if not ledger.source.by_meter:
        odd |= at_ns >= track.drift_due_ns
    return odd | (dt_ns <= 0)


def take_rows(
    ledger: ChargeLedger,
    at_ns: NDArray[np.int64],
    current_a: NDArray[np.float64] | None,
    reading_ah: NDArray[np.float64] | None,
) -> None:
    """Take as many samples as `plain_rows` allows; the arguments are the same."""
    ua = np.empty(0, dtype=np.int64)
    if current_a is not None:
        ua = whole_microamperes(current_a) * ledger.source.sign
        if ledger.source.zero_cutoff_ua:
            ua[np.abs(ua) < ledger.source.zero_cutoff_ua] = 0
        ledger.steadiness.add_many(at_ns, ua)
        if ledger.source.by_meter:
            ledger.last = ledger.sample(int(at_ns[-1]), int(ua[-1]))
    row = -1
    if reading_ah is not None and ledger.source.meter is not None:
        row = _readings(ledger, at_ns, reading_ah)
    if current_a is None or ledger.source.by_meter:
        return
    # At the meter's last count our own sum of that moment must be kept.
    if row >= 0:
        _currents(ledger, at_ns[: row + 1], ua[: row + 1])
        ledger.track.count(ledger.own())
    if row + 1 < len(ua):
        _currents(ledger, at_ns[row + 1 :], ua[row + 1 :])


def _readings(
    ledger: ChargeLedger, at_ns: NDArray[np.int64], reading_ah: NDArray[np.float64]
) -> int:
    """Follow the meter; return the row of its last count, -1 if there was none."""
    track, before = ledger.track, ledger.track.last_uas
    end = uas_of_meter(float(reading_ah[-1]))
    step = end - (before or 0)
    passed_ns = int(at_ns[-1]) - track.last_ns
    track.total_uas += step
    track.last_uas, track.last_ns = end, int(at_ns[-1])
    if ledger.source.by_meter:
        ledger.credit(step * FINE_PER_UAS, passed_ns)
        ledger.metered_ns += passed_ns
        return -1
    # In whole units, as one by one: a reading that differs in its last bit is no count.
    whole = np.rint(reading_ah * UAS_PER_AH)
    moved = np.flatnonzero(whole[1:] != whole[:-1])
    if len(moved):
        return int(moved[-1]) + 1
    return 0 if uas_of_meter(float(reading_ah[0])) != before else -1


def _currents(ledger: ChargeLedger, at_ns: NDArray[np.int64], ua: NDArray[np.int64]) -> None:
    last = ledger.last
    assert last is not None  # noqa: S101 - `plain_rows` lets no first sample through
    at_ns = np.concatenate((np.array([last.ns]), at_ns))
    ua = np.concatenate((np.array([last.ua]), ua))
    _book(ledger, at_ns, ua)
    ledger.before = ledger.sample(int(at_ns[-2]), int(ua[-2]))
    ledger.last = ledger.sample(int(at_ns[-1]), int(ua[-1]))


def _book(ledger: ChargeLedger, at_ns: NDArray[np.int64], ua: NDArray[np.int64]) -> None:
    dt_ns = np.diff(at_ns)
    cathodic, anodic = trapezoids(ua, dt_ns)
    ledger.cathodic += cathodic
    ledger.anodic += anodic
    ledger.metered_ns += int(at_ns[-1] - at_ns[0])
    ledger.flowing_ns += int(dt_ns[(ua[:-1] != 0) | (ua[1:] != 0)].sum())
    for k, curve in enumerate(ledger.source.curves):
        total, lost = deposits(ua, curve.deposits_ua(ua), dt_ns)
        ledger.deposits[k] += total
        for row in np.flatnonzero(lost).tolist():
            pair = int(ua[row]), int(ua[row + 1])
            ledger.not_covered[k] += trapezoid(*pair, int(dt_ns[row]))[0]
