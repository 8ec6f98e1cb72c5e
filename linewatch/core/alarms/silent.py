"""Which alarm tells that a link is lost or stands still, or one device of several is silent."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.measurements import MEASUREMENTS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Layout

LOST: Final = "lost"
NO_ANSWER: Final = "no-answer"
STILL: Final = "still"
LEAST_TAGS: Final = 2
"""A device of which one value is read is that value: it needs no other name."""
LEAST_MEASURED: Final = 8
"""Measured figures of a link of which one always has another last digit; fewer may well stand
still together. Common practice."""


def lost_name(link: str) -> str:
    """Return the alarm that nothing at all comes over a link: 'rack-rectifiers.lost'."""
    return f"{link}.{LOST}"


def still_name(link: str) -> str:
    """Return the alarm that nothing on a link moves any more: 'services.still'."""
    return f"{link}.{STILL}"


def measures(plan: LinePlan, tag: str) -> bool:
    """Say whether a tag measures something that is never quite still."""
    known = plan.tags.get(tag)
    kind = MEASUREMENTS.get(known.kind) if known is not None else None
    return kind is not None and not kind.discrete


def silent_names(layouts: Iterable[Layout]) -> dict[str, tuple[str, str]]:
    """Return the alarms of devices that may be silent while their link answers.

    A device that serves one rectifier or position is called by it, whatever serves several by
    its own id; of several that serve the same one, that which tells most of it.

    Args:
        layouts: All of a line.

    Returns:
        (link, device) by the alarm's name: 'rectifier-nickel-1.no-answer'.
    """
    tags: dict[str, dict[str, list[str]]] = {}
    for layout in layouts:
        tags.setdefault(layout.link, {}).setdefault(layout.device, []).extend(layout.tags)
    devices = [
        (link, device, read)
        for link, mine in tags.items()
        for device, read in mine.items()
        if len(mine) > 1 and len(read) >= LEAST_TAGS
    ]
    found: dict[str, tuple[str, str]] = {}
    for link, device, read in sorted(devices, key=lambda each: -len(each[2])):
        subjects = {tag.partition(".")[0] for tag in read}
        name = f"{min(subjects)}.{NO_ANSWER}"
        if len(subjects) > 1 or name in found:
            name = f"{device}.{NO_ANSWER}"
        found.setdefault(name, (link, device))
    return found
