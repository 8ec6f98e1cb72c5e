"""When shifts begin: at six in the morning by the clock on the wall, then one after another."""

from __future__ import annotations

NS = 1_000_000_000
FIRST_S = 6 * 3600.0
"""Begin of the day's first shift after midnight. Common practice."""


def shift_of(utc_ns: int, days_ns: tuple[int, int, int], shift_s: float) -> tuple[int, int]:
    """Return begin and end of the shift that a moment lies in [ns since 1970].

    Args:
        utc_ns: The moment.
        days_ns: Midnight before it, the midnight before that, and the next one: on days on
            which clocks are set, the last shift is an hour shorter or longer.
        shift_s: Length of a shift [s].
    """
    today_ns, yesterday_ns, tomorrow_ns = days_ns
    first_ns, length_ns = round(FIRST_S * NS), max(1, round(shift_s * NS))
    begin_ns, end_ns = today_ns + first_ns, tomorrow_ns + first_ns
    if utc_ns < begin_ns:
        begin_ns, end_ns = yesterday_ns + first_ns, begin_ns
    count = max(1, (end_ns - begin_ns + length_ns // 2) // length_ns)
    which = min((utc_ns - begin_ns) // length_ns, count - 1)
    begins_ns = begin_ns + which * length_ns
    return begins_ns, end_ns if which == count - 1 else begins_ns + length_ns
