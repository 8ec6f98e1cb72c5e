"""The line as it is configured, in the core's own units.

`config` reads text and hands over one `LinePlan`; nothing below it ever sees a file, a unit
in words, or a key. A plan is immutable: a changed configuration is another plan with another
fingerprint, and the record says from when each was in force.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from linewatch.core.readings import Layout

TankKind: TypeAlias = Literal[
    "load",
    "clean",
    "electroclean",
    "rinse",
    "activate",
    "strike",
    "plate",
    "passivate",
    "seal",
    "dry",
    "bake",
    "treat",
    "extract",
    "supply",
    "cell",
]
"""What a position is for; DESIGN words, with `load` for racking and `cell` for a small cell."""

TANK_KINDS: tuple[str, ...] = (
    "load",
    "clean",
    "electroclean",
    "rinse",
    "activate",
    "strike",
    "plate",
    "passivate",
    "seal",
    "dry",
    "bake",
    "treat",
    "extract",
    "supply",
    "cell",
)

ConditionKind: TypeAlias = Literal[
    "high-high",
    "high",
    "low",
    "low-low",
    "deviation",
    "rate",
    "frozen",
    "bad-quality",
    "discrete",
    "overdue",
    "found",
]
"""The conditions that an alarm can watch for; 'found' is what a study of the line found: its
`tag` is then 'subject.name', and the study itself turns it."""

Priority: TypeAlias = Literal["low", "medium", "high", "highest"]
"""By consequence and time to respond, in the words of IEC 62682 / ISA-18.2."""

PRIORITIES: tuple[Priority, ...] = ("low", "medium", "high", "highest")


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Where a quantity of one position should be. Absent limits are None."""

    low: float | None = None
    high: float | None = None
    target: float | None = None
    low_low: float | None = None
    high_high: float | None = None
    source: str = "common practice"
    """Where the numbers come from, as the record will say it."""

    def side(self, value: float) -> str:
        """Return where a value lies: '' inside, 'low', 'high', 'low-low' or 'high-high'."""
        if self.low_low is not None and value < self.low_low:
            return "low-low"
        if self.high_high is not None and value > self.high_high:
            return "high-high"
        if self.low is not None and value < self.low:
            return "low"
        if self.high is not None and value > self.high:
            return "high"
        return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TagPlan:
    """One measured quantity of one device."""

    id: str
    """'nickel-1.temperature': subject, dot, kind; a second dot tells twins apart."""
    subject: str
    """Id of the tank or rectifier (or line) that the tag tells something about."""
    kind: str
    """Row of core/measurements.py."""
    low: float
    """Lowest plausible value in the measurement's unit."""
    high: float
    """Highest plausible value."""
    period_ns: int
    stale_after_ns: int
    window: Window = field(default_factory=Window)
    class_ratio: float = 0.0
    """Limit of error of the sensor as a share of its reading [1]."""
    class_absolute: float = 0.0
    """Limit of error of the sensor in the tag's unit; added in quadrature."""
    as_found_ratio: float = 0.0
    """Error found at the last calibration, as a share of the reading [1]; added in
    quadrature, whatever its sign."""

    @property
    def name(self) -> str:
        """Return its name at its subject: the kind, a twin's with its suffix."""
        return self.id.removeprefix(f"{self.subject}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class EfficiencyPlan:
    """Cathode (or anode) efficiency of a bath: one value, or a curve over current density."""

    value: float
    """The single value [1]; with a curve, its value at the bath's usual density."""
    low: float
    """Lowest value believed possible [1]: the ± of every mass comes from here."""
    high: float
    curve_a_per_dm2: tuple[float, ...] = ()
    """Current densities of the curve's points [A/dm2], rising; empty: no curve."""
    curve_ratio: tuple[float, ...] = ()
    """Efficiencies of the curve's points [1]."""
    source: str = "common practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class DepositPlan:
    """What a bath lays down: mass fractions of metals with their valence in the bath."""

    parts: tuple[tuple[str, float], ...]
    """(symbol with valence as 'Ni(II)', mass fraction); fractions add up to 1."""
    efficiency: EfficiencyPlan
    anode_efficiency: float = 1.0
    """0 with inert anodes [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditivePlan:
    """An additive that a bath is dosed with by charge."""

    id: str
    name: str
    dose_ml_per_kah: float
    least_dose_ml: float = 0.0
    largest_dose_ml: float | None = None
    dummy_ratio: float = 1.0
    """Share of the rate that applies to dummy plating [1]."""
    dose_ml_per_m2: float = 0.0
    """By area that left: what drag-out takes [mL/m2]."""
    dose_ml_per_load: float = 0.0
    dose_ml_per_day: float = 0.0
    """What heat and time take, worked or not [mL]."""
    due_at_ml: float | None = None
    """Debt at which a dose is due; None: the least dose."""
    due_every_s: float | None = None
    """Time after a dose at which the next is due, if anything is owed; None: by amount only."""
    measure: Literal["mL", "g"] = "mL"
    """'g': it is weighed; every amount of it is then in grams instead of millilitres."""
    metal_ratio: float = 0.0
    """Metal that one unit brings into the bath: g in a mL, or in a g."""
    is_anode: bool = False
    """Anodes: a stock beside the bath, no metal in it until the charge dissolves them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BathPlan:
    """A solution; it may fill several tanks that share circulation."""

    id: str
    name: str
    recipe: str = ""
    """Name of the bath library's entry that it was taken from, if any."""
    deposit: DepositPlan | None = None
    volume_l: float | None = None
    metal_g_per_l: float | None = None
    """Metal concentration at the last analysis."""
    drag_out_ml_per_m2: float | None = None
    """Solution that a square metre of work carries out [mL/m2]; None: not known."""
    volume_from: str = ""
    """Where the volume comes from: 'measured with a tracer, 2026-02-01'."""
    additives: tuple[AdditivePlan, ...] = ()
    assays: tuple[Assay, ...] = ()
    note: str = ""
    caution: str = ""
    windows: Mapping[str, Window] = field(default_factory=dict)
    """By measurement kind, for what is typed in by hand or worked out: 'current-density'."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assay:
    """What a laboratory looks for in a bath or a stage, and its limits."""

    substance: str
    unit: str
    low: float | None = None
    high: float | None = None
    target: float | None = None
    every_s: float | None = None
    """How often it is due [s]; None: when somebody wants to know."""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RinsePlan:
    """What is known of a rinse besides its signals."""

    water_us: float | None = None
    """Conductivity of the water that runs in [µS/cm]; None: nobody says."""
    fed_from: str | None = None
    """The tank whose water runs in: the next stage of a counterflow, or a supply."""
    response_us: float | None = None
    """Rise for 1 mL of the bath before in 1 L of this rinse [µS/cm], found by pouring."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TurningPlan:
    """How a barrel turns by design."""

    speed_per_min: float
    """Turns a minute while it turns."""
    rest_s: float = 0.0
    """Longest time for which it rests between turns [s]; 0: it never does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TankPlan:
    """One process position."""

    id: str
    name: str
    kind: TankKind
    number: str = ""
    """What is painted on the tank."""
    track: str = ""
    """Which run of positions it belongs to: 'rack', 'barrel', 'treatment'. Positions of one
    track stand in process order."""
    bath: str | None = None
    volume_l: float | None = None
    surface_m2: float | None = None
    depth_mm: float | None = None
    longest_dwell_s: float | None = None
    shortest_dwell_s: float | None = None
    area_dm2: float | None = None
    """Plated area of a usual load [dm2], where no load tells its own."""
    target_um: float | None = None
    """Mean thickness wanted on a usual load [µm], where no load tells its own."""
    distribution_ratio: float | None = None
    """Thinnest place over mean of a usual load [1], found by measuring parts; None: not
    known."""
    turning: TurningPlan | None = None
    """How a barrel in it turns by design; None: nothing turns, or nobody says how."""
    windows: Mapping[str, Window] = field(default_factory=dict)
    """By measurement kind (with suffix), whether or not a tag measures it: a hand reading is
    held against it too."""
    rinse: RinsePlan = field(default_factory=RinsePlan)
    holds_cyanide: bool = False
    """Its liquid, or what work drags into it, holds cyanide: acid in it frees deadly gas."""
    permit: Mapping[str, Window] = field(default_factory=dict)
    """By measurement kind: limits of a permit on what is let go here; none: nothing is."""
    assays: tuple[Assay, ...] = ()

    @property
    def called(self) -> str:
        """Return its number, if it has one, and its name."""
        return f"{self.number} {self.name}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class RectifierPlan:
    """A DC source feeding one or more tanks."""

    id: str
    name: str
    feeds: tuple[tuple[str, float], ...]
    """(tank id, share of the charge [1]); shares add up to 1."""
    rated_current_a: float
    rated_voltage_v: float
    polarity: Literal["cathodic", "anodic"] = "cathodic"
    """What a positive current does to the work. 'anodic' for an electrocleaner on steel."""
    zero_cutoff_a: float = 0.0
    """Currents of smaller magnitude count as none: sensor offset."""
    max_gap_ns: int | None = None
    """Longest gap between good samples that is integrated; None: three polling periods."""
    meter_modulus_ah: float | None = None
    """The meter counts from 0 to this and starts over; None: no rollover is believed."""
    meter_resolution_ah: float = 1.0
    meter_counts: Literal["absolute", "cathodic", "net"] = "absolute"
    """How the device's own meter treats reverse current."""
    pulse_on_ms: float | None = None
    pulse_off_ms: float | None = None
    """Pulse plating faster than the poll: the meter is then the authority for charge."""
    reverses: bool = False
    """It is meant to flow backward at times: pulse-reverse, an etch before plating."""
    current_class_ratio: float = 0.005
    """Limit of error of the current sensor [1], common practice: 0.5 % shunt."""
    area_tolerance_ratio: float = 0.05
    pulses: int = 6
    """Pulse number of the bridge; 0 for switch-mode."""
    ripple_definition: Literal["rms/dc", "pp/dc"] = "rms/dc"


@dataclass(frozen=True, slots=True, kw_only=True)
class CausePlan:
    """A condition of which another is known to be the consequence."""

    id: str
    """Id of the condition that is the cause."""
    lead_ns: int = 0
    """What had begun longer than this before the cause was told is no consequence of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionPlan:
    """One condition that an alarm watches."""

    id: str
    """'nickel-1.temperature.low': tag, dot, kind."""
    tag: str
    kind: ConditionKind
    limit: float = 0.0
    """In the tag's unit; for 'rate' in units a minute; for 'discrete' the abnormal value."""
    target: float | None = None
    deadband: float = 0.0
    on_delay_ns: int = 0
    off_delay_ns: int = 0
    priority: Priority = "medium"
    latch: bool = False
    on_bad: Literal["hold", "clear"] = "hold"
    """What the condition does while its value is bad: keep its state, or return to normal.
    It is never judged on a bad value; the bad value has an alarm of its own."""
    suppress_when: tuple[str, ...] = ()
    """Names of suppressions of the line's state: 'no-load', 'heating-up', 'line-rests'."""
    cause: str = ""
    consequence: str = ""
    action: str = ""
    respond_within_s: float | None = None
    title: str = ""
    """Short text of the alarm; '' for the one that follows from tag and kind."""
    may_be_suppressed: bool = True
    """False: neither a state of the line nor a shelf nor another alarm makes it quiet."""
    causes: tuple[CausePlan, ...] = ()
    """While one of these stands, this is its consequence: no call for attention of its own."""
    evidence: str = ""
    """What the figure of a 'found' alarm is, in words."""
    evidence_unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPlan:
    """One step of a route."""

    tanks: tuple[str, ...]
    """Ids of the tanks that serve it: any one of them."""
    shortest_s: float | None = None
    """Shortest time in it; None: the tank's own."""
    longest_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutePlan:
    """The steps that a part goes through, in order."""

    id: str
    name: str
    steps: tuple[StepPlan, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPlan:
    """A part of the catalogue."""

    id: str
    name: str
    route: str | None = None
    area_dm2: float | None = None
    """Plated area of a piece, or of a kilogram where parts are weighed [dm2]."""
    area_tolerance_ratio: float = 0.05
    """Limit of error of that area [1]."""
    amount_tolerance_ratio: float = 0.10
    """How far a load without a card may be from the usual amount [1]."""
    usual_amount: float | None = None
    """Pieces, or kilograms, of a usual load."""
    is_weighed: bool = False
    """A barrel's load: its amount is in kilograms."""
    usual_on: str = ""
    """Track whose loads are this part where nobody says otherwise."""
    target_um: Mapping[str, float] = field(default_factory=dict)
    """Mean thickness wanted, by bath [µm]."""
    least_um: Mapping[str, float] = field(default_factory=dict)
    """Least local thickness by metal [µm], by its designation."""
    distribution_ratio: float | None = None
    """Thinnest place over mean [1], found by measuring parts; None: not known."""
    strength_mpa: float | None = None
    """Tensile strength of its steel [MPa]; None: not known, or no steel."""
    bake_within_s: float | None = None
    """Longest time from the end of plating to the bake, by the shop's own sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyPlan:
    """Something that is due from time to time."""

    id: str
    text: str
    every_s: float
    subject: str = ""
    """The tank, bath or rectifier that it is about; '' for the line."""
    substance: str = ""
    """Of an analysis, what is looked for; '' for any other duty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Permit:
    """Limits of one substance."""

    substance: str
    daily_mg_per_l: float | None = None
    """Largest value of any one day."""
    monthly_mg_per_l: float | None = None
    """Largest average of a calendar month."""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePlan:
    """A whole line."""

    line_id: str
    name: str
    fingerprint: str
    """SHA-256 of the configuration's full text, in hex."""
    layouts: tuple[Layout, ...]
    tags: Mapping[str, TagPlan]
    tanks: tuple[TankPlan, ...]
    """In process order, track by track."""
    rectifiers: tuple[RectifierPlan, ...]
    baths: tuple[BathPlan, ...]
    conditions: tuple[ConditionPlan, ...]
    routes: tuple[RoutePlan, ...] = ()
    parts: tuple[PartPlan, ...] = ()
    """The catalogue of parts."""
    permits: tuple[Permit, ...] = ()
    """Limits on substances in what is let go."""
    duties: tuple[DutyPlan, ...] = ()
    """What is due from time to time, analyses among them."""
    links: tuple[str, ...] = ()
    units: Literal["metric", "us"] = "metric"
    shelve_longest_s: float = 8 * 3600.0
    shift_s: float = 8 * 3600.0
    flood_start_per_10min: float = 10.0
    """A flood begins at this many annunciations (ANSI/ISA-18.2-2016 clause 16)."""
    flood_end_per_10min: float = 5.0
    _by_subject: dict[str, list[TagPlan]] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def tags_of(self, subject: str) -> Sequence[TagPlan]:
        """Return all that is measured of a tank, a rectifier or the line."""
        if not self._by_subject:
            for tag in self.tags.values():
                self._by_subject.setdefault(tag.subject, []).append(tag)
        return self._by_subject.get(subject, ())

    def assays(self) -> tuple[tuple[str, tuple[Assay, ...]], ...]:
        """Return what is looked for, bath by bath, then tank by tank."""
        baths = tuple((bath.id, bath.assays) for bath in self.baths)
        return (*baths, *((tank.id, tank.assays) for tank in self.tanks))

    def links_of(self, subject: str) -> tuple[str, ...]:
        """Return the links that bring a tank's or rectifier's values; of a link, itself."""
        found = {
            layout.link: None
            for layout in self.layouts
            if layout.link == subject
            or any(tag.partition(".")[0] == subject for tag in layout.tags)
        }
        return tuple(found)

    def assay(self, subject: str, substance: str) -> Assay | None:
        """Return what is looked for in a bath or tank by its name, whatever its capitals."""
        wanted = substance.strip().casefold()
        return next(
            (
                assay
                for name, assays in self.assays()
                if name == subject
                for assay in assays
                if assay.substance.casefold() == wanted
            ),
            None,
        )

    @property
    def subjects(self) -> frozenset[str]:
        """Return the ids of all that people speak of: tanks, rectifiers, baths, the line."""
        tanks = (tank.id for tank in self.tanks)
        rectifiers = (rectifier.id for rectifier in self.rectifiers)
        baths = (bath.id for bath in self.baths)
        return frozenset((*tanks, *rectifiers, *baths, self.line_id))
