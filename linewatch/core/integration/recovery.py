"""What a rectifier's own meter adds to its ledger: gaps filled, resets told, drift found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from linewatch.core.integration.charge import FINE_PER_UAS, uas
from linewatch.core.integration.meter import meter_step, uas_of_meter

if TYPE_CHECKING:
    from linewatch.core.integration.ledger import ChargeLedger
    from linewatch.core.integration.meter import MeterKind

NewsKind: TypeAlias = Literal["recovered", "more recovered", "reset", "implausible", "drift"]


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """Something that counting found and people must hear of."""

    kind: NewsKind
    span_ns: int = 0
    """How long it concerns [ns]."""
    charge_uas: int = 0
    """What the meter says [µA s]."""
    own_uas: int = 0
    """What our own sum says [µA s]."""


def read_meter(
    ledger: ChargeLedger, at_ns: int, reading_ah: float, longest_gap_ns: int
) -> list[News]:
    """Take one good reading of a device's own meter.

    Args:
        ledger: The rectifier's ledger; the current of this moment has been taken already.
        at_ns: Line time [ns].
        reading_ah: What the meter shows [A h]; finite.
        longest_gap_ns: Longest gap between samples [ns].

    Returns:
        What was found.
    """
    kind, track = ledger.source.meter, ledger.track
    reading, before = uas_of_meter(reading_ah), track.last_uas
    passed_ns = at_ns - track.last_ns
    if kind is None or (before is not None and passed_ns <= 0):
        return []
    if before is None:
        track.begin(at_ns, reading, ledger.own())
        return []
    if reading == before and track.is_calm(at_ns) and not ledger.source.by_meter:
        # Most of the time: no count since the last poll, and nothing that waits for one.
        track.last_ns = at_ns
        return []
    largest_uas = kind.largest_step_uas(passed_ns + ledger.late_ns)
    step, what = meter_step(before, reading, largest_uas, kind)
    if what == "reset" or what == "implausible":  # noqa: PLR1714 - mypy narrows it so
        track.begin(at_ns, reading, ledger.own())
        return [News(kind=what, span_ns=passed_ns, charge_uas=reading - before)]
    track.last_uas, track.last_ns = reading, at_ns
    track.total_uas += step
    if ledger.source.by_meter:
        return _count_by_meter(ledger, step, passed_ns, longest_gap_ns)
    # While a gap is open our sum is behind, and a count tells nothing about it.
    is_open = ledger.last is None or at_ns - ledger.last.ns > longest_gap_ns
    return [] if is_open else _fill_gap(ledger, step) + _check_drift(ledger, at_ns, kind)


def _count_by_meter(
    ledger: ChargeLedger, step: int, passed_ns: int, longest_gap_ns: int
) -> list[News]:
    ledger.credit(step * FINE_PER_UAS, passed_ns)
    if passed_ns <= longest_gap_ns:
        ledger.metered_ns += passed_ns
        return []
    ledger.recovered_ns += passed_ns
    ledger.recovered += abs(step) * FINE_PER_UAS
    return [News(kind="recovered", span_ns=passed_ns, charge_uas=step)]


def _fill_gap(ledger: ChargeLedger, step: int) -> list[News]:
    """Credit a gap that is over with its least, and with the rest at the next count."""
    track = ledger.track
    if track.pending_ns:
        gap_ns, track.pending_ns = track.pending_ns, 0
        charge = _recover(ledger, gap_ns)
        ledger.recovered_ns += gap_ns
        track.owed = True
        return [News(kind="recovered", span_ns=gap_ns, charge_uas=uas(charge))]
    if not step:
        return []
    news = []
    if track.owed:
        track.owed = False
        charge = _recover(ledger, 0)
        if charge:
            news.append(News(kind="more recovered", charge_uas=uas(charge)))
        track.begin_drift(track.last_ns, ledger.own())
    track.count(ledger.own())
    return news


def _recover(ledger: ChargeLedger, gap_ns: int) -> int:
    """Credit what the meter has and our sum has not; return it in fine units."""
    missing = ledger.track.missing(ledger.own())
    meter = ledger.source.meter
    if missing < 0 and (meter is None or meter.counts != "net"):
        return 0
    ledger.credit(missing, gap_ns)
    ledger.recovered += abs(missing)
    return missing


def _check_drift(ledger: ChargeLedger, at_ns: int, kind: MeterKind) -> list[News]:
    track = ledger.track
    if track.owed or at_ns < track.drift_due_ns:
        return []
    parted = track.drift(at_ns, ledger.own(), kind)
    if parted is None:
        return []
    return [News(kind="drift", charge_uas=parted[0], own_uas=parted[1])]
