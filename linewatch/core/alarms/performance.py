"""How a line's alarms behaved over a span, against published targets.

Rule 1: intervals of ten minutes and of an hour are counted from the span's beginning; the last
        one counts too, for as long as it lasted, so that a short record tells what was seen in
        it. A share of intervals is a share of time; a rate is over the span as it is.
        Floods and the most in ten minutes go by the moving ten minutes of the live screen.
Rule 2: only what was announced counts. What was shelved, suppressed or out of service was not.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.alarms.flood import floods, most_within_window
from linewatch.core.plan import Priority

if TYPE_CHECKING:
    from collections.abc import Sequence

NS = 1_000_000_000
TEN_MINUTES_NS = 600 * NS
HOUR_NS = 3600 * NS
DAY_NS = 24 * HOUR_NS
MANY_IN_10MIN = 10
MANY_IN_HOUR = 30
CHATTER_COUNT = 3
CHATTER_NS = 60 * NS
"""The same alarm so often within so long chatters; the common definition, from memory."""
FLEETING_NS = 2 * NS
"""An alarm that is over so soon cannot have been acted upon; common practice."""
STALE_NS = DAY_NS
"""An alarm that stands for longer is stale (ANSI/ISA-18.2-2016 clause 16)."""
TOP = 10

STEADY: tuple[tuple[float, str], ...] = (
    (1.0, "acceptable"),
    (2.0, "manageable"),
    (5.0, "over-demanding"),
)
"""Average announcements in ten minutes in steady running, below or at which a word holds: less
than 1 in 10 min, 1 in 5 min, 1 in 2 min; beyond, towards more than 1 a minute, it is
unacceptable. EEMUA 191, third edition, page 96, as remembered."""
UPSET: tuple[tuple[float, str], ...] = ((10.0, "manageable"), (100.0, "difficult"))
"""Announcements in the first ten minutes of an upset: fewer than 10 are manageable, from there
(the book says 20) to 100 difficult, more excessive. EEMUA 191, page 97, as remembered."""

_STANDARD = "ANSI/ISA-18.2-2016 clause 16 / IEC 62682 metrics"


def steady_word(per_10min: float) -> str:
    """Return the word for an average rate of announcements [1/10 min]."""
    if per_10min < STEADY[0][0]:
        return STEADY[0][1]
    return next((word for most, word in STEADY[1:] if per_10min <= most), "unacceptable")


def upset_word(count: int) -> str:
    """Return the word for the announcements in the first ten minutes of an upset."""
    if count < UPSET[0][0]:
        return UPSET[0][1]
    return UPSET[1][1] if count <= UPSET[1][0] else "excessive"


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A published figure that a line's alarms are held against."""

    good: float
    """Very likely acceptable up to here."""
    most: float
    """Manageable up to here."""
    unit: str
    source: str = _STANDARD


TARGETS: dict[str, Target] = {
    "per 10 min": Target(good=1.0, most=2.0, unit="1/10 min"),
    "per hour": Target(good=6.0, most=12.0, unit="1/h"),
    "per day": Target(
        good=150.0, most=300.0, unit="1/d", source="ISA-18.2-2009, dropped in 2016"
    ),
    "time in flood": Target(good=1.0, most=1.0, unit="%"),
    "10 min with more than 10": Target(good=1.0, most=1.0, unit="%"),
    "hours with more than 30": Target(good=1.0, most=1.0, unit="%", source="ISA-18.2"),
    "most in 10 min": Target(good=10.0, most=10.0, unit="alarms"),
    "share of the ten most frequent": Target(good=1.0, most=5.0, unit="%"),
    "stale": Target(good=5.0, most=5.0, unit="alarms"),
    "chattering or fleeting": Target(good=0.0, most=0.0, unit="alarms"),
}
"""By figure; for 'stale' the number stays below the target, for all others up to it."""

PRIORITY_PERCENT: dict[Priority, float] = {
    "low": 80.0,
    "medium": 15.0,
    "high": 5.0,
    "highest": 1.0,
}
"""What share of all announcements each priority should have: about 80, 15 and 5 in three
levels (ISA-18.2 / IEC 62682); the fourth, under 1, is from memory and taken from the third."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Announcement:
    """One occurrence of an alarm."""

    alarm: str
    priority: Priority
    at_ns: int
    """When it was announced [ns of line time]."""
    over_ns: int | None = None
    """When its condition ended; None if it still stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """How alarms behaved over a span."""

    announced: int
    per_10min: float
    per_hour: float
    per_day: float
    most_in_10min: int
    """Within any ten minutes, whenever they began."""
    flood_percent: float
    """Share of the time in which the line told a flood."""
    busy_10min_percent: float
    """Share of the time in ten-minute intervals with more than 10 announcements."""
    busy_hour_percent: float
    """Share of the time in hours with more than 30."""
    top: tuple[tuple[str, int], ...]
    """The ten most frequent alarms with their counts, most frequent first."""
    top_percent: float
    """Their share of all announcements."""
    chattering: tuple[str, ...]
    fleeting: tuple[str, ...]
    stale: tuple[str, ...]
    priority_percent: dict[Priority, float]

    def figures(self) -> dict[str, float]:
        """Return what is held against `TARGETS`, by the same names."""
        return {
            "per 10 min": self.per_10min,
            "per hour": self.per_hour,
            "per day": self.per_day,
            "time in flood": self.flood_percent,
            "10 min with more than 10": self.busy_10min_percent,
            "hours with more than 30": self.busy_hour_percent,
            "most in 10 min": float(self.most_in_10min),
            "share of the ten most frequent": self.top_percent,
            "stale": float(len(self.stale)),
            "chattering or fleeting": float(len({*self.chattering, *self.fleeting})),
        }


def performance(
    announcements: Sequence[Announcement],
    span_ns: tuple[int, int],
    flood_start: float = 10.0,
    flood_end: float = 5.0,
) -> Performance:
    """Return how alarms behaved.

    Args:
        announcements: All of the span, in order of time.
        span_ns: (begin, end) in line time [ns], the end later than the begin.
        flood_start: A flood begins at this many announcements in ten minutes.
        flood_end: A flood goes on down to this many.

    Returns:
        The figures; zero where nothing was announced.
    """
    begin_ns, end_ns = span_ns
    lasted_ns = end_ns - begin_ns
    count = len(announcements)
    at_ns = [each.at_ns for each in announcements]
    flooded = floods(at_ns, end_ns, flood_start, flood_end)
    tens = _counts(announcements, span_ns, TEN_MINUTES_NS)
    hours = _counts(announcements, span_ns, HOUR_NS)
    by_alarm = Counter(each.alarm for each in announcements)
    by_priority = Counter(each.priority for each in announcements)
    top = tuple(by_alarm.most_common(TOP))
    return Performance(
        announced=count,
        per_10min=count * TEN_MINUTES_NS / lasted_ns,
        per_hour=count * HOUR_NS / lasted_ns,
        per_day=count * DAY_NS / lasted_ns,
        most_in_10min=most_within_window(at_ns),
        flood_percent=_percent(sum(to_ns - from_ns for from_ns, to_ns in flooded), lasted_ns),
        busy_10min_percent=_share(_beyond(tens, MANY_IN_10MIN), TEN_MINUTES_NS, lasted_ns),
        busy_hour_percent=_share(_beyond(hours, MANY_IN_HOUR), HOUR_NS, lasted_ns),
        top=top,
        top_percent=_percent(sum(n for _, n in top), count),
        chattering=_chattering(announcements),
        fleeting=_lasting(announcements, end_ns, 0, FLEETING_NS),
        stale=_lasting(announcements, end_ns, STALE_NS + 1, None),
        priority_percent={
            priority: _percent(by_priority[priority], count) for priority in PRIORITY_PERCENT
        },
    )


def _percent(part: int, whole: int) -> float:
    return 100.0 * part / whole if whole else 0.0


def _beyond(counts: Sequence[int], most: int) -> list[int]:
    """Return the numbers of the intervals with more than so many announcements."""
    return [k for k, count in enumerate(counts) if count > most]


def _share(intervals: Sequence[int], each_ns: int, lasted_ns: int) -> float:
    """Return the share [%] of a span that some of its intervals are, the last as it is."""
    inside_ns = sum(min((k + 1) * each_ns, lasted_ns) - k * each_ns for k in intervals)
    return _percent(inside_ns, lasted_ns)


def _counts(
    announcements: Sequence[Announcement], span_ns: tuple[int, int], each_ns: int
) -> list[int]:
    """Return the announcements of each interval of a span, of the last as far as it goes."""
    begin_ns, end_ns = span_ns
    counts = [0] * -(-(end_ns - begin_ns) // each_ns)
    for announcement in announcements:
        place = (announcement.at_ns - begin_ns) // each_ns
        if place >= 0:
            # What comes at the very end belongs to what ended then.
            counts[min(place, len(counts) - 1)] += 1
    return counts


def _chattering(announcements: Sequence[Announcement]) -> tuple[str, ...]:
    times: dict[str, list[int]] = {}
    for each in announcements:
        times.setdefault(each.alarm, []).append(each.at_ns)
    return tuple(
        alarm
        for alarm, at_ns in times.items()
        if any(
            later - earlier <= CHATTER_NS
            for earlier, later in zip(at_ns, at_ns[CHATTER_COUNT - 1 :], strict=False)
        )
    )


def _lasting(
    announcements: Sequence[Announcement], end_ns: int, least_ns: int, most_ns: int | None
) -> tuple[str, ...]:
    """Return the alarms of which one occurrence lasted within these bounds."""
    found: dict[str, None] = {}
    for each in announcements:
        is_over = each.over_ns is not None
        lasted_ns = (each.over_ns if each.over_ns is not None else end_ns) - each.at_ns
        fits = lasted_ns >= least_ns and (most_ns is None or (is_over and lasted_ns <= most_ns))
        if fits:
            found[each.alarm] = None
    return tuple(found)
