"""Days as the clock of this machine has them."""

from __future__ import annotations

import datetime

NS = 1_000_000_000


def day_at(utc_ns: int) -> datetime.date:
    """Return the day that a moment lies in."""
    return datetime.datetime.fromtimestamp(utc_ns / NS).date()  # noqa: DTZ006 - the wall's


def midnight(day: datetime.date) -> int:
    """Return when a day begins [ns since 1970]."""
    return round(datetime.datetime(day.year, day.month, day.day).astimezone().timestamp()) * NS
