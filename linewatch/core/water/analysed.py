"""What was analysed of the water that is let go, held against its daily limits. Pure.

Rule 1: what counts is the newest analysis of a substance of the last 24 hours; an older one,
        or none, says nothing of the water that goes now, and that is said, never judged.
Rule 2: an analysis that corrects another takes its place, whenever it was written down.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.laboratory.analyses import analyses
from linewatch.core.water.permits import mg_per_l

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.events import Event
    from linewatch.core.plan import Permit

DAY_NS: Final = 24 * 3600 * 1_000_000_000
"""A day has no begin here: the calendar's is the reader's affair, and water that was beyond
its limit at 23:50 is not within it at midnight."""

Row = tuple[str, float, str, int]
"""Substance, value, unit, when its sample was taken [ns since 1970]."""


class Analysed:
    """The analyses of the last day at places where water leaves.

    Args:
        places: Ids of the places.
    """

    def __init__(self, places: Sequence[str]) -> None:
        self.rows: dict[str, dict[str, Row]] = {name: {} for name in places}
        """By place and number of the analysis."""

    def hear(self, event: Event) -> None:
        """Take an analysis; what is older than a day goes."""
        for each in analyses((event,)):
            rows = self.rows.get(each.subject)
            for others in self.rows.values():
                others.pop(str(each.corrects), None)
            if rows is None:
                continue
            row = (each.substance, each.value, each.unit, each.sampled_utc_ns)
            rows[str(each.number)] = row
            self.rows[each.subject] = {
                number: row
                for number, row in rows.items()
                if event.utc_ns - row[3] < DAY_NS or number == str(each.number)
            }

    def newest(self, place: str, utc_ns: int) -> dict[str, Row]:
        """Return the newest analysis of the last day by substance, in small letters."""
        found: dict[str, Row] = {}
        # Of two of one instant the one that was written down later counts.
        for number in sorted(self.rows.get(place, ()), key=int):
            row = self.rows[place][number]
            known = found.get(row[0].casefold())
            if utc_ns - row[3] < DAY_NS and (known is None or known[3] <= row[3]):
                found[row[0].casefold()] = row
        return found

    def remember(self) -> dict[str, dict[str, list[str | float | int]]]:
        """Return all of it."""
        return {
            name: {number: list(row) for number, row in rows.items()}
            for name, rows in self.rows.items()
        }

    def recall(self, kept: Mapping[str, Mapping[str, Sequence[str | float | int]]]) -> None:
        """Go on from what was remembered, but for places that are no more."""
        for name in self.rows:
            self.rows[name] = {
                number: (str(row[0]), float(row[1]), str(row[2]), int(row[3]))
                for number, row in kept.get(name, {}).items()
            }


def against(permits: Sequence[Permit], newest: Mapping[str, Row]) -> list[str]:
    """Return which analyses speak against letting water go: those beyond a daily limit.

    Args:
        permits: Limits of the substances.
        newest: See `Analysed.newest`.
    """
    told = []
    for permit in permits:
        row, limit = newest.get(permit.substance.casefold()), permit.daily_mg_per_l
        found = None if row is None else mg_per_l(row[1], row[2])
        if row is None or limit is None or found is None or not found > limit:
            continue
        source = f" ({permit.source})" if permit.source else ""
        told.append(
            f"{permit.substance} {row[1]:g} {row[2]} in its newest analysis of the last 24 h,"
            f" at most {limit:g} mg/L on any day is allowed{source}"
        )
    return told


def not_judged(permits: Sequence[Permit], newest: Mapping[str, Row]) -> tuple[str, ...]:
    """Return what no analysis tells of, and what has a value of another kind, in words."""
    limited = [each for each in permits if each.daily_mg_per_l is not None]
    missing = [each.substance for each in limited if each.substance.casefold() not in newest]
    told = [f"not analysed in the last 24 h: {', '.join(missing)}"] if missing else []
    for each in limited:
        row = newest.get(each.substance.casefold())
        if row is not None and mg_per_l(row[1], row[2]) is None:
            told.append(f"{each.substance} {row[1]:g} {row[2]}: its limits are in mg/L")
    return tuple(told)
