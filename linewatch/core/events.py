"""What happened: one flat, stored record for everything the line tells.

An event is a fact with a time; it is never changed. `values` holds its parts, so that nobody
must parse `text`, which is for people.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

from linewatch.core.readings import Moment

Part: TypeAlias = "str | int | float | bool | None"


class EventKind(StrEnum):
    """Every kind of event."""

    RUN_STARTED = "run-started"
    RUN_STOPPED = "run-stopped"
    CONFIGURATION = "configuration"
    CLOCK_STEPPED = "clock-stepped"
    COLLECTOR_STOOD = "collector-stood"
    """For a while nothing was read because the collector itself did not run; values: for_s."""
    LINK_STATE = "link-state"
    ALARM = "alarm"
    """A move of an alarm's states; values: alarm, move, from, to, priority, value, limit."""
    FLOOD = "flood"
    CHARGE_RECOVERED = "charge-recovered"
    METER_RESET = "meter-reset"
    METER_DRIFT = "meter-drift"
    COMMAND = "command"
    """Something a person did; values: what, who, why and its parts."""
    REFUSED = "refused"
    LINE_STATE = "line-state"
    POSITION_STATE = "position-state"
    LOAD = "load"
    ADDITION = "addition"
    ANALYSIS = "analysis"
    NOTE = "note"
    FINDING = "finding"
    DISCHARGE = "discharge"
    """What was let go in an hour; values: volume, minutes outside, extremes by quantity."""
    WATER = "water"
    """What a load carried into a rinse, or where a tank's water went in an hour; see `what`."""
    NOTICE = "notice"
    """Somebody was told outside the screen, or could not be; values: way, did, alarms."""
    RECORDING = "recording"
    """Recording stopped or resumed; told by the collector, not by the line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One fact."""

    kind: EventKind
    subject: str
    """Id of the tank, rectifier, tag, link, alarm, bath or load; or the line's id."""
    utc_ns: int
    mono_ns: int
    text: str
    """One sentence for people, without time and subject."""
    values: Mapping[str, Part] = field(default_factory=dict)

    @property
    def moment(self) -> Moment:
        """Return when it happened, on both clocks."""
        return Moment(utc_ns=self.utc_ns, mono_ns=self.mono_ns)
