"""Blocks, runs, events and pictures of an invented line, for the tests of the store."""

from __future__ import annotations

import numpy as np

from linewatch.core.events import Event, EventKind
from linewatch.core.ports import Batch, RunStart, Tick
from linewatch.core.readings import Layout, Moment, Quality, Readings
from linewatch.core.view import Figure, LinePicture, TankPicture

LINE = "made-up"
NS = 10**9
BEGIN_UTC_NS = 1_772_000_000 * NS
"""2026-02-25 06:13:20 UTC."""

TANKS = Layout(
    link="tanks",
    device="tank-io",
    tags=("nickel-1.temperature", "nickel-1.level", "soak-1.temperature"),
    period_ns=NS,
)
RECTIFIER = Layout(
    link="rectifiers",
    device="rectifier-1",
    tags=("rectifier-1.current", "rectifier-1.voltage"),
    period_ns=NS,
)


def moment(second: float) -> Moment:
    """Return so many seconds after the beginning, on both clocks."""
    return Moment(utc_ns=BEGIN_UTC_NS + round(second * NS), mono_ns=round(second * NS))


def block(second: float, *values: float, layout: Layout = TANKS) -> Readings:
    """Return a good block; missing values are filled up."""
    at = moment(second)
    given = list(values) or [60.0 + 0.1 * k for k in range(len(layout.tags))]
    return Readings(
        layout=layout,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        value=np.array(given, dtype=np.float64),
        quality=np.where(np.isnan(given), Quality.NO_ANSWER, Quality.GOOD).astype(np.uint8),
    )


def run_start(second: float = 0.0, run_id: str = "run-1") -> RunStart:
    """Return the first entry of a run."""
    return RunStart(run_id=run_id, at=moment(second), fingerprint="f" * 64, speed=1.0)


def tick(second: float) -> Tick:
    """Return a tick."""
    return Tick(at=moment(second))


def event(second: float, text: str = "temperature is low", **values: object) -> Event:
    """Return an alarm event."""
    at = moment(second)
    return Event(
        kind=EventKind.ALARM,
        subject="nickel-1",
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=text,
        values=values,  # type: ignore[arg-type]
    )


def batch(*entries, events=(), memory=None, totals=None, outcomes=None) -> Batch:
    """Return a batch; the memory tells how many entries it has seen, unless given."""
    return Batch(
        entries=entries,
        events=events,
        memory=memory or {},
        totals=totals or {},
        outcomes=outcomes or {},
    )


def picture(second: float = 0.0, *, tanks: int = 3) -> LinePicture:
    """Return a picture of so many tanks."""
    at = moment(second)
    return LinePicture(
        line_id=LINE,
        name="Made up",
        run_id="run-1",
        fingerprint="f" * 64,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        started_utc_ns=BEGIN_UTC_NS,
        tanks=tuple(
            TankPicture(
                id=f"tank-{number}",
                name=f"Tank {number} [red]",
                kind="plate",
                figures={
                    kind: Figure(
                        tag=f"tank-{number}.{kind}",
                        kind=kind,
                        value=None if kind == "level" else 61.5 + number,
                        quality=0x81 if kind == "level" else 0,
                        utc_ns=at.utc_ns,
                    )
                    for kind in ("temperature", "level", "current", "voltage", "ph")
                },
            )
            for number in range(tanks)
        ),
    )


def recorded_hours(store, hours: int, *, begin_s: float = 0.0) -> None:
    """Record so many hours of the made-up line, a block a minute; archive what is closed."""
    from dataclasses import replace

    from linewatch import history

    tanks = replace(TANKS, period_ns=60 * NS)
    journal = history.open_journal(store, LINE)
    journal.append(batch(run_start(begin_s)))
    for minute in range(1, hours * 60 + 1):
        second = begin_s + minute * 60.0
        new = block(second, 60.0 + minute % 7, 1000.0 - minute, 50.0, layout=tanks)
        journal.append(batch(new, memory={"minute": str(minute).encode()}))
    journal.settle()
    assert journal.archivist.settle(), journal.archivist.trouble
    journal.close()
