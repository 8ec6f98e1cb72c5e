"""How a line's alarms behaved over a recorded span, and what would make them better."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms.performance import (
    PRIORITY_PERCENT,
    TARGETS,
    performance,
    steady_word,
    upset_word,
)
from linewatch.core.alarms.remedies import announcements, remedies, with_remedies
from linewatch.core.alarms.wording import named, unit
from linewatch.core.errors import StoreUnusable
from linewatch.wiring.records import plan_source, recorded_span

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from linewatch.core.alarms.performance import Performance
    from linewatch.core.alarms.remedies import Remedy
    from linewatch.core.plan import LinePlan
    from linewatch.wiring.records import Texts


FROM_MEMORY = (
    "(these words are those of EEMUA 191; its figures are from memory, not checked against"
    " the guide)"
)
SPOKEN = {"1/10 min": "alarms in 10 min", "1/h": "alarms an hour", "1/d": "alarms a day"}
"""How a rate's unit is read."""
NOTHING_HELPS = (
    "nothing to suggest: rehearsed on this record, no wider deadband and no longer delay lets"
    " fewer alarms come"
)
DAY_H = 24.0
TEN_MIN = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmHealth:
    """What was found, for people and for scripts."""

    text: str
    parts: Mapping[str, Any]


def alarm_health(store: Path, line_id: str, texts: Texts) -> AlarmHealth:
    """Hold a span's alarms against published targets; rehearse what would help.

    Raises:
        StoreUnusable: the store cannot be read, or nothing was recorded in the span.
    """
    from linewatch.history.rerun import replay

    plan_of = plan_source(store, line_id)
    lived = replay(store, line_id, plan_of, recorded_span(store, line_id, texts))
    told = [*lived.recorded, *lived.events]
    if not told:
        raise StoreUnusable(str(store), "nothing happened in that span", "name a longer one")
    first_ns = min(each.mono_ns for each in told)
    last_ns = first_ns + max(lived.to_utc_ns - min(each.utc_ns for each in told), 1)
    occurred = announcements(lived.recorded)
    plan = plan_of(_fingerprint(store, line_id))
    found = performance(
        occurred, (first_ns, last_ns), plan.flood_start_per_10min, plan.flood_end_per_10min
    )
    wanted = remedies(plan, occurred)
    tried = _rehearsed(store, line_id, texts, with_remedies(plan, wanted)) if wanted else {}
    return AlarmHealth(
        text="\n".join(
            health_rows(found, (last_ns - first_ns) / 3.6e12, plan)
            + _suggested(plan, wanted, tried)
        ),
        parts={
            "hours": (last_ns - first_ns) / 3.6e12,
            **asdict(found),
            "remedies": [{**asdict(each), "would_come": tried[each.alarm]} for each in wanted],
        },
    )


def _fingerprint(store: Path, line_id: str) -> str:
    from linewatch.history.desk import StoreDesk

    return StoreDesk(store, line_id).configurations()[-1].fingerprint


def _rehearsed(store: Path, line_id: str, texts: Texts, plan: LinePlan) -> Mapping[str, int]:
    from linewatch.history.rerun import replay

    done = replay(store, line_id, lambda _: plan, recorded_span(store, line_id, texts))
    return Counter(each.alarm for each in announcements(done.events))


def health_rows(found: Performance, hours: float, plan: LinePlan) -> list[str]:
    """Return how a line's alarms behaved, in words and figures.

    Args:
        found: The figures.
        hours: How long the record is [h].
        plan: The line, for the names of its alarms.

    Returns:
        A line a row.
    """
    rows = [
        f"{found.announced} alarms were announced in {_long(hours)}",
        _words(found, hours),
        FROM_MEMORY,
        *_short(hours),
        "",
        f"{'figure':<34}{'here':>10}{'good':>8}{'most':>8}  {'':<6}unit",
    ]
    for name, value in found.figures().items():
        target = TARGETS[name]
        verdict = "" if value <= target.good else "over" if value > target.most else "high"
        rows.append(
            f"{name:<34}{value:>10.2f}{target.good:>8g}{target.most:>8g}"
            f"  {verdict:<6}{SPOKEN.get(target.unit, target.unit)} ({target.source})"
        )
    rows += ["", "priority      here %  wanted %"]
    rows += [
        f"{name:<12}{found.priority_percent[name]:>8.0f}{share:>10.0f}"
        for name, share in PRIORITY_PERCENT.items()
    ]
    rows += ["", "most frequent"]
    known = {each.id: named(plan, each) for each in plan.conditions}
    rows += [
        f"{count:>6}  {known.get(alarm, alarm)} ({alarm})" for alarm, count in found.top
    ] or ["     none"]
    for title, names in (
        ("chattering", found.chattering),
        ("over before anybody could act", found.fleeting),
        ("standing for more than a day", found.stale),
    ):
        told = ", ".join(known.get(each, each) for each in names)
        rows.append(f"{title}: {told or 'none'}")
    return rows


def _long(hours: float) -> str:
    """Return how long a record is: '7.2 min', '3.50 h'."""
    return f"{60.0 * hours:.1f} min" if hours < 1.0 else f"{hours:.2f} h"


def _short(hours: float) -> list[str]:
    """Return what a record that is short cannot tell, and by what it can."""
    if hours >= DAY_H:
        return []
    lacking = "an hour" if hours < 1.0 else "a day"
    rates = "per hour and per day" if hours < 1.0 else "per day"
    return [
        f"the record is shorter than {lacking}: figures {rates} are this pace, gone on with"
    ]


def _words(found: Performance, hours: float) -> str:
    steady, upset = steady_word(found.per_10min), upset_word(found.most_in_10min)
    if hours * 60.0 < TEN_MIN:
        return (
            f"at this pace that is {steady}; the record is shorter than ten minutes, and"
            f" what came in it ({found.most_in_10min}) is {upset} so far"
        )
    return (
        f"on average that is {steady}, by the scale for steady running; the worst ten minutes"
        f" were {upset}, by the scale for an upset, which allows ten times as many"
    )


def _suggested(plan: LinePlan, wanted: Sequence[Remedy], tried: Mapping[str, int]) -> list[str]:
    if not wanted:
        return ["", "no alarm came often enough, and was soon enough over, to suggest anything"]
    helps = [each for each in wanted if tried.get(each.alarm, 0) < each.came]
    if not helps:
        return ["", NOTHING_HELPS]
    conditions = {each.id: each for each in plan.conditions}
    rows = ["", "suggested, and rehearsed on this record (nothing is changed by itself)"]
    for each in helps:
        of = unit(plan, conditions[each.alarm])
        called = named(plan, conditions[each.alarm])
        deadband = f"{each.deadband:g} {of}".strip()
        rows.append(
            f"  {called} ({each.alarm}): with a deadband of {deadband} and a delay of"
            f" {each.on_delay_s:g} s: {tried.get(each.alarm, 0)} instead of {each.came}"
        )
    return rows
