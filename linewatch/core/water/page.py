"""A day of what was let go, as a page for an inspector."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.events import Event, EventKind
from linewatch.core.laboratory.analyses import analyses
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.pages import Page, Shown, Table, span_words
from linewatch.core.units import with_symbols
from linewatch.core.water.day import Discharged, Watched, discharged
from linewatch.core.water.permits import Standing, mg_per_l, standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.plan import LinePlan, TankPlan, Window

CAUTIONS = (
    (
        "Worked out from what the line's own instruments read and the laboratory noted. Limits"
        " stand as the configuration states them; the local permit governs, and its own methods"
        " of sampling and analysis. Nothing here replaces a report that it asks for."
    ),
    (
        "No signal tells hexavalent chromium at trace level, nor free against complexed"
        " cyanide: they are known only as far as they stand under 'analysed'; ask the spot test"
        " and the laboratory."
    ),
    "That the page is what the readings give: `linewatch verify`.",
)
MOST_ALARMS = 40
TOLD_BY_ITSELF = frozenset({"LogAnalysis"})
"""Acts whose own event tells more than that they were done."""
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """What a page is about."""

    title: str
    """The day as people write it."""
    day: int
    """Of the month."""
    month_days: int
    """Days that the month has."""
    hours: int
    """Hours that the day has: 23, 24 or 25."""
    span: tuple[int, int]
    """Begin and end of the day [ns since 1970, UTC]."""
    month: tuple[int, int]
    """From the month's begin to the day's end."""
    day_of: Callable[[int], int]
    """Returns the day of the month of a wall time."""
    to_come: int = 0
    """Hours of it that are not over yet: nothing can be told of them."""


def inspectors_page(
    plan: LinePlan, tank: TankPlan, events: Sequence[Event], day: Day, show: Shown
) -> Page:
    """Return the page of one day at one place.

    Args:
        plan: The line in force at the day's end.
        tank: Where water leaves.
        events: What was told from the month's begin to the day's end.
        day: Which day.
        show: The reader's units and clock.
    """
    today = [each for each in events if day.span[0] <= each.utc_ns < day.span[1]]
    that_day, month = discharged(today, tank.id), discharged(events, tank.id)
    stages = {each.id: each.name for each in plan.tanks if each.track == tank.track}
    return Page(
        title=f"{tank.name}: {day.title}",
        below=(
            f"{plan.name} · {_verdict(that_day, day)}",
            _volumes(that_day, month),
        ),
        tables=(
            _quantities(tank, that_day, month),
            _substances(plan, tank, events, day),
            _alarms(today, stages, show),
            _people(today, stages, show),
            _sets(plan, tank, stages),
        ),
        small=(
            f"Configuration {', '.join(p[:16] for p in _prints(that_day)) or 'not told'}.",
            *CAUTIONS,
        ),
    )


def _prints(found: Discharged | None) -> tuple[str, ...]:
    return found.fingerprints if found is not None else ()


def _verdict(found: Discharged | None, day: Day) -> str:
    if found is None:
        yet = " yet: an hour is told when it is over" if day.to_come else ""
        return f"nothing was told of this day{yet}"
    parts = []
    if day.to_come:
        parts.append(f"not over: {day.to_come} of {day.hours} hours to come")
    missing = day.hours - day.to_come - found.hours
    if missing > 0:
        parts.append(f"{missing} of {day.hours} hours were not recorded")
    if found.unknown_s:
        parts.append(f"for {_minutes(found.unknown_s)} nobody knows whether water flowed")
    if found.outside_s:
        parts.append(f"{_minutes(found.outside_s)} outside the permit")
    if len(parts) == (1 if day.to_come else 0):
        parts.append("inside the permit so far" if day.to_come else "inside the permit all day")
    return "; ".join(parts)


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.1f} min"


def _volumes(today: Discharged | None, month: Discharged | None) -> str:
    if today is None:
        return ""
    so_far = f", {month.volume_m3:.2f} m3 this month so far" if month is not None else ""
    return f"{today.volume_m3:.2f} m3 in {today.flowed_s / HOUR_S:.1f} h of flow{so_far}"


def _quantities(tank: TankPlan, today: Discharged | None, month: Discharged | None) -> Table:
    by_month = {each.kind: each for each in month.watched} if month is not None else {}
    return Table(
        heading="Measured while water flowed",
        columns=(
            "quantity",
            "least",
            "mean",
            "most",
            "allowed",
            "outside",
            "not known",
            "month",
            "source",
        ),
        rows=tuple(
            (*_quantity(each, by_month.get(each.kind)), _source(tank, each))
            for each in today.watched
        )
        if today is not None
        else (),
        numbers=frozenset({1, 2, 3, 5, 6, 7}),
        empty="no hour was told of",
        widths=(1.8, 1, 1, 1, 1.6, 1.2, 1.2, 1.4, 2.4),
    )


def _source(tank: TankPlan, each: Watched) -> str:
    """Return where the limits of a day come from, as far as the plan still states them."""
    window = tank.permit.get(each.kind)
    if window is None or (window.low, window.high) != (each.low, each.high):
        return "as it was configured then"
    return window.source


def _quantity(each: Watched, month: Watched | None) -> tuple[str, ...]:
    base = MEASUREMENTS[each.kind.partition(".")[0]]
    allowed = span_words(each.low, each.high)
    values = (each.low_seen, each.mean, each.high_seen)
    return (
        base.label if base.label == base.unit else f"{base.label} {base.unit}".strip(),
        *("" if v is None else f"{v:.{max(base.decimals, 2)}f}" for v in values),
        allowed,
        _minutes(each.outside_s),
        _minutes(each.unknown_s),
        "" if month is None else f"{_minutes(month.outside_s)} out",
    )


def _substances(plan: LinePlan, tank: TankPlan, events: Sequence[Event], day: Day) -> Table:
    found = [each for each in analyses(events) if each.subject == tank.id]
    rows = []
    for permit in plan.permits:
        by_day: dict[int, list[float]] = {}
        for each in found:
            if each.substance.casefold() != permit.substance.casefold():
                continue
            value = mg_per_l(each.value, each.unit)
            if value is not None:
                by_day.setdefault(day.day_of(each.sampled_utc_ns), []).append(value)
        to_come = max(day.month_days - day.day, 0)
        rows.append(_substance(standing(permit, by_day, day.day, to_come)))
    return Table(
        heading="Analysed [mg/L]",
        columns=(
            "substance",
            "today",
            "daily limit",
            "month",
            "limit",
            "days to come may average",
            "",
            "source",
        ),
        rows=tuple(rows),
        numbers=frozenset({1, 2, 3, 4, 5}),
        empty="the configuration states no permit on substances",
        widths=(1.2, 1, 1.2, 1, 1, 1.2, 2, 3),
    )


def _substance(each: Standing) -> tuple[str, ...]:
    numbers = (
        each.today_mg_per_l,
        each.permit.daily_mg_per_l,
        each.month_mg_per_l,
        each.permit.monthly_mg_per_l,
        # No concentration is below nothing: that none is left is said in words.
        each.left_mg_per_l if each.days and (each.left_mg_per_l or 0.0) >= 0.0 else None,
    )
    beyond = _days(each.days_beyond) + " beyond" if each.days_beyond else ""
    said = "; ".join(part for part in (each.verdict, beyond) if part)
    if each.today_mg_per_l is None:
        said = said or "not analysed today"
    return (
        each.permit.substance,
        *("" if value is None else f"{value:.3g}" for value in numbers),
        said,
        each.permit.source,
    )


def _alarms(today: Sequence[Event], stages: dict[str, str], show: Shown) -> Table:
    rows = [
        (
            show.clock(each.utc_ns),
            f"{stages[each.subject]}: {with_symbols(each.text)}",
        )
        for each in today
        if each.kind is EventKind.ALARM
        and each.subject in stages
        and each.values.get("move") == "occur"
    ]
    more = len(rows) - MOST_ALARMS
    tail = [("", f"and {more} more: `linewatch events`")] if more > 0 else []
    return Table(
        heading="Alarms of the treatment",
        rows=tuple(rows[:MOST_ALARMS] + tail),
        empty="none",
        widths=(1, 5),
    )


def _people(today: Sequence[Event], stages: dict[str, str], show: Shown) -> Table:
    kinds = {EventKind.COMMAND, EventKind.NOTE, EventKind.ANALYSIS}
    return Table(
        heading="What people did and noted",
        rows=tuple(
            (show.clock(each.utc_ns), f"{stages[each.subject]}: {with_symbols(each.text)}")
            for each in today
            if each.kind in kinds
            and each.subject in stages
            and each.values.get("what") not in TOLD_BY_ITSELF
        ),
        empty="nothing",
        widths=(1, 5),
    )


def _sets(plan: LinePlan, place: TankPlan, stages: dict[str, str]) -> Table:
    rows = []
    for tank in plan.tanks:
        if tank.id not in stages:
            continue
        for kind, window in tank.windows.items():
            base = MEASUREMENTS.get(kind.partition(".")[0])
            if base is None or (window.low is None and window.high is None):
                continue
            where = f"{span_words(window.low, window.high)} {base.unit}".strip()
            permit = place.permit.get(kind) if tank.id == place.id else None
            told = "" if permit is None else _beside_the_permit(window, permit)
            rows.append((tank.name, base.label, where, told, window.source))
    return Table(
        heading=(
            "Where alarms begin: the line's own limits, not the permit's (ORP as the"
            " instrument shows it, by its own reference)"
        ),
        columns=("stage", "quantity", "window", "beside the permit", "source of the window"),
        rows=tuple(rows),
        widths=(2, 1.2, 1.4, 2.2, 2.6),
    )


def _beside_the_permit(window: Window, permit: Window) -> str:
    """Return how an alarm's own limits lie to what the permit allows."""
    allowed = span_words(permit.low, permit.high)
    is_late = (permit.low is not None and (window.low is None or window.low < permit.low)) or (
        permit.high is not None and (window.high is None or window.high > permit.high)
    )
    if is_late:
        return f"NOT INSIDE the permit, {allowed}: water is beyond it before the alarm"
    same = (window.low, window.high) == (permit.low, permit.high)
    return f"the permit's own, {allowed}" if same else f"inside the permit, {allowed}"
