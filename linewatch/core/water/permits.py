"""Limits on what may be let go, and how much of them is left this month.

The tables are examples from a published rule; **the local permit governs**. They are never in
force by themselves: a configuration states its own limits.

References:
    40 CFR 433.15 (PSES, existing sources) and 433.17 (PSNS, new sources), metal finishing:
    maximum for any one day and monthly average that shall not be exceeded [mg/L, total].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core.plan import Permit

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def _table(rows: Mapping[str, tuple[float, float | None]], source: str) -> tuple[Permit, ...]:
    return tuple(
        Permit(substance=name, daily_mg_per_l=day, monthly_mg_per_l=month, source=source)
        for name, (day, month) in rows.items()
    )


_EXISTING: Final[dict[str, tuple[float, float | None]]] = {
    "Cd": (0.69, 0.26),
    "Cr": (2.77, 1.71),
    "Cu": (3.38, 2.07),
    "Pb": (0.69, 0.43),
    "Ni": (3.98, 2.38),
    "Ag": (0.43, 0.24),
    "Zn": (2.61, 1.48),
    "CN": (1.20, 0.65),
}
CFR_433_15: Final = _table(_EXISTING, "40 CFR 433.15, an example; the local permit governs")
CFR_433_17: Final = _table(
    # New sources have another row for cadmium; what it says of two more is that rule's.
    {
        **_EXISTING,
        "Cd": (0.11, 0.07),
        # Amenable to chlorination: where the plant has cyanide treatment, in place of total.
        "CN amenable": (0.86, 0.32),
        # Toxic organics together: for any one day only.
        "TTO": (2.13, None),
    },
    "40 CFR 433.17(a), an example; the local permit governs",
)


_IN_MG_PER_L: Final = {"mg/L": 1.0, "ug/L": 1e-3, "g/L": 1e3}


def mg_per_l(value: float, unit: str) -> float | None:
    """Return a found value in the unit of limits [mg/L]; None from a unit of another kind."""
    factor = _IN_MG_PER_L.get(unit)
    return None if factor is None else factor * value


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a substance stands against its limits."""

    permit: Permit
    today_mg_per_l: float | None
    """Largest value of the day; None: none was analysed."""
    month_mg_per_l: float | None
    """Average of the days analysed this month so far."""
    days: int
    """How many days of the month have a value."""
    days_beyond: int
    """How many of them are beyond the daily limit."""
    left_mg_per_l: float | None
    """What the days still to come may average; None: no monthly limit, or no day to come.
    Below 0: whatever they have, the month's average is beyond its limit."""

    @property
    def verdict(self) -> str:
        """Return what is wrong: '' for nothing."""
        daily, today = self.permit.daily_mg_per_l, self.today_mg_per_l
        is_beyond = daily is not None and today is not None and today > daily
        parts = ("beyond the daily limit" if is_beyond else "", self._month_verdict)
        return "; ".join(part for part in parts if part)

    @property
    def _month_verdict(self) -> str:
        monthly, left = self.permit.monthly_mg_per_l, self.left_mg_per_l
        if self.month_mg_per_l is None or monthly is None:
            return ""
        if left is not None and left < 0.0:
            return "the month's average can no longer be kept"
        if self.month_mg_per_l > monthly:
            return "the month's average is beyond its limit"
        return "nothing of the month's average is left" if left == 0.0 else ""


def standing(
    permit: Permit, by_day: Mapping[int, Sequence[float]], today: int, days_to_come: int
) -> Standing:
    """Return how a substance stands on a day.

    Args:
        permit: Its limits.
        by_day: Values [mg/L] by day of the month, up to and with the day.
        today: Day of the month.
        days_to_come: Days still to be analysed this month, as many as were so far by default.

    Returns:
        The standing. A day's value is the mean of its samples; its largest is what the daily
        limit is held against, which is the stricter reading of the two in use.
    """
    means = {day: sum(values) / len(values) for day, values in by_day.items() if values}
    average = sum(means.values()) / len(means) if means else None
    daily, monthly = permit.daily_mg_per_l, permit.monthly_mg_per_l
    left = None
    if monthly is not None and days_to_come > 0:
        whole = len(means) + days_to_come
        left = (monthly * whole - sum(means.values())) / days_to_come
    return Standing(
        permit=permit,
        today_mg_per_l=max(by_day.get(today, ()), default=None),
        month_mg_per_l=average,
        days=len(means),
        days_beyond=sum(
            daily is not None and max(values) > daily for values in by_day.values() if values
        ),
        left_mg_per_l=left,
    )
