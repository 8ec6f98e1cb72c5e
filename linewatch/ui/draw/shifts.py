"""The shift of the line's calendar: which one runs, and which one is to be handed over.

A shift is nothing else anywhere on the screen: it begins at six by the clock on the wall, or
as many lengths of a shift later as have gone by.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Final

from linewatch.core.sheets.shifts import shift_of
from linewatch.ui.text import clock_minutes

NS: Final = 1_000_000_000
HANDED_OVER_NS: Final = 3600 * NS
"""So long after its end a shift is still what people hand over. Common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A span of the calendar, and who is at this terminal."""

    begin_ns: int = 0
    """Its begin [ns since 1970]."""
    end_ns: int = 0
    initials: str = ""

    def words(self, zone: datetime.tzinfo | None) -> str:
        """Return its span: '06:00 to 14:00'."""
        begin, end = (clock_minutes(each, zone) for each in (self.begin_ns, self.end_ns))
        return f"{begin} to {end}"


def shift_at(utc_ns: int, zone: datetime.tzinfo | None, shift_s: float) -> Shift:
    """Return the shift that a moment lies in.

    Args:
        utc_ns: The moment [ns since 1970].
        zone: Where the clock on the wall hangs; None: here.
        shift_s: Length of a shift, as the line is configured [s].

    Returns:
        The shift, without initials.
    """
    day = datetime.datetime.fromtimestamp(utc_ns / NS, tz=zone).date()

    def midnight(by: int) -> int:
        at = datetime.datetime.combine(day + datetime.timedelta(days=by), datetime.time())
        placed = at.replace(tzinfo=zone) if zone is not None else at.astimezone()
        return round(placed.timestamp()) * NS

    begin_ns, end_ns = shift_of(utc_ns, (midnight(0), midnight(-1), midnight(1)), shift_s)
    return Shift(begin_ns=begin_ns, end_ns=end_ns)


def handed_over(utc_ns: int, zone: datetime.tzinfo | None, shift_s: float) -> Shift:
    """Return the shift that people hand over at a moment: in its first hour, the one before."""
    runs = shift_at(utc_ns, zone, shift_s)
    if utc_ns - runs.begin_ns < HANDED_OVER_NS:
        return shift_at(runs.begin_ns - 1, zone, shift_s)
    return runs
