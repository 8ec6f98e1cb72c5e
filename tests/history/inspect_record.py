"""Looks at a counting line's record after a crash, and says what is wrong with it."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from linewatch.history import chain
from linewatch.history.places import places
from tests.history.counting_line import LINE


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What stands in the record."""

    last: int
    """Greatest number that was counted."""
    notes: int
    """Requests that were carried out."""
    faults: tuple[str, ...]


def look(store: Path) -> Found:
    """Return what stands in a record, and every way in which it contradicts itself."""
    there = places(store, LINE)
    with closing(sqlite3.connect(there.journal)) as database:
        faults = _damage(database)
        numbers, values = _sequence(database, there.folder)
        memory = dict(database.execute("SELECT name, bytes FROM memory"))
        totals = dict(database.execute("SELECT subject, parts FROM totals"))
        last, total = (int(p) for p in memory.get("counting", b"0 0").decode().split())
        faults += _compare(numbers, values, last, total, totals)
        faults += _people(database)
        notes = database.execute("SELECT count(*) FROM requests WHERE refused = ''").fetchone()[
            0
        ]
    return Found(last=last, notes=notes, faults=tuple(faults))


def _damage(database) -> list[str]:
    found = database.execute("PRAGMA integrity_check").fetchone()[0]
    return [] if found == "ok" else [f"the database is damaged: {found}"]


def _sequence(database, folder: Path) -> tuple[list[int], list[int]]:
    """Return the numbers of all entries, and the values of all blocks, in order."""
    numbers: list[int] = []
    values: list[int] = []
    rows = database.execute("SELECT kind, name FROM files WHERE state = '' ORDER BY first")
    for kind, name in rows.fetchall():
        frame = pl.read_parquet(folder / name) if kind != "minutes" else None
        if kind == "blocks":
            numbers += frame["number"].to_list()
        elif kind == "readings":
            values += [int(value) for value in frame["value"]]
    for number, kind, body in database.execute(
        "SELECT number, kind, body FROM sequence ORDER BY number"
    ):
        numbers.append(number)
        if kind == 0:
            values.append(int(memoryview(body)[2:].cast("d")[0]))
    return numbers, values


def _compare(numbers, values, last, total, totals) -> list[str]:
    faults = []
    if numbers != list(range(1, len(numbers) + 1)):
        faults.append("the sequence has gaps or doubles")
    if values != list(range(1, len(values) + 1)):
        faults.append("a block is lost or doubled")
    if last != len(values) or total != sum(values):
        faults.append(
            f"memory says {last} and {total}, the blocks {len(values)} and {sum(values)}"
        )
    if totals and json.loads(totals["counter"]) != {"sum": total, "last": last}:
        faults.append("totals and memory differ")
    return faults


def _people(database) -> list[str]:
    state = database.execute("SELECT people, head FROM state").fetchone() or (
        0,
        chain.BEGINNING,
    )
    rows = chain.actions(database, LINE)
    faults = list(chain.check(rows, state[1], state[0]).faults)
    done = database.execute(
        "SELECT number FROM requests WHERE refused = '' ORDER BY number"
    ).fetchall()
    told = [row.parts["request"] for row in rows if row.what == "WriteNote"]
    if told != [number for (number,) in done]:
        faults.append("what was carried out is not what the people's journal says")
    return faults
