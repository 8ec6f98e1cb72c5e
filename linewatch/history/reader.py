"""One question, one answer: any tag over any span, from journal and archive together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.ports import Series
from linewatch.core.readings import Quality
from linewatch.history import codec

if TYPE_CHECKING:
    import sqlite3

    from linewatch.core.readings import Qualities, Times, Values
    from linewatch.history.places import Places

NS = 10**9


def raw(
    database: sqlite3.Connection, places: Places, line_id: str, tag: str, span: tuple[int, int]
) -> tuple[Times, Values, Qualities]:
    """Return every sample of one tag over a span [ns since the Unix epoch], in order of time.

    Raises:
        KeyError: the tag was never recorded.
    """
    layouts = _layouts_of(database, line_id, tag)
    times: list[int] = []
    values: list[float] = []
    qualities: list[int] = []
    for layout, (column, tags) in layouts.items():
        rows = database.execute(
            "SELECT utc_ns, body FROM sequence WHERE line_id = ? AND layout = ?"
            " AND utc_ns >= ? AND utc_ns < ? ORDER BY number",
            (line_id, layout, *span),
        )
        for utc_ns, body in rows:
            value, quality = codec.unpack_block(body, tags)
            times.append(utc_ns)
            values.append(float(value[column]))
            qualities.append(int(quality[column]))
    order = np.argsort(np.array(times, dtype=np.int64), kind="stable")
    return (
        np.array(times, dtype=np.int64)[order],
        np.array(values, dtype=np.float64)[order],
        np.array(qualities, dtype=np.uint8)[order],
    )


def series(
    database: sqlite3.Connection,
    places: Places,
    line_id: str,
    tag: str,
    span: tuple[int, int],
    width: int,
) -> Series:
    """Return one tag over a span in at most `width` buckets.

    Raises:
        KeyError: the tag was never recorded.
    """
    times, values, qualities = raw(database, places, line_id, tag, span)
    start, end = span
    width = max(1, min(width, (end - start) // 1_000_000))
    edges = start + (np.arange(width, dtype=np.int64) * (end - start)) // width
    good = qualities < Quality.UNCERTAIN
    bucket = np.searchsorted(edges, times[good], side="right") - 1
    low = np.full(width, np.nan)
    high = np.full(width, np.nan)
    total = np.zeros(width)
    count = np.zeros(width)
    np.fmin.at(low, bucket, values[good])
    np.fmax.at(high, bucket, values[good])
    np.add.at(total, bucket, values[good])
    np.add.at(count, bucket, 1)
    with np.errstate(invalid="ignore"):
        mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return Series(
        tag=tag, start_utc_ns=edges, low=low, mean=mean, high=high, good_s=count * 1.0
    )


def _layouts_of(
    database: sqlite3.Connection, line_id: str, tag: str
) -> dict[int, tuple[int, int]]:
    found = {}
    for layout, text in database.execute(
        "SELECT layout, text FROM layouts WHERE line_id = ?", (line_id,)
    ):
        tags = codec.layout_of(text).tags
        if tag in tags:
            found[layout] = (tags.index(tag), len(tags))
    if not found:
        raise KeyError(tag)
    return found
