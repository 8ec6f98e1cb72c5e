"""The line as one frozen picture: what viewers draw, what `show --json` prints.

A picture holds no NaN and no bad number: a figure whose quality is bad has no value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from linewatch.core.loads.present import Present
from linewatch.core.sheets.seen import CheckPicture
from linewatch.core.water.seen import LevelPicture, RinsePicture

LITTLE_AH: Final = 0.05
"""Less charge than this is shown as 0.0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One measured quantity with its window and how far to trust it."""

    tag: str
    kind: str
    value: float | None
    """In the measurement's own unit; None unless the quality is good or uncertain."""
    quality: int
    utc_ns: int
    """When it was last read, good or bad."""
    good_utc_ns: int | None = None
    """When it was last good."""
    low: float | None = None
    high: float | None = None
    target: float | None = None
    side: str = ""
    """'' inside its window, 'low', 'high', 'low-low', 'high-high'; '' too when not judged."""
    who: str = ""
    """Who typed it in, of a value that was read by hand; else ''."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargePicture:
    """Charge through a tank or rectifier with its account of time."""

    cathodic_ah: float = 0.0
    anodic_ah: float = 0.0
    metered_s: float = 0.0
    recovered_s: float = 0.0
    unmetered_s: float = 0.0
    elapsed_s: float = 0.0
    uncertainty_ah: float = 0.0
    """Expanded (k = 2) uncertainty of the cathodic charge."""
    anodic_uncertainty_ah: float = 0.0
    """The same of the anodic charge."""
    missed_ah: float = 0.0
    """What may have flowed besides, at most, in time for which nothing accounts."""

    @property
    def is_short(self) -> bool:
        """Say whether more may be missing than its ± tells, or its last shown digit."""
        is_anodic = self.cathodic_ah < self.anodic_ah
        spread_ah = self.anodic_uncertainty_ah if is_anodic else self.uncertainty_ah
        return self.missed_ah > max(spread_ah, LITTLE_AH)

    @property
    def whole_s(self) -> tuple[int, int, int, int]:
        """Return metered, recovered, unmetered and elapsed time in whole seconds [s].

        The first three add up to the fourth, as the times themselves do: what rounding leaves
        goes to those that lost most by it.
        """
        elapsed = round(self.elapsed_s)
        exact = (self.metered_s, self.recovered_s, self.unmetered_s)
        whole = [int(each) for each in exact]
        by_loss = sorted(range(3), key=lambda k: whole[k] - exact[k])
        for k in by_loss[: max(0, elapsed - sum(whole))]:
            whole[k] += 1
        return whole[0], whole[1], whole[2], elapsed


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalPicture:
    """Metal laid down in a tank."""

    deposit: str
    """'Ni', 'Zn-Ni'."""
    mass_g: float
    uncertainty_g: float = 0.0
    refused: str = ""
    """Why there is no figure, if there is none."""
    missed_g: float = 0.0
    """What may have been laid down besides, at most, in time for which nothing accounts."""
    rate_um_per_h: float | None = None
    current_density_a_per_dm2: float | None = None
    reverses: bool = False
    """Current flows the other way by design: the weighed efficiency holds what it takes."""

    @property
    def is_short(self) -> bool:
        """Say whether more may be missing than its ± tells, or a gram."""
        return self.missed_g > max(self.uncertainty_g, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPicture:
    """A load in a position."""

    number: str
    since_utc_ns: int
    dwell_s: float
    shortest_s: float | None = None
    longest_s: float | None = None
    part: str = ""
    area_dm2: float | None = None
    """As known, else that of a usual load."""
    area_tolerance_ratio: float | None = None
    """Limit of error of the area [1]; None: the rectifier's own holds."""
    charge_ah: float | None = None
    unmetered_s: float = 0.0
    """Time here that was not metered, where it is too much to pass over: what `charge_ah`
    tells is the least then."""
    thickness_um: float | None = None
    thickness_uncertainty_um: float | None = None
    thinnest_um: float | None = None
    """Mean thickness times the distribution factor, where one is known."""
    target_um: float | None = None
    pull_utc_ns: int | None = None
    """When to pull it, on the wall clock; None while it means nothing."""
    pull_refused: str = ""
    """Why there is no time to pull."""
    grave: tuple[str, ...] = ()
    """What may have spoilt it since it came in, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayPicture:
    """A load that left a position and came into none yet."""

    load: str
    """By what the record knows it."""
    number: str = ""
    """Its number; '' if it has none."""
    part: str = ""
    before: str
    """Tank that it left."""
    to: tuple[str, ...] = ()
    """Tanks of which it comes into one next; () if that is not known."""
    since_utc_ns: int
    out_s: float
    """For how long it is out."""
    allowed_s: float | None = None
    """For how long it may be; None where nothing is known of what is usual."""
    unseen_s: float = 0.0
    """For how long of it nobody would have seen it come in: that does not count."""
    hangs: bool = False
    """It was told to hang in the air."""

    @property
    def is_late(self) -> bool:
        """Say whether it is out for longer than is usual or allowed where it left."""
        counted_s = self.out_s - self.unseen_s
        return self.hangs or (self.allowed_s is not None and counted_s > self.allowed_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPicture:
    """A load on hold."""

    load: str
    utc_ns: int = 0
    """When somebody said so; 0: not known."""
    who: str = ""
    why: str = ""
    part: str = ""
    tank: str = ""
    """Where it was seen last; '' if that is not known."""
    is_number_reused: bool = False
    """Another load bears its number by now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TankPicture:
    """One position."""

    id: str
    name: str
    kind: str
    number: str = ""
    track: str = ""
    bath: str | None = None
    rectifiers: tuple[str, ...] = ()
    state: str = ""
    """'empty', 'entering', 'in', 'leaving'; '' where the line does not tell."""
    figures: Mapping[str, Figure] = field(default_factory=dict)
    """By measurement kind; a twin has its suffix: 'temperature.right'. The figures of the
    tank's rectifiers stand here too, under 'current', 'voltage' and so on."""
    charge: ChargePicture | None = None
    metal: MetalPicture | None = None
    load: LoadPicture | None = None
    permit: str = ""
    """Where water leaves the works: whether a signal speaks against it now; else ''."""
    permit_reasons: tuple[str, ...] = ()
    """Why it must not be let go."""
    permit_unknown: tuple[str, ...] = ()
    """Of which limits no analysis tells: said, not judged."""
    alarms: int = 0
    """Standing alarms, shelved and suppressed ones left out."""
    worst: str = ""
    """Priority of the worst of them whose condition stands; of all, where none does."""
    unacknowledged: int = 0
    """Those of them that nobody has seen; what has gone counts only where nothing stands."""
    has_gone: bool = False
    """The condition of each of them has gone; they wait to be seen, or to be reset."""
    follows: int = 0
    """Alarms here that are put aside because they follow from another, here or elsewhere."""
    shelved: str = ""
    """Priority of the worst alarm here that somebody shelved; '' if there is none."""
    out_of_service: bool = False

    @property
    def called(self) -> str:
        """Return its number, if it has one, and its name."""
        return f"{self.number} {self.name}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class RectifierPicture:
    """One DC source."""

    id: str
    name: str
    feeds: tuple[str, ...]
    figures: Mapping[str, Figure] = field(default_factory=dict)
    charge: ChargePicture = field(default_factory=ChargePicture)
    rated_current_a: float = 0.0
    rated_voltage_v: float = 0.0
    polarity: str = "cathodic"
    out_of_service: bool = False
    findings: tuple[str, ...] = ()
    attention: float = 0.0
    """How much it needs, from 0 to 100."""
    base_utc_ns: int = 0
    """When it was serviced or replaced last: what is usual was learned since; 0: since the
    record began."""
    health: tuple[tuple[str, str], ...] = ()
    """What is known of its health, or what is missing to know it: label and words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryPicture:
    """One dose or counter-entry of an additive."""

    number: int
    utc_ns: int
    amount_ml: float
    who: str
    lot: str = ""
    corrects: int | None = None
    corrected_by: int | None = None
    why: str = ""
    is_beyond: bool = False
    """More than was owed went in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditivePicture:
    """What one additive of a bath is owed."""

    id: str
    name: str
    owed_ml: float
    accrued_ml: float
    dosed_ml: float
    owed_high_ml: float
    """With the unmetered charge counted at its likely most: owed is a range then."""
    due: bool
    due_utc_ns: int | None = None
    """Since when it is due; else when it will be, at the rate of the last half hour."""
    may_be_due: bool = False
    """It would be due, if all flowed that may have flowed while nobody metered."""
    measure: str = "mL"
    """'g': it is weighed, and every amount here is in grams."""
    next_ml: float = 0.0
    """What to dose now: the debt, spread so that no hour gets too much."""
    least_ml: float = 0.0
    largest_ml: float | None = None
    last_hour_ml: float = 0.0
    rate_ml_per_h: float | None = None
    """How fast it is used up, over the last half hour; None: nothing tells."""
    used_up_in_s: float | None = None
    """While more was dosed than is owed: how long it lasts at that rate."""
    rates: str = ""
    """The rates in force, in words."""
    is_anode: bool = False
    lots: Mapping[str, str] = field(default_factory=dict)
    """Lots that were logged as another additive before, with its name."""
    entries: tuple[EntryPicture, ...] = ()
    """The last ones, oldest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcentrationPicture:
    """Metal in a bath, predicted from the last analysis."""

    metal: str
    predicted_g_per_l: float
    uncertainty_g_per_l: float
    """Expanded (k = 2) uncertainty of what changed since the analysis."""
    measured_g_per_l: float
    measured_utc_ns: int | None
    """When it was analysed; None: the configuration says it."""
    dissolved_g: float
    laid_g: float
    dragged_g: float
    salts_g: float
    usual_l: float
    """The bath at its usual level."""
    solution_l: float
    """Solution that is there now, by level where a signal tells."""
    by_level: bool = False
    unexplained_g_per_l: float | None = None
    """What the last analysis found less what had been predicted."""
    has_lost: bool = False
    """Solution ran out since the last analysis: only the next one tells what is left."""
    drag_out_ml_per_m2: float | None = None
    volume_from: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterPicture:
    """Water of one tank by its level."""

    tank: str
    evaporates_l_per_h: float | None = None
    """By temperature and surface; a rule that may be wrong by a factor of two."""
    falls_l_per_h: float | None = None
    """By the level over the last half hour; negative: it rises."""
    top_up_l: float | None = None
    """What brings the level back to its target, or the middle of its window."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BathPicture:
    """One solution."""

    id: str
    name: str
    tanks: tuple[str, ...]
    charge_ah: float = 0.0
    metal: MetalPicture | None = None
    additives: tuple[AdditivePicture, ...] = ()
    note: str = ""
    caution: str = ""
    product_ah: float = 0.0
    """Share of `charge_ah` with a load there, or where nothing tells."""
    dummy_ah: float = 0.0
    idle_ah: float = 0.0
    """Share with no load there: creep, or a blind signal."""
    reverse_ah: float = 0.0
    """Strip and etch: never counted as plating."""
    unmetered_ah: float = 0.0
    """The likely most that flowed while nothing told the current."""
    dummies: tuple[str, ...] = ()
    """Tanks that plate dummies now."""
    concerns: tuple[str, ...] = ()
    """Why the bath is not fit for a dose now: 'temperature low in Nickel 1'."""
    looked_at: tuple[str, ...] = ()
    """What to look at before a brightener is blamed: temperature, pH, contact, metal."""
    concentration: ConcentrationPicture | None = None
    water: tuple[WaterPicture, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CapturePicture:
    """Raw frames of a link that are, or were, written into a file."""

    subject: str
    """The rectifier, tank or link that somebody suspects."""
    file: str
    until_utc_ns: int
    """When it ends by itself."""
    frames: int = 0
    bytes: int = 0
    ended: str = ""
    """How it ended; '' while it runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPicture:
    """One physical connection."""

    id: str
    protocol: str
    address: str
    state: str
    """'connected', 'connecting', 'not connected', 'slow', 'poisoned'."""
    reason: str = ""
    """'no answer since 10:42:07', 'another master is connected'."""
    since_utc_ns: int = 0
    response_ms: float | None = None
    """Median of the last responses."""
    requests: int = 0
    failures: Mapping[str, int] = field(default_factory=dict)
    """Count by kind."""
    last_failure: str = ""
    last_bytes: str = ""
    """The last failure's raw bytes in hex."""
    units_silent: tuple[str, ...] = ()
    poll_s: float | None = None
    """The period reached [s of line time]."""
    capture: CapturePicture | None = None
    """Its raw frames, where somebody asked for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmPicture:
    """One alarm that is not plainly normal."""

    id: str
    tag: str
    subject: str
    kind: str
    state: str
    """A name of core/alarms/states.py."""
    priority: str
    text: str
    since_utc_ns: int
    value: float | None = None
    """With which it began; once its cause has gone, to which it came back."""
    now: float | None = None
    """What is read there now, or how long it lasts by now, in the same unit; None where
    nothing good tells it, and of what is no plain value."""
    limit: float | None = None
    unit: str = ""
    acknowledged_by: str = ""
    until_utc_ns: int | None = None
    """When a shelved alarm comes back."""
    why: str = ""
    """Reason of shelving, suppression or being out of service."""
    cause: str = ""
    consequence: str = ""
    action: str = ""
    respond_within_s: float | None = None
    group: str = ""
    """What explains it where no alarm does: 'device unit-1'; in a flood its subject."""
    behind: str = ""
    """Id of the alarm in this picture of which it is the consequence, the first of a chain."""
    evidence: str = ""
    """Which rule found it and by what figure, in words; '' for a plain limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingPicture:
    """Whether the record is being kept."""

    running: bool
    since_utc_ns: int
    dropped: int = 0
    reason: str = ""
    set_aside: int = 0
    """Files of the archive that could not be trusted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyPicture:
    """Something that is due from time to time."""

    id: str
    text: str
    subject: str = ""
    done_utc_ns: int | None = None
    due_utc_ns: int | None = None
    """From when on it is overdue; None before the record knew of it."""
    substance: str = ""
    """Of an analysis, what is looked for."""

    @property
    def was_never_analysed(self) -> bool:
        """Say whether it is an analysis that nobody ever made: due now, though not late."""
        return bool(self.substance) and self.done_utc_ns is None

    def haste(self, picture: LinePicture) -> tuple[int, int]:
        """Return where it stands among others: overdue, due now, to come; each by its time."""
        rank = 0 if self.is_late(picture) else 1 if self.was_never_analysed else 2
        return rank, self.due_utc_ns or 2**62

    def is_late(self, picture: LinePicture) -> bool:
        """Say whether it is overdue by the clock of a picture."""
        return self.due_utc_ns is not None and self.due_utc_ns < picture.utc_ns


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePicture:
    """Everything a viewer draws."""

    line_id: str
    name: str
    run_id: str
    fingerprint: str
    utc_ns: int
    mono_ns: int
    started_utc_ns: int
    speed: float = 1.0
    units: str = "metric"
    state: str = "producing"
    tanks: tuple[TankPicture, ...] = ()
    rectifiers: tuple[RectifierPicture, ...] = ()
    baths: tuple[BathPicture, ...] = ()
    links: tuple[LinkPicture, ...] = ()
    alarms: tuple[AlarmPicture, ...] = ()
    flood: bool = False
    first_out: str = ""
    recording: RecordingPicture | None = None
    not_heard: Mapping[str, str] = field(default_factory=dict)
    """Ways of being heard that fail, by id, each with why."""
    rinses: tuple[RinsePicture, ...] = ()
    levels: tuple[LevelPicture, ...] = ()
    """Tanks whose level is read, each with where its water goes."""
    checks: tuple[CheckPicture, ...] = ()
    """What people found at the positions lately, for the shift's check sheet."""
    shift_s: float = 8 * 3600.0
    sheet_signed: tuple[int, str] | None = None
    """When a check sheet was signed last [ns since 1970], and by whom."""
    duties: tuple[DutyPicture, ...] = ()
    """What is due from time to time, the next first."""
    ways: tuple[WayPicture, ...] = ()
    """Loads on their way between two positions, the longest out first."""
    held: tuple[HeldPicture, ...] = ()
    """Loads on hold, the latest first."""
    poll_s: float | None = None
    """The longest polling period reached over all links [s of line time]."""
    scan_ms: float | None = None

    def present(self, number: str) -> Present | None:
        """Return the stay that a load is in; None if it is in no tank."""
        for tank in self.tanks:
            load = tank.load
            if load is None or load.number != number:
                continue
            return Present(
                tank_name=tank.called,
                utc_ns=self.utc_ns,
                since_utc_ns=load.since_utc_ns,
                dwell_s=load.dwell_s,
                shortest_s=load.shortest_s,
                longest_s=load.longest_s,
                deposit=tank.metal.deposit if tank.metal is not None else "",
                charge_ah=load.charge_ah,
                thickness_um=load.thickness_um,
                thickness_pm_um=load.thickness_uncertainty_um,
                target_um=load.target_um,
                not_known=load.pull_refused if load.thickness_um is None else "",
                grave=load.grave,
                growing=self.growing(number),
            )
        return None

    def growing(self, number: str) -> frozenset[str]:
        """Return the baths from which a load on the line may still get metal.

        That of the tank it is in, and of those that come later on its track; of one on its
        way, of all to which it may go.
        """
        place = {tank.id: index for index, tank in enumerate(self.tanks)}
        here = [tank.id for tank in self.tanks if tank.load and tank.load.number == number]
        here += [
            to for way in self.ways if way.load == number for to in way.to or (way.before,)
        ]
        firsts = [place[each] for each in here if each in place]
        if not firsts:
            return frozenset()
        first = min(firsts)
        later = (tank for tank in self.tanks[first:] if tank.track == self.tanks[first].track)
        return frozenset(tank.bath for tank in later if tank.bath is not None)
