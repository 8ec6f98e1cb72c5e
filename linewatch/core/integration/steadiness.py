"""How steady a current has been within the last minute: whether a forecast means anything.

Rule 1: a swing is what both halves of the minute show: one step or ramp lies in one of them, or
        joins two that share nothing. Too few readings tell no swing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

NS = 1_000_000_000
SPAN_NS = 10 * NS
SPANS = 6
HALF = SPANS // 2
SPANS_OF_HALF = 2
"""Spans of each half that must hold a reading for a swing to be told: common practice."""


@dataclass(slots=True)
class Steadiness:
    """Least and largest current of each of the last spans of ten seconds."""

    spans: list[list[int]] = field(default_factory=list)
    """[number of the span, least, largest], oldest first; currents in µA."""

    def add(self, at_ns: int, ua: int) -> None:
        """Take one sample: line time [ns] and current [µA]."""
        span = at_ns // SPAN_NS
        spans = self.spans
        if spans and spans[-1][0] == span:
            last = spans[-1]
            if ua < last[1]:
                last[1] = ua
            elif ua > last[2]:
                last[2] = ua
            return
        spans.append([span, ua, ua])
        self._forget(span)

    def add_many(self, at_ns: NDArray[np.int64], ua: NDArray[np.int64]) -> None:
        """Take many samples in order of time; the same as `add` one by one."""
        span = at_ns // SPAN_NS
        first = int(np.searchsorted(span, int(span[-1]) - SPANS))
        numbers, starts = np.unique(span[first:], return_index=True)
        lowest = np.minimum.reduceat(ua[first:], starts).tolist()
        highest = np.maximum.reduceat(ua[first:], starts).tolist()
        for number, low, high in zip(numbers.tolist(), lowest, highest, strict=True):
            if self.spans and self.spans[-1][0] == number:
                last = self.spans[-1]
                last[1], last[2] = min(last[1], low), max(last[2], high)
            else:
                self.spans.append([number, low, high])
        self._forget(int(span[-1]))

    def _forget(self, span: int) -> None:
        while self.spans[0][0] < span - SPANS:
            del self.spans[0]

    def spread_ratio(self, now_ns: int) -> float:
        """Return how much the current moved within the last minute, over its middle.

        Args:
            now_ns: Line time [ns].

        Returns:
            Spread over the middle of least and largest [1]; infinite if nothing is known, or
            the middle is nothing.
        """
        oldest = now_ns // SPAN_NS - SPANS
        recent = [each for each in self.spans if each[0] >= oldest]
        if not recent:
            return float("inf")
        low = min(each[1] for each in recent)
        high = max(each[2] for each in recent)
        middle = abs(low + high) / 2.0
        return (high - low) / middle if middle else float("inf")

    def swing_ratio(self, now_ns: int) -> float:
        """Return how much the current swings within the last minute, over its middle.

        Args:
            now_ns: Line time [ns].

        Returns:
            What the ranges of its two halves have in common, over the middle of that [1];
            infinite if either half holds too few readings to tell, or the middle is nothing.
        """
        newest = now_ns // SPAN_NS
        recent = [each for each in self.spans if each[0] >= newest - SPANS]
        halves = (
            [each for each in recent if each[0] > newest - HALF],
            [each for each in recent if each[0] <= newest - HALF],
        )
        if min(len(half) for half in halves) < SPANS_OF_HALF:
            return float("inf")
        low = max(min(each[1] for each in half) for half in halves)
        high = min(max(each[2] for each in half) for half in halves)
        middle = abs(low + high) / 2.0
        return max(0, high - low) / middle if middle else float("inf")
