"""A desk that also answers for figures that are worked out from recorded ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.worked_out import series_of, worked_out
from linewatch.wiring.acts_told import told

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from linewatch.core.commands import AnyCommand
    from linewatch.core.events import EventKind
    from linewatch.core.plan import LinePlan
    from linewatch.core.ports import Desk, Outcome, Sealed, Series, StoredEvent
    from linewatch.core.readings import Qualities, Times, Values
    from linewatch.core.view import LinePicture
    from linewatch.core.worked_out import WorkedOut


class FiguresDesk:
    """Hands on everything to a desk, words acts, and works out what was never recorded.

    Args:
        desk: The desk.
        plan_of: Returns the plan of a configuration by its fingerprint.
    """

    def __init__(self, desk: Desk, plan_of: Callable[[str], LinePlan]) -> None:
        self._desk = desk
        self._plan_of = plan_of
        self._known: dict[str, dict[str, WorkedOut]] = {}

    def series(self, tag: str, start_utc_ns: int, end_utc_ns: int, width: int) -> Series:
        """Return one tag or figure over a span in at most `width` buckets.

        Raises:
            KeyError: it was never recorded, and cannot be worked out.
        """
        which = self._figures().get(tag)
        if which is None:
            return self._desk.series(tag, start_utc_ns, end_utc_ns, width)
        return series_of(which, self._desk.series(which.tag, start_utc_ns, end_utc_ns, width))

    def _figures(self) -> dict[str, WorkedOut]:
        picture = self._desk.picture()
        if picture is None:
            return {}
        if picture.fingerprint not in self._known:
            self._known[picture.fingerprint] = worked_out(self._plan_of(picture.fingerprint))
        return self._known[picture.fingerprint]

    # All else is the desk's.

    def picture(self) -> LinePicture | None:
        """Return the present picture, or None if there never was one."""
        return self._desk.picture()

    def alive(self) -> bool:
        """Say whether a collector holds the line."""
        return self._desk.alive()

    def news(self) -> int:
        """Return a number that changes whenever an event or outcome was committed."""
        return self._desk.news()

    def changes(self, since: int, limit: int = 1000) -> Sequence[StoredEvent]:
        """Return the events after number `since`, oldest first, at most `limit`."""
        return told(self._desk.changes(since, limit), self._desk.picture)

    def latest(self, limit: int = 200) -> Sequence[StoredEvent]:
        """Return the newest events, oldest first."""
        return told(self._desk.latest(limit), self._desk.picture)

    def happened(
        self,
        subjects: Collection[str],
        span: tuple[int, int],
        limit: int = 2000,
        kinds: Collection[EventKind] = (),
    ) -> Sequence[StoredEvent]:
        """Return the events about some subjects within a span of wall time, oldest first."""
        return told(self._desk.happened(subjects, span, limit, kinds), self._desk.picture)

    def loads(self, span: tuple[int, int], limit: int = 2000) -> Sequence[StoredEvent]:
        """Return what was told of loads within a span of wall time, oldest first."""
        return self._desk.loads(span, limit)

    def sealed(self) -> Sealed:
        """Return how many acts the people's journal holds, and what seals the last."""
        return self._desk.sealed()

    def raw(
        self, tag: str, start_utc_ns: int, end_utc_ns: int
    ) -> tuple[Times, Values, Qualities]:
        """Return every sample of one tag over a span.

        Raises:
            KeyError: the tag was never recorded.
        """
        return self._desk.raw(tag, start_utc_ns, end_utc_ns)

    def request(self, command: AnyCommand) -> int:
        """Leave a request; durable when this returns."""
        return self._desk.request(command)

    def outcome(self, number: int) -> Outcome:
        """Return what became of a request."""
        return self._desk.outcome(number)
