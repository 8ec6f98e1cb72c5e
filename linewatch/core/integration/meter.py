"""A rectifier's own ampere-hour meter: what it says about time in which nobody listened.

Rule 1: a step back is a rollover if the modulus is declared and the step fits the time gone
        by; otherwise it is a reset. There is never a negative step.
Rule 2: a step larger than rated current x time x 1.1 (and one count) is not believed.
Rule 3: a meter counts in whole steps, so between two counts it is behind. The moment of a
        count is known to a poll; what our own sum says at that moment is kept, and a later
        difference between meter and sum starts there. A gap is first credited with the least
        that must have flowed, and with the rest at the meter's next count: nothing is ever
        taken back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from linewatch.core.integration.charge import FINE_PER_UAS, NS, UAS_PER_AH

Counts: TypeAlias = Literal["absolute", "cathodic", "net"]
StepKind: TypeAlias = Literal["step", "rollover", "reset", "implausible"]

MARGIN_PERCENT = 110
"""A step may be this share of rated current times time: common practice."""
DRIFT_CHECK_NS = 3600 * NS
"""Meter and sum are compared about every hour of line time."""
DRIFT_COUNTS = 100
"""... when the meter has moved by this many counts, so that one count is 1 % of it."""
DRIFT_RATIO = 0.02
"""How far they may part: shunt 0.25 to 1 % against shunt 0.25 to 1 %, common practice."""
DRIFT_FULL_SCALE = 0.005
"""... and the meter's head, 0.2 to 0.5 % of full scale, common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterKind:
    """What is known of a meter.

    Args:
        modulus_uas: It counts from 0 to this and starts over [µA s]; None: never.
        resolution_uas: One count [µA s].
        counts: What it does with reverse current; 'cathodic' here means: ignores it.
        rated_ua: Rated current of its rectifier [µA].
    """

    modulus_uas: int | None
    resolution_uas: int
    counts: Counts
    rated_ua: int

    def largest_step_uas(self, dt_ns: int) -> int:
        """Return the largest step that is believed after a time [ns], in µA s."""
        flowed = self.rated_ua * dt_ns * MARGIN_PERCENT // (100 * NS)
        return flowed + self.resolution_uas


def uas_of_meter(reading_ah: float) -> int:
    """Return a meter reading [A h] in whole microampere-seconds."""
    return round(reading_ah * UAS_PER_AH)


def meter_step(
    before_uas: int, after_uas: int, largest_uas: int, kind: MeterKind
) -> tuple[int, StepKind]:
    """Return what a meter has counted between two readings.

    Args:
        before_uas: Earlier reading [µA s].
        after_uas: Later reading [µA s].
        largest_uas: Largest step that is believed [µA s].
        kind: The meter.

    Returns:
        (step [µA s], what it is). The step is 0 for a reset or an implausible step; it is
        negative only for a meter that counts net.
    """
    step = after_uas - before_uas
    if 0 <= step <= largest_uas:
        return step, "step"
    if kind.counts == "net" and -step <= largest_uas and step < 0:
        return step, "step"
    if step > 0:
        return 0, "implausible"
    if kind.modulus_uas is not None and largest_uas < kind.modulus_uas:
        wrapped = step + kind.modulus_uas
        if 0 <= wrapped <= largest_uas:
            return wrapped, "rollover"
    return 0, "reset"


@dataclass(slots=True)
class MeterTrack:
    """A meter as it is followed. All sums are counted from where following began.

    `own` is what our own sum of the same kind says, in fine units.
    """

    last_uas: int | None = None
    last_ns: int = 0
    total_uas: int = 0
    count_total_uas: int = 0
    """`total_uas` at the last count whose moment is known."""
    count_own: int = 0
    """Our own sum at that moment."""
    pending_ns: int = 0
    """Time of gaps that the meter has not yet been asked about [ns]."""
    owed: bool = False
    """A gap was credited with its least; the next count tells the rest."""
    drift_ns: int = 0
    drift_total_uas: int = 0
    drift_own: int = 0
    drift_due_ns: int = 0
    """When the two are compared next."""

    def begin(self, at_ns: int, reading_uas: int, own: int) -> None:
        """Start following from this reading; what went before is settled or lost."""
        self.last_uas, self.last_ns = reading_uas, at_ns
        self.count_total_uas, self.count_own = self.total_uas, own
        self.pending_ns, self.owed = 0, False
        self.begin_drift(at_ns, own)

    def stop(self) -> None:
        """Follow no longer: the meter was replaced or serviced, and begins anew when read."""
        self.last_uas = None
        self.pending_ns, self.owed = 0, False

    def begin_drift(self, at_ns: int, own: int) -> None:
        """Start comparing meter and sum from here."""
        self.drift_ns, self.drift_total_uas, self.drift_own = at_ns, self.total_uas, own
        self.drift_due_ns = at_ns + DRIFT_CHECK_NS

    def is_calm(self, now_ns: int) -> bool:
        """Say whether no gap waits for the meter, and no comparison is due."""
        return not (self.pending_ns or self.owed or now_ns >= self.drift_due_ns)

    def count(self, own: int) -> None:
        """Keep what our sum says at a count."""
        self.count_total_uas, self.count_own = self.total_uas, own

    def missing(self, own: int) -> int:
        """Return what the meter has and our sum has not since the last count [fine units]."""
        metered = (self.total_uas - self.count_total_uas) * FINE_PER_UAS
        return metered - (own - self.count_own)

    def drift(self, at_ns: int, own: int, kind: MeterKind) -> tuple[int, int] | None:
        """Compare meter and sum; start anew if enough has flowed to tell.

        Args:
            at_ns: Line time [ns].
            own: Our own sum [fine units].
            kind: The meter.

        Returns:
            (meter [µA s], sum [µA s]) since the last comparison if they have parted.
        """
        self.drift_due_ns = at_ns + DRIFT_CHECK_NS
        metered = self.total_uas - self.drift_total_uas
        summed = (own - self.drift_own) // FINE_PER_UAS
        if max(abs(metered), abs(summed)) < DRIFT_COUNTS * kind.resolution_uas:
            return None
        passed_s = (at_ns - self.drift_ns) / NS
        allowed = (
            DRIFT_RATIO * max(abs(metered), abs(summed))
            + DRIFT_FULL_SCALE * kind.rated_ua * passed_s
            + 2 * kind.resolution_uas
        )
        self.begin_drift(at_ns, own)
        if abs(metered - summed) <= allowed:
            return None
        return metered, summed
