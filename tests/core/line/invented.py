"""A small invented line with one of everything, and sequences of entries for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from linewatch.core.commands import (
    Acknowledge,
    AnyCommand,
    HandReading,
    MarkMeter,
    ResetLatch,
    ReturnToService,
    SetLineState,
    Shelve,
    TakeOutOfService,
    Unshelve,
)
from linewatch.core.errors import Refused
from linewatch.core.events import Event
from linewatch.core.line import Line
from linewatch.core.plan import (
    BathPlan,
    ConditionPlan,
    DepositPlan,
    EfficiencyPlan,
    LinePlan,
    RectifierPlan,
    TagPlan,
    TankPlan,
    Window,
)
from linewatch.core.ports import Entry, Order, RunStart, Stood, Tick
from linewatch.core.readings import Layout, Moment, Quality, Readings, Stack

NS = 10**9
UTC_NS = 1_772_000_000 * NS
"""2026-02-25 06:13:20 UTC."""

NICKEL = Layout(
    link="gateway",
    device="unit-1",
    tags=("r-nickel.current", "r-nickel.voltage", "r-nickel.charge-meter"),
    period_ns=NS,
)
CHROMIUM = Layout(link="gateway", device="unit-2", tags=("r-chromium.current",), period_ns=NS)
COPPER = Layout(
    link="gateway",
    device="unit-3",
    tags=("r-copper.current", "r-copper.charge-meter"),
    period_ns=NS,
)
TANKS = Layout(
    link="tank-io",
    device="tank-io",
    tags=(
        "nickel.temperature",
        "nickel.level",
        "nickel.load-present",
        "nickel.load-number",
        "nickel.ph",
        "pump.fault",
        "invented.line-state",
    ),
    period_ns=NS,
)
LAYOUTS = (NICKEL, CHROMIUM, COPPER, TANKS)


def tag(name: str, **changes) -> TagPlan:
    subject, kind = name.split(".")[:2]
    kept = {
        "id": name,
        "subject": subject,
        "kind": kind,
        "low": -1e4,
        "high": 1e6,
        "period_ns": NS,
        "stale_after_ns": 3 * NS,
    }
    return TagPlan(**(kept | changes))


def condition(name: str, **changes) -> ConditionPlan:
    of, _, kind = name.rpartition(".")
    return ConditionPlan(**({"id": name, "tag": of, "kind": kind} | changes))


CONDITIONS = (
    condition(
        "nickel.temperature.low",
        limit=55.0,
        deadband=1.0,
        on_delay_ns=3 * NS,
        off_delay_ns=2 * NS,
        suppress_when=("heating-up", "planned-stop"),
        priority="high",
    ),
    condition("nickel.temperature.high", limit=65.0, deadband=1.0, latch=True),
    condition("nickel.temperature.high-high", limit=70.0, on_bad="clear", off_delay_ns=NS),
    condition("nickel.temperature.deviation", limit=4.0, deadband=1.0, target=60.0),
    condition("nickel.temperature.rate", limit=20.0, deadband=5.0),
    condition("nickel.temperature.bad-quality", on_delay_ns=2 * NS),
    condition("nickel.level.low-low", limit=400.0, suppress_when=("line-rests",)),
    condition("nickel.level.frozen", limit=0.0, on_delay_ns=15 * NS),
    condition("nickel.ph.frozen", limit=0.05, on_delay_ns=12 * NS, off_delay_ns=NS),
    condition("nickel.ph.overdue", limit=40.0),
    condition("nickel.load-present.overdue", limit=20.0, priority="highest"),
    condition("pump.fault.discrete", limit=1.0),
    condition(
        "r-nickel.current.low",
        limit=80.0,
        deadband=2.0,
        on_delay_ns=4 * NS,
        suppress_when=("no-load",),
    ),
    condition("r-chromium.current.low", limit=50.0, suppress_when=("no-current", "line-rests")),
    condition("r-copper.current.low", limit=10.0, suppress_when=("no-load",)),
    condition("r-copper.current.bad-quality"),
    condition("r-nickel.hunting.found"),
    condition("r-copper.stray-current.found"),
    condition("nickel.ph-swings.found"),
)

TAGS = {
    each.id: each
    for each in (
        tag("r-nickel.current"),
        tag("r-nickel.voltage"),
        tag("r-nickel.charge-meter"),
        tag("r-chromium.current"),
        tag("r-copper.current"),
        tag("r-copper.charge-meter"),
        tag("nickel.temperature", window=Window(low=55.0, high=65.0, target=60.0)),
        tag("nickel.level"),
        tag("nickel.load-present", low=0.0, high=1.0),
        tag("nickel.load-number", low=0.0),
        tag("nickel.ph"),
        tag("pump.fault"),
        tag("invented.line-state"),
    )
}

PLAN = LinePlan(
    line_id="invented",
    name="Invented line",
    fingerprint="f" * 64,
    layouts=LAYOUTS,
    tags=TAGS,
    tanks=(
        TankPlan(
            id="nickel",
            name="Bright nickel",
            kind="plate",
            track="rack",
            bath="watts",
            area_dm2=50.0,
            target_um=10.0,
            distribution_ratio=0.6,
            longest_dwell_s=900.0,
        ),
        TankPlan(
            id="chromium",
            name="Chromium",
            kind="plate",
            track="rack",
            bath="chromic",
            area_dm2=10.0,
        ),
        TankPlan(id="copper", name="Copper", kind="plate", track="barrel", bath="acid"),
    ),
    rectifiers=(
        RectifierPlan(
            id="r-nickel",
            name="Nickel",
            feeds=(("nickel", 1.0),),
            rated_current_a=500.0,
            rated_voltage_v=12.0,
            zero_cutoff_a=0.5,
            meter_modulus_ah=100.0,
            meter_resolution_ah=0.01,
        ),
        RectifierPlan(
            id="r-chromium",
            name="Chromium",
            feeds=(("chromium", 1.0),),
            rated_current_a=1000.0,
            rated_voltage_v=12.0,
        ),
        RectifierPlan(
            id="r-copper",
            name="Copper",
            feeds=(("copper", 1.0),),
            rated_current_a=300.0,
            rated_voltage_v=12.0,
            meter_resolution_ah=0.001,
            meter_modulus_ah=1e6,
            pulse_on_ms=5.0,
            pulse_off_ms=45.0,
        ),
    ),
    baths=(
        BathPlan(
            id="watts",
            name="Watts nickel",
            deposit=DepositPlan(
                parts=(("Ni(II)", 1.0),),
                efficiency=EfficiencyPlan(value=0.95, low=0.93, high=0.97),
            ),
        ),
        BathPlan(
            id="chromic",
            name="Chromium",
            deposit=DepositPlan(
                parts=(("Cr(VI)", 1.0),),
                efficiency=EfficiencyPlan(
                    value=0.15,
                    low=0.10,
                    high=0.20,
                    curve_a_per_dm2=(5.0, 10.0, 30.0),
                    curve_ratio=(0.08, 0.12, 0.20),
                ),
            ),
        ),
        BathPlan(id="acid", name="Acid copper"),
    ),
    conditions=CONDITIONS,
    links=("gateway", "tank-io"),
    shelve_longest_s=60.0,
    flood_start_per_10min=4.0,
    flood_end_per_10min=2.0,
)


def moment(at_ns: int, ahead_ns: int = 0) -> Moment:
    return Moment(utc_ns=UTC_NS + at_ns + ahead_ns, mono_ns=at_ns)


def block(
    layout: Layout, at_ns: int, value: Iterable[float], quality: Iterable[int] = ()
) -> Readings:
    values = np.array(list(value), dtype=np.float64)
    qualities = np.array(list(quality) or [0] * len(values), dtype=np.uint8)
    values[qualities >= Quality.BAD] = np.nan
    at = moment(at_ns)
    return Readings(
        layout=layout, utc_ns=at.utc_ns, mono_ns=at_ns, value=values, quality=qualities
    )


def run_start(at_ns: int = 0, speed: float = 1.0) -> RunStart:
    return RunStart(run_id="run", at=moment(at_ns), fingerprint=PLAN.fingerprint, speed=speed)


def feed(line: Line, entry: Entry | Stack) -> list[Event]:
    """Feed one entry as a collector does; a refusal is no event."""
    match entry:
        case Readings() | Stack():
            return line.receive(entry)
        case Tick():
            return line.tick(entry.at)
        case RunStart():
            return line.begin(entry)
        case Stood():
            return line.stood(entry)
        case Order():
            try:
                return line.obey(entry)
            except Refused:
                return []


def feed_all(line: Line, entries: Iterable[Entry | Stack]) -> list[Event]:
    return [event for entry in entries for event in feed(line, entry)]


def stacked(entries: Sequence[Entry], largest: int) -> list[Entry | Stack]:
    """Return the same sequence with neighbouring blocks of one layout as stacks."""
    found: list[Entry | Stack] = []
    waiting: list[Readings] = []
    for entry in [*entries, None]:
        if waiting and (
            not isinstance(entry, Readings)
            or entry.layout is not waiting[0].layout
            or len(waiting) >= largest
        ):
            found.append(stack(waiting))
            waiting = []
        if isinstance(entry, Readings):
            waiting.append(entry)
        elif entry is not None:
            found.append(entry)
    return found


def stack(blocks: Sequence[Readings]) -> Stack:
    return Stack(
        layout=blocks[0].layout,
        utc_ns=np.array([each.utc_ns for each in blocks]),
        mono_ns=np.array([each.mono_ns for each in blocks]),
        value=np.array([each.value for each in blocks]),
        quality=np.array([each.quality for each in blocks]),
    )


# Sequences, drawn.

_COMMANDS: tuple[AnyCommand, ...] = (
    Acknowledge(who="ab", alarm="*"),
    Acknowledge(who="ab", alarm="nickel.temperature.low"),
    ResetLatch(who="ab", alarm="nickel.temperature.high"),
    Shelve(who="cd", alarm="nickel.temperature.low", for_s=20.0, why="probe is being moved"),
    Shelve(who="cd", alarm="r-nickel.current.low", for_s=5.0, why="trial"),
    Unshelve(who="cd", alarm="nickel.temperature.low"),
    TakeOutOfService(who="ef", subject="nickel", why="descaling"),
    TakeOutOfService(who="ef", subject="pump.fault.discrete", why="pump away"),
    ReturnToService(who="ef", subject="nickel"),
    ReturnToService(who="ef", subject="pump.fault.discrete"),
    SetLineState(who="gh", state="heating-up"),
    SetLineState(who="gh", state="producing"),
    SetLineState(who="gh", state="planned-stop", track="rack", why="lunch"),
    HandReading(who="ij", subject="nickel", kind="ph", value=4.1, unit="pH"),
    MarkMeter(who="kl", rectifier="r-nickel", what="serviced"),
)

_QUALITIES = (
    Quality.GOOD,
    Quality.NO_ANSWER,
    Quality.SENSOR_FAULT,
    Quality.SOURCE_DOUBTFUL,
    Quality.NOT_CONNECTED,
)

_CURRENTS = st.one_of(
    st.sampled_from([0.0, 0.2, -0.2, 100.0, -100.0, 60.0, 5.0]),
    st.floats(-400.0, 400.0, allow_nan=False),
)
_VALUES = {
    "current": _CURRENTS,
    "voltage": st.floats(0.0, 12.0),
    "temperature": st.sampled_from([50.0, 54.9, 55.0, 55.5, 60.0, 64.5, 66.0, 71.0]),
    "level": st.sampled_from([390.0, 500.0, 500.5]),
    "load-present": st.sampled_from([0.0, 1.0]),
    "load-number": st.sampled_from([0.0, 17.0, 18.0]),
    "ph": st.sampled_from([4.0, 4.02, 4.04, 4.3]),
    "fault": st.sampled_from([0.0, 0.0, 0.0, 1.0]),
    "line-state": st.sampled_from([1.0, 1.0, 1.0, 2.0, 0.0, 9.0]),
    "charge-meter": st.floats(0.0, 2.0),
}


@dataclass
class _Device:
    """What a device shows: values that mostly stay, a meter that mostly counts up."""

    layout: Layout
    value: list[float]
    quality: list[int]


@st.composite
def sequences(draw, longest: int = 60) -> list[Entry]:
    """Draw a run: quiet stretches, changes, silences, ticks, commands, restarts."""
    devices = [_first(draw, layout) for layout in LAYOUTS]
    at_ns = draw(st.integers(0, 10)) * NS
    entries: list[Entry] = [run_start(at_ns)]
    for _ in range(draw(st.integers(1, longest))):
        what = draw(st.sampled_from("bbbbbbbqqqqtttcrsz"))
        at_ns += draw(st.sampled_from([0, NS // 10, NS, NS, NS, NS + 7, 2 * NS]))
        match what:
            case "b":
                device = draw(st.sampled_from(devices))
                _change(draw, device)
                entries.append(block(device.layout, at_ns, device.value, device.quality))
            case "q":
                at_ns = _quiet(draw, devices, entries, at_ns)
            case "t":
                entries.append(Tick(at=moment(at_ns)))
            case "c":
                command = draw(st.sampled_from(_COMMANDS))
                entries.append(Order(request=1, command=command, at=moment(at_ns)))
            case "r":
                at_ns += draw(st.integers(1, 400)) * NS
                entries.append(run_start(at_ns, draw(st.sampled_from([1.0, 1.0, 60.0]))))
            case "s":
                for_ns = draw(st.integers(3, 400)) * NS
                at_ns += for_ns
                entries.append(Stood(at=moment(at_ns), for_ns=for_ns))
            case _:
                at_ns += draw(st.integers(3, 30)) * NS
    return entries


def _first(draw, layout: Layout) -> _Device:
    value = [draw(_VALUES[TAGS[name].kind]) for name in layout.tags]
    return _Device(layout, value, [0] * len(value))


def _change(draw, device: _Device) -> None:
    kinds = [TAGS[name].kind for name in device.layout.tags]
    column = draw(st.integers(0, len(kinds) - 1))
    if draw(st.booleans()):
        drawn = draw(_VALUES[kinds[column]])
        counts_on = kinds[column] == "charge-meter" and draw(st.booleans())
        device.value[column] = (device.value[column] + drawn) % 100.0 if counts_on else drawn
    if draw(st.integers(0, 4)) == 0:
        quality = draw(st.sampled_from(_QUALITIES))
        of = range(len(kinds)) if draw(st.booleans()) else [column]
        for each in of:
            device.quality[each] = quality


def _quiet(draw, devices: list[_Device], entries: list[Entry], at_ns: int) -> int:
    """Add many blocks of one device with noise, as a long run of the same."""
    device = draw(st.sampled_from(devices))
    kinds = [TAGS[name].kind for name in device.layout.tags]
    period_ns = draw(st.sampled_from([NS, NS, NS // 2, 3 * NS]))
    noise = draw(st.sampled_from([0.0, 0.01, 1.0]))
    step_ah = draw(st.sampled_from([0.0, 0.01, 0.02]))
    for k in range(draw(st.integers(2, 40))):
        value = list(device.value)
        for column, kind in enumerate(kinds):
            if kind == "charge-meter":
                device.value[column] = value[column] = (value[column] + step_ah) % 100.0
            elif kind in {"current", "voltage"}:
                value[column] += noise * ((k * 7) % 5 - 2)
        entries.append(block(device.layout, at_ns, value, device.quality))
        at_ns += period_ns
    return at_ns


def with_conditions(*conditions: ConditionPlan, **changes) -> LinePlan:
    """Return the invented plan with other conditions."""
    return replace(PLAN, conditions=conditions, **changes)
