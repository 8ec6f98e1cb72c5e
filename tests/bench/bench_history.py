"""What the record costs: room, pauses, answers and replay.

    python tests/bench/bench_history.py [--quick] [--json FILE]

Makes its own stores in a temporary folder, of 500 tags in 50 layouts at 1 Hz (replay: 300 tags
in 40), polled with an exponential delay of 2 ms on average, so that the times are as rough as
real ones. `--quick` takes shorter spans; the figures that need the long ones are left out.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import numpy as np
import polars as pl

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2]))

from made_history import (
    BIG,
    HOUR_S,
    LINE,
    big_batches,
    chunk_of_hour,
    filled_month,
    long_record,
    plated_batches,
    plated_plan,
    quarter_of_minutes,
)
from table import Measured, told

from linewatch import history
from linewatch.history import parquet, rerun
from linewatch.history.places import places
from linewatch.history.reader import Reader
from linewatch.history.schema import open_for_reading

Table = list[Measured]
DAY_NS = 86_400 * 10**9


def room(folder: Path) -> Table:
    """Bytes a sample of one archived hour: readings and blocks, every column of them."""
    rows = []
    for kind, wanted in (("integers", 2.0), ("walk", 2.0), ("floats", 4.0), ("wide", 4.0)):
        chunk, layouts = chunk_of_hour(kind)
        parquet.write_readings(folder / "r.parquet", chunk, layouts, {})
        parquet.write_blocks(folder / "b.parquet", chunk, {})
        size = sum((folder / name).stat().st_size for name in ("r.parquet", "b.parquet"))
        samples = sum(value.size for value in chunk.value.values())
        rows.append(
            Measured(
                measure=f"archive: {ROOM_WORDS[kind]}",
                value=size / samples,
                unit="B/sample",
                wanted=f"<= {wanted:g}",
            )
        )
    return rows


ENTRIES_AN_HOUR = 120 * 41
"""Of `long_record`: 40 layouts and a tick every 30 s."""
ROOM_WORDS = {
    "integers": "integer registers, noise of 1 to 20 counts",
    "walk": "0.01 steps, random walk and noise on every tag",
    "floats": "float32, noise of 0.5 %",
    "wide": "float32, noise of 2 %",
}


def closing_an_hour(folder: Path) -> Table:
    """How late a loop runs that ticks every 10 ms, while it hands over batches at 1 Hz."""
    journal = history.open_journal(folder / "closing", LINE)
    batches = big_batches("integers", HOUR_S + 60)
    calm: list[float] = []
    closing_: list[float] = []

    async def live() -> None:
        for number, each in enumerate(batches):
            if number < HOUR_S - 30:
                journal.append(each)
                if number % 50 == 0:
                    journal.settle()
                continue
            late = calm if number < HOUR_S - 10 else closing_
            began = time.perf_counter()
            journal.append(each)
            for k in range(20):
                due = began + 0.01 * (k + 1)
                await asyncio.sleep(max(0.0, due - time.perf_counter()))
                journal.requests()
                late.append((time.perf_counter() - due) * 1e3)

    asyncio.run(live())
    done = journal.archivist.settle(120.0)
    size_mb = journal.places.journal.stat().st_size / 1e6
    wal_mb = journal.wal_bytes() / 1e6
    journal.close()
    return [
        Measured(measure="loop: latest tick before an hour closes", value=max(calm), unit="ms"),
        Measured(
            measure="loop: latest tick while an hour is closed",
            value=max(closing_),
            unit="ms",
            wanted="< 50",
            against=f"hour archived meanwhile: {done}",
        ),
        Measured(
            measure="journal: size of the database, an hour in it", value=size_mb, unit="MB"
        ),
        Measured(measure="journal: size of its log", value=wal_mb, unit="MB", wanted="< 100"),
    ]


def questions(folder: Path, *, quick: bool) -> Table:
    """How long an answer takes: the best of five, the files in the system's cache."""
    rows = []
    span_h = 3 if quick else 24
    store = filled_month(folder / "month", hours=span_h, days=1 if quick else 30)
    plain = plain_file(store.hours, "archive/*/*.readings.parquet", ("time", "value"))
    rows += _asked(
        store.hours, store.hour_span, 200, f"one tag over {span_h} h, hourly files", "< 50"
    )
    rows += _against_plain(plain, "value", "time", store.hour_span, rows[-1].value)
    if not quick:
        rows += _asked(store.days, store.day_span, 200, "one tag for a day of a month", "< 100")
        quarter = quarter_of_minutes(folder / "quarter")
        rows += _asked(
            quarter.days, quarter.day_span, 200, "one tag over 90 days, summaries", "< 200"
        )
        plain = plain_file(quarter.days, "summaries/*/*.minutes.parquet", ("minute", "mean"))
        first = quarter.day_span[0]
        day = (first + 45 * DAY_NS, first + 46 * DAY_NS)
        rows += _asked(quarter.days, day, 200, "one tag, a day out of 90, summaries", "< 100")
        rows += _against_plain(plain, "mean", "minute", day, rows[-1].value)
    return rows


def plain_file(store: Path, files: str, columns: tuple[str, str]) -> Path:
    """Return one plain Parquet file of the same rows, in the order of time."""
    found = store / "plain.parquet"
    time_, value = columns
    sources = sorted(places(store, LINE).folder.glob(files))
    rows = pl.concat([pl.scan_parquet(each).select(time_, "tag", value) for each in sources])
    rows.sort(time_).collect().write_parquet(found)
    return found


def _against_plain(
    file: Path, value: str, time_: str, span: tuple[int, int], ours_ms: float
) -> Table:
    """How long polars takes for the same 200 points from one plain file: the best of five."""
    tag = BIG[20].tags[3]
    first, end = span
    bucket_ns = (end - first) // 200
    best, points = float("inf"), 0
    for _ in range(6):
        began = time.perf_counter()
        at = pl.col(time_).dt.timestamp("ns")
        found = (
            pl.scan_parquet(file)
            .filter((pl.col("tag") == tag) & (at >= first) & (at < end))
            .group_by((at - first) // bucket_ns)
            .agg(
                pl.col(value).min().alias("low"),
                pl.col(value).mean().alias("mean"),
                pl.col(value).max().alias("high"),
            )
            .collect()
        )
        points = len(found)
        best = min(best, (time.perf_counter() - began) * 1e3)
    return [
        Measured(
            measure="  against polars on one plain file of the same rows",
            value=ours_ms / best,
            unit="times",
            against=f"{best:.1f} ms, {points} points, {file.stat().st_size / 1e6:.1f} MB",
            wanted="<= 1.2",
        )
    ]


def _asked(store: Path, span: tuple[int, int], width: int, what: str, wanted: str) -> Table:
    there = places(store, LINE)
    tag = BIG[20].tags[3]
    best, first = float("inf"), 0.0
    reader = Reader(there, LINE)
    with closing(open_for_reading(there.journal)) as database:
        for _ in range(6):
            began = time.perf_counter()
            found = reader.series(database, tag, span, width)
            took_ms = (time.perf_counter() - began) * 1e3
            first = first or took_ms
            best = min(best, took_ms)
    share = float(np.mean(~np.isnan(found.mean)))
    return [
        Measured(
            measure=f"question: {what}, {width} points",
            value=best,
            unit="ms",
            wanted=wanted,
            against=f"first time {first:.0f} ms; {share:.0%} of the buckets filled",
        )
    ]


def replaying(folder: Path, *, quick: bool) -> Table:
    """How fast the record runs through the line again, reading it included, on one core."""
    seconds = HOUR_S // 2 if quick else 3 * HOUR_S
    rows = []
    for calm, words in ((True, "calm"), (False, "loads moving, alarms coming")):
        store = folder / f"replay-{calm}"
        recorded = plated_batches(store, seconds, calm=calm)
        began = time.process_time()
        wall = time.perf_counter()
        found = rerun.replay(store, plated_plan().line_id, lambda _: plated_plan())
        took_s = time.perf_counter() - wall
        used_s = time.process_time() - began
        rows.append(
            Measured(
                measure=f"replay: 300 tags at 1 Hz, {words}",
                value=seconds / max(took_s, used_s),
                unit="x",
                wanted=">= 2000",
                against=f"totals equal: {found.totals == recorded.totals};"
                f" {found.entries} entries, {recorded.events} events",
            )
        )
    return rows


def thirty_days(folder: Path, *, quick: bool) -> Table:
    """Days fed straight to `Line` and store: what grows from one to the next."""
    days = 3 if quick else 30
    told = long_record(folder / "long", days)
    second, middle, last = told[1], told[len(told) // 2 - 1], told[-1]
    return [
        Measured(
            measure=f"{days} days: resident memory, last against second",
            value=last.resident_mb / second.resident_mb,
            unit="x",
            wanted="<= 1.05",
            against=f"{second.resident_mb:.0f} MB, then {last.resident_mb:.0f} MB",
        ),
        Measured(
            measure=f"{days} days: largest log",
            value=max(each.wal_mb for each in told),
            unit="MB",
            wanted="< 100",
        ),
        # Events are kept for good, so the database grows with them; and with nothing else.
        Measured(
            measure=f"{days} days: database, growth for each event that is kept",
            value=(last.journal_mb - middle.journal_mb) * 1e6 / (last.events - middle.events),
            unit="B",
            wanted="< 500",
            against=f"{middle.journal_mb:.1f} MB after {len(told) // 2} days, then"
            f" {last.journal_mb:.1f} MB; {last.events} events",
        ),
        Measured(
            measure=f"{days} days: entries of the sequence in the database, at most",
            value=max(each.entries for each in told) / ENTRIES_AN_HOUR,
            unit="h",
            wanted="< 2",
        ),
        Measured(
            measure=f"{days} days: files in the archive",
            value=float(last.files),
            unit="",
            against=f"{second.files} after two days",
        ),
    ]


def main(*, quick: bool = False) -> Table:
    """Measure everything and return the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        return [
            *room(folder),
            *closing_an_hour(folder),
            *questions(folder, quick=quick),
            *replaying(folder, quick=quick),
            *thirty_days(folder, quick=quick),
        ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    figures = main(quick=asked.quick)
    told(figures, asked.json)
