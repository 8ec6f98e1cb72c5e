"""What a plant is made of: one frozen row for each thing; a line is tables of these rows.

All numbers are invented. Where a figure is typical of the trade it is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CellRow:
    """How a solution conducts, polarises and deposits: the electrical side of a bath."""

    id: str
    reversible_v: float
    """Difference of the reversible potentials of anode and work [V]."""
    tafel_v: float
    """Overvoltage of both electrodes for each e-fold of the current density [V]."""
    exchange_a_per_dm2: float
    """Exchange current density [A/dm2]: below it the overvoltage is a straight line."""
    limiting_a_per_dm2: float
    """Current density at which the diffusion layer is empty [A/dm2]."""
    solution_v_per_a_per_dm2: float
    """Drop in the solution at the usual temperature for each A/dm2 [V dm2/A]."""
    usual_degc: float
    per_kelvin_ratio: float = 0.018
    """Share by which the solution's drop grows for each kelvin below `usual_degc`."""
    deposit: tuple[tuple[str, float], ...] = ()
    """(metal with valence, mass fraction); empty: nothing is laid down."""
    efficiency_ratio: float = 0.0
    """Share of the charge that deposits metal at `usual_a_per_dm2`."""
    efficiency_slope: float = 0.0
    """Relative change of the efficiency for each e-fold of the current density."""
    usual_a_per_dm2: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TankRow:
    """One position with what it holds."""

    id: str
    volume_l: float
    surface_m2: float
    level_mm: float = 900.0
    """Height at which it is kept."""
    set_degc: float | None = None
    """Set-point of its thermostat; None: no heater."""
    heater_kw: float = 0.0
    cooling_kw: float = 0.0
    """Heat that the cooler takes out above set-point plus 1 K; 0: no cooler."""
    start_degc: float = 20.0
    extraction_ratio: float = 1.3
    """Surface loss against still air: lip extraction and air raise it."""
    is_air: bool = False
    """A dryer or an oven: it has no liquid, and loses heat through its walls."""
    wall_w_per_k: float = 20.0
    part_s: float = 90.0
    """Time constant at which a load takes on the tank's temperature."""
    conductivity_us: float = 500.0
    """Conductivity at the start [uS/cm]."""
    water_l_per_min: float = 0.0
    """Steady flow through an overflowing rinse."""
    water_us: float | None = None
    """Conductivity of the water that it is fed with; None: the town's."""
    top_up_l_per_min: float = 15.0
    """Flow of the level valve; 0: it is filled by overflow, or not at all."""
    ph: float | None = None
    ph_per_kah_m3: float = 0.0
    """Rise of pH for each 1000 A h in a cubic metre."""
    ph_per_load: float = 0.0
    """Rise of pH with each load that comes in."""
    fed_from: str | None = None
    """The rinse whose overflow feeds this one; None: fresh water."""
    air_mbar: float = 0.0
    """Pressure in its air pipe; 0: it is not agitated by air."""
    filter_bar: float = 0.0
    """Pressure drop of its filter when clean; 0: no filter."""
    filter_l_per_min: float = 0.0
    turns_per_min: float = 0.0
    """Speed of the barrel in it; 0: no barrel."""
    stream: str = ""
    """Where its overflow goes: 'cyanide', 'chromium' or 'general'."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RectifierRow:
    """One direct-current source."""

    id: str
    feeds: tuple[tuple[str, float], ...]
    """(tank, share of the current)."""
    cell: str
    density_a_per_dm2: float
    """Current density that its recipe asks for."""
    rated_a: float
    rated_v: float
    anodic: bool = False
    """The work is the anode, as in electrocleaning of steel."""
    ramp_s: float = 5.0
    off_before_s: float = 3.0
    """Its program ends this long before the load is lifted."""
    on_after_s: float = 2.0
    longest_on_s: float = 1e9
    """A timed program: off after so long, though the load stays."""
    pulses: int = 6
    choke_ratio: float = 0.3
    """Share of the ripple that the smoothing choke leaves."""
    bus_mohm: float = 0.2
    contact_mohm: float = 0.05
    noise_ratio: float = 0.002
    rhythm_ratio: float = 0.0
    """Swing of the current with each turn of a barrel."""
    zero_offset_a: float = 0.0
    """What its meter reads with no current."""
    modules: int = 1
    """How many in parallel give its current."""
    sink_rise_k: float = 35.0
    """Heat-sink above room at rated current, fan running."""
    meter_modulus_ah: float = 1e6
    meter_start_ah: float = 0.0
    meter_step_ah: float = 1.0
    """What its meter counts in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRow:
    """One stop on the way of a load."""

    tank: str
    enters_s: float
    """When a load gets there, counted from its start."""
    dwell_s: float
    every: int = 1
    """Only each so-many-th load stops here: parallel stations share the loads ..."""
    turn: int = 0
    """... and this one takes those whose number leaves this rest."""
    skip_every: int = 0
    """Each so-many-th load passes this stop by; 0: none does ..."""
    skip_turn: int = 0
    """... namely those whose number leaves this rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRow:
    """A run of positions with its timetable."""

    id: str
    stops: tuple[StopRow, ...]
    interval_s: float
    """A load starts each so often."""
    area_dm2: float
    """Area of a usual load."""
    mass_kg: float
    """Mass of a usual load with its rack or barrel."""
    drag_ml_per_m2: float
    """Film that a load carries along."""
    first_load: int = 1000
    spread_ratio: float = 0.15
    """Loads differ by up to this share in area and mass."""
    gap_every: int = 0
    """Each so-many-th hanger comes empty; 0: none does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterRow:
    """One quantity in one device's memory."""

    link: str
    unit: int
    table: str
    """coil, discrete, holding, input."""
    address: int
    type: str
    """bit, int16, uint16, int32, uint32, float32."""
    what: str
    """Subject, dot, kind."""
    order: str = "ABCD"
    scale: float = 1.0
    """Quantity = raw x scale."""
    bit: int | None = None
    """Position inside a 16-bit register, for type bit in holding or input."""
    sentinel: int | None = None
    """Raw value that stands for an open sensor."""
    span: tuple[float, float] | None = None
    """A 4-20 mA input: quantity at 4 mA and at 20 mA; counts as COUNTS say."""


COUNTS_4MA, COUNTS_20MA = 5530.0, 27648.0
"""Counts of the analogue card at 4 and 20 mA: 1382.4 a milliampere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeRow:
    """One quantity as a variable of an OPC UA server."""

    link: str
    node: str
    """Identifier in its namespace: 'Treatment.Neutralise.pH'."""
    what: str
    """Subject, dot, kind."""
    namespace: str
    """URI."""

    @property
    def kind(self) -> str:
        """Return what kind of quantity it is."""
        return self.what.split(".")[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRow:
    """One connection that the plant offers."""

    id: str
    protocol: str
    """modbus-tcp, modbus-rtu-over-tcp or opcua."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """A whole plant."""

    id: str
    cells: tuple[CellRow, ...]
    tanks: tuple[TankRow, ...]
    rectifiers: tuple[RectifierRow, ...]
    tracks: tuple[TrackRow, ...]
    links: tuple[LinkRow, ...]
    registers: tuple[RegisterRow, ...]
    nodes: tuple[NodeRow, ...] = ()
    room_degc: float = 22.0
    water_degc: float = 14.0
    water_us: float = 320.0
    """Conductivity of the town's water [uS/cm]."""
