"""A load's record: what was told of it, put together. Events in, one frozen record out.

Rule 1: nothing is worked out here that was not told: sums of layers alone are formed, and
        what they were formed from stands beside them.
Rule 2: of two cards the later holds, field by field; both stay in the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import TYPE_CHECKING

from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind, Part
from linewatch.core.loads.layers import TOO_THIN, LayerRow, layers_of
from linewatch.core.loads.present import lasting

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

NS = 1_000_000_000
UNSEEN_S = 15.0
"""A station that was not read for so long before a move has missed the moment."""
GRAVE = ("high", "highest")
"""Priorities of alarms that come before a step that was too short. Common practice."""
HANGS = "hangs"
"""What is told of a load that begins to hang in the air; `HUNG` when it has ended."""
HUNG = "hung"
MARKS = ("left-out", "not-on-route", "bake-late", HANGS, HUNG)
NOT_KNOWN = "not-known"
"""What is told of something about a load that nobody saw; it is no oddity."""
MOST_UNMETERED = 0.5
"""With more of a stay unmetered, what it received is not told from what was metered."""
CARD_FIELDS = ("part", "part_name", "amount", "area_dm2", "lot", "reference", "rework_of")


def subject(number: str) -> str:
    """Return what events about a load name as their subject.

    No id holds a stroke, so that no tank is ever taken for a load: 'load-1' may be a tank.
    """
    return f"load/{number}"


class Gravity(IntEnum):
    """How grave something odd is for the work, the gravest first. Common practice."""

    DISSOLVED = 0
    GRAVE_ALARM = 1
    """An alarm of high or highest priority: polarity, no current."""
    OUTSIDE = 2
    WAY = 3
    """Left out, not on its route, hung in the air, baked too late."""
    DWELL = 4
    ALARM = 5
    RECORD = 6
    """Not the work's fault: something was not seen or metered."""
    NONE = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class StayRow:
    """One stay in a tank, as it was told when it ended."""

    tank: str
    tank_name: str
    kind: str
    bath: str
    by: str
    in_utc_ns: int
    out_utc_ns: int
    transfer_s: float | None
    """Time since it left the tank before [s]; None for the first, and where nobody looked."""
    dwell_s: float
    """As it was seen [s]."""
    dwell_not_known: str
    """Why its dwell cannot be judged, in words; '' if it can."""
    shortest_s: float | None
    longest_s: float | None
    temperature_low_degc: float | None
    temperature_mean_degc: float | None
    temperature_high_degc: float | None
    charge_ah: float | None
    charge_pm_ah: float | None
    anodic_ah: float | None
    unmetered_s: float | None
    deposit: str
    mass_g: float | None
    efficiency: float | None
    equivalent_g_per_ah: float | None
    density_g_per_cm3: float | None
    area_dm2: float | None
    area_from: str
    thickness_um: float | None
    thickness_pm_um: float | None
    thinnest_um: float | None
    thickness_refused: str
    shared_with: str
    """The loads with which it shared a rectifier, by area; '' if it hung alone."""
    doubts: str
    odd: tuple[str, ...]
    """What was odd about it, in words, the gravest first."""
    holes: tuple[str, ...]
    """What the record has not seen of it, in words: no fault of the work."""
    gravity: int
    """How grave the first of them is, see `Gravity`; the greatest number if nothing was odd."""
    fingerprint: str

    @property
    def is_unmetered(self) -> bool:
        """Say whether what flowed in it is not told: too much of it was not metered."""
        return (self.unmetered_s or 0.0) > MOST_UNMETERED * self.dwell_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Something that was told of a load at a time."""

    utc_ns: int
    what: str
    text: str
    values: Mapping[str, Part] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRecord:
    """A load."""

    number: str
    trip: int
    trips: int
    """How many loads of this number the record knows."""
    by: str
    part: str
    card: Mapping[str, Part]
    stays: tuple[StayRow, ...]
    layers: tuple[LayerRow, ...]
    marks: tuple[Said, ...]
    """What was odd besides: left out, not on its route, hung in the air, bake late."""
    not_known: tuple[Said, ...]
    """What may have been odd, and nobody saw."""
    bakes: tuple[Said, ...]
    inspections: tuple[Said, ...]
    decisions: tuple[Said, ...]
    cards: tuple[Said, ...]
    fingerprints: tuple[str, ...]
    """Configurations in force while it was on its way, the first one first."""

    @property
    def decision(self) -> str:
        """Return what was decided last; '' if nothing was."""
        return str(self.decisions[-1].values.get("decision", "")) if self.decisions else ""

    @property
    def gravity(self) -> int:
        """Return how grave the worst is that was odd; see `Gravity`."""
        return min(
            [
                Gravity.WAY if self.marks else Gravity.NONE,
                *(each.gravity for each in self.stays),
            ]
        )

    @property
    def worst(self) -> str:
        """Return the gravest of what was odd, in words; '' if nothing was."""
        stay = min(self.stays, key=lambda each: each.gravity, default=None)
        if stay is not None and stay.odd and (not self.marks or stay.gravity < Gravity.WAY):
            return f"{stay.tank_name}: {stay.odd[0]}"
        return self.marks[0].text if self.marks else ""

    @property
    def oddities(self) -> int:
        """Return how much was odd; that the record has a hole is not counted."""
        return len(self.marks) + sum(len(stay.odd) for stay in self.stays)

    @property
    def holes(self) -> int:
        """Return how much of it the record has not seen."""
        return len(self.not_known) + sum(
            len(stay.holes) + bool(stay.dwell_not_known) for stay in self.stays
        )

    @property
    def is_grave(self) -> bool:
        """Say whether what was odd may have spoilt it."""
        return self.gravity <= Gravity.GRAVE_ALARM

    def thin(self, growing: Collection[str] = ()) -> tuple[LayerRow, ...]:
        """Return the layers that are too thin.

        Args:
            growing: Baths from which it may still get metal: what grows is not too thin yet.
        """
        return tuple(
            each
            for each in self.layers
            if each.bath not in growing and each.verdict.startswith(TOO_THIN)
        )


def load_record(number: str, events: Iterable[Event], trip: int | None = None) -> LoadRecord:
    """Put a load's record together.

    Args:
        number: The load.
        events: All that was told of it, oldest first; others are passed over.
        trip: Which of the loads of this number; the latest if absent.

    Returns:
        The record.

    Raises:
        Refused: nothing was told of such a load.
    """
    own = [
        each
        for each in events
        if each.kind is EventKind.LOAD
        and each.subject == subject(number)
        and each.values.get("load") == number
    ]
    trips = sorted({int(each.values.get("trip") or 1) for each in own})
    wanted = trips[-1] if trip is None and trips else trip
    told = [each for each in own if each.values.get("trip") == wanted]
    if not told or wanted is None:
        again = f" (its trips: {', '.join(map(str, trips))})" if trips else ""
        raise Refused(
            f"show load {number}",
            f"nothing was told of it{again}; `linewatch load list` shows which are known",
        )
    stays = _stays([each for each in told if each.values.get("what") == "stay"])
    cards = _said(told, "card")
    card = {
        key: said.values[key] for said in cards for key in CARD_FIELDS if said.values.get(key)
    }
    parts = [str(stay.values["part"]) for stay in told if stay.values.get("part")]
    named = str(card.get("part_name") or card.get("part") or "")
    return LoadRecord(
        number=number,
        trip=wanted,
        trips=len(trips),
        by=stays[0].by if stays else "card",
        part=named or (parts[-1] if parts else ""),
        card={key: card[key] for key in CARD_FIELDS if key in card},
        stays=stays,
        layers=layers_of(stays, told),
        marks=_marks(told),
        not_known=_said(told, NOT_KNOWN),
        bakes=_said(told, "bake-begun", "baked"),
        inspections=_said(told, "inspected"),
        decisions=_said(told, "decided"),
        cards=cards,
        fingerprints=tuple(
            dict.fromkeys(
                str(each.values["fingerprint"])
                for each in told
                if each.values.get("fingerprint")
            )
        ),
    )


def newest_trips(events: Sequence[Event], count: int) -> list[tuple[str, int]]:
    """Return number and trip of the loads that some events tell of, the latest first."""
    told = dict.fromkeys(
        (str(each.values.get("load")), int(each.values.get("trip") or 1))
        for each in reversed(events)
        if each.subject == subject(str(each.values.get("load")))
    )
    return list(told)[:count]


def newest_records(events: Sequence[Event], count: int) -> list[LoadRecord]:
    """Return the records of the loads that some events tell of, those told of last first."""
    by_number: dict[str, list[Event]] = {}
    for each in events:
        by_number.setdefault(str(each.values.get("load")), []).append(each)
    return [
        load_record(number, by_number[number], trip)
        for number, trip in newest_trips(events, count)
    ]


def _said(told: Sequence[Event], *whats: str) -> tuple[Said, ...]:
    return tuple(
        Said(
            utc_ns=each.utc_ns,
            what=str(each.values["what"]),
            text=each.text,
            values=dict(each.values),
        )
        for each in told
        if each.values.get("what") in whats
    )


def _marks(told: Sequence[Event]) -> tuple[Said, ...]:
    """Return what was odd besides its stays; what hung and no more hangs is said once."""
    marks = _said(told, *MARKS)
    ended = {each.values.get("left_ns") for each in marks if each.what == HUNG}
    return tuple(
        each for each in marks if each.what != HANGS or each.values.get("left_ns") not in ended
    )


def _stays(stays: Sequence[Event]) -> tuple[StayRow, ...]:
    found: list[StayRow] = []
    for event in stays:
        values = event.values
        told = _odd(values)
        odd = [each for each in told if each[0] < Gravity.RECORD]
        in_utc_ns = int(values.get("in_utc_ns") or 0)
        is_seen = bool(found) and not values.get("is_way_hidden")
        transfer_s = (in_utc_ns - found[-1].out_utc_ns) / NS if is_seen else None
        found.append(
            StayRow(
                **{name: values.get(name) for name in _NUMBERS},  # type: ignore[arg-type]
                **{name: str(values.get(name) or "") for name in _TEXTS},  # type: ignore[arg-type]
                in_utc_ns=in_utc_ns,
                out_utc_ns=int(values.get("out_utc_ns") or 0),
                transfer_s=transfer_s,
                dwell_s=float(values.get("dwell_s") or 0.0),
                odd=tuple(text for _, text in odd),
                holes=tuple(text for gravity, text in told if gravity == Gravity.RECORD),
                gravity=odd[0][0] if odd else Gravity.NONE,
            )
        )
    return tuple(found)


_NUMBERS = (
    "shortest_s",
    "longest_s",
    "temperature_low_degc",
    "temperature_mean_degc",
    "temperature_high_degc",
    "charge_ah",
    "charge_pm_ah",
    "anodic_ah",
    "unmetered_s",
    "mass_g",
    "efficiency",
    "equivalent_g_per_ah",
    "density_g_per_cm3",
    "area_dm2",
    "thickness_um",
    "thickness_pm_um",
    "thinnest_um",
)
_TEXTS = (
    "tank",
    "tank_name",
    "kind",
    "bath",
    "by",
    "deposit",
    "area_from",
    "thickness_refused",
    "dwell_not_known",
    "shared_with",
    "doubts",
    "fingerprint",
)


def _odd(values: Mapping[str, Part]) -> list[tuple[Gravity, str]]:
    """Return what was odd about a stay with how grave it is, the gravest first."""
    back_ah, unmetered_s = values.get("reversed_ah"), values.get("unmetered_s")
    # Of old records only the ids of alarms are known, and no priority.
    alarms = values.get("alarms_told") or values.get("alarms")
    is_grave = values.get("alarms_priority") in GRAVE
    found = [
        (Gravity.DISSOLVED, f"{back_ah:.1f} A·h flowed the wrong way" if back_ah else ""),
        (Gravity.DWELL, str(values.get("dwell") or "")),
        (Gravity.OUTSIDE, str(values.get("outside") or "")),
        (
            Gravity.GRAVE_ALARM if is_grave else Gravity.ALARM,
            f"alarms: {alarms}" if alarms else "",
        ),
        (Gravity.RECORD, f"{lasting(float(unmetered_s))} not metered" if unmetered_s else ""),
        (
            Gravity.RECORD,
            "it was in already when the record began" if values.get("is_first") else "",
        ),
        *((Gravity.RECORD, text) for text in _unseen(values)),
    ]
    return sorted([each for each in found if each[1]], key=lambda each: each[0])


def _unseen(values: Mapping[str, Part]) -> list[str]:
    unseen_s = values.get("unseen_s")
    if not isinstance(unseen_s, float) or unseen_s < UNSEEN_S:
        return []
    return [f"nobody looked for {lasting(unseen_s)} when it came or left"]
