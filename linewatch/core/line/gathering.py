"""All figures of the line as columns, gathered from what was read last.

Rule 1: what has been silent for too long at the moment of the picture looks stale in it, even
        if the line has not been told yet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.figures import FigureColumns, FigureRow, figure_table
from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from linewatch.core.line.machine import Line
    from linewatch.core.line.watch import Watch
    from linewatch.core.readings import Moment, Qualities

BAD, STALE, NOT_YET = (np.uint8(each) for each in (Quality.BAD, Quality.STALE, Quality.NOT_YET))


class Gathering:
    """Puts the columns of a line's layouts into the order of one table.

    Args:
        line: The line.
    """

    def __init__(self, line: Line) -> None:
        self._line = line
        tags = line.plan.tags.values()
        self._table = figure_table(
            FigureRow(
                tag=tag.id,
                subject=tag.subject,
                name=tag.name,
                kind=tag.kind,
                window=tag.window,
            )
            for tag in tags
        )
        self._watches: list[Watch] = []
        self._from = np.empty(0, dtype=np.intp)

    def columns(self, at: Moment) -> FigureColumns:
        """Return every figure as it is now.

        Args:
            at: Now, on both clocks.

        Returns:
            The columns; copies, so that nothing changes them afterwards.
        """
        if len(self._watches) != len(self._line.watches):
            self._find_places()
        watches, where = self._watches, self._from
        # One more at the end, for tags that no layout brings.
        value = np.concatenate([*(each.value for each in watches), _NONE])
        quality = np.concatenate([*(_quality(each, at.mono_ns) for each in watches), _NOT_YET])
        good = np.concatenate([*(each.good_utc_column() for each in watches), _NEVER])
        widths = [len(each.value) for each in watches]
        utc_ns = np.repeat([*(each.utc_ns for each in watches), 0], [*widths, 1])
        return FigureColumns(
            self._table,
            value=value[where],
            quality=quality[where],
            utc_ns=utc_ns[where],
            good_utc_ns=good[where],
            by_hand=self._line.hands.figures(),
        )

    def _find_places(self) -> None:
        self._watches = list(self._line.watches.values())
        first, start = {}, 0
        for watch in self._watches:
            first[id(watch)] = start
            start += len(watch.value)
        found = (self._line.place(row.tag) for row in self._table.rows)
        self._from = np.array(
            [start if place is None else first[id(place[0])] + place[1] for place in found],
            dtype=np.intp,
        )


_NONE = np.full(1, np.nan)
_NOT_YET = np.full(1, NOT_YET)
_NEVER = np.zeros(1, dtype=np.int64)


def _quality(watch: Watch, now_ns: int) -> Qualities:
    silent_ns = now_ns - watch.heard_ns
    if silent_ns <= watch.least_patience_ns:
        return watch.quality
    is_late = (silent_ns > watch.patience_ns) & (watch.quality < BAD)
    return np.where(is_late, STALE, watch.quality)
