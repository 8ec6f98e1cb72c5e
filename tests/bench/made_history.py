"""Large made-up records for the benches: an hour, a month, a quarter, weeks of line time."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import psutil

sys.path.insert(0, str(Path(__file__).parents[2]))

from linewatch import history
from linewatch.core.line import Line
from linewatch.core.plan import (
    BathPlan,
    ConditionPlan,
    DepositPlan,
    EfficiencyPlan,
    LinePlan,
    RectifierPlan,
    TagPlan,
    TankPlan,
)
from linewatch.core.ports import Batch, RunStart, Tick
from linewatch.core.readings import Layout, Moment, Readings
from linewatch.history import archive_merge, codec, manifest, parquet, schema
from linewatch.history.archive_hour import sync_and_hash
from linewatch.history.chunk import Chunk
from linewatch.history.ledger import Draft, State
from linewatch.history.manifest import Section, Sectioned
from linewatch.history.places import Places, places

NS = 10**9
HOUR_S = 3600
DAY_S = 24 * HOUR_S
LINE = "big"
BEGIN_UTC_NS = 1_772_323_200 * NS
"""2026-03-01 00:00 UTC."""
TAGS = 10
BIG = tuple(
    Layout(
        link=f"link-{number // 8}",
        device=f"device-{number:02d}",
        tags=tuple(f"tank-{number:02d}.q{column}" for column in range(TAGS)),
        period_ns=NS,
    )
    for number in range(50)
)
LATE_NS = 2e6
"""Mean delay of a poll."""


def samples(kind: str, count: int, chance: np.random.Generator, start: int = 0):
    """Return values of one layout, shape (count, tags)."""
    noise = chance.normal(0, 1, (count, TAGS))
    rows = start + np.arange(count)[:, None]
    if kind == "integers":
        mean = np.array([650, 1500, 600, 16000, 0] * 2)
        spread = np.array([1, 3, 5, 20, 0] * 2)
        raw = np.round(mean + spread * noise)
        raw[:, [4, 9]] = np.floor(48210 + 0.4 * rows)
        return raw * np.array([0.1, 1, 0.01, 0.01, 0.1] * 2)
    if kind == "walk":
        walk = np.cumsum(chance.normal(0, 0.02, (count, TAGS)), axis=0)
        return np.round(65 + walk + 0.05 * noise, 2)
    mean, spread = (65.0, 0.3) if kind == "floats" else (2400.0, 50.0)
    return (mean + spread * noise).astype(np.float32).astype(np.float64)


def chunk_of_hour(
    kind: str, *, hour: int = 0, first: int = 1
) -> tuple[Chunk, dict[int, Layout]]:
    """Return one hour of all tags at 1 Hz, as the journal would hold it."""
    chance = np.random.default_rng(hour)
    phase = np.random.default_rng(99).integers(0, NS, len(BIG))
    second = np.arange(HOUR_S, dtype=np.int64)[None, :] * NS
    at = hour * HOUR_S * NS + second + phase[:, None]
    at = at + chance.exponential(LATE_NS, at.shape).astype(np.int64)
    order = np.argsort(at, axis=None, kind="stable")
    mono_ns = at.ravel()[order]
    value = {n: samples(kind, HOUR_S, chance, hour * HOUR_S) for n in range(1, len(BIG) + 1)}
    # The two clocks are read one behind the other.
    utc_ns = BEGIN_UTC_NS + mono_ns + chance.integers(80, 200, len(mono_ns))
    count = len(mono_ns)
    return Chunk(
        first=first,
        run=np.ones(count, dtype=np.int32),
        kind=np.zeros(count, dtype=np.uint8),
        layout=np.repeat(np.arange(1, len(BIG) + 1, dtype=np.int32), HOUR_S)[order],
        utc_ns=utc_ns,
        mono_ns=mono_ns,
        body={},
        value=value,
        quality={n: np.zeros((HOUR_S, TAGS), dtype=np.uint8) for n in value},
    ), dict(enumerate(BIG, 1))


def big_batches(kind: str, seconds: int) -> Iterator[Batch]:
    """Yield a batch a second of all tags, an hour of wall time ending 30 s before the end."""
    chance = np.random.default_rng(3)
    quality = np.zeros(TAGS, dtype=np.uint8)
    value = [samples(kind, seconds, chance) for _ in BIG]
    for second in range(seconds):
        entries: list = []
        if not second:
            at = Moment(utc_ns=BEGIN_UTC_NS, mono_ns=0)
            entries.append(RunStart(run_id="r", at=at, fingerprint="", speed=1.0))
        for number, layout in enumerate(BIG):
            mono_ns = second * NS + number * 20_000_000 + int(chance.exponential(LATE_NS))
            entries.append(
                Readings(
                    layout=layout,
                    utc_ns=BEGIN_UTC_NS + mono_ns,
                    mono_ns=mono_ns,
                    value=value[number][second],
                    quality=quality,
                )
            )
        yield Batch(
            entries=entries,
            events=(),
            memory={"line": str(second).encode() * 50},
            totals={f"tank-{k}": {"charge_uas": second * k} for k in range(50)},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """Stores with files, and the spans to ask about."""

    hours: Path
    hour_span: tuple[int, int]
    days: Path
    day_span: tuple[int, int]


def filled_month(folder: Path, *, hours: int, days: int) -> Filled:
    """Return a store of hourly files, and one of daily files.

    One day is real; the others of its month are further names of the same content, which is
    enough: an answer about a day opens that day's file alone.
    """
    by_hour, by_day = folder / "hours", folder / "days"
    source = places(by_hour, LINE)
    parts: dict[str, list[Sectioned]] = {"readings": [], "blocks": []}
    sections = []
    first = 1
    for hour in range(hours):
        chunk, layouts = chunk_of_hour("integers", hour=hour, first=first)
        section = Section(first=first, last=chunk.last, counts=tuple(chunk.counts().items()))
        sections.append(section)
        for kind, found in parts.items():
            file = source.archive / "date=2026-03-01" / f"{hour:02d}-{first}.{kind}.parquet"
            file.parent.mkdir(parents=True, exist_ok=True)
            if kind == "readings":
                parquet.write_readings(
                    file, chunk, layouts, parquet.about(LINE, layouts, {}, "")
                )
            else:
                parquet.write_blocks(file, chunk, parquet.about(LINE, layouts, {}, ""))
            span = (int(chunk.utc_ns.min()), int(chunk.utc_ns.max()))
            found.append(filed(source, file, kind, (section,), span))
        first = chunk.last + 1
    record(source, [each for kind in parts.values() for each in kind])
    end_ns = BEGIN_UTC_NS + hours * HOUR_S * NS
    if days > 1:
        _fill_days(places(by_day, LINE), source, parts, tuple(sections), days)
    # The first day is the real one: its file holds the times that are asked for.
    return Filled(
        hours=by_hour,
        hour_span=(BEGIN_UTC_NS, end_ns),
        days=by_day,
        day_span=(BEGIN_UTC_NS, BEGIN_UTC_NS + DAY_S * NS),
    )


def _fill_days(target: Places, source: Places, parts, sections, days: int) -> None:
    found = []
    for kind, files in parts.items():
        whole = target.archive / f"day.{kind}.parquet"
        whole.parent.mkdir(parents=True, exist_ok=True)
        archive_merge.merge(source, kind, files, whole)
        for day in range(days):
            name = target.archive / f"date={day:02d}" / f"day-{day}.{kind}.parquet"
            name.parent.mkdir(parents=True, exist_ok=True)
            os.link(whole, name)
            begin_ns = BEGIN_UTC_NS + day * DAY_S * NS
            span = (begin_ns, begin_ns + DAY_S * NS - 1)
            found.append(filed(target, name, kind, sections, span))
    record(target, found)


def quarter_of_minutes(folder: Path) -> Filled:
    """Return a store with 90 days of one-minute summaries: two months and single days."""
    import polars as pl

    there = places(folder, LINE)
    tags = sorted(tag for layout in BIG for tag in layout.tags)
    chance = np.random.default_rng(5)
    files: list[Sectioned] = []
    months: dict[int, list[Sectioned]] = {}
    for day in range(90):
        begin_ns = BEGIN_UTC_NS + day * DAY_S * NS
        minute = (begin_ns + np.arange(1440) * 60 * NS) // 10**6
        mean = np.round(chance.normal(65, 1, (len(tags), 1440)), 3)
        frame = pl.DataFrame(
            {
                "minute": pl.Series(np.tile(minute, len(tags))).cast(pl.Datetime("ms", "UTC")),
                "tag": pl.Series(tags).gather(np.repeat(np.arange(len(tags)), 1440)),
                "low": np.round(mean.ravel() - 0.2, 1),
                "mean": mean.ravel(),
                "high": np.round(mean.ravel() + 0.2, 1),
                "good_s": pl.Series(np.full(len(tags) * 1440, 60.0), dtype=pl.Float32),
            }
        )
        name = there.summaries / f"date={day:02d}" / f"day-{day + 1}.minutes.parquet"
        name.parent.mkdir(parents=True, exist_ok=True)
        frame.write_parquet(
            name,
            compression_level=3,
            row_group_size=parquet.GROUP_ROWS,
            data_page_size=parquet.PAGE_BYTES,
            metadata=parquet.about(LINE, {}, {}, ""),
        )
        span = (begin_ns, begin_ns + DAY_S * NS - 1)
        section = Section(first=day + 1, last=day + 1, counts=())
        months.setdefault(day // 30, []).append(filed(there, name, "minutes", (section,), span))
    for number, days in months.items():
        if number == max(months):
            files += days
            continue
        whole = there.summaries / f"month={number}" / f"month-{days[0].first}.minutes.parquet"
        whole.parent.mkdir(parents=True, exist_ok=True)
        archive_merge.merge(there, "minutes", days, whole)
        sections = tuple(section for day in days for section in day.sections)
        span = (days[0].low_utc_ns, days[-1].high_utc_ns)
        files.append(filed(there, whole, "minutes", sections, span))
    record(there, files)
    end_ns = BEGIN_UTC_NS + 90 * DAY_S * NS
    return Filled(
        hours=folder,
        hour_span=(BEGIN_UTC_NS, end_ns),
        days=folder,
        day_span=(BEGIN_UTC_NS, end_ns),
    )


def filed(there: Places, file: Path, kind, sections, span: tuple[int, int]) -> Sectioned:
    """Return what the manifest says of a file."""
    return Sectioned(
        first=sections[0].first,
        last=sections[-1].last,
        kind=kind,
        name=file.relative_to(there.folder).as_posix(),
        bytes=file.stat().st_size,
        sha256=sync_and_hash(file),
        low_utc_ns=span[0],
        high_utc_ns=span[1],
        head="",
        sections=tuple(sections),
    )


def record(there: Places, files: list[Sectioned]) -> None:
    """Record files and layouts in a new database."""
    there.folder.mkdir(parents=True, exist_ok=True)
    with closing(schema.open_for_writing(there.journal)) as database:
        for number, layout in enumerate(BIG, 1):
            database.execute(
                "INSERT INTO layouts VALUES (?, ?, ?)",
                (LINE, number, codec.layout_text(layout)),
            )
        draft = Draft(database, LINE, State())
        with schema.transaction(database):
            manifest.record(draft, files)


# The line of 300 tags.


def plated_plan(period_s: int = 1) -> LinePlan:
    """Return a line of 30 rectifiers and 30 tanks: 300 tags in 40 layouts."""
    period_ns = period_s * NS
    tags: dict[str, TagPlan] = {}
    conditions: list[ConditionPlan] = []
    layouts: list[Layout] = []

    def tag(subject: str, kind: str, low: float, high: float) -> str:
        name = f"{subject}.{kind}"
        tags[name] = TagPlan(
            id=name,
            subject=subject,
            kind=kind,
            low=low,
            high=high,
            period_ns=period_ns,
            stale_after_ns=3 * period_ns,
        )
        return name

    def condition(name: str, kind, limit: float, deadband: float, delay_s: float) -> None:
        conditions.append(
            ConditionPlan(
                id=f"{name}.{kind}",
                tag=name,
                kind=kind,
                limit=limit,
                deadband=deadband,
                on_delay_ns=round(delay_s * NS),
            )
        )

    for number in range(30):
        source = f"r-{number}"
        names = (
            tag(source, "current", -50000, 50000),
            tag(source, "voltage", -100, 100),
            tag(source, "charge-meter", 0, 1e10),
            tag(source, "ripple", 0, 400),
            tag(source, "heat-sink", -30, 200),
        )
        layouts.append(
            Layout(link="rectifiers", device=source, tags=names, period_ns=period_ns)
        )
        condition(names[4], "high", 70.0, 2.0, 10.0)
        condition(names[0], "bad-quality", 0.0, 0.0, 10.0)
    for number in range(10):
        names_: list[str] = []
        for tank in (f"t-{3 * number + k}" for k in range(3)):
            names_ += [
                tag(tank, "temperature", -30, 350),
                tag(tank, "level", -50, 6000),
                tag(tank, "ph", -2, 16),
                tag(tank, "heater-duty", 0, 100),
                tag(tank, "load-present", 0, 1),
            ]
            for kind, limit in (("high", 70.0), ("low", 60.0), ("high-high", 75.0)):
                condition(f"{tank}.temperature", kind, limit, 0.5, 30.0)
            condition(f"{tank}.level", "low", 1000.0, 10.0, 30.0)
        layouts.append(
            Layout(link="tanks", device=f"io-{number}", tags=tuple(names_), period_ns=period_ns)
        )
    nickel = DepositPlan(
        parts=(("Ni(II)", 1.0),), efficiency=EfficiencyPlan(value=0.96, low=0.94, high=0.98)
    )
    return LinePlan(
        line_id="plated",
        name="Plated",
        fingerprint="f" * 64,
        layouts=tuple(layouts),
        tags=tags,
        tanks=tuple(
            TankPlan(id=f"t-{k}", name=f"T{k}", kind="plate", bath="ni") for k in range(30)
        ),
        rectifiers=tuple(
            RectifierPlan(
                id=f"r-{k}",
                name=f"R{k}",
                feeds=((f"t-{k}", 1.0),),
                rated_current_a=3000.0,
                rated_voltage_v=12.0,
                meter_modulus_ah=1e6,
                zero_cutoff_a=3.0,
            )
            for k in range(30)
        ),
        baths=(BathPlan(id="ni", name="Nickel", deposit=nickel),),
        conditions=tuple(conditions),
        links=("rectifiers", "tanks"),
    )


class PlatedPlant:
    """Brings all layouts once a period: noise, and, unless it is calm, loads and alarms.

    Not calm: each of the 30 tanks gets and loses a load once in 20 minutes, its rectifier with
    it (so the line changes some 3 times a minute), and one tank is too hot for 5 minutes of
    every hour.
    """

    def __init__(self, plan: LinePlan, *, calm: bool, period_s: int = 1) -> None:
        self._plan = plan
        self._calm = calm
        self._period_s = period_s
        self._chance = np.random.default_rng(11)
        self._charge_ah = np.full(30, 48_000.0)
        self.second = 0

    def at(self, late_ns: int = 0) -> Moment:
        mono_ns = self.second * NS + late_ns
        return Moment(utc_ns=BEGIN_UTC_NS + mono_ns, mono_ns=mono_ns)

    def entries(self) -> list:
        self.second += self._period_s
        loaded = (self.second + 40 * np.arange(30)) % 1200 < 900
        if self._calm:
            loaded = np.ones(30, dtype=bool)
        found: list = [
            self._block(number, layout, loaded)
            for number, layout in enumerate(self._plan.layouts)
        ]
        found.append(Tick(at=self.at(NS - 1)))
        return found

    def _block(self, number: int, layout: Layout, loaded) -> Readings:
        noise = self._chance.normal(0, 1, len(layout.tags))
        if number < 30:
            current_a = 2400.0 * loaded[number] + (
                np.round(3 * noise[0]) if loaded[number] else 0
            )
            self._charge_ah[number] += current_a * self._period_s / 3600.0
            value = np.array(
                [
                    current_a,
                    round(6.0 + 0.02 * noise[1], 2),
                    float(int(self._charge_ah[number] % 1e6)),
                    round(2.0 + 0.1 * noise[3], 1),
                    round(45.0 + 0.3 * noise[4], 1),
                ]
            )
        else:
            value = np.tile(np.array([65.0, 1500.0, 4.0, 40.0, 1.0]), 3)
            value += np.round(noise * np.tile([0.1, 2.0, 0.01, 1.0, 0.0], 3), 2)
            first = 3 * (number - 30)
            value[4::5] = loaded[first : first + 3]
            if not self._calm and number == 30 and self.second % 3600 < 300:
                value[0] += 7.0
        at = self.at(number * 20_000_000 + int(self._chance.exponential(LATE_NS)))
        return Readings(
            layout=layout,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            value=value,
            quality=np.zeros(len(value), dtype=np.uint8),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What the live line counted."""

    totals: dict
    events: int


def _feed(line: Line, entry) -> list:
    match entry:
        case Readings():
            return line.receive(entry)
        case Tick():
            return line.tick(entry.at)
        case _:
            return line.begin(entry)


def _second(line: Line, plant: PlatedPlant, seconds: int = 1) -> Batch:
    entries: list = []
    if not plant.second:
        entries.append(RunStart(run_id="r", at=plant.at(), fingerprint="f" * 64, speed=1.0))
    for _ in range(seconds):
        entries += plant.entries()
    events = [event for entry in entries for event in _feed(line, entry)]
    return Batch(
        entries=entries, events=events, memory=line.changed_memory(), totals=line.totals()
    )


def plated_batches(store: Path, seconds: int, *, calm: bool) -> Recorded:
    """Run the line of 300 tags at 1 Hz into a store; return what it counted."""
    plan = plated_plan()
    line, plant = Line(plan), PlatedPlant(plan, calm=calm)
    journal = history.open_journal(store, plan.line_id)
    events = 0
    while plant.second < seconds:
        batch = _second(line, plant, 5)
        events += len(batch.events)
        journal.append(batch)
        journal.settle()
    journal.archivist.settle(120.0)
    journal.close()
    return Recorded(totals=line.totals(), events=events)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOf:
    """How large everything is at the end of a day."""

    resident_mb: float
    journal_mb: float
    wal_mb: float
    files: int
    events: int
    entries: int
    """Of the sequence that are still in the database."""


def _count(there: Places, table: str) -> int:
    with closing(schema.open_for_reading(there.journal)) as database:
        found: int = database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608
    return found


def long_record(store: Path, days: int, period_s: int = 30) -> list[DayOf]:
    """Feed days to line and store as fast as they go; return how large it was each day."""
    plan = plated_plan(period_s)
    line, plant = Line(plan), PlatedPlant(plan, calm=False, period_s=period_s)
    journal = history.open_journal(store, plan.line_id)
    process = psutil.Process()
    told = []
    for day in range(1, days + 1):
        wal = 0
        while plant.second < day * DAY_S:
            journal.append(_second(line, plant, 10))
            journal.settle()
            wal = max(wal, journal.wal_bytes())
        journal.archivist.settle(120.0)
        told.append(
            DayOf(
                resident_mb=process.memory_info().rss / 1e6,
                journal_mb=journal.places.journal.stat().st_size / 1e6,
                wal_mb=wal / 1e6,
                files=sum(1 for _ in journal.places.archive.rglob("*.parquet")),
                events=_count(journal.places, "events"),
                entries=_count(journal.places, "sequence"),
            )
        )
    journal.close()
    return told
