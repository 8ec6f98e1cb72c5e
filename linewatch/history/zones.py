"""Days and hours as people count them: the only place where a time zone is known.

Rule 1: the record is in UTC throughout. A zone turns a person's day into a span of UTC, and a
        time of UTC into what a wall clock showed; nothing else.
Rule 2: a day in which clocks are put forward has 23 hours, one in which they are put back 25.
"""

from __future__ import annotations

import os
import re
from datetime import UTC, date, datetime, time, timedelta, timezone
from pathlib import Path
from time import localtime
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

if TYPE_CHECKING:
    from datetime import tzinfo

NS: Final = 10**9
MICROSECOND_NS: Final = 1000
FIRST_YEAR: Final = 1971
LAST_YEAR: Final = 2199
"""Beyond these a time in nanoseconds overflows sooner or later."""
_TIME_OF_DAY: Final = re.compile(r"\d?\d:\d\d(:\d\d)?")
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def zone(name: str) -> tzinfo:
    """Return a zone by its name; '' is the machine's own.

    Raises:
        ValueError: there is no such zone.
    """
    if name in {"UTC", "utc", "Z"}:
        return UTC
    if not name:
        return _local()
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise ValueError(
            f"no time zone {name!r} is known; write it as Europe/Berlin or UTC"
        ) from error


def day_span(day: date, where: tzinfo) -> tuple[int, int]:
    """Return beginning and end of a calendar day [ns since the Unix epoch]."""
    begin = datetime.combine(day, time(), where)
    end = datetime.combine(day + timedelta(days=1), time(), where)
    return utc_ns(begin), utc_ns(end)


def days_between(span: tuple[int, int], where: tzinfo) -> list[date]:
    """Return the calendar days that a span touches."""
    first = at(span[0], where).date()
    last = at(max(span[0], span[1] - 1), where).date()
    return [first + timedelta(days=k) for k in range((last - first).days + 1)]


def at(moment_ns: int, where: tzinfo) -> datetime:
    """Return what a clock in a zone shows at a time [ns since the Unix epoch]."""
    return (EPOCH + timedelta(microseconds=moment_ns // MICROSECOND_NS)).astimezone(where)


def utc_ns(when: datetime) -> int:
    """Return a time with a zone [ns since the Unix epoch]."""
    since = when.astimezone(UTC) - EPOCH
    return (since.days * 86_400 + since.seconds) * NS + since.microseconds * MICROSECOND_NS


def is_time_of_day(text: str) -> bool:
    """Say whether somebody wrote a time without a day: "06:00"."""
    return _TIME_OF_DAY.fullmatch(text.strip()) is not None


def before(text: str, moment_ns: int, where: tzinfo) -> int:
    """Return the last time before a moment at which a zone's clock showed a time of day.

    Raises:
        ValueError: it is no time of day.
    """
    try:
        wanted = time.fromisoformat(text.strip().zfill(len("06:00")))
    except ValueError as error:
        raise ValueError('an hour is written as "06:00"') from error
    day = at(moment_ns, where).date()
    while (found := utc_ns(datetime.combine(day, wanted, where))) >= moment_ns:
        day -= timedelta(days=1)
    return found


def read(text: str, where: tzinfo) -> int:
    """Return the time that a person wrote [ns since the Unix epoch].

    A time without an offset is one of the zone's; of the two times that an hour put back
    shows, the first.

    Raises:
        ValueError: it is no time, one that no clock in the zone ever showed, or one that no
            record can have.
    """
    try:
        when = datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise ValueError(
            "write it as 2026-03-29, 2026-03-29T14:05 or 2026-03-29T14:05+01:00"
        ) from error
    if not FIRST_YEAR <= when.year <= LAST_YEAR:
        raise ValueError(f"years from {FIRST_YEAR} to {LAST_YEAR} can be recorded")
    if when.tzinfo is not None:
        return utc_ns(when)
    local = when.replace(tzinfo=where)
    if local.astimezone(UTC).astimezone(where).replace(tzinfo=None) != when:
        raise ValueError("it was left out when clocks were put forward; write an offset")
    return utc_ns(local)


def _local() -> tzinfo:
    """Return the machine's zone, by its name where that is known."""
    name = os.environ.get("TZ", "").lstrip(":")
    parts = Path("/etc/localtime").resolve().parts
    if not name and "zoneinfo" in parts:
        name = "/".join(parts[parts.index("zoneinfo") + 1 :])
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        # Some systems tell no name: the offset that is in force today must do.
        return timezone(timedelta(seconds=localtime().tm_gmtoff))
