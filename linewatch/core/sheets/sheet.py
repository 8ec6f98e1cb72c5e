"""The sheet as it stands: positions in process order, each with what is read and what is seen.

Rule 1: what is not read, or not good, is a blank; nothing is made up for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

from linewatch.core.commands import LogCheck
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.readings import QUALITY_WORDS, Quality, is_good
from linewatch.core.sheets.items import BY_HAND, NOT_ASKED, WANTED
from linewatch.core.sheets.seen import CheckPicture

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from linewatch.core.events import Event, Part
    from linewatch.core.plan import Window

CHECKED: Final = "LogCheck"
READ: Final = "sheet"
"""What an event tells that holds what one position read at a signature: so they were before
a signature was one event."""
READ_WHOLE: Final = "sheet-whole"
"""What an event tells that holds what every position read at a signature."""
SIGNED: Final = "SignSheet"
GOOD: Final = "good"


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One quantity of a position, with its window, at the moment of the sheet."""

    value: float | None
    """None: it is not read, or its value is not good."""
    low: float | None = None
    high: float | None = None
    side: str = ""
    is_by_hand: bool = False
    why: str = ""
    """Why a signal that is there gives no value: 'sensor fault'; to be read by hand."""


class Shown(Protocol):
    """A figure of a picture."""

    @property
    def tag(self) -> str:
        """Id of what was read."""

    @property
    def value(self) -> float | None:
        """Value in the measurement's own unit."""

    @property
    def quality(self) -> int:
        """How far to trust it."""

    @property
    def low(self) -> float | None:
        """Least that is wanted."""

    @property
    def high(self) -> float | None:
        """Most that is wanted."""

    @property
    def side(self) -> str:
        """Where it lies to its window."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A position of the sheet."""

    id: str
    name: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing that is looked at, and what was found."""

    item: str
    text: str
    found: CheckPicture | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """One position of the sheet, filled as far as it is."""

    place: Place
    reads: tuple[tuple[str, Read], ...]
    """By measurement kind with its suffix."""
    checks: tuple[Check, ...]

    @property
    def is_whole(self) -> bool:
        """Say whether nothing is blank."""
        return all(read.value is not None for _, read in self.reads) and all(
            check.found is not None for check in self.checks
        )


Reads = Mapping[str, Mapping[str, Read]]
"""By subject, then by measurement kind with its suffix."""


def read_of(figure: Shown) -> Read:
    """Return a figure of a picture as the sheet has it: what is not good is a blank."""
    value = figure.value if is_good(figure.quality) else None
    return Read(
        value=value,
        low=figure.low,
        high=figure.high,
        side=figure.side if value is not None else "",
        is_by_hand=figure.quality == int(Quality.BY_HAND),
        why="" if is_good(figure.quality) else quality_words(figure.quality),
    )


def quality_words(quality: int) -> str:
    """Return in words why a value is not good; '' for a quality that nobody knows."""
    try:
        return QUALITY_WORDS[Quality(quality)]
    except ValueError:
        return ""


def present(
    tanks: Mapping[str, Mapping[str, Shown]], rectifiers: Mapping[str, Mapping[str, Shown]]
) -> Reads:
    """Return what a picture has of every position.

    Args:
        tanks: Figures of the tanks, by id, then by measurement kind with its suffix.
        rectifiers: The same of the rectifiers; what they read stands with them alone.
    """
    own = {
        name: {
            kind: read_of(figure)
            for kind, figure in figures.items()
            if figure.tag.partition(".")[0] not in rectifiers
        }
        for name, figures in tanks.items()
    }
    return own | {
        name: {kind: read_of(figure) for kind, figure in figures.items()}
        for name, figures in rectifiers.items()
    }


def judged(value: float | None, window: Window, why: str = "") -> Read:
    """Return a value of a signal, held against its window; without one, why there is none."""
    side = window.side(value) if value is not None else ""
    why = why if value is None else ""
    return Read(value=value, low=window.low, high=window.high, side=side, why=why)


def sheet(
    places: Iterable[Place], reads: Reads, found: Iterable[CheckPicture]
) -> tuple[Position, ...]:
    """Return the sheet.

    Args:
        places: The positions, in order.
        reads: What is read at them.
        found: What people found in the shift; of one item the last counts.
    """
    by_item = {(each.subject, each.item): each for each in found}
    filled = []
    for place in places:
        own = dict(reads.get(place.id, {}))
        for kind in WANTED.get(place.kind, ()):
            if not any(name == kind or name.startswith(f"{kind}.") for name in own):
                own[kind] = Read(value=None)
        rows = tuple(
            (name, read)
            for name, read in own.items()
            if name.partition(".")[0] in MEASUREMENTS
            and name.partition(".")[0] not in NOT_ASKED
            and not MEASUREMENTS[name.partition(".")[0]].discrete
        )
        checks = tuple(
            Check(item=item.id, text=item.text, found=by_item.get((place.id, item.id)))
            for item in BY_HAND.get(place.kind, ())
        )
        filled.append(Position(place=place, reads=rows, checks=checks))
    return tuple(filled)


def blanks(positions: Sequence[Position]) -> int:
    """Return how many blanks a sheet has."""
    return sum(
        sum(read.value is None for _, read in each.reads)
        + sum(check.found is None for check in each.checks)
        for each in positions
    )


def parts_of(subject: str, reads: Mapping[str, Read]) -> dict[str, Part]:
    """Return what is read at a position as parts of an event; see `reads_in`.

    What is as it mostly is, is left out: no window, inside it, not by hand. Of what cannot be
    read stands why, and its window.
    """
    parts: dict[str, Part] = {}
    for name, read in reads.items():
        if read.value is None and not read.why:
            continue
        key = f"{subject} {name}"
        parts |= {f"why {key}": read.why} if read.value is None else {f"read {key}": read.value}
        more: dict[str, Part] = {
            "low": read.low,
            "high": read.high,
            "side": read.side,
            "by-hand": read.is_by_hand,
        }
        parts |= {
            f"{lead} {key}": part
            for lead, part in more.items()
            if part is not None and part is not False and part != ""
        }
    return parts


def reads_in(event: Event) -> dict[str, dict[str, Read]]:
    """Return what was read at a signature, by position, of an event that tells of it."""
    what, values = event.values.get("what"), event.values
    found: dict[str, dict[str, Read]] = {}
    if what not in {READ, READ_WHOLE}:
        return found
    for key, value in values.items():
        lead, _, rest = key.partition(" ")
        if lead not in {"read", "why"} or (lead == "read" and _number(value) is None):
            continue
        subject, _, name = rest.rpartition(" ")
        found.setdefault(subject or event.subject, {})[name] = Read(
            value=_number(value) if lead == "read" else None,
            low=_number(values.get(f"low {rest}")),
            high=_number(values.get(f"high {rest}")),
            side=str(values.get(f"side {rest}") or ""),
            is_by_hand=bool(values.get(f"by-hand {rest}")),
            why=str(value) if lead == "why" else "",
        )
    return found


def _number(value: Part) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def found_of(command: LogCheck, utc_ns: int) -> tuple[CheckPicture, ...]:
    """Return what a command says was found, item by item."""
    return tuple(
        CheckPicture(
            subject=command.subject,
            item=item,
            found=command.found.strip(),
            is_bad=command.is_bad,
            who=command.who,
            utc_ns=utc_ns,
        )
        for each in command.item.split(",")
        if (item := each.strip())
    )


def checks_in(event: Event) -> tuple[CheckPicture, ...]:
    """Return what a person found, of an event that tells of it; else nothing."""
    values = event.values
    if values.get("what") != CHECKED:
        return ()
    told = LogCheck(
        who=str(values.get("who")),
        subject=str(values.get("subject")),
        item=str(values.get("item")),
        found=str(values.get("found")),
        is_bad=bool(values.get("is_bad")),
    )
    return found_of(told, event.utc_ns)
