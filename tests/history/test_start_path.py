"""What a collector's and a viewer's start must not wait for, and what watching costs."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest

from linewatch.history import journal as journals
from tests.history.made_up import LINE, batch, block, run_start, tick

SLOW = ("polars", "xlsxwriter", "scipy")


@pytest.mark.parametrize("opening", ["open_journal", "open_desk"])
def test_opening_a_store_loads_nothing_slow(open_journal, tmp_path, opening):
    open_journal().close()
    program = (
        "import sys; from pathlib import Path; from linewatch import history;"
        f"history.{opening}(Path({str(tmp_path)!r}), {LINE!r}).close();"
        f"print([name for name in {SLOW!r} if name in sys.modules])"
    )

    told = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        capture_output=True,
        text=True,
        check=True,
    )

    assert told.stdout.strip() == "[]"
    assert told.stderr == ""


def test_a_log_that_grows_without_end_is_said(open_journal, monkeypatch):
    monkeypatch.setattr(journals, "WAL_WATCH_BYTES", 8 * 1024 * 1024)
    journal = open_journal()
    journal.append(batch(run_start(), block(0.5)))
    journal.settle()
    with closing(sqlite3.connect(journal.places.journal, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM sequence").fetchone()
        for second in range(1, 12):
            journal.append(batch(tick(second), memory={"large": bytes([second]) * 1_000_000}))
            journal.settle()
        running, _, reason, _ = journal.recording()
        reader.execute("COMMIT")

    assert running
    assert "something reads without end" in reason
    for second in range(12, 15):
        journal.append(batch(tick(second), memory={"large": bytes([second]) * 1_000_000}))
        journal.settle()
    assert journal.wal_bytes() <= 20_000_000


def test_a_desk_s_questions_leave_nothing_open(open_journal, open_desk):
    journal = open_journal()
    journal.append(batch(run_start(), block(0.5), block(1.5)))
    journal.settle()
    desk = open_desk()
    desk.latest()
    desk.changes(0)
    desk.raw("nickel-1.temperature", 0, 2**62)
    desk.series("nickel-1.temperature", 0, 10**12, 10)
    desk.news()
    journal.append(batch(tick(2.0)))
    journal.settle()

    with closing(sqlite3.connect(journal.places.journal, isolation_level=None)) as database:
        # Busy would be 1 if any of the desk's connections still read an older state.
        busy, _, _ = database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    assert busy == 0
