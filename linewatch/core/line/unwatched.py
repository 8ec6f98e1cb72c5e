"""A time in which nobody looked at the line: the collector stood, or did not run.

Rule 1: what falls due in it waits until it has been read again: a load that has left
        meanwhile is not overdue, a value that has come back is not low.
Rule 2: silence of one's own making is not the devices': nothing turns stale by it.
Rule 3: where standing still or being away is the trouble, only time that was watched counts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.events import EventKind
from linewatch.core.line.study import Unwatched

if TYPE_CHECKING:
    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.ports import Stood

NS: Final = 1_000_000_000
READ_AGAIN_NS: Final = 10 * NS
"""Links have been read again by then, lost ones opened again [ns of wall time].
Common practice."""
MINUTE_S: Final = 60


def pass_over(line: Line, for_ns: int) -> None:
    """Leave out a time in which nobody looked, up to the line's present time.

    Args:
        line: The line.
        for_ns: How long it lasted [ns of line time].
    """
    end_ns = line.now_ns
    until_ns = end_ns + round(READ_AGAIN_NS * max(1.0, line.speed))
    for watch in line.watches.values():
        watch.heard_ns = max(watch.heard_ns, end_ns)
        watch.timers.put_off(end_ns, until_ns)
        if watch.judge.frozen is not None:
            watch.judge.frozen.stood(for_ns)
    line.overdue.timers.put_off(end_ns, until_ns)
    line.lost_links.timers.put_off(end_ns, until_ns)
    line.studies.pass_over(Unwatched(for_ns=for_ns, end_ns=end_ns, until_ns=until_ns))


def stood_event(line: Line, entry: Stood) -> Event:
    """Return what is told of a collector that stood.

    Args:
        line: The line.
        entry: For how long, and when it was over.

    Returns:
        The event, about the line as a whole.
    """
    for_s = entry.for_ns / NS
    lasted = f"{for_s:.0f} s" if for_s < 2 * MINUTE_S else f"{for_s / MINUTE_S:.0f} min"
    text = f"the collector itself stood for {lasted}; nothing was read meanwhile"
    return line.event(EventKind.COLLECTOR_STOOD, entry.at, text, {"for_s": for_s})
