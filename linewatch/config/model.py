"""The shape of a configuration file: one model a section, a sentence a field.

Unknown keys are refused. Quantities are written as people write them (`"65 degC"`,
`"40 A/ft2"`, `"500 gal"`) and checked for dimension; a bare number is refused where a unit
matters. `read` turns these models into core plans and driver settings.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from linewatch.core import units
from linewatch.core.plan import TankKind

Id = Annotated[
    str,
    Field(
        pattern=r"^[a-z0-9][a-z0-9-]*$",
        max_length=40,
        description="Short name in lower case, digits and dashes; it never changes.",
    ),
]


def _quantity(unit: str) -> BeforeValidator:
    def read(value: object) -> float:
        if not isinstance(value, str):
            # pydantic collects ValueError alone
            raise ValueError(  # noqa: TRY004
                f'{value!r} has no unit; write it as text, as "12 {unit}"'
            )
        return units.parse(value, unit)

    return BeforeValidator(read)


def _text(unit: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": [f"12 {unit}"]})


def _with_unit(value: object) -> str:
    """Refuse a bare number where only the kind of measurement tells the unit."""
    if not isinstance(value, str):
        raise ValueError(f'{value!r} has no unit; write it as text, as "55 degC"')  # noqa: TRY004
    return value


Quantity = Annotated[str, BeforeValidator(_with_unit)]
"""A number with its unit, whose dimension is that of the measurement it stands with."""
Duration = Annotated[float, _quantity("s"), Field(ge=0), _text("s")]
Period = Annotated[float, _quantity("s"), Field(gt=0, le=86400), _text("s")]
Litres = Annotated[float, _quantity("L"), Field(gt=0), _text("L")]
SquareMetres = Annotated[float, _quantity("m2"), Field(gt=0), _text("m2")]
SquareDecimetres = Annotated[float, _quantity("dm2"), Field(gt=0), _text("dm2")]
Millimetres = Annotated[float, _quantity("mm"), Field(gt=0), _text("mm")]
Speed = Annotated[float, _quantity("1/min"), Field(gt=0), _text("1/min")]
Rating = Annotated[float, _quantity("A"), Field(gt=0), _text("A")]
Amperes = Annotated[float, _quantity("A"), Field(ge=0), _text("A")]
Volts = Annotated[float, _quantity("V"), Field(gt=0), _text("V")]
AmpereHours = Annotated[float, _quantity("A.h"), Field(gt=0), _text("A.h")]
Ratio = Annotated[float, _quantity("%"), Field(ge=0, le=100), _text("%")]
"""Written in percent ("94 %"), kept in percent; whoever makes a plan divides by 100."""
Error = Annotated[float, _quantity("%"), Field(ge=-100, le=100), _text("%")]
"""An error as a share, with its sign: "-1.5 %"."""
Milliseconds = Annotated[float, _quantity("ms"), Field(ge=0), _text("ms")]
Grams = Annotated[float, _quantity("g"), Field(ge=0), _text("g")]
GramsPerLitre = Annotated[float, _quantity("g/L"), Field(ge=0), _text("g/L")]
DosePerArea = Annotated[float, _quantity("mL/m2"), Field(ge=0), _text("mL/m2")]
DosePerCharge = Annotated[float, _quantity("mL/kA.h"), Field(gt=0), _text("mL/kA.h")]
Density = Annotated[float, _quantity("A/dm2"), Field(gt=0), _text("A/dm2")]
Kilograms = Annotated[float, _quantity("kg"), Field(gt=0), _text("kg")]
Micrometres = Annotated[float, _quantity("um"), Field(gt=0), _text("um")]
Strength = Annotated[float, _quantity("MPa"), Field(gt=0), _text("MPa")]
Conductivity = Annotated[float, _quantity("uS/cm"), Field(gt=0), _text("uS/cm")]
Millilitres = Annotated[float, _quantity("mL"), Field(ge=0), _text("mL")]


Suppression = Literal["no-load", "no-current", "heating-up", "line-rests", "planned-stop"]
"""States of the line in which a condition is expected, so that it is no news."""


class Section(BaseModel):
    """What all sections share: frozen, nothing coerced, and unknown keys refused."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        use_attribute_docstrings=True,
    )


class LineSection(Section):
    """The line as a whole."""

    id: Id
    name: str
    """What the line is called on screen."""
    units: Literal["metric", "us"] = "metric"
    """Units on screen; stored values never change."""
    shift: Period = 8 * 3600.0
    """Length of a shift; the first begins at 06:00. Initials are asked once in each, the check
    sheet and the hand-over are of one."""
    shelve_longest: Period = 8 * 3600.0
    """The longest time for which an alarm may be shelved."""
    flood_start: float = Field(default=10.0, gt=0)
    """Annunciations in 10 min at which a flood begins (ANSI/ISA-18.2-2016 clause 16)."""
    flood_end: float = Field(default=5.0, ge=0)
    """Annunciations in 10 min below which a flood is over."""


class Signal(Section):
    """A 4-20 mA input behind a register: which counts mean which current, and what it spans."""

    counts_at_4ma: float
    """Register value at 4 mA."""
    counts_at_20ma: float
    """Register value at 20 mA."""
    low: Quantity
    """Quantity at 4 mA, with its unit: "0 mm"."""
    high: Quantity
    """Quantity at 20 mA, with its unit."""


class Read(Section):
    """Where a tag's value stands in the device and what its bits mean."""

    table: Literal["holding", "input", "coil", "discrete"] = "holding"
    """Modbus table: functions 03, 04, 01, 02."""
    address: int | None = Field(default=None, ge=0, le=999_999)
    """Modbus address in the device's own style; see the device's `base`."""
    type: Literal[
        "int16",
        "uint16",
        "int32",
        "uint32",
        "int64",
        "uint64",
        "float32",
        "float64",
        "bcd16",
        "bcd32",
        "bit",
        "text",
    ] = "uint16"
    """What the register's bits mean; there is no safe guess, so state it."""
    order: Literal["ABCD", "CDAB", "BADC", "DCBA"] = "ABCD"
    """Order of the bytes on the wire, A the most significant."""
    bit: int | None = Field(default=None, ge=0, le=15)
    """Which bit of a 16-bit register, for type `bit`."""
    length: int = Field(default=1, ge=1, le=125)
    """Registers of a text."""
    scale: float = 1.0
    """Value = raw x scale + offset, in the tag's unit."""
    offset: float = 0.0
    unit: str | None = None
    """Unit of the scaled value, if it is not the measurement's own: "degF"."""
    sentinels: tuple[int, ...] = ()
    """Raw values that mean 'no value': open sensor, missing card."""
    signal: Signal | None = None
    """A 4-20 mA input, judged by NAMUR NE 43."""
    sensor: Literal["pt100-ohm", "tc-k-mv", "tc-j-mv", "tc-t-mv", "tc-n-mv"] | None = None
    """The scaled value is a resistance [ohm] or a thermocouple voltage [mV] to be converted."""
    cold_junction: str | None = None
    """Tag id of the terminal's temperature, for a thermocouple in mV."""
    node: str | None = None
    """OPC UA node id without its namespace: "s=Treatment.Final.pH" or "i=1042"."""
    namespace: str | None = None
    """OPC UA namespace URI of the node; the link's `namespace` if absent."""
    sampling: Milliseconds | None = None
    """How often an OPC UA server should look at the node [wall time]; by itself as often as
    the tag is wanted, but not oftener than the link's `sampling`."""
    queue: int | None = Field(default=None, ge=1, le=1000)
    """How many changes an OPC UA server should keep from one publishing to the next; by
    itself as many as it can see."""


class Limits(Section):
    """A window with its limits, each a quantity with its unit. All may be absent."""

    low: Quantity | None = None
    """Below it the work suffers sooner or later."""
    high: Quantity | None = None
    low_low: Quantity | None = None
    """Below it somebody must act at once."""
    high_high: Quantity | None = None
    target: Quantity | None = None
    """Where the quantity should be."""
    source: str = "common practice"
    """Where the numbers come from."""


class TagSection(Section):
    """One measured quantity of one device."""

    measures: str = Field(pattern=r"^[a-z0-9-]+\.[a-z0-9-]+(\.[a-z0-9-]+)?$")
    """Subject, dot, kind: "nickel-1.temperature"; a second dot tells twins apart."""
    read: Read
    period: Period | None = None
    """How often to read it; the device's `period` if absent."""
    low: Quantity | None = None
    """Lowest plausible value with unit, if narrower than the measurement's own."""
    high: Quantity | None = None
    """Highest plausible value with unit."""
    class_ratio: Ratio | None = None
    """Limit of error of the sensor as a share of the reading."""
    class_absolute: Quantity | None = None
    """Limit of error of the sensor as a quantity: "1 K"."""
    as_found: Error | None = None
    """Error found at the last calibration, as a share of the reading, with its sign: it feeds
    the ± of every figure that the sensor feeds."""
    calibrated: str | None = Field(default=None, pattern=r"^\d{4}-\d{2}-\d{2}$")
    """Date of that calibration: "2026-03-01"."""


class DeviceSection(Section):
    """One device on a link: a unit behind a gateway, a controller, a server's folder."""

    id: Id
    link: Id
    unit: int = Field(default=1, ge=0, le=255)
    """Modbus unit id."""
    period: Period = 1.0
    """How often it is polled [line time]."""
    base: Literal[0, 1, 40001, 400001, 30001, 300001] = 0
    """What the device's manual calls the first register of a table."""
    largest_block: int = Field(default=125, ge=1, le=125)
    """Most registers it gives in one answer."""
    readable: tuple[tuple[int, int], ...] = ()
    """Ranges (first, last) that may be read; empty: holes are found by trial."""
    largest_hole: int = Field(default=16, ge=0, le=124)
    """Unused registers that are read along rather than splitting a request."""
    answers_as_unit: int | None = Field(default=None, ge=0, le=255)
    """The unit id it answers with, if it is not its own."""
    swapped_transaction: bool = False
    """It returns the transaction id with its bytes swapped."""
    zero_transaction: bool = False
    """It returns 0 as transaction id."""
    tag: tuple[TagSection, ...] = ()


class LinkSection(Section):
    """One physical connection."""

    id: Id
    protocol: Literal["modbus-tcp", "modbus-rtu-over-tcp", "modbus-rtu", "opcua"]
    address: str
    """"host:port", a serial port's stable name, or an OPC UA endpoint "opc.tcp://host:port"."""
    timeout: Period = 1.0
    """How long to wait for an answer [wall time]."""
    gap: Milliseconds = 0.0
    """Quiet time to leave between an answer and the next request [wall time]."""
    baud: int = Field(default=19200, gt=0)
    parity: Literal["N", "E", "O"] = "E"
    stop_bits: Literal[1, 2] = 1
    echo: bool = False
    """The adapter echoes each request in front of the answer."""
    connect_each_poll: bool = False
    """Connect, poll, close: for a device that serves one master at a time."""
    namespace: str | None = None
    """OPC UA namespace URI for nodes that name none."""
    security: Literal["none", "sign", "sign-and-encrypt"] = "none"
    """OPC UA message security with Basic256Sha256; an OPC UA link states it, even "none"."""
    certificate: str | None = None
    """File (DER or PEM) of the server's certificate that is trusted, and no other."""
    own_certificate: str | None = None
    """File of the certificate that linewatch shows the server; it makes one if absent."""
    own_key: str | None = None
    """File of that certificate's private key."""
    secrets: str | None = None
    """Where "user:password" stands: a file that only its owner can read, or an environment
    variable, written "env:NAME"."""
    sampling: Milliseconds = 1000.0
    """OPC UA sampling and publishing interval asked for [wall time]."""
    cross_check: Period = 60.0
    """How often every OPC UA item is read besides its subscription [wall time]."""
    source_tolerance: Period = 60.0
    """How far an OPC UA source time may lie from our own before ours is used [wall time]."""


class EfficiencySection(Section):
    """Current efficiency of a bath."""

    value: Ratio
    low: Ratio | None = None
    """Lowest value believed possible; `value` if absent."""
    high: Ratio | None = None
    curve: tuple[tuple[Density, Ratio], ...] = ()
    """Points (current density, efficiency): [["1 A/dm2", "90 %"], ...], rising."""
    source: str = "common practice"
    """Where the numbers come from."""


class AdditiveSection(Section):
    """An additive, a metal salt or anodes: what is used up, and what is put in."""

    id: Id
    name: str
    dose: DosePerCharge | None = None
    """By plating charge: "150 mL/kA.h"."""
    dose_area: DosePerArea = 0.0
    """By area that left, for what drag-out takes: "2 mL/m2"."""
    dose_load: Millilitres = 0.0
    """By load that left: "5 mL"."""
    dose_day: Millilitres = 0.0
    """By day, worked or not, for what heat and carbon take: "200 mL"."""
    least_dose: Millilitres = 0.0
    """The least that can be measured; below it the debt is carried on."""
    largest_dose: Millilitres | None = None
    """The most at once, and within an hour."""
    due_at: Millilitres | None = None
    """Debt at which a dose is due; the least dose if absent."""
    weighed: bool = False
    """It is weighed: a salt, or anodes. Its amounts stand in the keys with `weight`."""
    weight_kah: Grams = 0.0
    """What 1000 A·h use up of what is weighed: "1095 g"."""
    least_weight: Grams = 0.0
    largest_weight: Grams | None = None
    due_weight: Grams | None = None
    """Debt at which what is weighed is due; the least weight if absent."""
    due_every: Period | None = None
    """Time after a dose at which the next is due."""
    dummy_share: Ratio = 100.0
    """Share of the rate that dummy plating uses up."""
    metal: GramsPerLitre | None = None
    """Metal in a salt solution: "100 g/L"."""
    metal_share: Ratio | None = None
    """Metal in a solid salt: "22.3 %"."""
    anodes: bool = False
    """Anodes: counted beside the bath, no metal in it until they dissolve."""
    priority: Literal["low", "medium", "high", "highest"] = "low"
    """Of the alarm that says that a dose is due."""


class AssaySection(Section):
    """What the laboratory looks for in a bath or a stage."""

    substance: str = Field(min_length=1, max_length=40)
    """As people write it: "Ni", "boric acid"."""
    unit: str = "g/L"
    """Unit of its limits, as the laboratory reports."""
    low: float | None = None
    high: float | None = None
    target: float | None = None
    every: Duration | None = None
    """How often it is due: "1 d"."""
    source: str = "common practice"


class DutySection(Section):
    """Something that is due from time to time: a filter, a probe, a collection."""

    id: Id
    text: str = Field(min_length=1, max_length=120)
    """What is to be done, as the alarm says it."""
    every: Duration
    """How often: "7 d"."""
    of: Id | None = None
    """The tank, bath or rectifier that it is about; the line if absent."""


class PermitSection(Section):
    """Limits on a substance in what is let go. The local permit governs."""

    substance: str = Field(min_length=1, max_length=40)
    daily: float | None = Field(default=None, gt=0)
    """Largest value of any one day [mg/L]."""
    monthly: float | None = Field(default=None, gt=0)
    """Largest average of a calendar month [mg/L]."""
    source: str


class BathSection(Section):
    """A solution."""

    id: Id
    name: str
    recipe: str | None = None
    """An entry of the bath library; what is written here overrides it."""
    metals: dict[str, Ratio] | None = None
    """Mass fractions of the deposit by metal with valence: { "Ni(II)" = "100 %" }."""
    efficiency: EfficiencySection | None = None
    anode_efficiency: Ratio | None = None
    volume: Litres | None = None
    metal: GramsPerLitre | None = None
    """Metal concentration at the last analysis."""
    drag_out: DosePerArea | None = None
    """Solution that the work carries out, by its area: "100 mL/m2"."""
    volume_from: str = ""
    """Where the volume comes from: "measured with a tracer, 2026-02-01"."""
    additive: tuple[AdditiveSection, ...] = ()
    assay: tuple[AssaySection, ...] = ()
    """What the laboratory looks for in it."""
    window: dict[str, Limits] = Field(default_factory=dict)
    """By measurement kind, for all tanks of the bath that state none of their own."""
    cyanide: bool | None = None
    """Whether it holds cyanide; not said: as its recipe says, or as its caution warns of it."""
    note: str = ""
    caution: str = ""


class AlarmSection(Section):
    """One condition; what is absent comes from the usual starting values of its kind."""

    when: Literal[
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
    of: str
    """Measurement kind (with suffix for twins) of the tank or rectifier; `found`: a rule."""
    limit: Quantity | None = None
    """Quantity; the window's own limit if absent. For `rate`: the change a minute. For
    `deviation`: how far from the target. For `frozen`: the least change that counts as alive.
    For `overdue`: a time, the longest dwell if absent."""
    deadband: Quantity | None = None
    """How far the value must come back before the condition ends."""
    on_delay: Duration | None = None
    """How long the condition must last before it is announced [line time]."""
    off_delay: Duration | None = None
    priority: Literal["low", "medium", "high", "highest"] | None = None
    latch: bool = False
    on_bad: Literal["hold", "clear"] = "hold"
    suppress_when: tuple[Suppression, ...] | None = None
    """States of the line in which it is not announced; absent: the usual ones of its kind."""
    cause: str | None = None
    consequence: str | None = None
    action: str | None = None
    """What to do first; absent: the usual text of its kind, "": none."""
    respond_within: Duration | None = None
    off: bool = False
    """No alarm of this kind here, although the window has the limit."""


class RinseSection(Section):
    """What has to be known of a rinse to tell drag-out and water by its conductivity."""

    water: Conductivity | None = None
    """Conductivity of the water that runs in."""
    fed_from: Id | None = None
    """The tank whose water runs in, where it is not the mains: the next stage, a supply."""
    response: Conductivity | None = None
    """Rise for 1 mL of the bath before in 1 L of this rinse, found by pouring."""


class TurningSection(Section):
    """How a barrel turns in a tank by design."""

    speed: Speed
    """Turns a minute while it turns: "6 1/min"."""
    rest: Duration = 0.0
    """Longest time for which it rests between turns by design; "0 s": it never does. A low
    speed, or a lost rhythm of the current, counts only after it."""


class TankSection(Section):
    """One process position."""

    id: Id
    name: str
    kind: TankKind
    number: str = ""
    """What is painted on it."""
    track: str = ""
    """The run of positions that it belongs to, in process order: "rack", "barrel"."""
    bath: Id | None = None
    recipe: str | None = None
    """An entry of the bath library, for a position without a bath of its own: a rinse."""
    cyanide: bool | None = None
    """Whether it holds cyanide; not said: as its bath does, a rinse as what stands before."""
    volume: Litres | None = None
    surface: SquareMetres | None = None
    depth: Millimetres | None = None
    shortest_dwell: Duration | None = None
    longest_dwell: Duration | None = None
    area: SquareDecimetres | None = None
    turning: TurningSection | None = None
    """How a barrel in it turns: { speed = "6 1/min", rest = "40 s" }."""
    window: dict[str, Limits] = Field(default_factory=dict)
    """By measurement kind: [tank.window.temperature]."""
    permit: dict[str, Limits] = Field(default_factory=dict)
    """Where water leaves the works, by measurement kind: what the permit allows."""
    assay: tuple[AssaySection, ...] = ()
    """What the laboratory looks for here."""
    rinse: RinseSection | None = None
    alarm: tuple[AlarmSection, ...] = ()


class FeedSection(Section):
    """A tank that a rectifier feeds."""

    tank: Id
    share: Ratio = 100.0
    """Share of the rectifier's charge; the shares of all its tanks add up to 100 %."""


class RectifierSection(Section):
    """A DC source."""

    id: Id
    name: str
    feeds: tuple[FeedSection, ...] = Field(min_length=1)
    rated_current: Rating
    rated_voltage: Volts
    polarity: Literal["cathodic", "anodic"] = "cathodic"
    zero_cutoff: Amperes = 0.0
    max_gap: Period | None = None
    meter_modulus: AmpereHours | None = None
    meter_resolution: AmpereHours = 1.0
    meter_counts: Literal["absolute", "cathodic", "net"] = "absolute"
    pulse_on: Milliseconds | None = None
    pulse_off: Milliseconds | None = None
    reverses: bool = False
    """It is meant to flow backward at times: pulse-reverse, an etch before plating."""
    current_class: Ratio = 0.5
    area_tolerance: Ratio = 5.0
    pulses: int = Field(default=6, ge=0, le=24)
    """Pulse number of its bridge; 0 for a switch-mode unit."""
    ripple_definition: Literal["rms/dc", "pp/dc"] = "rms/dc"
    window: dict[str, Limits] = Field(default_factory=dict)
    alarm: tuple[AlarmSection, ...] = ()


class StepSection(Section):
    """One step of a route."""

    tanks: tuple[Id, ...] = Field(min_length=1)
    """The tanks that serve it: a load goes through any one of them."""
    shortest: Duration | None = None
    """Shortest time in it; the tank's own if absent."""
    longest: Duration | None = None


class RouteSection(Section):
    """The steps that a part goes through, in order."""

    id: Id
    name: str
    step: tuple[StepSection, ...] = Field(min_length=1)


class PartSection(Section):
    """A part of the catalogue: what its loads are, and what they shall receive."""

    id: Id
    name: str
    route: Id | None = None
    area: SquareDecimetres | None = None
    """Plated area of one piece; of a kilogram where `weight` is given."""
    area_tolerance: Ratio = 5.0
    """Limit of error of that area."""
    amount_tolerance: Ratio = 10.0
    """How far a load without a card may be from the usual amount. Common practice."""
    pieces: int | None = Field(default=None, gt=0)
    """Pieces of a usual load."""
    weight: Kilograms | None = None
    """Weight of a usual load, for parts that are weighed: "60 kg"."""
    usual_on: str = ""
    """Track whose loads are this part where nobody says otherwise."""
    target: dict[Id, Micrometres] = Field(default_factory=dict)
    """Mean thickness wanted, by bath: { nickel = "12 um" }."""
    designation: str = ""
    """What the drawing asks for, as standards write it: "Fe/Zn 8", "Fe/Ni30d Cr mc"."""
    distribution: Ratio | None = None
    """Thinnest place over mean, found by measuring parts."""
    strength: Strength | None = None
    """Tensile strength of its steel, where it is steel: "1250 MPa"."""
    bake_within: Period | None = None
    """Longest time from the end of plating to the bake, by the shop's own sheet."""


class RecipeSection(Section):
    """An entry of the bath library: typical numbers of a solution, as examples."""

    id: Id
    name: str
    for_kind: tuple[TankKind, ...] = ()
    """The kinds of position it is used in."""
    metals: dict[str, Ratio] | None = None
    efficiency: EfficiencySection | None = None
    anode_efficiency: Ratio | None = None
    window: dict[str, Limits] = Field(default_factory=dict)
    cyanide: bool | None = None
    """Whether it holds cyanide; not said: if its caution warns of it."""
    note: str = ""
    caution: str = ""


class Library(Section):
    """A file of recipes."""

    about: str = ""
    """A line that says what the numbers are worth."""
    recipe: tuple[RecipeSection, ...] = ()


class Configuration(Section):
    """A whole file."""

    line: LineSection
    recipe: tuple[RecipeSection, ...] = ()
    """Recipes of one's own; they stand beside those of the bath library."""
    link: tuple[LinkSection, ...] = ()
    device: tuple[DeviceSection, ...] = ()
    bath: tuple[BathSection, ...] = ()
    tank: tuple[TankSection, ...] = ()
    rectifier: tuple[RectifierSection, ...] = ()
    route: tuple[RouteSection, ...] = ()
    part: tuple[PartSection, ...] = ()
    """The catalogue of parts."""
    permit: tuple[PermitSection, ...] = ()
    """Limits on substances in what is let go, by analysis."""
    duty: tuple[DutySection, ...] = ()
    """What is due from time to time."""
