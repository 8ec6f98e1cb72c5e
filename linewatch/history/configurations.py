"""Which configuration was in force when, with its full text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

    from linewatch.history.ledger import Draft


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """A span in which one configuration was in force."""

    fingerprint: str
    from_utc_ns: int
    until_utc_ns: int | None
    """None: it still is."""
    who: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Became:
    """A configuration that comes into force."""

    fingerprint: str
    text: str
    changes: tuple[str, ...] = ()
    """What it changes of how the line is judged, a sentence each: what, old, new."""


def put_in_force(draft: Draft, became: Became, *, who: str, why: str, utc_ns: int) -> None:
    """Note that a configuration is in force from now on, unless it already is."""
    fingerprint, text = became.fingerprint, became.text
    line_id, database = draft.line_id, draft.database
    last = database.execute(
        "SELECT number, fingerprint FROM configurations WHERE line_id = ?"
        " ORDER BY number DESC LIMIT 1",
        (line_id,),
    ).fetchone()
    number, before = last or (0, "")
    if before == fingerprint:
        return
    database.execute("INSERT OR IGNORE INTO texts VALUES (?, ?)", (fingerprint, text))
    database.execute(
        "UPDATE configurations SET until_utc_ns = ? WHERE line_id = ? AND until_utc_ns IS NULL",
        (utc_ns, line_id),
    )
    database.execute(
        "INSERT INTO configurations VALUES (?, ?, ?, NULL, ?, ?, ?, ?)",
        (line_id, utc_ns, number + 1, draft.state.run, fingerprint, who, why),
    )
    draft.act(
        who,
        "Configure",
        {
            "fingerprint": fingerprint,
            "before": before,
            "why": why,
            **({"changes": list(became.changes)} if became.changes else {}),
        },
        utc_ns,
    )


def configuration(database: sqlite3.Connection, fingerprint: str) -> str:
    """Return the full text of a configuration.

    Raises:
        KeyError: it was never in force.
    """
    row = database.execute(
        "SELECT text FROM texts WHERE fingerprint = ?", (fingerprint,)
    ).fetchone()
    if row is None:
        raise KeyError(fingerprint)
    text: str = row[0]
    return text


def text_in_force(database: sqlite3.Connection, line_id: str) -> str | None:
    """Return the text of the configuration that was in force last; None if there was none."""
    row = database.execute(
        "SELECT text FROM configurations JOIN texts USING (fingerprint) WHERE line_id = ?"
        " ORDER BY number DESC LIMIT 1",
        (line_id,),
    ).fetchone()
    return None if row is None else str(row[0])


def in_force(database: sqlite3.Connection, line_id: str) -> list[InForce]:
    """Return every span, oldest first."""
    rows = database.execute(
        "SELECT fingerprint, from_utc_ns, until_utc_ns, who, why FROM configurations"
        " WHERE line_id = ? ORDER BY number",
        (line_id,),
    )
    return [
        InForce(
            fingerprint=fingerprint, from_utc_ns=begin, until_utc_ns=until, who=who, why=why
        )
        for fingerprint, begin, until, who, why in rows
    ]
