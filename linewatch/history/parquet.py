"""The archive's files: three Parquet files a chunk, open to every tool that reads Parquet.

    readings   chunk, block, time, tag, value, quality, source_utc_ns
                                                             sorted by tag, then time
    blocks     chunk, block, number, run, kind, layout, utc_ns, ahead_ns, body
    minutes    minute, tag, low, mean, high, good_s          sorted by tag, then minute

`time` is the polling slot (`chunk.slot_ms`). A row of `blocks` is one entry of the sequence,
in the order of numbers: a block (kind 0) or what stood between blocks, with both its times
exactly; `source_utc_ns` is when the value arose by its source's own clock, where a protocol
tells it; `mono_ns` is `utc_ns - ahead_ns`. The n-th block of a layout in a chunk has `block`
n; the readings of that block are those of the layout's tags with the same `chunk` and
`block`. `chunk` is the number of the chunk's first entry; an hour's file holds one chunk, a
day's file its hours one behind the other. The file's own key-value entries tell line,
layouts and runs in words.

Measured on 500 tags in 50 layouts at 1 Hz: the number and the exact time in every reading
would cost 0.6 to 4 bytes a sample; the slot and the count cost 0.15.

polars is imported here, inside the functions: it takes longer than a screen may to start.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final

import numpy as np

from linewatch.history import chunk as chunks
from linewatch.history import codec
from linewatch.history.chunk import Chunk
from linewatch.history.minutes import by_minute

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import polars as pl

    from linewatch.core.readings import Layout, Qualities, Times, Values
    from linewatch.history.chunk import Stretch
    from linewatch.history.manifest import Section
    from linewatch.history.minutes import Buckets

LEVEL: Final = 19
"""Of zstd: a second or two of a child process an hour, for a third less on the disk."""
GROUP_ROWS: Final = 180_000
"""Rows that are read together: fifty tags of an hour at 1 Hz. The times of a layout are
written once a group, so small groups cost room, and large ones time."""
PAGE_BYTES: Final = 2 * 1024 * 1024
MS_NS: Final = 10**6
FORMAT: Final = "1"
MARK: Final = "linewatch.format"
"""Key of every file of ours."""


def write_blocks(file: Path, chunk: Chunk, about: Mapping[str, str]) -> None:
    """Write the entries of a chunk, without the values of its blocks."""
    import polars as pl

    body: list[bytes | None] = [None] * len(chunk.kind)
    for place, part in chunk.body.items():
        body[place] = part
    frame = pl.DataFrame(
        {
            "chunk": _same(chunk.first, len(chunk.kind)),
            "block": _ordinals(chunk),
            "number": np.arange(chunk.first, chunk.last + 1, dtype=np.int64),
            "run": chunk.run,
            "kind": chunk.kind,
            "layout": chunk.layout,
            "utc_ns": chunk.utc_ns,
            "ahead_ns": chunk.utc_ns - chunk.mono_ns,
            "body": pl.Series(body, dtype=pl.Binary),
        }
    )
    frame.write_parquet(file, compression_level=LEVEL, metadata=dict(about))


def write_readings(
    file: Path, chunk: Chunk, layouts: Mapping[int, Layout], about: Mapping[str, str]
) -> None:
    """Write the samples of a chunk."""
    readings_of(chunk, layouts).write_parquet(
        file,
        compression_level=LEVEL,
        row_group_size=GROUP_ROWS,
        data_page_size=PAGE_BYTES,
        metadata=dict(about),
    )


def readings_of(chunk: Chunk, layouts: Mapping[int, Layout]) -> pl.DataFrame:
    """Return the samples of a chunk as the rows of a file of readings."""
    import polars as pl

    slots: dict[int, Times] = {}
    parts = list(chunks.columns(chunk, layouts))
    for stretch, layout, utc_ns, _, _ in parts:
        if stretch.layout not in slots:
            slots[stretch.layout] = chunks.slot_ms(utc_ns, layout.period_ns)
    tags = pl.Series([part[0].tag for part in parts], dtype=pl.String)
    rows = np.repeat(np.arange(len(parts)), [part[0].count for part in parts])
    value = np.concatenate([np.empty(0), *(part[3] for part in parts)])
    time = np.concatenate([np.empty(0, np.int64), *(slots[part[0].layout] for part in parts)])
    block = np.concatenate(
        [np.empty(0, np.int32), *(np.arange(part[0].count, dtype=np.int32) for part in parts)]
    )
    quality = np.concatenate([np.empty(0, np.uint8), *(part[4] for part in parts)])
    return pl.DataFrame(
        {
            "chunk": _same(chunk.first, len(value)),
            "block": block,
            "time": pl.Series(time).cast(pl.Datetime("ms", "UTC")),
            "tag": tags.gather(rows),
            "value": value,
            "quality": quality,
            "source_utc_ns": pl.Series(_sources(chunk, [part[0] for part in parts])).replace(
                codec.NO_SOURCE, None
            ),
        }
    )


def _sources(chunk: Chunk, parts: Sequence[Stretch]) -> Times:
    none = np.empty(0, np.int64)
    pieces = [
        chunk.source[part.layout][:, part.column]
        if part.layout in chunk.source
        else np.full(part.count, codec.NO_SOURCE, dtype=np.int64)
        for part in parts
    ]
    return np.concatenate([none, *pieces])


def write_minutes(
    file: Path, chunk: Chunk, layouts: Mapping[int, Layout], about: Mapping[str, str]
) -> None:
    """Write the one-minute summaries of a chunk."""
    import polars as pl

    frames = [
        minutes_frame(stretch.tag, *by_minute(utc_ns, value, quality, layout.period_ns))
        for stretch, layout, utc_ns, value, quality in chunks.columns(chunk, layouts)
    ]
    pl.concat([_no_minutes(), *frames]).write_parquet(
        file, compression_level=LEVEL, row_group_size=GROUP_ROWS, metadata=dict(about)
    )


def minutes_frame(tag: str, minute_ns: Times, found: Buckets) -> pl.DataFrame:
    """Return a frame with the columns of a file of summaries, for one tag."""
    import polars as pl

    return pl.DataFrame(
        {
            "minute": pl.Series(minute_ns // MS_NS).cast(pl.Datetime("ms", "UTC")),
            "tag": pl.Series([tag]).new_from_index(0, len(minute_ns)),
            "low": found.low,
            "mean": found.mean,
            "high": found.high,
            "good_s": pl.Series(found.good_s, dtype=pl.Float32),
        }
    )


def _no_minutes() -> pl.DataFrame:
    import polars as pl

    return pl.DataFrame(
        schema={
            "minute": pl.Datetime("ms", "UTC"),
            "tag": pl.String,
            "low": pl.Float64,
            "mean": pl.Float64,
            "high": pl.Float64,
            "good_s": pl.Float32,
        }
    )


def about(
    line_id: str, layouts: Mapping[int, Layout], runs: Mapping[int, str], head: str
) -> dict[str, str]:
    """Return what a file says of itself in words."""
    return {
        MARK: FORMAT,
        "linewatch.line": line_id,
        "linewatch.layouts": json.dumps(
            {number: json.loads(codec.layout_text(each)) for number, each in layouts.items()}
        ),
        "linewatch.runs": json.dumps(runs),
        "linewatch.people": head,
    }


def _same(number: int, count: int) -> pl.Series:
    import polars as pl

    return pl.Series([number], dtype=pl.Int64).new_from_index(0, count)


def _ordinals(chunk: Chunk) -> pl.Series:
    """Return for each block which one of its layout it is; nothing for other entries."""
    import polars as pl

    ordinal = np.zeros(len(chunk.kind), dtype=np.int32)
    for layout, count in chunk.counts().items():
        ordinal[chunks.block_places(chunk, layout)] = np.arange(count)
    return pl.select(
        pl.when(pl.Series(chunk.kind) == codec.Kind.BLOCK).then(pl.Series(ordinal))
    ).to_series()


def read_chunk(
    blocks: pl.LazyFrame,
    readings: pl.LazyFrame,
    section: Section,
    layouts: Mapping[int, Layout],
) -> Chunk:
    """Return a chunk that was written, bit by bit.

    Args:
        blocks: The rows of its entries, and no others.
        readings: The rows of its samples, and no others.
        section: What the manifest says of it.
        layouts: Every layout by its number.

    Raises:
        OSError: a file is gone.
        polars.exceptions.PolarsError: a file is no Parquet, or has other columns.
        ValueError: the rows are not those of the section.
    """
    entries = blocks.collect()
    values = readings.select("value", "quality", "source_utc_ns").collect()
    utc_ns = entries["utc_ns"].to_numpy()
    counts = dict(section.counts)
    rows = sum(count * len(layouts[layout].tags) for layout, count in counts.items())
    if len(entries) != section.last - section.first + 1 or len(values) != rows:
        raise ValueError(
            f"{len(entries)} entries and {len(values)} readings stand where"
            f" {section.last - section.first + 1} and {rows} belong"
        )
    value, quality = _matrices(values, layouts, counts)
    return Chunk(
        first=section.first,
        run=entries["run"].to_numpy(),
        kind=entries["kind"].to_numpy(),
        layout=entries["layout"].to_numpy(),
        utc_ns=utc_ns,
        mono_ns=utc_ns - entries["ahead_ns"].to_numpy(),
        body={place: part for place, part in enumerate(entries["body"]) if part is not None},
        value=value,
        quality=quality,
        source=_source_matrices(values["source_utc_ns"], layouts, counts),
    )


def _source_matrices(
    told: pl.Series, layouts: Mapping[int, Layout], counts: Mapping[int, int]
) -> dict[int, Times]:
    if told.null_count() == len(told):
        return {}
    found: dict[int, Times] = {}
    times = told.fill_null(codec.NO_SOURCE).to_numpy()
    for stretch in chunks.stretches(layouts, counts):
        shape = (stretch.count, len(layouts[stretch.layout].tags))
        matrix = found.setdefault(stretch.layout, np.empty(shape, dtype=np.int64))
        matrix[:, stretch.column] = times[stretch.start : stretch.start + stretch.count]
    return {
        layout: matrix for layout, matrix in found.items() if (matrix != codec.NO_SOURCE).any()
    }


def _matrices(
    values: pl.DataFrame, layouts: Mapping[int, Layout], counts: Mapping[int, int]
) -> tuple[dict[int, Values], dict[int, Qualities]]:
    value = {
        layout: np.empty((count, len(layouts[layout].tags))) for layout, count in counts.items()
    }
    quality = {
        layout: np.empty((count, len(layouts[layout].tags)), dtype=np.uint8)
        for layout, count in counts.items()
    }
    all_values, all_qualities = values["value"].to_numpy(), values["quality"].to_numpy()
    for stretch in chunks.stretches(layouts, counts):
        rows = slice(stretch.start, stretch.start + stretch.count)
        value[stretch.layout][:, stretch.column] = all_values[rows]
        quality[stretch.layout][:, stretch.column] = all_qualities[rows]
    return value, quality
