"""Analyses as they were told, put together: events in, series out.

Rule 1: an analysis is never changed; one that corrects another takes its place in the series,
        and both stay in the record.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind

if TYPE_CHECKING:
    from collections.abc import Iterable

WHAT = "analysed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """One value that a laboratory found."""

    number: int
    """Counted from 1 as they were told: what a correction names."""
    subject: str
    substance: str
    value: float
    unit: str
    sampled_utc_ns: int
    who: str
    method: str = ""
    sample: str = ""
    note: str = ""
    low: float | None = None
    high: float | None = None
    """Limits in force when it was told, in its unit."""
    corrects: int | None = None

    @property
    def verdict(self) -> str:
        """Return how it stands to its limits: 'low', 'high', or '' for well."""
        if self.low is not None and self.value < self.low:
            return "low"
        return "high" if self.high is not None and self.value > self.high else ""


def analyses(events: Iterable[Event]) -> list[Analysis]:
    """Return the analyses that events tell of, by time of sampling, corrections heeded."""
    found: dict[int, Analysis] = {}
    corrected: set[int] = set()
    for event in events:
        values = event.values
        if event.kind is not EventKind.ANALYSIS or values.get("what") != WHAT:
            continue
        corrects = values.get("corrects")
        if isinstance(corrects, int):
            corrected.add(corrects)
        number = int(values.get("number") or 0)
        found[number] = Analysis(
            number=number,
            subject=event.subject,
            substance=str(values.get("substance")),
            value=float(values.get("value") or 0.0),
            unit=str(values.get("unit")),
            sampled_utc_ns=int(values.get("sampled_utc_ns") or event.utc_ns),
            who=str(values.get("who")),
            method=str(values.get("method") or ""),
            sample=str(values.get("sample") or ""),
            note=str(values.get("note") or ""),
            low=_number(values.get("low")),
            high=_number(values.get("high")),
            corrects=corrects if isinstance(corrects, int) else None,
        )
    kept = [each for number, each in found.items() if number not in corrected]
    return sorted(kept, key=lambda each: (each.sampled_utc_ns, each.number))


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
