"""One rectifier's charge and its account of time.

Rule 1: metered + recovered + unmetered = elapsed, exactly, at any moment. The first two are
        added up; the third is what is left, so that a gap still open counts as unmetered.
Rule 2: of samples at one time the largest current stands, whatever their order.
Rule 3: what came late or twice changes nothing.
Rule 4: where pulses are faster than the poll, samples of the current say nothing about its
        mean. The meter is then the authority; without one the time is not metered.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import numpy as np

from linewatch.core.integration.charge import (
    FINE_PER_UAS,
    LARGEST_A,
    NS,
    UAS_PER_AH,
    microamperes,
    trapezoid,
    trapezoids,
    uas,
    whole_microamperes,
)
from linewatch.core.integration.deposit import NOT_COVERED, DepositCurve, deposit, deposits
from linewatch.core.integration.meter import (
    MARGIN_PERCENT,
    MeterKind,
    MeterTrack,
    meter_step,
    uas_of_meter,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

NewsKind: TypeAlias = Literal["recovered", "more recovered", "reset", "implausible", "drift"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What counting must know of a rectifier.

    Args:
        sign: 1 if a positive current is cathodic, -1 if it is anodic.
        zero_cutoff_ua: Currents of smaller magnitude count as none [µA].
        meter: Its own meter, if it has one that is read.
        by_meter: The meter is the authority, because the current is not or cannot be sampled.
        curves: Efficiency curves of the tanks that need one.
    """

    sign: Literal[1, -1]
    zero_cutoff_ua: int = 0
    meter: MeterKind | None = None
    by_meter: bool = False
    curves: tuple[DepositCurve, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """Something that counting found and people must hear of."""

    kind: NewsKind
    at_ns: int
    span_ns: int = 0
    charge_uas: int = 0
    own_uas: int = 0


@dataclass(slots=True)
class Sample:
    """A good sample of the current."""

    ns: int
    ua: int
    """Cathodic [µA]; anodic if negative."""
    deposit_ua: tuple[int, ...]
    """By curve."""


@dataclass(slots=True)
class ChargeLedger:
    """The account of one rectifier. All sums are in fine units; see `charge`."""

    source: Source
    began_ns: int | None = None
    """Line time of the first block, good or bad."""
    cathodic: int = 0
    anodic: int = 0
    metered_ns: int = 0
    recovered_ns: int = 0
    recovered: int = 0
    """Share of `cathodic` and `anodic` that came from the meter to fill gaps."""
    deposits: list[int] = field(default_factory=list)
    """By curve."""
    not_covered: list[int] = field(default_factory=list)
    """By curve: cathodic charge of the rectifier at densities that the curve does not tell."""
    last: Sample | None = None
    before: Sample | None = None
    """The sample before `last`, if a trapezoid joins the two."""
    track: MeterTrack = field(default_factory=MeterTrack)

    def __post_init__(self) -> None:
        count = len(self.source.curves)
        self.deposits = self.deposits or [0] * count
        self.not_covered = self.not_covered or [0] * count

    def unmetered_ns(self, now_ns: int) -> int:
        """Return the time that neither samples nor the meter account for, up to now [ns]."""
        return self.elapsed_ns(now_ns) - self.metered_ns - self.recovered_ns

    def elapsed_ns(self, now_ns: int) -> int:
        """Return the time since the first block [ns]."""
        return 0 if self.began_ns is None else max(0, now_ns - self.began_ns)

    def begin(self, at_ns: int) -> None:
        """Start the account of time with the first block, good or bad."""
        if self.began_ns is None:
            self.began_ns = at_ns

    def own(self) -> int:
        """Return our own sum of what the meter counts, in fine units."""
        meter = self.source.meter
        if meter is None or meter.counts == "absolute":
            return self.cathodic + self.anodic
        forward, reverse = self.cathodic, self.anodic
        if self.source.sign < 0:
            forward, reverse = reverse, forward
        return forward if meter.counts == "cathodic" else forward - reverse

    def current(self, at_ns: int, current_a: float, longest_gap_ns: int) -> None:
        """Take one good sample of the current.

        Args:
            at_ns: Line time [ns].
            current_a: Current as the device tells it [A]; finite.
            longest_gap_ns: Longest gap that is joined by a trapezoid [ns].
        """
        ua = microamperes(current_a) * self.source.sign
        if abs(ua) < self.source.zero_cutoff_ua:
            ua = 0
        last = self.last
        if last is None or at_ns > last.ns:
            sample = self._sample(at_ns, ua)
            if last is not None:
                self._close(last, sample, longest_gap_ns)
            self.last = sample
        elif at_ns == last.ns and (abs(ua), ua) > (abs(last.ua), last.ua):
            sample = self._sample(at_ns, ua)
            if self.before is not None:
                self._book(self.before, last, -1)
                self._book(self.before, sample, 1)
            self.last = sample

    def _sample(self, at_ns: int, ua: int) -> Sample:
        curves = self.source.curves
        deposit_ua = tuple(curve.deposit_ua(ua) for curve in curves) if curves else ()
        return Sample(at_ns, ua, deposit_ua)

    def _close(self, last: Sample, sample: Sample, longest_gap_ns: int) -> None:
        dt_ns = sample.ns - last.ns
        self.before = None
        if self.source.by_meter:
            return
        if dt_ns > longest_gap_ns:
            if self.track.last_uas is not None:
                self.track.pending_ns += dt_ns
            return
        self._book(last, sample, 1)
        self.metered_ns += dt_ns
        self.before = last

    def _book(self, before: Sample, after: Sample, times: int) -> None:
        dt_ns = after.ns - before.ns
        cathodic, anodic = trapezoid(before.ua, after.ua, dt_ns)
        self.cathodic += times * cathodic
        self.anodic += times * anodic
        for k, pair in enumerate(zip(before.deposit_ua, after.deposit_ua, strict=True)):
            if NOT_COVERED in pair:
                self.not_covered[k] += times * cathodic
            else:
                self.deposits[k] += times * deposit((before.ua, after.ua), pair, dt_ns)

    def meter(self, at_ns: int, reading_ah: float, longest_gap_ns: int) -> list[News]:
        """Take one good reading of the device's own meter.

        Args:
            at_ns: Line time [ns].
            reading_ah: What it shows [A h]; finite, not negative.
            longest_gap_ns: Longest gap between samples [ns].

        Returns:
            What was found.
        """
        kind, track = self.source.meter, self.track
        if kind is None or (track.last_uas is not None and at_ns <= track.last_ns):
            return []
        reading = uas_of_meter(reading_ah)
        if track.last_uas is None:
            track.begin(at_ns, reading, self.own())
            return []
        passed_ns = at_ns - track.last_ns
        largest = kind.largest_step_uas(passed_ns)
        step, what = meter_step(track.last_uas, reading, largest, kind)
        if what in {"reset", "implausible"}:
            lost = News(
                kind="reset" if what == "reset" else "implausible",
                at_ns=at_ns,
                span_ns=passed_ns,
                charge_uas=reading - track.last_uas,
            )
            track.begin(at_ns, reading, self.own())
            return [lost]
        track.last_uas, track.last_ns = reading, at_ns
        track.total_uas += step
        if self.source.by_meter:
            return self._count_by_meter(at_ns, step, passed_ns, longest_gap_ns)
        return self._follow(at_ns, step, longest_gap_ns)

    def _count_by_meter(
        self, at_ns: int, step: int, passed_ns: int, longest_gap_ns: int
    ) -> list[News]:
        self._credit(step * FINE_PER_UAS, passed_ns)
        if passed_ns <= longest_gap_ns:
            self.metered_ns += passed_ns
            return []
        self.recovered_ns += passed_ns
        self.recovered += abs(step) * FINE_PER_UAS
        return [News(kind="recovered", at_ns=at_ns, span_ns=passed_ns, charge_uas=step)]

    def _follow(self, at_ns: int, step: int, longest_gap_ns: int) -> list[News]:
        """Let the meter fill gaps and check our sum, where samples are the authority."""
        track, news = self.track, []
        if self.last is None or at_ns - self.last.ns > longest_gap_ns:
            # The gap is still open: our sum is behind, and a count tells nothing about it.
            return []
        if track.pending_ns:
            gap_ns, track.pending_ns = track.pending_ns, 0
            credited = self._recover(gap_ns)
            self.recovered_ns += gap_ns
            track.owed = True
            news.append(
                News(kind="recovered", at_ns=at_ns, span_ns=gap_ns, charge_uas=uas(credited))
            )
        elif step:
            if track.owed:
                track.owed = False
                credited = self._recover(0)
                if credited:
                    news.append(
                        News(kind="more recovered", at_ns=at_ns, charge_uas=uas(credited))
                    )
                track.begin_drift(at_ns, self.own())
            track.count(self.own())
        if not track.owed and at_ns >= track.drift_due_ns:
            news += self._check_drift(at_ns)
        return news

    def _recover(self, gap_ns: int) -> int:
        """Credit what the meter has and our sum has not; return it in fine units."""
        missing = self.track.missing(self.own())
        meter = self.source.meter
        if missing < 0 and (meter is None or meter.counts != "net"):
            return 0
        self._credit(missing, gap_ns)
        self.recovered += abs(missing)
        return missing

    def _credit(self, charge: int, span_ns: int) -> None:
        """Book a charge that the meter told; its sign is that of the device's own current.

        A meter that counts absolutely does not tell the direction: it is taken to be that of
        the samples, if they agree, else forward.
        """
        meter, last = self.source.meter, self.last
        backwards = charge < 0
        if meter is not None and meter.counts == "absolute" and last is not None:
            backwards = last.ua * self.source.sign < 0
        is_cathodic = (self.source.sign > 0) is not backwards
        amount = abs(charge)
        if not is_cathodic:
            self.anodic += amount
            return
        self.cathodic += amount
        for k, curve in enumerate(self.source.curves):
            if self.source.by_meter:
                # Nobody sampled a current, so nobody knows at which density it flowed.
                self.not_covered[k] += amount
                continue
            # Only the mean current of the span is known; its density stands for all of it.
            mean_ua = amount // (2 * span_ns) if span_ns > 0 else (last.ua if last else 0)
            deposit_ua = curve.deposit_ua(mean_ua)
            if mean_ua <= 0 or deposit_ua == NOT_COVERED:
                self.not_covered[k] += amount
            else:
                self.deposits[k] += amount * deposit_ua // mean_ua

    def _check_drift(self, at_ns: int) -> list[News]:
        kind = self.source.meter
        parted = self.track.drift(at_ns, self.own(), kind) if kind is not None else None
        if parted is None:
            return []
        metered, summed = parted
        return [News(kind="drift", at_ns=at_ns, charge_uas=metered, own_uas=summed)]

    def mark_meter(self) -> None:
        """Start from the meter's next reading: it was replaced or serviced. No total changes."""
        self.track.last_uas = None
        self.track.pending_ns, self.track.owed = 0, False

    def plain(
        self,
        at_ns: NDArray[np.int64],
        current_a: NDArray[np.float64] | None,
        reading_ah: NDArray[np.float64] | None,
        longest_gap_ns: int,
    ) -> int:
        """Return how many of the coming samples may be taken at once.

        Args:
            at_ns: Line times [ns], shape (n,), strictly rising.
            current_a: Currents, shape (n,); None if they are not good.
            reading_ah: Meter readings, shape (n,); None if they are not good.
            longest_gap_ns: Longest gap that is joined by a trapezoid [ns].

        Returns:
            Count from 0 to n; the sample after them needs `current` and `meter`.
        """
        odd = np.zeros(len(at_ns), dtype=np.bool_)
        if current_a is not None:
            if self.last is None:
                return 0
            dt_ns = np.diff(at_ns, prepend=self.last.ns)
            odd |= ~(np.abs(current_a) <= LARGEST_A) | (dt_ns > longest_gap_ns) | (dt_ns <= 0)
            if self.source.by_meter:
                # The direction of what the meter counts is that of each sample.
                odd |= current_a < 0.0
        if reading_ah is not None and self.source.meter is not None:
            if current_a is None and not self.source.by_meter:
                return 0
            odd |= self._odd_readings(at_ns, reading_ah, self.source.meter, longest_gap_ns)
        return int(odd.argmax()) if odd.any() else len(odd)

    def _odd_readings(
        self,
        at_ns: NDArray[np.int64],
        reading_ah: NDArray[np.float64],
        kind: MeterKind,
        longest_gap_ns: int,
    ) -> NDArray[np.bool_]:
        track = self.track
        if track.last_uas is None or track.pending_ns or track.owed:
            return np.ones(len(at_ns), dtype=np.bool_)
        step_ah = np.diff(reading_ah, prepend=reading_ah[:1])
        step_ah[0] = (uas_of_meter(float(reading_ah[0])) - track.last_uas) / UAS_PER_AH
        dt_ns = np.diff(at_ns, prepend=track.last_ns)
        # A little under the limit: what comes near it is looked at one by one.
        largest_ah = 0.999 * (
            dt_ns * (kind.rated_ua * MARGIN_PERCENT / (100.0 * NS * UAS_PER_AH))
            + kind.resolution_uas / UAS_PER_AH
        )
        odd = ~((step_ah >= 0.0) & (step_ah <= largest_ah))
        odd |= (dt_ns > longest_gap_ns) | (dt_ns <= 0)
        return odd | (at_ns >= track.drift_due_ns)

    def take_plain(
        self,
        at_ns: NDArray[np.int64],
        current_a: NDArray[np.float64] | None,
        reading_ah: NDArray[np.float64] | None,
    ) -> None:
        """Take as many samples at once as `plain` allows; as one by one, to the bit."""
        row = -1
        if reading_ah is not None and self.source.meter is not None:
            row = self.meters(at_ns, reading_ah)
        if current_a is None:
            return
        if row >= 0:
            self.currents(at_ns[: row + 1], current_a[: row + 1])
            self.track.count(self.own())
        if row + 1 < len(at_ns):
            self.currents(at_ns[row + 1 :], current_a[row + 1 :])

    def currents(self, at_ns: NDArray[np.int64], current_a: NDArray[np.float64]) -> None:
        """Take many good samples; the same to the bit as `current` one by one.

        Args:
            at_ns: Line times [ns], shape (n,), strictly rising, all after the last sample and
                no further apart than the longest gap, the first from the last sample too.
            current_a: Currents [A], shape (n,); finite.
        """
        ua = whole_microamperes(current_a) * self.source.sign
        if self.source.zero_cutoff_ua:
            ua = np.where(np.abs(ua) < self.source.zero_cutoff_ua, 0, ua)
        last = self.last
        if last is not None:
            at_ns = np.concatenate((np.array([last.ns]), at_ns))
            ua = np.concatenate((np.array([last.ua]), ua))
        if len(ua) > 1 and not self.source.by_meter:
            self._book_many(at_ns, ua)
        self.before = None
        if len(ua) > 1 and not self.source.by_meter:
            self.before = self._sample(int(at_ns[-2]), int(ua[-2]))
        self.last = self._sample(int(at_ns[-1]), int(ua[-1]))

    def _book_many(self, at_ns: NDArray[np.int64], ua: NDArray[np.int64]) -> None:
        dt_ns = np.diff(at_ns)
        cathodic, anodic = trapezoids(ua, dt_ns)
        self.cathodic += cathodic
        self.anodic += anodic
        self.metered_ns += int(at_ns[-1] - at_ns[0])
        for k, curve in enumerate(self.source.curves):
            total, lost = deposits(ua, curve.deposits_ua(ua), dt_ns)
            self.deposits[k] += total
            if lost.any():
                both = np.concatenate((ua[:-1][lost, None], ua[1:][lost, None]), axis=1)
                for pair, dt in zip(both.tolist(), dt_ns[lost].tolist(), strict=True):
                    self.not_covered[k] += trapezoid(pair[0], pair[1], dt)[0]

    def meters(self, at_ns: NDArray[np.int64], reading_ah: NDArray[np.float64]) -> int:
        """Take many readings of a meter that only counts up, plausibly, with no gap pending.

        Args:
            at_ns: Line times [ns], shape (n,), as for `currents`.
            reading_ah: Readings [A h], shape (n,), not falling.

        Returns:
            Index of the last row at which the meter counted on, -1 if it stood still: there
            our own sum must be kept.
        """
        track = self.track
        last = track.last_uas
        first = uas_of_meter(float(reading_ah[0]))
        end = uas_of_meter(float(reading_ah[-1]))
        step = end - (last if last is not None else first)
        passed_ns = int(at_ns[-1]) - track.last_ns
        moved = np.flatnonzero(reading_ah[1:] != reading_ah[:-1])
        row = int(moved[-1]) + 1 if len(moved) else (0 if last != first else -1)
        track.total_uas += step
        track.last_uas, track.last_ns = end, int(at_ns[-1])
        if self.source.by_meter:
            self._credit(step * FINE_PER_UAS, passed_ns)
            self.metered_ns += passed_ns
            return -1
        return row

    def totals(self, now_ns: int) -> dict[str, int]:
        """Return the account in whole units: [µA s] and [ns]."""
        return {
            "cathodic_uas": uas(self.cathodic),
            "anodic_uas": uas(self.anodic),
            "recovered_uas": uas(self.recovered),
            "metered_ns": self.metered_ns,
            "recovered_ns": self.recovered_ns,
            "unmetered_ns": self.unmetered_ns(now_ns),
            "elapsed_ns": self.elapsed_ns(now_ns),
        }

    def state(self) -> dict[str, Any]:
        """Return all that the future depends on, as plain numbers; see `recall`."""
        return {
            "began_ns": self.began_ns,
            "cathodic": self.cathodic,
            "anodic": self.anodic,
            "metered_ns": self.metered_ns,
            "recovered_ns": self.recovered_ns,
            "recovered": self.recovered,
            "deposits": {
                c.tank: d for c, d in zip(self.source.curves, self.deposits, strict=True)
            },
            "not_covered": {
                c.tank: d for c, d in zip(self.source.curves, self.not_covered, strict=True)
            },
            "last": _sample_state(self.last),
            "before": _sample_state(self.before),
            "track": asdict(self.track),
        }

    def recall(self, state: Mapping[str, Any]) -> None:
        """Go on from a state; what a changed source no longer has is left behind."""
        for name in (
            "began_ns",
            "cathodic",
            "anodic",
            "metered_ns",
            "recovered_ns",
            "recovered",
        ):
            setattr(self, name, state[name])
        for k, curve in enumerate(self.source.curves):
            self.deposits[k] = state["deposits"].get(curve.tank, 0)
            self.not_covered[k] = state["not_covered"].get(curve.tank, 0)
        self.last = self._recalled(state["last"])
        self.before = self._recalled(state["before"])
        self.track = MeterTrack(**state["track"])

    def _recalled(self, kept: list[int] | None) -> Sample | None:
        return None if kept is None else self._sample(kept[0], kept[1])


def _sample_state(sample: Sample | None) -> list[int] | None:
    return None if sample is None else [sample.ns, sample.ua]
