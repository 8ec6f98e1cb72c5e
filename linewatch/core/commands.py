"""What a person may ask of the line. Nothing here ever reaches a field device.

A command is durable before it is carried out, and stands in the one sequence, so that a
replay obeys the same commands at the same places. `who` are initials; every command that
changes how the line is judged says why.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What all commands have."""

    who: str
    """Initials of the person."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledge(Command):
    """Say that an alarm has been seen. `alarm` may be '*': all that are unacknowledged."""

    alarm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ResetLatch(Command):
    """Release a latched alarm whose condition has gone."""

    alarm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelve(Command):
    """Put an alarm aside for a limited time; it comes back by itself."""

    alarm: str
    for_s: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unshelve(Command):
    """Bring a shelved alarm back."""

    alarm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOutOfService(Command):
    """Take an alarm, tank or rectifier out of service for maintenance."""

    subject: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnToService(Command):
    """Put an alarm, tank or rectifier back into service."""

    subject: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLineState(Command):
    """Say what the line, or one track of it, is doing.

    States: producing, heating-up, planned-stop, out-of-service.
    """

    state: str
    track: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandReading(Command):
    """A value that a person read off a dipstick, a titration or a hand meter."""

    subject: str
    kind: str
    """Row of core/measurements.py, or a free name with `unit`."""
    value: float
    unit: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteNote(Command):
    """A note on any tank, rectifier, bath or load."""

    subject: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAddition(Command):
    """A dose that was put into a bath. A correction is a counter-entry: a negative amount."""

    bath: str
    additive: str
    amount_ml: float
    lot: str = ""
    corrects: int | None = None
    """Number of the entry that this one takes back: the amount is that entry's, negated."""
    why: str = ""
    """Reason for a correction, and for a dose that something speaks against."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkDummy(Command):
    """Say that a tank now plates dummies, or no longer: counted apart from product."""

    tank: str
    begins: bool
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkMeter(Command):
    """A rectifier's meter or the unit itself was replaced or serviced: a new base, no step."""

    rectifier: str
    what: str
    """'replaced' or 'serviced'."""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCard(Command):
    """What a load is. A later card corrects the earlier one, and says why."""

    load: str
    part: str = ""
    """Id of a part of the catalogue, or a name of its own."""
    amount: float | None = None
    """Pieces of a rack, kilograms of a barrel."""
    area_dm2: float | None = None
    """The load's whole area [dm2], where it is known better than by part and amount."""
    lot: str = ""
    reference: str = ""
    """The customer's."""
    rework_of: str = ""
    """Number of the load whose parts these were before, overplated or stripped since."""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLoad(Command):
    """Which load a tank holds, where no signal tells it, or tells it wrongly."""

    load: str
    tank: str
    is_in: bool = True
    """False: it was lifted out."""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BakeLoad(Command):
    """A load went into an oven, or came out of it."""

    load: str
    oven: str = ""
    is_in: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class DecideLoad(Command):
    """What becomes of a load: held, released, rework, scrap."""

    load: str
    decision: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectLoad(Command):
    """Something found by looking at a load, or by measuring it."""

    load: str
    what: str
    """'thickness', 'adhesion', 'salt spray', 'appearance'."""
    found: str
    """What was found, with its unit: '8.4 um', 'good', '96 h'."""
    place: str = ""
    """Where on the part or rack."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAnalysis(Command):
    """What the laboratory found in a bath or a treatment stage."""

    subject: str
    substance: str
    """'Ni', 'boric acid', 'CN'."""
    value: float
    unit: str
    """'g/L', 'mg/L', 'mL/L'."""
    sampled_utc_ns: int | None = None
    """When the sample was taken [ns since 1970]; None: now."""
    method: str = ""
    sample: str = ""
    """Number of the sample."""
    note: str = ""
    corrects: int | None = None
    """Number of the analysis that this one takes the place of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoDuty(Command):
    """Something that is due from time to time was done."""

    duty: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogCheck(Command):
    """What a person found at a position, of what the shift's check sheet asks by hand."""

    subject: str
    """The tank or rectifier, or the line."""
    item: str
    """Id of what is looked at: core/sheets/items.py; several, separated by commas."""
    found: str
    """'good', or what was found."""
    is_bad: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SignSheet(Command):
    """The shift's check sheet is signed: what every signal reads now stands with it."""

    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TellNotice(Command):
    """What became of a notice outside the screen; said by the teller, not by a person."""

    way: str
    did: bool
    text: str
    """What was told, or why it could not be; never where to, which may be a secret."""
    alarms: str = ""
    """Ids of the alarms in it, separated by commas, each with since when it waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureFrames(Command):
    """Write the raw frames of a suspect device's link into a file for a time. It only listens.

    `subject` is a rectifier or tank, whose links it is about, or a link.
    """

    subject: str
    for_s: float = 3600.0
    """How long [s of wall time]; 0: end what is being captured."""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndCollecting(Command):
    """Ask the collector to commit and end. It stops the recording, never the line."""

    why: str = ""


AnyCommand: TypeAlias = (
    Acknowledge
    | ResetLatch
    | Shelve
    | Unshelve
    | TakeOutOfService
    | ReturnToService
    | SetLineState
    | HandReading
    | WriteNote
    | LogAddition
    | MarkDummy
    | MarkMeter
    | LoadCard
    | PlaceLoad
    | BakeLoad
    | DecideLoad
    | InspectLoad
    | LogAnalysis
    | DoDuty
    | LogCheck
    | SignSheet
    | TellNotice
    | CaptureFrames
    | EndCollecting
)

COMMANDS: dict[str, type[Command]] = {
    kind.__name__: kind
    for kind in (
        Acknowledge,
        ResetLatch,
        Shelve,
        Unshelve,
        TakeOutOfService,
        ReturnToService,
        SetLineState,
        HandReading,
        WriteNote,
        LogAddition,
        MarkDummy,
        MarkMeter,
        LoadCard,
        PlaceLoad,
        BakeLoad,
        DecideLoad,
        InspectLoad,
        LogAnalysis,
        DoDuty,
        LogCheck,
        SignSheet,
        TellNotice,
        CaptureFrames,
        EndCollecting,
    )
}
"""Every command by the name that the store keeps."""
