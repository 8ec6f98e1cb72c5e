"""Closed hours become files, and what was written is read back bit by bit."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from itertools import pairwise

import numpy as np
import polars as pl
import pytest

from linewatch import history
from linewatch.core.ports import Batch
from linewatch.core.readings import Quality, Readings
from linewatch.history import chunk as chunks
from linewatch.history import codec, manifest, schema
from linewatch.history.places import places
from tests.history.made_up import (
    BEGIN_UTC_NS,
    LINE,
    NS,
    batch,
    block,
    event,
    moment,
    run_start,
    tick,
)
from tests.history.made_up import RECTIFIER as FAST_RECTIFIER
from tests.history.made_up import TANKS as FAST_TANKS

HOUR_S = 3600
PERIOD_S = 30
TANKS = replace(FAST_TANKS, period_ns=PERIOD_S * NS)
RECTIFIER = replace(FAST_RECTIFIER, period_ns=PERIOD_S * NS)
HOURS = 30
"""From 06:13 to 12:13 of the next day: one whole day, and hours behind it."""


def source_times(second: int):
    """Return the sources' times that the tanks' blocks of every other hour tell."""
    if second // HOUR_S % 2:
        return None
    return np.array([second * NS, second * NS - 5, -second], dtype=np.int64)


def made_up_blocks(second: int) -> list[Readings]:
    """Return the blocks of one moment: noise, counts, gaps, doubt, and odd floats."""
    rng = np.random.default_rng(second)
    value = np.array([65 + rng.normal(0, 0.3), float(rng.integers(0, 2000)), -0.0])
    quality = np.array([0, 0, 0x40], dtype=np.uint8)
    if 7200 <= second < 9000:
        value[0], quality[0] = np.nan, Quality.SENSOR_FAULT
    at = moment(second + rng.uniform(0, 0.2))
    tanks = Readings(
        layout=TANKS,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        value=value,
        quality=quality,
        source_utc_ns=source_times(second),
    )
    return [tanks, block(second + 0.3, 1000.0 + second % 7, 4.5, layout=RECTIFIER)]


@pytest.fixture(scope="module")
def archived(tmp_path_factory):
    """Return a store whose closed hours are files, and all blocks that went in."""
    store = tmp_path_factory.mktemp("archived")
    journal = history.open_journal(store, LINE)
    blocks: list[Readings] = []
    journal.append(batch(run_start(), memory={"count": b"0"}))
    for second in range(PERIOD_S, HOURS * HOUR_S, PERIOD_S):
        new = made_up_blocks(second)
        blocks += new
        journal.append(
            Batch(
                entries=[*new, tick(second + 0.5)],
                events=[event(second)] if second % HOUR_S == 0 else (),
                memory={"count": str(len(blocks)).encode()},
                totals={"nickel-1": {"blocks": len(blocks)}},
            )
        )
    assert journal.settle()
    assert journal.archivist.settle(), journal.archivist.trouble
    journal.close()
    return store, blocks


@pytest.fixture
def desk(archived):
    desk = history.open_desk(archived[0], LINE)
    yield desk
    desk.close()


def files_of(desk, kind):
    with closing(sqlite3.connect(desk.places.journal)) as database:
        return [each for each in manifest.filed(database, LINE) if each.kind == kind]


def test_a_whole_day_is_one_file_and_later_hours_have_their_own(desk):
    for kind in ("readings", "blocks", "minutes"):
        names = [each.name.rpartition("/")[2] for each in files_of(desk, kind)]

        assert names[0].startswith("day-1.")
        assert [name[:3] for name in names[1:3]] == ["00-", "01-"]
        assert len(names) == 1 + 12


def test_a_merged_day_tells_what_its_hours_held_in_their_order(desk, archived):
    with closing(sqlite3.connect(desk.places.journal)) as database:
        whole = manifest.sectioned(database, LINE)
        (left,) = database.execute(
            "SELECT count(*) FROM sequence WHERE kind = ?", (codec.Kind.BLOCK,)
        ).fetchone()
    for kind in ("readings", "blocks", "minutes"):
        day, *hours = [each for each in whole if each.kind == kind]
        sections = [*day.sections, *(part for hour in hours for part in hour.sections)]

        assert len(day.sections) == 18
        assert sections[0].first == 1
        assert all(a.last + 1 == b.first for a, b in pairwise(sections))
        assert [day.first, day.last] == [day.sections[0].first, day.sections[-1].last]
        held = sum(count for part in sections for _, count in part.counts)
        assert held == len(archived[1]) - left


def test_what_stands_in_the_files_is_not_read_to_know_which_there_are(archived, tmp_path):
    store = shutil.copytree(archived[0], tmp_path / "store")
    with closing(sqlite3.connect(places(store, LINE).journal)) as database:
        before = manifest.filed(database, LINE)
        database.execute("UPDATE files SET parts = 'nobody reads this'")

        assert manifest.filed(database, LINE) == before
        with pytest.raises(ValueError, match="line 1"):
            manifest.sectioned(database, LINE)


def test_the_files_on_the_disk_are_those_of_the_manifest(desk):
    known = {
        each.name for kind in ("readings", "blocks", "minutes") for each in files_of(desk, kind)
    }
    folder = desk.places.folder

    found = {file.relative_to(folder).as_posix() for file in folder.rglob("*.parquet*")}

    assert found == known


def test_archived_rows_have_left_the_journal(desk):
    with closing(sqlite3.connect(desk.places.journal)) as database:
        low, count = database.execute("SELECT min(number), count(*) FROM sequence").fetchone()
        archived_to = manifest.archived_to(database, LINE)

    assert low == archived_to + 1
    assert count < 3 * (HOUR_S / PERIOD_S + 2)


@pytest.mark.parametrize("column", range(3))
def test_every_sample_comes_back_bit_by_bit(archived, desk, column):
    blocks = [each for each in archived[1] if each.layout == TANKS]

    utc_ns, value, quality = desk.raw(
        TANKS.tags[column], BEGIN_UTC_NS, moment(HOURS * HOUR_S).utc_ns
    )

    assert utc_ns.tolist() == [each.utc_ns for each in blocks]
    assert value.tobytes() == np.array([each.value[column] for each in blocks]).tobytes()
    assert quality.tolist() == [each.quality[column] for each in blocks]


def test_a_span_within_a_day_is_cut_exactly(archived, desk):
    start, end = moment(5000.1).utc_ns, moment(9000.1).utc_ns
    expected = [
        each.utc_ns
        for each in archived[1]
        if each.layout == RECTIFIER and start <= each.utc_ns < end
    ]

    utc_ns, _, _ = desk.raw("rectifier-1.current", start, end)

    assert utc_ns.tolist() == expected


def test_a_tag_that_was_never_recorded_is_a_key_error(desk):
    with pytest.raises(KeyError, match="no such tag"):
        desk.raw("no such tag", 0, 1)
    with pytest.raises(KeyError, match="no such tag"):
        desk.series("no such tag", 0, 1, 10)


@pytest.mark.parametrize("width", [7, 50, 200, 1000])
def test_a_series_keeps_least_and_greatest_and_shows_gaps(archived, desk, width):
    start, end = BEGIN_UTC_NS, moment(HOURS * HOUR_S).utc_ns
    blocks = [each for each in archived[1] if each.layout == TANKS]

    series = desk.series("nickel-1.temperature", start, end, width)

    edges = np.append(series.start_utc_ns, end)
    good = [each for each in blocks if each.quality[0] == 0]
    assert np.nanmin(series.low) == min(each.value[0] for each in good)
    assert np.nanmax(series.high) == max(each.value[0] for each in good)
    for place in range(len(edges) - 1):
        inside = [
            each.value[0] for each in good if edges[place] <= each.utc_ns < edges[place + 1]
        ]
        if inside:
            assert series.low[place] <= min(inside) + 1e-12
            assert series.high[place] >= max(inside) - 1e-12
        gap = edges[place] >= moment(7300).utc_ns and edges[place + 1] < moment(8990).utc_ns
        assert not gap or np.isnan(series.high[place])
    assert np.nansum(series.good_s) == pytest.approx(HOURS * HOUR_S - 1800 - PERIOD_S, abs=60)


def test_summaries_agree_with_the_samples(archived, desk):
    blocks = [each for each in archived[1] if each.layout == RECTIFIER]
    start = BEGIN_UTC_NS - BEGIN_UTC_NS % (86400 * NS)

    series = desk.series("rectifier-1.current", start, start + 86400 * NS * 4, 96)

    hours = {}
    for each in blocks:
        hours.setdefault((each.utc_ns - start) // (HOUR_S * NS), []).append(each.value[0])
    for hour, values in hours.items():
        assert series.low[hour] == min(values)
        assert series.high[hour] == max(values)
        assert series.mean[hour] == pytest.approx(np.mean(values), abs=0.2)
    assert np.isnan(series.mean[: min(hours)]).all()


def test_any_tool_can_join_readings_to_their_exact_times(archived, desk):
    readings, blocks = (files_of(desk, kind)[0] for kind in ("readings", "blocks"))
    folder = desk.places.folder
    about = pl.read_parquet_metadata(folder / readings.name)
    layouts = json.loads(about["linewatch.layouts"])
    (number,) = [k for k, each in layouts.items() if "nickel-1.level" in each["tags"]]

    joined = (
        pl.scan_parquet(folder / readings.name)
        .filter(pl.col("tag") == "nickel-1.level")
        .join(
            pl.scan_parquet(folder / blocks.name).filter(pl.col("layout") == int(number)),
            on=["chunk", "block"],
        )
        .sort("number")
        .collect()
    )

    mine = [each for each in archived[1] if each.layout == TANKS][: len(joined)]
    assert joined["value"].to_list() == [each.value[1] for each in mine]
    assert joined["utc_ns"].to_list() == [each.utc_ns for each in mine]
    mono_ns = (joined["utc_ns"] - joined["ahead_ns"]).to_list()
    assert mono_ns == [each.mono_ns for each in mine]
    # The slot is the polling period, a second at most.
    assert joined["time"].dt.epoch("ms").to_list() == [
        each.utc_ns // NS * 1000 for each in mine
    ]


def test_readings_are_sorted_by_tag_then_time_within_an_hour(desk):
    hour = files_of(desk, "readings")[-1]

    frame = pl.read_parquet(desk.places.folder / hour.name)

    assert frame.columns == [
        *("chunk", "block", "time", "tag", "value", "quality", "source_utc_ns")
    ]
    assert frame.equals(frame.sort("tag", "time", maintain_order=True))


def test_the_whole_sequence_comes_back_entry_by_entry(archived, desk):
    from linewatch.history.sequence import Entries

    blocks = iter(archived[1])
    ticks = 0
    with closing(sqlite3.connect(desk.places.journal)) as database:
        entries = Entries(database, desk.places, LINE)
        (last,) = database.execute("SELECT number FROM state").fetchone()
        for chunk in entries.chunks(1, last):
            row = dict.fromkeys(chunk.value, 0)
            for place, number in enumerate(chunk.layout.tolist()):
                if not number:
                    ticks += 1
                    continue
                expected = next(blocks)
                found = row[number]
                row[number] += 1
                assert entries.layouts[number] == expected.layout
                assert chunk.utc_ns[place] == expected.utc_ns
                assert chunk.mono_ns[place] == expected.mono_ns
                value = chunk.value[number][found]
                assert value.tobytes() == expected.value.tobytes()
                assert chunk.quality[number][found].tolist() == expected.quality.tolist()
                source = chunk.source.get(number)
                told = None if source is None else source[found].tolist()
                if expected.source_utc_ns is None:
                    assert told is None or set(told) == {-(2**63)}
                else:
                    assert told == expected.source_utc_ns.tolist()
    assert next(blocks, None) is None
    assert ticks == len(archived[1]) // 2 + 1


def test_checkpoints_tell_the_memory_at_the_end_of_each_hour(archived, desk):
    with closing(sqlite3.connect(desk.places.journal)) as database:
        rows = database.execute("SELECT number, memory, totals FROM checkpoints").fetchall()

    from linewatch.history import codec

    assert len(rows) == HOURS
    for number, memory, totals in rows:
        blocks = int(codec.unpack_memory(memory)["count"])
        assert codec.unpack_totals(totals) == {"nickel-1": {"blocks": blocks}}
        # Two blocks and a tick a moment, behind the run's start.
        assert number == 1 + blocks // 2 * 3


def test_of_old_days_only_the_last_checkpoint_is_kept(archived, tmp_path, monkeypatch):
    from linewatch.history import archive

    store = shutil.copytree(archived[0], tmp_path / "store")
    monkeypatch.setattr(archive, "HOURLY_DAYS", 0)
    journal = history.open_journal(store, LINE)
    journal.archivist.wake()
    assert journal.archivist.settle(), journal.archivist.trouble
    journal.close()

    with closing(sqlite3.connect(journal.places.journal)) as database:
        numbers = [n for (n,) in database.execute("SELECT number FROM checkpoints")]
        days = [f for f in manifest.filed(database, LINE) if "/day-" in f.name]
    assert min(numbers) == days[0].last
    assert len(numbers) == 1 + HOURS - 18


def test_stretches_and_columns_stand_in_one_order():
    layouts = {1: TANKS, 2: RECTIFIER}

    found = chunks.stretches(layouts, {1: 4, 2: 3})

    assert [each.tag for each in found] == sorted(TANKS.tags + RECTIFIER.tags)
    assert [each.start for each in found] == [0, 4, 8, 11, 14]


def test_the_schema_version_stands_in_the_database(desk):
    with closing(sqlite3.connect(desk.places.journal)) as database:
        assert schema.version(database) == len(schema.STEPS)
