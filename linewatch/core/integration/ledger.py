"""One rectifier's charge and its account of time.

Rule 1: metered + recovered + unmetered = elapsed, exactly, at any moment. The first two are
        added up; the third is what is left, so that a gap still open counts as unmetered.
Rule 2: of samples at one time the largest current stands, whatever their order.
Rule 3: what came late or twice changes nothing.
Rule 4: where pulses are faster than the poll, samples of the current say nothing about its
        mean. The meter is then the authority; without one the time is not metered.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any, Literal

from linewatch.core.integration.charge import microamperes, trapezoid, uas
from linewatch.core.integration.deposit import NOT_COVERED, DepositCurve, deposit
from linewatch.core.integration.meter import MeterKind, MeterTrack
from linewatch.core.integration.steadiness import Steadiness

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What counting must know of a rectifier."""

    sign: Literal[1, -1]
    """1 if a positive current is cathodic, -1 if it is anodic."""
    zero_cutoff_ua: int = 0
    """Currents of smaller magnitude count as none [µA]."""
    meter: MeterKind | None = None
    """Its own meter, if it has one that is read."""
    by_meter: bool = False
    """The meter is the authority, because the current is not, or cannot be, sampled."""
    curves: tuple[DepositCurve, ...] = ()
    """Efficiency curves of the tanks that need one."""


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
    """The account of one rectifier. All charges are in fine units; see `charge`."""

    source: Source
    began_ns: int | None = None
    """Line time of the first block, good or bad."""
    cathodic: int = 0
    anodic: int = 0
    metered_ns: int = 0
    flowing_ns: int = 0
    """Share of `metered_ns` with a current at either end: for so long the zero error of the
    sensor has been added up."""
    recovered_ns: int = 0
    recovered: int = 0
    """Share of `cathodic` and `anodic` that the meter told, to fill gaps."""
    deposits: list[int] = field(default_factory=list)
    """By curve."""
    not_covered: list[int] = field(default_factory=list)
    """By curve: cathodic charge of the rectifier at densities that the curve does not tell."""
    last: Sample | None = None
    before: Sample | None = None
    """The sample before `last`, if a trapezoid joins the two."""
    track: MeterTrack = field(default_factory=MeterTrack)
    steadiness: Steadiness = field(default_factory=Steadiness)
    late_ns: int = 0
    """By how much two readings may lie further apart than their times tell [ns]; of the run."""

    def __post_init__(self) -> None:
        count = len(self.source.curves)
        self.deposits = self.deposits or [0] * count
        self.not_covered = self.not_covered or [0] * count

    def elapsed_ns(self, now_ns: int) -> int:
        """Return the time since the first block [ns]."""
        return 0 if self.began_ns is None else max(0, now_ns - self.began_ns)

    def unmetered_ns(self, now_ns: int) -> int:
        """Return the time that neither samples nor the meter account for, up to now [ns]."""
        return self.elapsed_ns(now_ns) - self.metered_ns - self.recovered_ns

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
        if last is None:
            self.last = self.sample(at_ns, ua)
        elif at_ns > last.ns:
            self.last = self.sample(at_ns, ua)
            self._close(last, self.last, longest_gap_ns)
        elif at_ns == last.ns:
            self._at_one_time(last, ua)
        else:
            return
        self.steadiness.add(at_ns, ua)

    def sample(self, at_ns: int, ua: int) -> Sample:
        """Return a sample with the deposit current of every curve."""
        curves = self.source.curves
        return Sample(at_ns, ua, tuple([c.deposit_ua(ua) for c in curves]) if curves else ())

    def _at_one_time(self, last: Sample, ua: int) -> None:
        if (abs(ua), ua) <= (abs(last.ua), last.ua):
            return
        self.last = self.sample(last.ns, ua)
        if self.before is not None:
            self._book(self.before, last, -1)
            self._book(self.before, self.last, 1)

    def _close(self, last: Sample, sample: Sample, longest_gap_ns: int) -> None:
        self.before = None
        if self.source.by_meter:
            return
        if sample.ns - last.ns > longest_gap_ns:
            if self.track.last_uas is not None:
                self.track.pending_ns += sample.ns - last.ns
            return
        self._book(last, sample, 1)
        self.before = last

    def _book(self, before: Sample, after: Sample, times: int) -> None:
        """Add a trapezoid, or with `times` -1 take it back."""
        dt_ns = (after.ns - before.ns) * times
        cathodic, anodic = trapezoid(before.ua, after.ua, abs(dt_ns))
        self.cathodic += times * cathodic
        self.anodic += times * anodic
        self.metered_ns += dt_ns
        if before.ua or after.ua:
            self.flowing_ns += dt_ns
        for k, pair in enumerate(zip(before.deposit_ua, after.deposit_ua, strict=True)):
            if NOT_COVERED in pair:
                self.not_covered[k] += times * cathodic
            else:
                self.deposits[k] += times * deposit((before.ua, after.ua), pair, abs(dt_ns))

    def credit(self, charge: int, span_ns: int) -> None:
        """Book a charge that the meter told.

        A meter that counts absolutely does not tell the direction: it is taken to be that of
        the last sample, else forward.

        Args:
            charge: Charge in fine units; its sign is that of the device's own current.
            span_ns: Over how long it flowed [ns]; 0 if that is not known.
        """
        meter, last, sign = self.source.meter, self.last, self.source.sign
        backwards = charge < 0
        if meter is not None and meter.counts == "absolute" and last is not None:
            backwards = last.ua * sign < 0
        amount = abs(charge)
        if (sign > 0) is backwards:
            self.anodic += amount
            return
        self.cathodic += amount
        mean_ua = amount // (2 * span_ns) if span_ns > 0 else (last.ua if last else 0)
        for k, curve in enumerate(self.source.curves):
            # Only the mean current of a gap is known; its density stands for all of it. Where
            # nobody samples a current at all, nobody knows at which density it flowed.
            deposit_ua = NOT_COVERED if self.source.by_meter else curve.deposit_ua(mean_ua)
            if deposit_ua == NOT_COVERED or mean_ua <= 0:
                self.not_covered[k] += amount
            else:
                self.deposits[k] += amount * deposit_ua // mean_ua

    def totals(self, now_ns: int) -> dict[str, int]:
        """Return the account up to now, in whole units: [µA s] and [ns]."""
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
        tanks = [curve.tank for curve in self.source.curves]
        return {name: getattr(self, name) for name in _SUMS} | {
            "deposits": dict(zip(tanks, self.deposits, strict=True)),
            "not_covered": dict(zip(tanks, self.not_covered, strict=True)),
            "last": _numbers(self.last),
            "before": _numbers(self.before),
            "track": {name: getattr(self.track, name) for name in _TRACK},
            "spans": self.steadiness.spans,
        }

    def recall(self, state: Mapping[str, Any]) -> None:
        """Go on from a state; what a changed source no longer has is left behind."""
        for name in _SUMS:
            setattr(self, name, state[name])
        for k, curve in enumerate(self.source.curves):
            self.deposits[k] = state["deposits"].get(curve.tank, 0)
            self.not_covered[k] = state["not_covered"].get(curve.tank, 0)
        self.last, self.before = (
            None if state[name] is None else self.sample(*state[name])
            for name in ("last", "before")
        )
        self.track = MeterTrack(**state["track"])
        self.steadiness = Steadiness([list(span) for span in state["spans"]])


_SUMS = (
    "began_ns",
    "cathodic",
    "anodic",
    "metered_ns",
    "flowing_ns",
    "recovered_ns",
    "recovered",
)


_TRACK = tuple(each.name for each in fields(MeterTrack))
"""Twice a second for each rectifier: `asdict` would take ten times as long."""


def _numbers(sample: Sample | None) -> tuple[int, int] | None:
    return None if sample is None else (sample.ns, sample.ua)
