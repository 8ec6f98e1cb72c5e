"""Stores that must not be opened: newer, foreign, damaged, on a network, or held."""

from __future__ import annotations

import json
import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from linewatch import history
from linewatch.core.errors import StoreUnusable
from linewatch.history import schema
from linewatch.history.places import network_kind_in, places
from tests.history.made_up import LINE, batch, run_start


def database_of(store: Path) -> sqlite3.Connection:
    return sqlite3.connect(places(store, LINE).journal, isolation_level=None)


@pytest.fixture
def made(open_journal, tmp_path):
    """Return a store that a collector made and left."""
    journal = open_journal()
    journal.append(batch(run_start()))
    journal.close()
    return tmp_path


@pytest.mark.parametrize("open_", [history.open_journal, history.open_desk])
def test_a_store_of_a_newer_version_is_left_alone(made, open_):
    with closing(database_of(made)) as database:
        database.execute("PRAGMA user_version = 999")
    before = places(made, LINE).journal.read_bytes()

    with pytest.raises(StoreUnusable, match="version 999, newer than this program's"):
        open_(made, LINE)

    assert places(made, LINE).journal.read_bytes() == before


@pytest.mark.parametrize("open_", [history.open_journal, history.open_desk])
def test_another_program_s_database_is_left_alone(tmp_path, open_):
    places(tmp_path, LINE).folder.mkdir()
    with closing(database_of(tmp_path)) as database:
        database.execute("CREATE TABLE theirs (x)")

    with pytest.raises(StoreUnusable, match="it is the database of another program"):
        open_(tmp_path, LINE)


@pytest.mark.parametrize("open_", [history.open_journal, history.open_desk])
def test_a_file_that_is_no_database_is_said_to_be_none(tmp_path, open_):
    places(tmp_path, LINE).folder.mkdir()
    places(tmp_path, LINE).journal.write_bytes(b"not a database at all" * 100)

    with pytest.raises(StoreUnusable, match="cannot be used: file is not a database"):
        open_(tmp_path, LINE)


def test_a_damaged_database_is_not_written_to(open_journal, tmp_path):
    journal = open_journal()
    for second in range(200):
        journal.append(batch(run_start(second, f"run-{second}")))
    journal.close()
    file = places(tmp_path, LINE).journal
    content = bytearray(file.read_bytes())
    for page in range(2, len(content) // schema.PAGE_BYTES):
        content[page * schema.PAGE_BYTES : page * schema.PAGE_BYTES + 64] = b"\xff" * 64
    file.write_bytes(content)

    with pytest.raises(StoreUnusable, match=r"damaged|malformed"):
        open_journal()


def test_a_store_in_place_of_a_file_is_refused(tmp_path):
    (tmp_path / "file").write_text("")

    with pytest.raises(StoreUnusable, match="its folder cannot be made"):
        history.open_journal(tmp_path / "file", LINE)


def test_after_a_refusal_the_line_is_free(made, open_journal):
    with closing(database_of(made)) as database:
        database.execute("PRAGMA user_version = 999")
    with pytest.raises(StoreUnusable):
        open_journal()
    with closing(database_of(made)) as database:
        database.execute(f"PRAGMA user_version = {len(schema.STEPS)}")

    assert open_journal().last_moment() is not None


MOUNTS = """\
22 1 254:1 / / rw,relatime shared:1 - ext4 /dev/vda1 rw
40 22 0:35 / /mnt/share rw,relatime shared:20 - nfs4 server:/export rw
41 22 0:36 / /mnt/share/local rw,relatime shared:21 - ext4 /dev/vdb1 rw
42 22 0:37 / /mnt/with\\040blank rw - cifs //server/share rw
43 22 0:38 / /over rw - nfs server:/a rw
44 22 0:39 / /over rw - ext4 /dev/vdc rw
"""
"""In the format of proc(5), /proc/pid/mountinfo."""


@pytest.mark.parametrize(
    ("store", "kind"),
    [
        ("/var/lib/linewatch", ""),
        ("/mnt/share/store", "nfs4"),
        ("/mnt/share", "nfs4"),
        ("/mnt/shared", ""),
        ("/mnt/share/local/store", ""),
        ("/mnt/with blank/store", "cifs"),
        ("/over/store", ""),
    ],
)
def test_a_network_file_system_is_known_by_the_mount_that_counts(store, kind):
    assert network_kind_in(MOUNTS, Path(store)) == kind


def test_the_lock_of_a_dead_collector_is_free(made, open_journal):
    holder = places(made, LINE).holder
    holder.write_text(json.dumps({"process": os.getpid(), "utc_ns": 0}))

    assert open_journal().last_moment() is not None
