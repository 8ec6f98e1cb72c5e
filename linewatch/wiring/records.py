"""What can be asked of a record: explanations, replay, verification, spans as people write."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms.remedies import announcements
from linewatch.core.alarms.wording import called
from linewatch.core.errors import Refused, UnitMismatch
from linewatch.wiring.viewer import picture_in

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import tzinfo
    from pathlib import Path

    from linewatch.core.electrochemistry.explanation import Explanation
    from linewatch.core.events import Event
    from linewatch.core.plan import LinePlan
    from linewatch.core.view import LinePicture
    from linewatch.history.backups import Copied
    from linewatch.history.rerun import Verdict

FOR_EVER = (0, 2**62)
"""Of events: they are looked up by their times, nothing is reckoned with these."""
MOST_EVENTS = 200_000
ALSO_CALLED = {"mass": "deposited", "metal": "deposited", "pull": "time to target"}
"""Words that people use for a figure, and the word it is explained under."""
Texts = tuple[str, str]
Totals = Mapping[str, Mapping[str, float | int]]


def here() -> str:
    """Return the name of this machine's time zone, as `zones` knows it."""
    from linewatch.history import zones

    return str(zones.zone(""))


def span(
    texts: Texts, latest_ns: Callable[[], int], zone: str = ""
) -> tuple[int | None, int | None]:
    """Return the span that a person wrote [ns since the Unix epoch]; None: open.

    Args:
        texts: Begin and end: "2026-03-01 06:00"; "06:00" is the last one that is recorded.
        latest_ns: Tells when the record ends [ns since the Unix epoch].
        zone: Name of the time zone; the machine's own for ''.

    Raises:
        UnitMismatch: a text is no time, or there is no such zone.
        Refused: it ends before it begins.
    """
    from linewatch.history import zones

    try:
        where = zones.zone(zone)
    except ValueError as error:
        raise UnitMismatch(zone, "time zone", "write it as Europe/Lisbon or UTC") from error
    begin, end = (_moment(text, where, latest_ns) for text in texts)
    if begin is not None and end is not None and begin >= end:
        if zones.is_time_of_day(texts[0]):
            # A night shift: its evening was the day before.
            begin = zones.before(texts[0], end, where)
        else:
            raise Refused(
                f"look at the time from {texts[0]} to {texts[1]}",
                "it ends before it begins; --from is the earlier of the two",
            )
    return begin, end


def _moment(text: str, where: tzinfo, latest_ns: Callable[[], int]) -> int | None:
    from linewatch.history import zones

    if not text.strip():
        return None
    try:
        if zones.is_time_of_day(text):
            return zones.before(text, latest_ns(), where)
        return zones.read(text, where)
    except ValueError as error:
        # The error says what was written already.
        raise UnitMismatch(text, "time", str(error)) from error


def recorded_span(
    store: Path, line_id: str, texts: Texts, zone: str = ""
) -> tuple[int | None, int | None]:
    """Return the span that a person wrote of a line's record; see `span`."""
    from linewatch.history.desk import StoreDesk

    return span(texts, lambda: StoreDesk(store, line_id).ends()[1], zone)


def whole_span(store: Path, line_id: str, texts: Texts, zone: str = "") -> tuple[int, int]:
    """Return what `recorded_span` does; where it is open, the record's own ends."""
    from linewatch.history.desk import StoreDesk

    begin, end = recorded_span(store, line_id, texts, zone)
    first, last = StoreDesk(store, line_id).ends()
    begin = first if begin is None else begin
    return begin, max(begin + 1, last) if end is None else end


def plan_source(store: Path, line_id: str) -> Callable[[str], LinePlan]:
    """Return what gives the plan of a recorded configuration by its fingerprint."""
    from linewatch.history.desk import StoreDesk

    desk = StoreDesk(store, line_id)
    known: dict[str, LinePlan] = {}

    def plan_of(fingerprint: str) -> LinePlan:
        if fingerprint not in known:
            text = desk.configuration(fingerprint)
            # Inside, for a screen shows its first picture without any configuration.
            from linewatch import config

            known[fingerprint] = config.read_text(text, f"configuration {fingerprint[:8]}").plan
        return known[fingerprint]

    return plan_of


def plan_in_force(store: Path, line_id: str) -> LinePlan:
    """Return the plan of the configuration in force.

    Raises:
        StoreUnusable: there is no picture yet.
    """
    return plan_source(store, line_id)(picture_in(store, line_id).fingerprint)


def explainer(store: Path, line_id: str) -> Callable[[LinePicture, str], Sequence[Explanation]]:
    """Return what explains the figures of a thing on a picture; for the screen."""
    plan_of = plan_source(store, line_id)

    def why(picture: LinePicture, subject: str) -> Sequence[Explanation]:
        from linewatch.core import reasons

        return reasons.explain(plan_of(picture.fingerprint), picture, subject)

    return why


def explain(store: Path, line_id: str, subject: str, figure: str) -> Sequence[Explanation]:
    """Return why the figures of a thing are what they are, or one of them by a word.

    Raises:
        Refused: there is no such thing, or it has no such figure.
        StoreUnusable: there is no picture yet.
    """
    found = explainer(store, line_id)(picture_in(store, line_id), subject)
    return by_word(found, called(plan_in_force(store, line_id), subject), figure)


def by_word(found: Sequence[Explanation], subject: str, figure: str) -> Sequence[Explanation]:
    """Return the explanations of a subject with a word in their name; all for ''.

    Raises:
        Refused: none has it.
    """
    wanted = ALSO_CALLED.get(figure.lower(), figure.lower())
    chosen = [each for each in found if wanted in each.figure.lower()]
    if not chosen:
        names = ", ".join(each.figure for each in found) or "none that is worked out"
        raise Refused(f"explain {subject} {figure}".strip(), f"its figures are {names}")
    return chosen


def units(store: Path, line_id: str) -> str:
    """Return the units that a line's screen shows."""
    return picture_in(store, line_id).units


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """What a replay told, for people and for scripts."""

    text: str
    parts: Mapping[str, Any]


def rehearse(store: Path, line_id: str, texts: Texts, other: Path | None) -> Rehearsed:
    """Replay a span, with another configuration if one is named.

    Raises:
        ConfigurationFaulty: the other configuration has faults.
        StoreUnusable: the store cannot be read.
    """
    from linewatch import config
    from linewatch.history.rerun import replay

    plan = config.read(other).plan if other is not None else None
    plan_of = plan_source(store, line_id) if plan is None else lambda _: plan
    began = time.monotonic()
    done = replay(store, line_id, plan_of, recorded_span(store, line_id, texts))
    took_s = time.monotonic() - began
    lived_s = _lived_s(done.before, done.totals)
    did, would = came(done.recorded), came(done.events)
    parts = {
        "from_utc_ns": done.from_utc_ns,
        "to_utc_ns": done.to_utc_ns,
        "entries": done.entries,
        "times_real_time": lived_s / took_s if took_s > 0.0 else None,
        "totals": {key: dict(value) for key, value in done.totals.items()},
        "alarms_that_came": dict(did),
        "alarms_replayed": dict(would),
        "refused": list(done.refused),
    }
    rows = [
        f"{done.entries} entries over {lived_s:.0f} s of line time, in {took_s:.2f} s",
        f"{'alarm':<52}{'came':>8}{'replayed':>10}",
    ]
    rows += [
        f"{name:<52}{did.get(name, 0):>8}{would.get(name, 0):>10}"
        for name in sorted(did | would)
    ]
    rows.append(
        f"{'rectifier or tank':<30}{'cathodic A·h':>14}{'anodic A·h':>14}{'metal g':>12}"
    )
    rows += [_total_row(name, total) for name, total in done.totals.items()]
    return Rehearsed(text="\n".join(rows), parts=parts)


def _lived_s(before: Totals, after: Totals) -> float:
    """Return the line time between two sets of totals, by the longest account of time."""
    return max(
        (
            (total.get("elapsed_ns", 0) - before.get(name, {}).get("elapsed_ns", 0)) / 1e9
            for name, total in after.items()
        ),
        default=0.0,
    )


def _total_row(name: str, total: Mapping[str, float | int]) -> str:
    cathodic = total.get("cathodic_uas", 0) / 3.6e9
    anodic = total.get("anodic_uas", 0) / 3.6e9
    metal = total.get("metal_g")
    shown = f"{metal:>12.2f}" if metal is not None else f"{'-':>12}"
    return f"{name:<30}{cathodic:>14.3f}{anodic:>14.3f}{shown}"


def came(events: Sequence[Event]) -> Counter[str]:
    """Return how often each alarm was announced, as `linewatch alarm-health` counts.

    One that comes back before anybody acknowledged it is announced again.
    """
    return Counter(each.alarm for each in announcements(events))


def verify(store: Path, line_id: str, texts: Texts) -> Verdict:
    """Replay a span and compare it with what was stored.

    Raises:
        StoreUnusable: the store cannot be read.
    """
    from linewatch.history import rerun

    return rerun.verify(
        store, line_id, plan_source(store, line_id), recorded_span(store, line_id, texts)
    )


def restore(source: Path, store: Path, line_id: str, *, who: str, why: str) -> Copied:
    """Put a backup in place of a record that is gone.

    Raises:
        StoreUnusable: the backup is not whole, or the store already holds the line's record.
        CollectorRunning: a collector holds the line.
    """
    from linewatch.engine.clock import SystemClock
    from linewatch.history import backups

    now_ns = SystemClock().now().utc_ns
    return backups.restore(source, store, line_id, who=who, why=why, utc_ns=now_ns)
