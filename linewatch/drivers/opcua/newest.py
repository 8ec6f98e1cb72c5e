"""The newest reading of every item, and blocks made of them.

Rule 1: what arrives last counts, except that a slow read never covers a younger notification.
Rule 2: an item that is not what it was, or is not there, has no value, whatever arrives.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.readings import Quality, Readings
from linewatch.drivers.opcua.meaning import believed_ns, meant, utc_ns_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asyncua import ua
    from numpy.typing import NDArray

    from linewatch.core.readings import Layout, Moment
    from linewatch.drivers.opcua.items import Item


@dataclass(frozen=True, slots=True)
class Sent:
    """What a server sent of an item, as it was."""

    status: int
    value: object
    source_ns: int | None

    @staticmethod
    def of(data: ua.DataValue) -> Sent:
        """Return the parts of a data value that count."""
        status = data.StatusCode
        return Sent(
            status=0 if status is None else int(status.value),
            value=None if data.Value is None else data.Value.Value,
            source_ns=utc_ns_of(data.SourceTimestamp),
        )


class Newest:
    """The newest reading of each of a link's items.

    Args:
        items: The items, in their places.
        tolerance_ns: How far a source time may lie from ours; None: source times are not
            comparable with ours at all.
    """

    def __init__(self, items: Sequence[Item], tolerance_ns: int | None) -> None:
        count = len(items)
        self._items = items
        self._tolerance_ns = tolerance_ns
        self._place = {item.tag: place for place, item in enumerate(items)}
        self._places: dict[tuple[str, ...], NDArray[np.intp]] = {}
        self._value = np.full(count, np.nan)
        self._quality = np.full(count, Quality.NOT_YET, dtype=np.uint8)
        self._source_ns = np.zeros(count, dtype=np.int64)
        self._sent: list[Sent | None] = [None] * count
        self._notified: list[Sent | None] = [None] * count
        self._asked: list[Sent | None] = [None] * count
        self._closed: set[int] = set()
        self.offset_ns: int | None = None
        """How far the last unbelievable source time lay from ours; None: all are believable."""

    def close(self, place: int, quality: Quality) -> None:
        """Give an item no value from now on."""
        self._closed.add(place)
        self._value[place] = np.nan
        self._quality[place] = quality

    def open(self, place: int) -> None:
        """Let an item have values again."""
        self._closed.discard(place)

    def notify(self, place: int, data: ua.DataValue, at: Moment) -> None:
        """Take what the subscription brought."""
        sent = Sent.of(data)
        self._notified[place] = sent
        self._take(place, sent, at)

    def answer(self, place: int, data: ua.DataValue, at: Moment) -> bool:
        """Take what a read brought; say whether the subscription has missed a change.

        It has, when two reads in turn bring one value, and the subscription brought another:
        a change of at least one round ago has not been told. A status alone is no proof, for
        there are servers that do not tell when only that changes.
        """
        sent = Sent.of(data)
        before, notified = self._asked[place], self._notified[place]
        self._asked[place] = sent
        newest = self._sent[place]
        if newest is None or newest.source_ns is None or not _is_older(sent, newest):
            self._take(place, sent, at)
        return (
            notified is not None
            and before is not None
            and sent.value == before.value
            and sent.value != notified.value
            and place not in self._closed
        )

    def _take(self, place: int, sent: Sent, at: Moment) -> None:
        self._sent[place] = sent
        source_ns = self._believed(sent.source_ns, at.utc_ns)
        self._source_ns[place] = at.utc_ns if source_ns is None else source_ns
        if place in self._closed:
            return
        meaning = meant(self._items[place], sent.status, sent.value)
        self._value[place] = meaning.value
        self._quality[place] = meaning.quality

    def _believed(self, source_ns: int | None, received_ns: int) -> int | None:
        if self._tolerance_ns is None or source_ns is None:
            return None
        believed = believed_ns(source_ns, received_ns, self._tolerance_ns)
        self.offset_ns = source_ns - received_ns if believed is None else None
        return believed

    def block(self, layout: Layout, at: Moment) -> Readings:
        """Return the newest readings of a layout's tags as a block."""
        places = self._places.get(layout.tags)
        if places is None:
            places = np.array([self._place[tag] for tag in layout.tags], dtype=np.intp)
            self._places[layout.tags] = places
        return Readings(
            layout=layout,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            value=self._value[places],
            quality=self._quality[places],
            source_utc_ns=self._source_ns[places],
        )


def _is_older(sent: Sent, newest: Sent) -> bool:
    return sent.source_ns is not None and sent.source_ns < (newest.source_ns or 0)
