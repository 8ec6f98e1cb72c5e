"""What the screen knows: the present picture, how old it is, and alarms newer than it. Pure.

The picture comes once a second; an alarm's event is committed at once. So that an alarm is on
the screen fast, events newer than the picture are laid over it until the picture has them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from linewatch.core.events import EventKind
from linewatch.core.view import AlarmPicture, LinePicture
from linewatch.ui.marks import state_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.core.events import Event

OLD_AFTER_S: Final = 5.0
"""A picture that was not replaced for this long is not live; one comes every second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """What can be drawn at one moment."""

    picture: LinePicture | None = None
    is_alive: bool = True
    """Whether a collector holds the line, as far as was last heard."""
    is_fresh: bool = True
    """Whether the picture was replaced lately."""

    @property
    def is_live(self) -> bool:
        """Say whether the picture may be shown as the present."""
        return self.picture is not None and self.is_alive and self.is_fresh

    def shows_the_same(self, other: Sight) -> bool:
        """Say whether another sight is the same, without comparing whole pictures."""
        return (
            self.picture is other.picture
            and self.is_alive == other.is_alive
            and self.is_fresh == other.is_fresh
        )


def overlaid(picture: LinePicture, events: Iterable[Event]) -> LinePicture:
    """Return a picture with the alarms of events that are newer than it."""
    alarms = {each.id: each for each in picture.alarms}
    newer = [
        each for each in events if each.kind is EventKind.ALARM and each.utc_ns > picture.utc_ns
    ]
    if not newer:
        return picture
    for event in newer:
        alarm = _alarm(event, alarms.get(str(event.values.get("alarm", event.subject))))
        if state_of(alarm.state) == "normal":
            alarms.pop(alarm.id, None)
        else:
            alarms[alarm.id] = alarm
    return replace(picture, alarms=tuple(alarms.values()))


def _alarm(event: Event, known: AlarmPicture | None) -> AlarmPicture:
    """Return the alarm that an event tells of, on the ground of what was known of it."""
    values = event.values
    state = str(values.get("to", "unacknowledged"))
    if known is not None:
        return replace(known, state=state)
    name = str(values.get("alarm", event.subject))
    tag, _, kind = name.rpartition(".")
    return AlarmPicture(
        id=name,
        tag=tag,
        subject=event.subject,
        kind=kind,
        state=state,
        priority=str(values.get("priority", "medium")),
        text=event.text,
        since_utc_ns=event.utc_ns,
        value=_number(values.get("value")),
        limit=_number(values.get("limit")),
    )


def _number(part: object) -> float | None:
    return float(part) if isinstance(part, (int, float)) else None
