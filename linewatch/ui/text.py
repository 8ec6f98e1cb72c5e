"""Numbers, times and foreign text as people read them on a screen; pure.

Rule 1: a figure has fixed decimals and a fixed width, so that a column of them does not dance.
Rule 2: a value that is not to be trusted becomes a word, never a number.
Rule 3: text from devices and configuration passes `clean` before anything else: it is the
        second line of defence after the driver's.
"""

from __future__ import annotations

import datetime
import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from rich.cells import cell_len

from linewatch.core.readings import QUALITY_WORDS, Quality, is_bad

if TYPE_CHECKING:
    from collections.abc import Collection

MINUTE_S: Final = 60
HOUR_S: Final = 3600
DAY_S: Final = 86400
SECOND_UNIT: Final = 3
"""Cells of the smaller unit: the '05s' of '59m05s'."""

CLOCK_CELLS: Final = 8
DATED_CELLS: Final = 11
"""Cells of a time of day, and of one with its date."""

LONGEST: Final = 400
"""Characters of a foreign text that are looked at; the rest is cut off and told by '…'."""

IN_NUMBERS: Final = "0123456789.,+-"

FOREIGN: Final = "?"
"""Stands for whatever a terminal must not be sent."""

_DANGEROUS: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_FIRST_PICTOGRAPH: Final = 0x1F000
_VARIATION: Final = range(0xFE00, 0xFE10)

SHORT_WORDS: Final[dict[Quality, str]] = {
    Quality.BAD: "bad",
    Quality.NO_ANSWER: "silent",
    Quality.NOT_CONNECTED: "no link",
    Quality.REFUSED: "refused",
    Quality.BUSY: "busy",
    Quality.SENSOR_FAULT: "sensor",
    Quality.OUT_OF_RANGE: "absurd",
    Quality.MALFORMED: "garbled",
    Quality.STALE: "stale",
    Quality.SOURCE_BAD: "bad",
    Quality.FOREIGN: "foreign",
    Quality.OUT_OF_SERVICE: "out svc",
    Quality.NOT_YET: "unread",
}
"""At most seven cells: what stands in a column in place of the number."""


@lru_cache(maxsize=4096)
def clean(text: str, limit: int = LONGEST) -> str:
    """Return foreign text as one harmless line: what is no plain letter or sign becomes '?'.

    Control bytes, invisible and direction-changing characters, pictographs and characters
    that join their neighbours are replaced; line ends and tabs become spaces.
    """
    cut = text[: limit + 1]
    shown = "".join(_harmless(each) for each in unicodedata.normalize("NFC", cut))
    if len(text) > limit:
        return shown[: max(limit - 1, 0)] + "…"
    return shown


def _harmless(character: str) -> str:
    if " " <= character <= "~":
        return character
    if character in "\t\n\r":
        return " "
    if unicodedata.category(character) in _DANGEROUS:
        return FOREIGN
    if ord(character) >= _FIRST_PICTOGRAPH or ord(character) in _VARIATION:
        return FOREIGN
    if cell_len(character) == 0:
        return FOREIGN
    return character


def cells(text: str) -> int:
    """Return how many terminal cells a text takes."""
    return len(text) if text.isascii() else cell_len(text)


def cut(text: str, width: int) -> str:
    """Return a text cut to at most `width` cells, the cut told by '…'.

    A number is never cut: what is left of 1624.8 would be another number.
    """
    if width <= 0:
        return ""
    if cells(text) <= width:
        return text
    kept = text[:width]
    while kept and cells(kept) > width - 1:
        kept = kept[:-1]
    if text[len(kept)] in IN_NUMBERS:
        kept = kept.rstrip(IN_NUMBERS)
    return kept + "…"


def cut_apart(texts: Collection[str], width: int) -> dict[str, str]:
    """Return each text in at most `width` cells, so that those that differ stay apart.

    A text is cut at its end, as everywhere. Where several begin alike, their last words are
    kept: 'Rinse before nickel' and 'Rinse before zinc' become 'Rinse b…nickel' and
    'Rinse bef…zinc'; where that does not tell them apart, as much of their ends as it takes.
    In a width that holds no such cut they stay alike.
    """
    found = {text: cut(text, width) for text in texts}
    alike: dict[str, list[str]] = {}
    for text, shown in found.items():
        alike.setdefault(shown, []).append(text)
    for some in alike.values():
        for end in ("word", *range(width // 2, width)) if len(some) > 1 else ():
            tails = {t: t.rpartition(" ")[2] if end == "word" else t[-int(end) :] for t in some}
            tried = {text: _around(text, tail, width) for text, tail in tails.items()}
            if len(set(tried.values())) == len(some):
                found |= tried
                break
    return found


def _around(text: str, tail: str, width: int) -> str:
    """Return a text without its middle: as much of its beginning as leaves room for a tail."""
    while tail and cells(tail) > width - 1:
        tail = tail[1:]
    kept = text[: width - 1]
    while kept and cells(kept) + cells(tail) > width - 1:
        kept = kept[:-1]
    return text if cells(text) <= width else f"{kept.rstrip()}…{tail}"


def fit(text: str, width: int, *, right: bool = False) -> str:
    """Return a text of exactly `width` cells: cut, or filled with spaces."""
    shown = cut(text, width)
    space = " " * max(width - cells(shown), 0)
    return space + shown if right else shown + space


def number(value: float, decimals: int) -> str:
    """Return a number with fixed decimals; minus zero is zero."""
    shown = f"{value:.{decimals}f}"
    return shown.removeprefix("-") if float(shown) == 0.0 else shown


def quality_word(quality: int) -> str:
    """Return the full word for a quality."""
    try:
        return QUALITY_WORDS[Quality(quality)]
    except ValueError:
        return "bad" if is_bad(quality) else "uncertain"


def short_word(quality: int) -> str:
    """Return the word that stands in a column in place of a bad number; seven cells at most."""
    try:
        return SHORT_WORDS.get(Quality(quality), "doubt")
    except ValueError:
        return "bad"


def span(seconds: float) -> str:
    """Return a duration of a countdown or dwell: '45s', '4m05s', '1h05m', '3d04h'.

    Every number has its unit: a colon stands in times of day alone.
    """
    sign = "-" if seconds < 0 else ""
    whole = int(abs(seconds))
    if whole < MINUTE_S:
        return f"{sign}{whole}s"
    if whole < HOUR_S:
        return f"{sign}{whole // MINUTE_S}m{whole % MINUTE_S:02d}s"
    if whole < DAY_S:
        return f"{sign}{whole // 3600}h{whole % 3600 // 60:02d}m"
    return f"{sign}{whole // 86400}d{whole % 86400 // 3600:02d}h"


def span_within(seconds: float, width: int) -> str:
    """Return a duration in so many cells if it can be: '59m05s', else '59m'."""
    exact = span(seconds)
    return exact if len(exact) <= width else exact[:-SECOND_UNIT]


def counted(count: int, one: str, several: str = "") -> str:
    """Return a count with its word: '1 act', '2 acts', '3 loads lost'."""
    return f"{count} {one if count == 1 else several or one + 's'}"


def age(seconds: float) -> str:
    """Return an age in one unit: '12 s', '4 min', '3 h', '9 d'."""
    whole = max(int(seconds), 0)
    for size, unit in ((DAY_S, "d"), (HOUR_S, "h"), (MINUTE_S, "min")):
        if whole >= size * 2:
            return f"{whole // size} {unit}"
    return f"{whole} s"


def hours(seconds: float) -> str:
    """Return a long time account: '12 h 05 min', '4 min 10 s'."""
    whole = int(seconds)
    if whole >= HOUR_S:
        return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
    if whole >= MINUTE_S:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole} s"


def _local(utc_ns: int, zone: datetime.tzinfo | None) -> datetime.datetime:
    start = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
    return (start + datetime.timedelta(microseconds=utc_ns // 1000)).astimezone(zone)


def zone_shift_ns(utc_ns: int, zone: datetime.tzinfo | None) -> int:
    """Return how far local time is ahead of UTC at a moment [ns]."""
    shift = _local(utc_ns, zone).utcoffset() or datetime.timedelta(0)
    return int(shift.total_seconds()) * 1_000_000_000


def clock(utc_ns: int, zone: datetime.tzinfo | None = None) -> str:
    """Return a time of day, '14:03:22'. Local time lives only here, at the edge."""
    return _local(utc_ns, zone).strftime("%H:%M:%S")


def since_clock(
    utc_ns: int, now_ns: int, zone: datetime.tzinfo | None = None, width: int = CLOCK_CELLS
) -> str:
    """Return a time of day; of another day with its date, or how many days ago.

    '14:03:22'; of another day '03-28 22:34' from eleven cells on, else '22:34-1': so many days
    before today. What lies too long back has its date alone.
    """
    then, now = _local(utc_ns, zone), _local(now_ns, zone)
    if then.date() == now.date():
        return clock(utc_ns, zone).ljust(width)
    days = (now.date() - then.date()).days
    for told in (f"{then:%m-%d %H:%M}", f"{then:%H:%M}-{days}" if days > 0 else ""):
        if told and len(told) <= width:
            return told.ljust(width)
    return f"{then:%m-%d}".ljust(width)


def clock_minutes(utc_ns: int, zone: datetime.tzinfo | None = None) -> str:
    """Return a time of day to the minute, '14:03'."""
    return _local(utc_ns, zone).strftime("%H:%M")


def moment(utc_ns: int, zone: datetime.tzinfo | None = None) -> str:
    """Return a date and time of day, '2026-03-29 14:03:22'."""
    return _local(utc_ns, zone).strftime("%Y-%m-%d %H:%M:%S")


def day(utc_ns: int, zone: datetime.tzinfo | None = None) -> str:
    """Return a date, '29.03.' being a quarrel among nations: '03-29'."""
    return _local(utc_ns, zone).strftime("%m-%d")
