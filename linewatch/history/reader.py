"""One question, one answer: any tag over any span, from journal, archive and summaries.

Rule 1: least and greatest value of a bucket are always those that were measured; a spike
        never vanishes, whatever the width. A gap is NaN, never a line drawn through.
Rule 2: all times are UTC [ns since the Unix epoch]; zones are the edge's affair.
Rule 3: a file that cannot be read is left out and named, never fatal.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from linewatch.core.ports import Series
from linewatch.core.readings import Layout, Qualities, Times, Values
from linewatch.history import chunk as chunks
from linewatch.history import codec, manifest, minutes
from linewatch.history.places import Places

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Sequence

    import polars as pl

    from linewatch.history.manifest import Filed, Section, Sectioned

log = logging.getLogger(__name__)

EXACT_BUCKET_NS: Final = 5 * chunks.SLOT_NS
"""Buckets at least so wide are filled by polling slots; finer ones by exact times."""
MINUTES_BUCKET_NS: Final = 10 * minutes.MINUTE_NS
"""Buckets at least so wide are filled from one-minute summaries where there are any."""
MINUTES_SPAN_NS: Final = 36 * 3600 * 10**9
"""Shorter spans are read from the samples themselves, however few the buckets."""
LOOK_BACK_PERIODS: Final = minutes.HOLD_PERIODS
MS_NS: Final = 10**6
# A clock that was set back leaves the latest time anywhere.
ENDS_SQL: Final = """
SELECT min(low), max(high) FROM (
  SELECT min(utc_ns) AS low, max(utc_ns) AS high FROM runs WHERE line_id = :line
  UNION ALL SELECT min(utc_ns), max(utc_ns) FROM sequence WHERE line_id = :line
  UNION ALL SELECT min(low_utc_ns), max(high_utc_ns) FROM files WHERE line_id = :line
  UNION ALL SELECT min(utc_ns), max(utc_ns) FROM events WHERE line_id = :line
  UNION ALL SELECT min(utc_ns), max(utc_ns) FROM people WHERE line_id = :line
)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Samples of one tag under one layout, in the order in which they came."""

    period_ns: int
    utc_ns: Times
    value: Values
    quality: Qualities


@dataclass(slots=True)
class Reader:
    """Answers questions about one line's record.

    Args:
        places: The line's folder.
        line_id: Whose record.
    """

    places: Places
    line_id: str
    left_out: set[str] = field(default_factory=set)
    """Files that could not be read since this reader was made."""
    _layouts: dict[int, Layout] = field(default_factory=dict)
    _order: chunks.Order = field(default_factory=lambda: chunks.Order({}))

    def raw(
        self, database: sqlite3.Connection, tag: str, span: tuple[int, int]
    ) -> tuple[Times, Values, Qualities]:
        """Return every sample of one tag over a span, in order of wall time.

        Raises:
            KeyError: the tag was never recorded.
        """
        found = self._samples(database, tag, span, exact=True)
        utc_ns = np.concatenate([np.empty(0, np.int64), *(each.utc_ns for each in found)])
        value = np.concatenate([np.empty(0), *(each.value for each in found)])
        quality = np.concatenate([np.empty(0, np.uint8), *(each.quality for each in found)])
        # A clock that was set back leaves times that fall; a trend stands in order.
        order = np.argsort(utc_ns, kind="stable")
        inside = order[(utc_ns[order] >= span[0]) & (utc_ns[order] < span[1])]
        return utc_ns[inside], value[inside], quality[inside]

    def series(
        self, database: sqlite3.Connection, tag: str, span: tuple[int, int], width: int
    ) -> Series:
        """Return one tag over a span in at most `width` buckets.

        Raises:
            KeyError: the tag was never recorded.
        """
        start, end = span
        width = max(1, min(width, (end - start) // MS_NS))
        edges = _edges(start, end, width)
        bucket_ns = (end - start) // width
        period_ns = max(layout.period_ns for layout in self._layouts_of(database, tag).values())
        # A value from before the span may still hold at its beginning.
        wide = (start - LOOK_BACK_PERIODS * period_ns, end)
        parts: list[minutes.Buckets] = []
        summed: list[tuple[int, int]] = []
        if bucket_ns >= MINUTES_BUCKET_NS and end - start > MINUTES_SPAN_NS:
            summed = self._from_minutes(database, tag, edges, parts)
        else:
            summed = self._from_minutes(database, tag, edges, parts, expired_only=True)
        samples = self._samples(
            database, tag, wide, exact=bucket_ns < EXACT_BUCKET_NS, without=summed
        )
        parts += [_buckets_of(edges, group) for group in _by_period(samples)]
        low, mean, high, good_s = _together(parts, width)
        return Series(
            tag=tag, start_utc_ns=edges[:-1], low=low, mean=mean, high=high, good_s=good_s
        )

    def ends(self, database: sqlite3.Connection) -> tuple[int, int]:
        """Return when the record begins and ends [ns since the Unix epoch], the end left out.

        (0, 1) where nothing was ever recorded.
        """
        found = database.execute(ENDS_SQL, {"line": self.line_id}).fetchone()
        return (0, 1) if found[0] is None else (found[0], found[1] + 1)

    def tags(self, database: sqlite3.Connection) -> list[str]:
        """Return every tag that was ever recorded, in order."""
        every = self._every_layout(database).values()
        return sorted({tag for layout in every for tag in layout.tags})

    # Where samples come from.

    def _samples(
        self,
        database: sqlite3.Connection,
        tag: str,
        span: tuple[int, int],
        *,
        exact: bool,
        without: Sequence[tuple[int, int]] = (),
    ) -> list[Samples]:
        layouts = self._layouts_of(database, tag)
        files = [
            each
            for each in manifest.sectioned_between(database, self.line_id, "readings", span)
            if not any(first <= each.first and each.last <= last for first, last in without)
        ]
        found: list[Samples] = []
        if files:
            found += self._archived(database, tag, files, exact=exact)
        for layout, shape in layouts.items():
            found.append(self._journalled(database, tag, layout, shape, span))
        return [each for each in found if len(each.utc_ns)]

    def _journalled(
        self,
        database: sqlite3.Connection,
        tag: str,
        layout: int,
        shape: Layout,
        span: tuple[int, int],
    ) -> Samples:
        rows = database.execute(
            "SELECT utc_ns, body FROM sequence WHERE line_id = ? AND layout = ?"
            " AND utc_ns >= ? AND utc_ns < ? ORDER BY number",
            (self.line_id, layout, *span),
        ).fetchall()
        value, quality = codec.unpack_column(
            [body for _, body in rows], len(shape.tags), shape.tags.index(tag)
        )
        return Samples(
            period_ns=shape.period_ns,
            utc_ns=np.array([utc_ns for utc_ns, _ in rows], dtype=np.int64),
            value=value,
            quality=quality,
        )

    def _archived(
        self,
        database: sqlite3.Connection,
        tag: str,
        files: Sequence[Sectioned],
        *,
        exact: bool,
    ) -> list[Samples]:
        import polars as pl

        layouts = self._every_layout(database)
        pieces: list[tuple[pl.LazyFrame, Sectioned, Section, chunks.Stretch]] = []
        for file in files:
            scan = pl.scan_parquet(self.places.folder / file.name)
            for section, base in file.reading_starts(layouts):
                for stretch in self._order.stretches(dict(section.counts), tag):
                    piece = scan.slice(base + stretch.start, stretch.count).select(
                        pl.col("time").cast(pl.Int64), "value", "quality"
                    )
                    pieces.append((piece, file, section, stretch))
        frames = self._collected([piece[0] for piece in pieces], [p[1].name for p in pieces])
        found = []
        for frame, (_, _, section, stretch) in zip(frames, pieces, strict=True):
            if frame is None:
                continue
            utc_ns = frame["time"].to_numpy() * MS_NS
            if exact:
                utc_ns = self._exact(database, section, stretch, utc_ns)
            found.append(
                Samples(
                    period_ns=self._layouts[stretch.layout].period_ns,
                    utc_ns=utc_ns,
                    value=frame["value"].to_numpy(),
                    quality=frame["quality"].to_numpy(),
                )
            )
        return found

    def _exact(
        self,
        database: sqlite3.Connection,
        section: Section,
        stretch: chunks.Stretch,
        slots: Times,
    ) -> Times:
        """Return the exact times of a stretch; its slots where the blocks are lost."""
        import polars as pl

        holding = manifest.sectioned_with(database, self.line_id, "blocks", section.first)
        for file in holding:
            for part, base in file.entry_starts():
                if part.first != section.first:
                    continue
                rows = (
                    pl.scan_parquet(self.places.folder / file.name)
                    .slice(base, part.last - part.first + 1)
                    .filter(pl.col("layout") == stretch.layout)
                    .select("utc_ns")
                )
                (frame,) = self._collected([rows], [file.name])
                if frame is not None and len(frame) == len(slots):
                    return frame["utc_ns"].to_numpy()
        return slots

    def _from_minutes(
        self,
        database: sqlite3.Connection,
        tag: str,
        edges: Times,
        parts: list[minutes.Buckets],
        *,
        expired_only: bool = False,
    ) -> list[tuple[int, int]]:
        """Fill buckets from summaries; return the ranges of numbers that they stand for."""
        import polars as pl

        span = (int(edges[0]), int(edges[-1]))
        files = manifest.filed_between(database, self.line_id, "minutes", span)
        if expired_only:
            files = self._without_samples(database, files, span)
        if not files:
            return []
        scans = [
            pl.scan_parquet(self.places.folder / each.name)
            .filter(pl.col("tag") == tag)
            .select(pl.col("minute").cast(pl.Int64), "low", "mean", "high", "good_s")
            for each in files
        ]
        frames = self._collected(scans, [each.name for each in files])
        parts += [
            _buckets_from(edges, frame) for frame in frames if frame is not None and len(frame)
        ]
        return [
            (file.first, file.last)
            for file, frame in zip(files, frames, strict=True)
            if frame is not None
        ]

    def _without_samples(
        self, database: sqlite3.Connection, files: Sequence[Filed], span: tuple[int, int]
    ) -> list[Filed]:
        held = manifest.filed_between(database, self.line_id, "readings", span)
        return [
            each
            for each in files
            if not any(file.first <= each.last and each.first <= file.last for file in held)
        ]

    # Layouts and files.

    def _every_layout(self, database: sqlite3.Connection) -> dict[int, Layout]:
        count = database.execute(
            "SELECT count(*) FROM layouts WHERE line_id = ?", (self.line_id,)
        ).fetchone()[0]
        if count != len(self._layouts):
            self._layouts = chunks.known_layouts(database, self.line_id)
            self._order = chunks.Order(self._layouts)
        return self._layouts

    def _layouts_of(self, database: sqlite3.Connection, tag: str) -> dict[int, Layout]:
        every = self._every_layout(database)
        found = {number: layout for number, layout in every.items() if tag in layout.tags}
        if not found:
            raise KeyError(tag)
        return found

    def _collected(
        self, scans: Sequence[pl.LazyFrame], names: Sequence[str]
    ) -> list[pl.DataFrame | None]:
        """Read all at once; if one cannot be read, each by itself, and leave that one out."""
        import polars as pl

        if not scans:
            return []
        try:
            return list(pl.collect_all(list(scans)))
        except (pl.exceptions.PolarsError, OSError):
            return [
                self._one(scan.collect, name) for scan, name in zip(scans, names, strict=True)
            ]

    def _one(self, read: Callable[[], pl.DataFrame], name: str) -> pl.DataFrame | None:
        import polars as pl

        try:
            return read()
        except (pl.exceptions.PolarsError, OSError) as error:
            if name not in self.left_out:
                log.warning("%s cannot be read and is left out: %s", name, error)
            self.left_out.add(name)
            return None


def _edges(start: int, end: int, width: int) -> Times:
    """Return the edges of equal buckets; whole parts first: nanoseconds of years overflow."""
    each, rest = divmod(end - start, width)
    bucket = np.arange(width + 1, dtype=np.int64)
    return start + bucket * each + bucket * rest // width


def _by_period(samples: Sequence[Samples]) -> list[Samples]:
    """Put samples of one polling period together, in order of time."""
    found = []
    for period_ns in sorted({each.period_ns for each in samples}):
        group = [each for each in samples if each.period_ns == period_ns]
        utc_ns = np.concatenate([each.utc_ns for each in group])
        order = np.argsort(utc_ns, kind="stable")
        found.append(
            Samples(
                period_ns=period_ns,
                utc_ns=utc_ns[order],
                value=np.concatenate([each.value for each in group])[order],
                quality=np.concatenate([each.quality for each in group])[order],
            )
        )
    return found


def _buckets_of(edges: Times, samples: Samples) -> minutes.Buckets:
    hold = minutes.held_ns(samples.utc_ns, samples.period_ns)
    return minutes.into_buckets(edges, samples.utc_ns, samples.value, samples.quality, hold)


def _buckets_from(edges: Times, frame: pl.DataFrame) -> minutes.Buckets:
    """Gather one-minute summaries into buckets, each where its minute begins."""
    width = len(edges) - 1
    bucket = np.searchsorted(edges, frame["minute"].to_numpy() * MS_NS, side="right") - 1
    here = (bucket >= 0) & (bucket < width)
    bucket = bucket[here]
    low, high = np.full(width, np.nan), np.full(width, np.nan)
    good_s, area = np.zeros(width), np.zeros(width)
    seconds = frame["good_s"].to_numpy()[here].astype(np.float64)
    np.fmin.at(low, bucket, frame["low"].to_numpy()[here])
    np.fmax.at(high, bucket, frame["high"].to_numpy()[here])
    np.add.at(good_s, bucket, seconds)
    np.add.at(area, bucket, seconds * frame["mean"].to_numpy()[here])
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(good_s > 0, area / good_s, (low + high) / 2)
    return minutes.Buckets(low=low, mean=np.clip(mean, low, high), high=high, good_s=good_s)


def _together(
    parts: Sequence[minutes.Buckets], width: int
) -> tuple[Values, Values, Values, Values]:
    low, high = np.full(width, np.nan), np.full(width, np.nan)
    good_s, area, plain = np.zeros(width), np.zeros(width), np.full(width, np.nan)
    for part in parts:
        low, high = np.fmin(low, part.low), np.fmax(high, part.high)
        good_s = good_s + part.good_s
        area = area + np.where(part.good_s > 0, part.mean * part.good_s, 0.0)
        plain = np.where(np.isnan(plain), part.mean, plain)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(good_s > 0, area / good_s, plain)
    return low, np.clip(mean, low, high), high, good_s
