"""One-minute summaries: least, mean and greatest good value, and the seconds that were good.

Rule 1: a good value holds until the next sample of its tag, but no longer than three polling
        periods; what is not held is a gap, and a gap is no value.
Rule 2: the mean is over the time that was good, so that a fast burst weighs no more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from linewatch.core.readings import Quality, Values

if TYPE_CHECKING:
    from linewatch.core.readings import Qualities, Times

NS: Final = 10**9
MINUTE_NS: Final = 60 * NS
HOLD_PERIODS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Buckets:
    """Spans of time with what was good in them."""

    low: Values
    """NaN where nothing was good. Shape (buckets,)."""
    mean: Values
    high: Values
    good_s: Values


def held_ns(utc_ns: Times, period_ns: int) -> Times:
    """Return for how long each sample holds [ns]; times must not fall."""
    longest_ns = HOLD_PERIODS * period_ns
    held = np.diff(utc_ns, append=utc_ns[-1:] + period_ns)
    # After a longer silence nothing says how long the value went on: one period, no more.
    return np.where(held > longest_ns, min(period_ns, longest_ns), held)


def into_buckets(
    edges_ns: Times, utc_ns: Times, value: Values, quality: Qualities, hold_ns: Times
) -> Buckets:
    """Gather samples into the spans between edges.

    Args:
        edges_ns: Start of each bucket and end of the last, rising, shape (buckets + 1,).
        utc_ns: Time of each sample, not falling, shape (samples,).
        value: Shape (samples,).
        quality: Shape (samples,).
        hold_ns: How long each sample holds, shape (samples,).

    Returns:
        What was good in each bucket. A value that was carried into a bucket counts there.
    """
    count = len(edges_ns) - 1
    low, high = np.full(count, np.nan), np.full(count, np.nan)
    good_s, area = np.zeros(count), np.zeros(count)
    good = (quality < Quality.UNCERTAIN) & (hold_ns >= 0)
    begin, end = utc_ns[good], utc_ns[good] + hold_ns[good]
    value = value[good]
    first = np.searchsorted(edges_ns, begin, side="right") - 1
    # A sample at the very end of its hold does not reach into the next bucket.
    final = np.maximum(first, np.searchsorted(edges_ns, end, side="left") - 1)
    for step in range(int((final - first).max(initial=-1)) + 1):
        bucket = first + step
        here = (bucket <= final) & (bucket >= 0) & (bucket < count)
        at, part = bucket[here], value[here]
        covered_ns = np.minimum(end[here], edges_ns[at + 1]) - np.maximum(
            begin[here], edges_ns[at]
        )
        np.fmin.at(low, at, part)
        np.fmax.at(high, at, part)
        np.add.at(good_s, at, covered_ns / NS)
        np.add.at(area, at, covered_ns / NS * part)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(good_s > 0, area / good_s, (low + high) / 2)
    # Rounding must not put a mean outside what was measured.
    return Buckets(low=low, mean=np.clip(mean, low, high), high=high, good_s=good_s)


def by_minute(
    utc_ns: Times, value: Values, quality: Qualities, period_ns: int
) -> tuple[Times, Buckets]:
    """Return the minutes [ns since the Unix epoch] in which something was good, and what."""
    order = np.argsort(utc_ns, kind="stable")
    utc_ns, value, quality = utc_ns[order], value[order], quality[order]
    hold = held_ns(utc_ns, period_ns)
    start = int(utc_ns[0]) // MINUTE_NS
    stop = int((utc_ns + hold).max()) // MINUTE_NS + 1
    if stop - start > len(utc_ns) + 120:
        # The clock was set by days within the chunk: only the minutes that have samples.
        minutes = np.unique(utc_ns // MINUTE_NS)
        hold = np.minimum(hold, (utc_ns // MINUTE_NS + 1) * MINUTE_NS - utc_ns)
        edges = np.append(minutes, minutes[-1] + 1) * MINUTE_NS
    else:
        edges = np.arange(start, stop + 1, dtype=np.int64) * MINUTE_NS
    found = into_buckets(edges, utc_ns, value, quality, hold)
    some = ~np.isnan(found.low)
    return edges[:-1][some], Buckets(
        low=found.low[some],
        mean=found.mean[some],
        high=found.high[some],
        good_s=found.good_s[some],
    )
