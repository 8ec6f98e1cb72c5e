"""Damaged, altered, foreign and left-over files: set aside by name and counted, never fatal."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing

import numpy as np
import pytest

from linewatch import history
from linewatch.history import manifest
from linewatch.history.archive import Retention
from linewatch.history.places import places
from tests.history.made_up import BEGIN_UTC_NS, LINE, NS, batch, moment, picture, recorded_hours
from tests.history.made_up import run_start as made_up_run

HOURS = 4
WHOLE = (BEGIN_UTC_NS, BEGIN_UTC_NS + 24 * 3600 * NS)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    store = tmp_path_factory.mktemp("recorded")
    recorded_hours(store, HOURS)
    return store


@pytest.fixture
def store(recorded, tmp_path):
    """Return a store of its own with some archived hours."""
    return shutil.copytree(recorded, tmp_path / "store")


def files(store, kind=None):
    with closing(sqlite3.connect(places(store, LINE).journal)) as database:
        return [
            each
            for each in manifest.sectioned(database, LINE)
            if kind is None or each.kind == kind
        ]


def opened(store, open_journal):
    """Open and let the archivist look at everything once."""
    journal = open_journal(store=store)
    journal.archivist.wake()
    assert journal.archivist.settle(), journal.archivist.trouble
    return journal


def samples(store, open_desk) -> int:
    return len(open_desk(store=store).raw("nickel-1.temperature", *WHOLE)[0])


def cut_short(file):
    file.write_bytes(file.read_bytes()[:-100])


def alter(file):
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)


def delete(file):
    file.unlink()


@pytest.mark.parametrize("harm", [cut_short, alter, delete])
def test_a_file_that_is_not_what_was_recorded_is_set_aside_and_counted(
    store, open_journal, open_desk, harm
):
    there = places(store, LINE)
    victim = files(store, "readings")[1]
    before = samples(store, open_desk)
    harm(there.folder / victim.name)

    journal = opened(store, open_journal)

    assert journal.archivist.set_aside == 1
    assert victim.name not in {each.name for each in files(store)}
    desk = open_desk(store=store)
    assert desk.set_aside() == [victim.name]
    (count,) = dict(victim.sections[0].counts).values()
    assert samples(store, open_desk) == before - count
    assert not (there.folder / victim.name).exists()
    assert (there.set_aside / victim.name.rpartition("/")[2]).exists() or harm is delete


def test_the_screen_is_told_how_many_files_were_set_aside(store, open_journal, open_desk):
    from dataclasses import replace

    from linewatch.core.view import RecordingPicture

    cut_short(places(store, LINE).folder / files(store, "readings")[0].name)
    journal = opened(store, open_journal)

    journal.publish(
        replace(picture(1.0), recording=RecordingPicture(running=True, since_utc_ns=0))
    )
    journal.close()

    assert open_desk(store=store).picture().recording.set_aside == 1


def test_a_desk_without_a_collector_leaves_a_damaged_file_out_and_names_it(store, open_desk):
    victim = files(store, "readings")[1]
    before = samples(store, open_desk)
    file = places(store, LINE).folder / victim.name
    file.write_bytes(b"PAR1 no Parquet at all PAR1")
    desk = open_desk(store=store)

    count = len(desk.raw("nickel-1.temperature", *WHOLE)[0])

    assert 0 < count < before
    assert desk.set_aside() == [victim.name]
    series = desk.series("nickel-1.temperature", *WHOLE, 24)
    assert np.isnan(series.mean).any()
    assert not np.isnan(series.mean).all()


def test_readings_without_their_blocks_keep_their_slots(store, open_desk):
    exact = open_desk(store=store).raw("nickel-1.temperature", *WHOLE)
    (places(store, LINE).folder / files(store, "blocks")[1].name).unlink()

    times, values, _ = open_desk(store=store).raw("nickel-1.temperature", *WHOLE)

    assert values.tolist() == exact[1].tolist()
    assert np.abs(times - exact[0]).max() < NS


def test_what_a_crash_left_behind_is_swept_away(store, open_journal):
    there = places(store, LINE)
    known = files(store, "readings")[0]
    folder = (there.folder / known.name).parent
    half = folder / "09-1.readings.parquet.4711.part"
    half.write_bytes(b"half")
    unrecorded = folder / "23-999999.readings.parquet"
    shutil.copyfile(there.folder / known.name, unrecorded)

    journal = opened(store, open_journal)

    assert not half.exists()
    assert not unrecorded.exists()
    assert journal.archivist.set_aside == 0


def test_a_stranger_is_set_aside_and_not_deleted(store, open_journal, open_desk):
    there = places(store, LINE)
    stranger = there.archive / "date=2026-02-25" / "holiday.parquet"
    stranger.write_bytes(b"pictures")
    disguised = there.archive / "date=2026-02-25" / "10-999999.readings.parquet"
    disguised.write_bytes(b"something else under a name of ours")
    before = samples(store, open_desk)

    journal = opened(store, open_journal)

    assert journal.archivist.set_aside == 2
    assert (there.set_aside / "holiday.parquet").read_bytes() == b"pictures"
    assert (there.set_aside / disguised.name).exists()
    assert open_desk(store=store).set_aside() == [disguised.name, "holiday.parquet"]
    assert samples(store, open_desk) == before


def test_raw_values_expire_by_rule_and_each_deletion_is_recorded(
    store, open_journal, open_desk
):
    there = places(store, LINE)
    old = {each.name for each in files(store) if each.kind != "minutes"}
    journal = open_journal(store=store)
    journal.archivist.retention = Retention(raw_days=1.0)
    later = 3 * 86_400.0
    journal.append(batch(made_up_run(later, "run-2")))
    journal.settle()
    journal.archivist.wake()
    assert journal.archivist.settle(), journal.archivist.trouble

    gone = {each.name for each in _every(store) if each.state == manifest.EXPIRED}
    assert old <= gone
    assert not any((there.folder / name).exists() for name in gone)
    (row,) = [each for each in open_desk(store=store).actions() if each.what == "Retain"]
    assert old <= set(row.parts["files"])
    assert row.parts["why"] == "raw values are kept for 1 days"


def test_summaries_stay_when_the_samples_have_expired(store, open_journal, open_desk):
    before = open_desk(store=store).series("nickel-1.temperature", *WHOLE, 24)
    test_raw_values_expire_by_rule_and_each_deletion_is_recorded(store, open_journal, open_desk)

    after = open_desk(store=store).series("nickel-1.temperature", *WHOLE, 24)

    some = ~np.isnan(before.low)
    assert after.low[some].tolist() == before.low[some].tolist()
    assert after.high[some].tolist() == before.high[some].tolist()


def test_a_clock_set_back_makes_a_further_chunk_and_trends_stand_in_order(tmp_path, open_desk):
    from dataclasses import replace

    from tests.history.made_up import TANKS, block

    tanks = replace(TANKS, period_ns=60 * NS)
    journal = history.open_journal(tmp_path, LINE)
    journal.append(batch(made_up_run()))
    for minute in range(1, 400):
        step_s = -3600 if minute > 150 else 0
        step_s += 86_400 if minute > 300 else 0
        plain = block(minute * 60.0, float(minute), 0.0, 0.0, layout=tanks)
        journal.append(batch(replace(plain, utc_ns=plain.utc_ns + step_s * NS)))
    journal.settle()
    assert journal.archivist.settle(), journal.archivist.trouble
    journal.close()

    times, values, _ = open_desk().raw(
        "nickel-1.temperature", BEGIN_UTC_NS, moment(3 * 86_400).utc_ns
    )

    assert sorted(values) == list(range(1, 400))
    assert (np.diff(times) >= 0).all()
    names = [each.name for each in files(tmp_path, "readings")]
    assert len(names) == len(set(names))
    starts = [each.first for each in files(tmp_path, "readings")]
    assert starts == sorted(starts)


def _every(store):
    with closing(sqlite3.connect(places(store, LINE).journal)) as database:
        return manifest.filed(database, LINE, every=True)
