"""What other tools may have: samples, summaries, events and people's actions, as they ask.

Formats by the file's ending: `.csv`, `.parquet` and `.xlsx`. Times are UTC unless a zone is
asked for; then a column tells them as a clock there showed them, with the offset. A value that
was not good has its quality beside it, and is empty when it was bad. What the file is, and the
head of the people's journal at the time, stands within it (Parquet, second sheet) or beside it
(`NAME.about.json`).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from linewatch.core.errors import LinewatchError, file_words
from linewatch.core.readings import QUALITY_WORDS, Quality
from linewatch.history import chain, schema, zones
from linewatch.history.places import places
from linewatch.history.reader import Reader

if TYPE_CHECKING:
    import sqlite3
    from datetime import tzinfo
    from pathlib import Path

    import polars as pl

    from linewatch.core.ports import Series

What: TypeAlias = Literal["readings", "series", "events", "people"]
ENDINGS: Final = (".csv", ".parquet", ".xlsx")
SHEET_ROWS: Final = 1_048_575
"""Rows that a spreadsheet holds below its head (Office Open XML: 1,048,576 in all)."""
MS_NS: Final = 10**6


class NotExported(LinewatchError):
    """An export that cannot be made.

    Args:
        target: The file that was asked for.
        happened: Why not.
        remedy: What to do.
    """

    def __init__(self, target: str, happened: str, remedy: str) -> None:
        super().__init__(target, happened, remedy)
        self.target = target
        self.happened = happened
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.target}: not written: {self.happened}; {self.remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What to export."""

    what: What = "readings"
    span: tuple[int, int]
    """Wall time [ns since the Unix epoch], the end left out."""
    tags: Sequence[str] = ()
    """For readings and series; none: every tag."""
    width: int = 1000
    """Buckets of a series."""
    zone: str = "UTC"


def export(store: Path, line_id: str, target: Path, wish: Wish) -> int:
    """Write what is wished for; return the number of rows.

    Raises:
        NotExported: the ending is not known, a tag was never recorded, there are too many rows
            for a spreadsheet, or the file cannot be written.
        StoreUnusable: the store cannot be read.
    """
    if target.suffix.lower() not in ENDINGS:
        raise NotExported(
            str(target), f"no format {target.suffix!r} is known", f"use {', '.join(ENDINGS)}"
        )
    there = places(store, line_id)
    with closing(schema.open_for_reading(there.journal)) as database:
        frame = _frame(database, Reader(there, line_id), target, wish)
        about = _about(database, line_id, wish, len(frame))
    try:
        _write(frame, target, about)
    except OSError as error:
        raise NotExported(str(target), file_words(error), "name another file") from error
    return len(frame)


def _frame(
    database: sqlite3.Connection, reader: Reader, target: Path, wish: Wish
) -> pl.DataFrame:
    try:
        where = zones.zone(wish.zone)
    except ValueError as error:
        raise NotExported(
            str(target), str(error), "see the names of the tz database"
        ) from error
    if wish.what == "events":
        return _zoned(_events(database, reader.line_id, wish.span), where)
    if wish.what == "people":
        return _zoned(_people(database, reader.line_id, wish.span), where)
    tags = wish.tags or reader.tags(database)
    one = _readings if wish.what == "readings" else _series
    try:
        frames = [one(database, reader, tag, wish) for tag in tags]
    except KeyError as error:
        raise NotExported(
            str(target),
            f"no tag {error} was ever recorded",
            "name a position for all of its tags",
        ) from error
    import polars as pl

    if not frames:
        raise NotExported(str(target), "nothing was ever recorded", "start a collector first")
    return _zoned(pl.concat(frames), where)


def _readings(
    database: sqlite3.Connection, reader: Reader, tag: str, wish: Wish
) -> pl.DataFrame:
    import polars as pl

    utc_ns, value, quality = reader.raw(database, tag, wish.span)
    words = {int(each): QUALITY_WORDS[each] for each in Quality}
    return pl.DataFrame(
        {
            "time": pl.Series(utc_ns).cast(pl.Datetime("ns", "UTC")),
            "tag": pl.Series([tag]).new_from_index(0, len(utc_ns)),
            "value": pl.Series(value).fill_nan(None),
            "quality": pl.Series(quality).replace_strict(
                words, default="unknown", return_dtype=pl.String
            ),
        }
    )


def _series(database: sqlite3.Connection, reader: Reader, tag: str, wish: Wish) -> pl.DataFrame:
    import polars as pl

    found = reader.series(database, tag, wish.span, wish.width)
    return pl.DataFrame(
        {
            "time": pl.Series(found.start_utc_ns).cast(pl.Datetime("ns", "UTC")),
            "tag": pl.Series([tag]).new_from_index(0, len(found.start_utc_ns)),
            "low": pl.Series(found.low).fill_nan(None),
            "mean": pl.Series(found.mean).fill_nan(None),
            "high": pl.Series(found.high).fill_nan(None),
            "good_s": found.good_s,
        }
    )


def _events(database: sqlite3.Connection, line_id: str, span: tuple[int, int]) -> pl.DataFrame:
    rows = database.execute(
        "SELECT utc_ns, number, kind, subject, text, parts FROM events"
        " WHERE line_id = ? AND utc_ns >= ? AND utc_ns < ? ORDER BY number",
        (line_id, *span),
    ).fetchall()
    return _table(rows, ("number", "kind", "subject", "text", "parts"))


def _people(database: sqlite3.Connection, line_id: str, span: tuple[int, int]) -> pl.DataFrame:
    rows = database.execute(
        "SELECT utc_ns, number, who, what, parts, seal FROM people"
        " WHERE line_id = ? AND utc_ns >= ? AND utc_ns < ? ORDER BY number",
        (line_id, *span),
    ).fetchall()
    return _table(rows, ("number", "who", "what", "parts", "seal"))


def _table(rows: Sequence[Sequence[object]], names: Sequence[str]) -> pl.DataFrame:
    import polars as pl

    time = pl.Series("time", [row[0] for row in rows], dtype=pl.Int64)
    columns = [
        pl.Series(
            name, [row[k] for row in rows], dtype=pl.Int64 if name == "number" else pl.String
        )
        for k, name in enumerate(names, 1)
    ]
    return pl.DataFrame([time.cast(pl.Datetime("ns", "UTC")), *columns])


def _zoned(frame: pl.DataFrame, where: tzinfo) -> pl.DataFrame:
    """Put a column of local times beside those of UTC, with the offset: hours may be double."""
    import polars as pl

    if str(where) == "UTC":
        return frame
    local = pl.Series(
        "local_time",
        [
            zones.at(moment, where).isoformat(timespec="milliseconds")
            for moment in frame["time"].cast(pl.Int64)
        ],
        dtype=pl.String,
    )
    return frame.insert_column(1, local)


def _about(database: sqlite3.Connection, line_id: str, wish: Wish, rows: int) -> dict[str, str]:
    row = database.execute(
        "SELECT people, head FROM state WHERE line_id = ?", (line_id,)
    ).fetchone()
    people, head = row or (0, chain.BEGINNING)
    return {
        "line": line_id,
        "what": wish.what,
        "rows": str(rows),
        "from": zones.at(wish.span[0], UTC).isoformat(),
        "to": zones.at(wish.span[1], UTC).isoformat(),
        "people_rows": str(people),
        "people_head": head,
    }


def _write(frame: pl.DataFrame, target: Path, about: dict[str, str]) -> None:
    import polars as pl

    ending = target.suffix.lower()
    if ending == ".parquet":
        told = {f"linewatch.{key}": text for key, text in about.items()}
        frame.write_parquet(target, metadata=told)
        return
    if ending == ".csv":
        iso = "%Y-%m-%dT%H:%M:%S%.3fZ"
        frame.with_columns(pl.col("time").dt.strftime(iso)).write_csv(target)
        beside = target.with_name(f"{target.name}.about.json")
        beside.write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8")
        return
    if len(frame) > SHEET_ROWS:
        raise NotExported(
            str(target),
            f"{len(frame)} rows are more than a spreadsheet holds ({SHEET_ROWS})",
            "ask for a shorter span, a series, or a .parquet file",
        )
    _write_sheets(frame, target, about)


def _write_sheets(frame: pl.DataFrame, target: Path, about: dict[str, str]) -> None:
    import polars as pl
    from xlsxwriter import Workbook

    # Text from devices is text: never a formula, never a link.
    options = {"strings_to_formulas": False, "strings_to_urls": False}
    with Workbook(str(target), options) as book:
        # A spreadsheet knows no zones: the column's head says which one it is.
        plain = frame.with_columns(
            pl.col("time").dt.replace_time_zone(None).dt.cast_time_unit("ms")
        ).rename({"time": "time (UTC)"})
        plain.write_excel(
            book,
            "rows",
            dtype_formats={pl.Datetime: "yyyy-mm-dd hh:mm:ss.000"},
            autofilter=False,
        )
        told = pl.DataFrame({"what": list(about), "is": list(about.values())})
        told.write_excel(book, "about", autofilter=False)


def write_series(series: Sequence[Series], target: Path) -> None:
    """Write what a trend shows: a row a bucket and tag.

    Raises:
        NotExported: the file cannot be written.
    """
    import polars as pl

    frame = pl.concat(
        [
            pl.DataFrame(
                {
                    "time": pl.Series(each.start_utc_ns).cast(pl.Datetime("ns", "UTC")),
                    "tag": [each.tag] * len(each.start_utc_ns),
                    "low": each.low,
                    "mean": each.mean,
                    "high": each.high,
                    "good_s": each.good_s,
                }
            )
            for each in series
        ]
    )
    try:
        _write(frame, target, {})
    except OSError as error:
        raise NotExported(str(target), file_words(error), "name another folder") from error
