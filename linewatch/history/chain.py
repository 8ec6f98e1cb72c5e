"""The people's journal: every human action, each row sealed by the hash of all before it.

Rule 1: seal = SHA-256 over the seal before and the row's own parts as canonical JSON, hex.
Rule 2: the first row's predecessor is 64 zeros. Rows are only ever added.
Rule 3: the newest seal, the head, also stands in the archive's manifest and in exports, so
        that rows cut off at the end are missed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewatch.history.codec import canonical

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable

BEGINNING: Final = "0" * 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One row: what a person did."""

    line_id: str
    number: int
    run: int
    who: str
    what: str
    """A command's name, or 'Configure', 'Retain', 'Restore'."""
    parts: Mapping[str, Any]
    """What, why, and what became of it."""
    utc_ns: int
    seal: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainVerdict:
    """What the check of a chain found."""

    rows: int
    head: str
    faults: tuple[str, ...]
    """One sentence a fault; empty if the chain is whole."""


def seal(before: str, action: Action) -> str:
    """Return the seal of a row that follows `before`."""
    text = canonical(
        [
            before,
            action.line_id,
            action.number,
            action.run,
            action.who,
            action.what,
            action.parts,
            action.utc_ns,
        ]
    )
    return hashlib.sha256(text.encode()).hexdigest()


def actions(database: sqlite3.Connection, line_id: str, after: int = 0) -> list[Action]:
    """Return the rows after number `after`, oldest first."""
    rows = database.execute(
        "SELECT number, run, who, what, parts, utc_ns, seal FROM people"
        " WHERE line_id = ? AND number > ? ORDER BY number, run",
        (line_id, after),
    )
    return [
        Action(
            line_id=line_id,
            number=number,
            run=run,
            who=who,
            what=what,
            parts=json.loads(parts),
            utc_ns=utc_ns,
            seal=kept,
        )
        for number, run, who, what, parts, utc_ns, kept in rows
    ]


def check(
    rows: Iterable[Action], head: str, count: int, witnesses: Iterable[str] = ()
) -> ChainVerdict:
    """Check a chain from its beginning.

    Args:
        rows: All rows, oldest first.
        head: The head as the ledger keeps it.
        count: How many rows the ledger says there are.
        witnesses: Earlier heads that stand elsewhere: in the manifest, in exports.

    Returns:
        What was found, one sentence a fault.
    """
    faults: list[str] = []
    before, expected = BEGINNING, 1
    seals = {BEGINNING}
    for row in rows:
        if row.number > expected:
            gone = row.number - expected
            faults.append(f"{gone} row(s) are missing before row {row.number}")
        elif row.number < expected:
            faults.append(f"row {row.number} stands there twice")
        if seal(before, row) != row.seal:
            faults.append(f"row {row.number} ({row.what} by {row.who}) does not fit its seal")
        # Go on from the seal that is kept: one changed row is one fault, not a hundred.
        before, expected = row.seal, row.number + 1
        seals.add(row.seal)
    if expected - 1 < count:
        faults.append(f"{count - expected + 1} row(s) are missing at the end")
    if before != head:
        faults.append("the last row is not the one that the ledger names as its head")
    lost = sum(1 for witness in witnesses if witness and witness not in seals)
    if lost:
        faults.append(f"{lost} head(s) kept elsewhere are not among the rows")
    return ChainVerdict(rows=expected - 1, head=before, faults=tuple(faults))
