"""An invented line that was never built, for the screen to show: short or long, well or not."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from linewatch.core.commands import AnyCommand
from linewatch.core.events import Event, EventKind
from linewatch.core.ports import Outcome, Sealed, Series, StoredEvent
from linewatch.core.readings import Quality
from linewatch.core.sheets.seen import CheckPicture
from linewatch.core.view import (
    AdditivePicture,
    AlarmPicture,
    BathPicture,
    ChargePicture,
    Figure,
    LinePicture,
    LinkPicture,
    LoadPicture,
    MetalPicture,
    RecordingPicture,
    RectifierPicture,
    TankPicture,
)
from linewatch.core.water.seen import LevelPicture, RinsePicture

NOON = 1_774_785_600_000_000_000
"""2026-03-29 12:00:00 UTC."""
S = 1_000_000_000
START = NOON - 5 * 3600 * S
RINSE = RinsePicture(
    tank="rinse-3",
    source="nickel-1",
    source_us=62_000.0,
    source_from="its window",
    loads=12,
    beyond=2,
    step_us=10.3,
    before_us=515.0,
    exit_us=1216.0,
    limit_us=1100.0,
    interval_s=300.0,
    dwell_s=280.0,
    volume_l=1200.0,
    film_ml=184.0,
    film_pm_ml=139.0,
    film_ml_per_m2=84.0,
    film_pm_ml_per_m2=69.0,
    flow_l_per_min=2.0,
    decay_flow_l_per_min=1.9,
    decay_flow_pm_l_per_min=0.1,
    decay_s=36_000.0,
    feed_us=320.0,
    needed_l_per_min=2.8,
    staged_l_per_min=0.3,
)
LEVEL = LevelPicture(
    tank="nickel-1",
    evaporates_l_per_h=8.5,
    falls_l_per_h=20.8,
    usual_l_per_h=17.0,
    leaks_l_per_h=3.8,
    topped_up_l_per_h=20.0,
)

# id, name, kind, track, bath, temperature window, level window, rectifier amps, other figures
SHORT = (
    ("load-1", "Loading", "load", "rack", None, None, None, None, {}),
    ("soak-1", "Soak clean", "clean", "rack", "soak", (60, 75), (820, 900), None, {}),
    ("eclean-1", "Electroclean", "electroclean", "rack", "ecl", (55, 70), (820, 900), 600, {}),
    ("rinse-1", "Rinse", "rinse", "rack", None, None, None, None, {"conductivity": 310}),
    ("acid-1", "Acid activate", "activate", "rack", "acid", (18, 30), (780, 880), None, {}),
    ("rinse-2", "Rinse", "rinse", "rack", None, None, None, None, {"conductivity": 180}),
    ("strike-1", "Copper strike", "strike", "rack", "strike", (50, 60), (800, 900), 350, {}),
    ("rinse-3", "Rinse", "rinse", "rack", None, None, None, None, {"conductivity": 95}),
    ("nickel-1", "Bright nickel", "plate", "rack", "nickel", (58, 66), (830, 900), 1500,
     {"ph": 4.12}),
    ("nickel-2", "Bright nickel", "plate", "rack", "nickel", (58, 66), (830, 900), 1500,
     {"ph": 4.15}),
    ("chromium-1", "Chromium", "plate", "rack", "chromium", (40, 46), (800, 900), 4000, {}),
    ("dry-1", "Dryer", "dry", "rack", None, (70, 95), None, None, {}),
)  # fmt: skip
MORE = (
    ("hot-1", "Hot rinse", "rinse", "rack", None, (45, 60), None, None, {}),
    ("unload-1", "Unloading", "load", "rack", None, None, None, None, {}),
    ("b-load", "Barrel loading", "load", "barrel", None, None, None, None, {}),
    ("b-soak", "Barrel soak", "clean", "barrel", "soak", (60, 75), (820, 900), None, {}),
    ("b-rinse-1", "Barrel rinse", "rinse", "barrel", None, None, None, None,
     {"conductivity": 620}),
    ("b-pickle", "Pickle", "activate", "barrel", "acid", (18, 30), (780, 880), None, {}),
    ("b-rinse-2", "Barrel rinse", "rinse", "barrel", None, None, None, None,
     {"conductivity": 240}),
    ("zinc-1", "Alkaline zinc", "plate", "barrel", "zinc", (22, 30), (850, 920), 1000, {}),
    ("zinc-2", "Alkaline zinc", "plate", "barrel", "zinc", (22, 30), (850, 920), 1000, {}),
    ("zinc-3", "Alkaline zinc", "plate", "barrel", "zinc", (22, 30), (850, 920), 1000, {}),
    ("b-rinse-3", "Barrel rinse", "rinse", "barrel", None, None, None, None,
     {"conductivity": 150}),
    ("passivate", "Passivate", "passivate", "barrel", "pass", (25, 40), (700, 800), None,
     {"ph": 2.1}),
    ("b-rinse-4", "Barrel rinse", "rinse", "barrel", None, None, None, None,
     {"conductivity": 88}),
    ("seal", "Seal", "seal", "barrel", "seal", (20, 30), (700, 800), None, {}),
    ("b-dry", "Barrel dryer", "dry", "barrel", None, (70, 95), None, None, {}),
    ("oven-1", "Relief oven", "bake", "barrel", None, (190, 220), None, None, {}),
    ("cr-reduce", "Chromium reduction", "treat", "treatment", None, None, None, None,
     {"ph": 2.5, "orp": 281}),
    ("neutral", "Neutralise", "treat", "treatment", None, None, None, None, {"ph": 8.9}),
    ("clarify", "Clarifier", "treat", "treatment", None, None, None, None, {"turbidity": 4.2}),
    ("final", "Final pH", "treat", "treatment", None, None, None, None, {"ph": 7.8}),
    ("scrub", "Chromium exhaust", "extract", "treatment", None, None, None, None,
     {"draught": -410}),
    ("di-water", "Pure water", "supply", "treatment", None, None, None, None,
     {"conductivity": 3}),
)  # fmt: skip


def figure(
    tag: str,
    value: float | None,
    window: tuple[float, float] | None = None,
    *,
    quality: int = Quality.GOOD,
    side: str = "",
    now: int = NOON,
) -> Figure:
    """Return one figure; a bad quality takes the value away."""
    bad = quality >= Quality.BAD
    return Figure(
        tag=tag,
        kind=tag.split(".")[1],
        value=None if bad else value,
        quality=quality,
        utc_ns=now,
        good_utc_ns=now - 95 * S if bad else now,
        low=window[0] if window else None,
        high=window[1] if window else None,
        target=sum(window) / 2 if window else None,
        side=side,
    )


def _wave(index: int, second: int, size: float) -> float:
    """Return a small deterministic wobble."""
    return size * (((index * 37 + second * 13) % 21) - 10) / 10.0


def _tank(index: int, row: tuple, second: int, now: int) -> TankPicture:
    name, label, kind, track, bath, degc, mm, amps, others = row
    figures: dict[str, Figure] = {}
    if degc:
        middle = sum(degc) / 2 + _wave(index, second, (degc[1] - degc[0]) / 5)
        figures["temperature"] = figure(f"{name}.temperature", middle, degc, now=now)
    if mm:
        middle = sum(mm) / 2 + _wave(index, second, 8)
        figures["level"] = figure(f"{name}.level", middle, mm, now=now)
    loaded = kind not in {"treat", "extract", "supply"} and index % 3 != 0
    charge = metal = None
    if amps:
        current = (amps * 0.8 + _wave(index, second, amps * 0.01)) if loaded else 0.0
        figures["current"] = figure(f"{name}.current", current, now=now)
        figures["voltage"] = figure(f"{name}.voltage", 6.4 if loaded else 0.0, now=now)
        charge = ChargePicture(
            cathodic_ah=812.4 * index + 0.2 * second,
            anodic_ah=12.5 if kind == "electroclean" else 0.0,
            metered_s=17400.0 if index % 2 else 18000.0,
            recovered_s=540.0 if index % 2 else 0.0,
            unmetered_s=60.0 if index % 2 else 0.0,
            elapsed_s=18000.0,
            uncertainty_ah=4.1 * index,
            missed_ah=5.0 * index if index % 2 else 0.0,
        )
        deposit = {"nickel": "Ni", "strike": "Cu", "chromium": "Cr", "zinc": "Zn"}.get(
            bath or ""
        )
        if deposit:
            metal = MetalPicture(
                deposit=deposit,
                mass_g=820.0 * index,
                uncertainty_g=31.0,
                rate_um_per_h=41.2 if loaded else None,
                current_density_a_per_dm2=4.1 if loaded else None,
            )
    for other, value in others.items():
        figures[other] = figure(f"{name}.{other}", value + _wave(index, second, 0.02), now=now)
    load = None
    if loaded:
        dwell = 60.0 * (index % 9) + second + 40
        load = LoadPicture(
            number=str(4700 + index),
            since_utc_ns=now - int(dwell * S),
            dwell_s=dwell,
            shortest_s=60.0,
            longest_s=1500.0,
            part="bracket 17-A" if index % 2 else "",
            charge_ah=112.0 if metal else None,
            thickness_um=7.4 if metal else None,
            thickness_uncertainty_um=0.5 if metal else None,
            target_um=12.0 if metal else None,
            pull_utc_ns=NOON + (index % 7) * 95 * S if metal else None,
            pull_refused="" if metal else "no deposit is counted here",
        )
    return TankPicture(
        id=name,
        name=label,
        kind=kind,
        number=str(index + 1),
        track=track,
        bath=bath,
        rectifiers=(f"rect-{name}",) if amps else (),
        state="in" if loaded else "empty",
        figures=figures,
        charge=charge,
        metal=metal,
        load=load,
    )


def line(*, long: bool = False, second: int = 0) -> LinePicture:
    """Return the line in good health, some seconds after noon."""
    now = NOON + second * S
    rows = SHORT + MORE if long else SHORT
    tanks = tuple(_tank(index, row, second, now) for index, row in enumerate(rows))
    rectifiers = tuple(
        RectifierPicture(
            id=tank.rectifiers[0],
            name=f"Rectifier {tank.name} {tank.number}",
            feeds=(tank.id,),
            figures={
                **{k: v for k, v in tank.figures.items() if k in {"current", "voltage"}},
                "ripple": figure(f"{tank.rectifiers[0]}.ripple", 3.1, (0, 5), now=now),
                "heat-sink": figure(f"{tank.rectifiers[0]}.heat-sink", 47.0, (0, 75), now=now),
                "charge-meter": figure(f"{tank.rectifiers[0]}.charge-meter", 51234.5, now=now),
            },
            charge=tank.charge or ChargePicture(),
            rated_current_a=1500.0,
            rated_voltage_v=12.0,
        )
        for tank in tanks
        if tank.rectifiers
    )
    return LinePicture(
        line_id="invented",
        name="Invented works",
        run_id="r1",
        fingerprint="f00d",
        utc_ns=now,
        mono_ns=now - START,
        started_utc_ns=START,
        tanks=tanks,
        rectifiers=rectifiers,
        baths=_baths(tanks),
        links=_links(),
        recording=RecordingPicture(running=True, since_utc_ns=START),
        poll_s=1.0,
        scan_ms=0.8,
    )


def _baths(tanks: Sequence[TankPicture]) -> tuple[BathPicture, ...]:
    names = list(dict.fromkeys(tank.bath for tank in tanks if tank.bath))
    return tuple(
        BathPicture(
            id=name,
            name=f"{name.capitalize()} bath",
            tanks=tuple(tank.id for tank in tanks if tank.bath == name),
            charge_ah=1624.8,
            metal=MetalPicture(deposit="Ni", mass_g=1640.0, uncertainty_g=60.0)
            if name == "nickel"
            else None,
            additives=(
                AdditivePicture(
                    id="brightener",
                    name="Brightener",
                    owed_ml=243.7,
                    accrued_ml=843.7,
                    dosed_ml=600.0,
                    owed_high_ml=251.0,
                    due=True,
                    due_utc_ns=NOON - 600 * S,
                ),
                AdditivePicture(
                    id="carrier",
                    name="Carrier",
                    owed_ml=40.0,
                    accrued_ml=240.0,
                    dosed_ml=200.0,
                    owed_high_ml=40.0,
                    due=False,
                    due_utc_ns=NOON + 5400 * S,
                ),
            )
            if name == "nickel"
            else (),
            caution="Chromic acid burns and poisons; hexavalent chromium harms the lungs."
            if name == "chromium"
            else "",
        )
        for name in names
    )


def _links() -> tuple[LinkPicture, ...]:
    return tuple(
        LinkPicture(
            id=name,
            protocol=protocol,
            address=f"127.0.0.1:{port}",
            state="connected",
            since_utc_ns=START,
            response_ms=2.4,
            requests=18000,
            poll_s=1.0,
        )
        for name, protocol, port in (
            ("tank-io", "modbus-tcp", 5020),
            ("rectifiers", "modbus-rtu-tcp", 5021),
            ("treatment", "opc-ua", 4840),
        )
    )


def troubled(*, long: bool = False, second: int = 0) -> LinePicture:
    """Return the same line on a bad day: every kind of fault, alarm state and doubt."""
    well = line(long=long, second=second)
    now = well.utc_ns
    tanks = {tank.id: tank for tank in well.tanks}

    def change(name: str, **figures: Figure) -> None:
        tank = tanks[name]
        tanks[name] = replace(tank, figures={**tank.figures, **figures})

    change(
        "nickel-1",
        temperature=figure("nickel-1.temperature", 54.2, (58, 66), side="low", now=now),
    )
    change(
        "nickel-2",
        temperature=figure(
            "nickel-2.temperature", None, (58, 66), quality=Quality.SENSOR_FAULT, now=now
        ),
    )
    change("soak-1", level=figure("soak-1.level", 941, (820, 900), side="high-high", now=now))
    change(
        "strike-1",
        current=figure("strike-1.current", None, quality=Quality.NO_ANSWER, now=now),
        voltage=figure("strike-1.voltage", None, quality=Quality.NO_ANSWER, now=now),
    )
    change(
        "acid-1",
        temperature=figure(
            "acid-1.temperature", 24.0, (18, 30), quality=Quality.LAST_KNOWN, now=now
        ),
    )
    change("chromium-1", level=figure("chromium-1.level", None, (800, 900),
           quality=Quality.STALE, now=now))  # fmt: skip
    alarms = _alarms(now)
    for alarm in alarms:
        tank = tanks.get(alarm.subject)
        if tank is None or alarm.state in {"shelved", "suppressed", "out-of-service"}:
            continue
        tanks[tank.id] = replace(
            tank,
            alarms=tank.alarms + 1,
            worst=tank.worst or alarm.priority,
            unacknowledged=tank.unacknowledged + (alarm.state != "acknowledged"),
        )
    tanks["dry-1"] = replace(tanks["dry-1"], out_of_service=True)
    rectifiers = tuple(
        replace(
            each,
            findings=("ripple 18.1 %, at this output 4.2 % is usual: as one phase lost",),
            attention=45.0,
            health=(
                ("ripple", "6 pulses, learned at 5 outputs; rms/dc"),
                ("cell", "V = 1.20 V + 0.62 V per A/dm2 at 55 degC, 48 loads, ± 0.05 V"),
                ("cooling", "rises 31 K at rated current, 4 min late, ± 1.6 K"),
                ("efficiency", "no input power is read"),
            ),
        )
        if each.feeds == ("strike-1",)
        else each
        for each in well.rectifiers
    )
    down = replace(
        well.links[1],
        state="not connected",
        reason="no answer since 11:58:07",
        response_ms=None,
        failures={"timeout": 12, "bad crc": 1},
        last_failure="no answer within 0.4 s while reading register 100",
        last_bytes="02 03 04 11 5c",
        units_silent=("7", "9"),
    )
    return replace(
        well,
        tanks=tuple(tanks.values()),
        rectifiers=rectifiers,
        alarms=alarms,
        links=(well.links[0], down, well.links[2]),
        rinses=(RINSE,),
        levels=(LEVEL,),
        checks=(
            CheckPicture(
                subject="nickel-1",
                item="bags",
                found="one torn at the far end",
                is_bad=True,
                who="MK",
                utc_ns=now - 1200 * S,
            ),
        ),
    )


def _alarms(now: int) -> tuple[AlarmPicture, ...]:
    rows = (
        ("nickel-1", "temperature", "low", "unacknowledged", "high", 54.2, 58.0, "degC"),
        ("soak-1", "level", "high-high", "unacknowledged", "highest", 941, 920, "mm"),
        ("nickel-2", "temperature", "bad-quality", "acknowledged", "medium", None, None, ""),
        ("strike-1", "current", "bad-quality", "returned", "medium", None, None, ""),
        ("chromium-1", "level", "bad-quality", "latched-unacknowledged", "low", None, None, ""),
        ("acid-1", "temperature", "rate", "latched", "low", 24.0, 1.0, "degC"),
        ("rinse-1", "conductivity", "high", "shelved", "low", 310, 300, "uS/cm"),
        ("eclean-1", "current", "low", "suppressed", "medium", 0.0, 400, "A"),
        ("dry-1", "temperature", "low", "out-of-service", "medium", 60.0, 70.0, "degC"),
    )
    return tuple(
        AlarmPicture(
            id=f"{subject}.{kind}.{condition}",
            tag=f"{subject}.{kind}",
            subject=subject,
            kind=condition,
            state=state,
            priority=priority,
            text=f"{kind} {'unreadable' if condition == 'bad-quality' else condition}",
            since_utc_ns=now - (40 + 300 * index) * S,
            value=value,
            limit=limit,
            unit=unit,
            acknowledged_by="MK" if state in {"acknowledged", "latched"} else "",
            until_utc_ns=now + 1800 * S if state == "shelved" else None,
            why={
                "shelved": "probe is being cleaned",
                "suppressed": "no load in the tank",
                "out-of-service": "heater is being replaced",
            }.get(state, ""),
            cause="heater failed, thermostat stuck, or a cold load",
            consequence="dull, brittle deposit; the load may have to be stripped",
            action="look at the heater's phase currents; hold the next load",
            respond_within_s=600.0,
            group="link rectifiers" if condition == "bad-quality" else "",
        )
        for index, (subject, kind, condition, state, priority, value, limit, unit)
        in enumerate(rows)
    )  # fmt: skip


def event(number: int, text: str, *, kind: EventKind = EventKind.NOTE, **values) -> StoredEvent:
    """Return a stored event, a second after noon for each number, or at `after_s`."""
    after_s = int(values.pop("after_s", number))
    return StoredEvent(
        number=number,
        run_id="r1",
        event=Event(
            kind=kind,
            subject=str(values.pop("subject", "invented")),
            utc_ns=NOON + after_s * S,
            mono_ns=number * S,
            text=text,
            values=values,
        ),
    )


FOUND = (71.0, 70.2, 69.5, 70.4, 70.9, 69.8, 70.1, 70.6, 69.9, 70.3, 66.0)
"""Nickel in the nickel bath [g/L], day by day; the last one is out of all that was usual."""


def analysis(number: int, value: float, *, days_ago: float) -> StoredEvent:
    """Return the event of an analysis of the nickel bath, some days ago."""
    told = event(
        number,
        f"nickel {value:g} g/L",
        kind=EventKind.ANALYSIS,
        subject="nickel",
        after_s=-int(days_ago * 86400),
        what="analysed",
        substance="nickel",
        value=value,
        unit="g/L",
        who="LB",
        method="EDTA",
        low=65.0,
        high=75.0,
    )
    values = {**told.event.values, "number": number}
    return replace(told, event=replace(told.event, values=values))


def nickel_found() -> list[StoredEvent]:
    """Return the analyses of the nickel bath, one a day."""
    count = len(FOUND)
    return [
        analysis(number, value, days_ago=count - number + 0.5)
        for number, value in enumerate(FOUND, start=1)
    ]


@dataclass
class InventedDesk:
    """A desk that serves what it was given, and keeps what it was asked."""

    shown: LinePicture | None
    is_alive: bool = True
    events: list[StoredEvent] = field(default_factory=list)
    refusals: dict[int, str] = field(default_factory=dict)
    requests: list[AnyCommand] = field(default_factory=list)
    past: list[StoredEvent] = field(default_factory=list)
    """What happened long ago, which nobody has in mind any more."""
    asked: list[str] = field(default_factory=list)
    threads: set[str] = field(default_factory=set)

    def picture(self) -> LinePicture | None:
        return self.shown

    def alive(self) -> bool:
        self._from("alive")
        return self.is_alive

    def news(self) -> int:
        return len(self.events) + 1000 * len(self.requests)

    def changes(self, since: int, limit: int = 1000) -> Sequence[StoredEvent]:
        self._from("changes")
        return [each for each in self.events if each.number > since][:limit]

    def latest(self, limit: int = 200) -> Sequence[StoredEvent]:
        self._from("latest")
        return self.events[-limit:]

    def happened(self, subjects, span, limit: int = 2000, kinds=()) -> Sequence[StoredEvent]:
        self._from("happened")
        found = [
            each
            for each in self.past
            if each.event.subject in subjects
            and span[0] <= each.event.utc_ns <= span[1]
            and (not kinds or each.event.kind in kinds)
        ]
        return found[-limit:]

    def loads(self, span, limit: int = 2000) -> Sequence[StoredEvent]:
        self._from("loads")
        found = [each for each in self.past if each.event.subject.startswith("load/")]
        return [each for each in found if span[0] <= each.event.utc_ns <= span[1]][-limit:]

    def sealed(self) -> Sealed:
        self._from("sealed")
        return Sealed(acts=17, seal="0123456789abcdef" * 4)

    def series(self, tag: str, start_utc_ns: int, end_utc_ns: int, width: int) -> Series:
        """Return a slow wave with a gap of a tenth of the span in its middle."""
        self._from("series")
        if "nowhere" in tag:
            raise KeyError(tag)
        starts = np.linspace(start_utc_ns, end_utc_ns, width, endpoint=False).astype(np.int64)
        middle = 60.0 + 3.0 * np.sin(np.arange(width) / max(width, 1) * 12.0)
        middle[int(width * 0.45) : int(width * 0.55)] = np.nan
        step = (end_utc_ns - start_utc_ns) / max(width, 1) / S
        return Series(
            tag=tag,
            start_utc_ns=starts,
            low=middle - 0.4,
            mean=middle,
            high=middle + 0.4,
            good_s=np.where(np.isnan(middle), 0.0, step),
        )

    def raw(self, tag: str, _start_utc_ns: int, _end_utc_ns: int):
        raise KeyError(tag)

    def request(self, command: AnyCommand) -> int:
        self._from("request")
        self.requests.append(command)
        return len(self.requests)

    def outcome(self, number: int) -> Outcome:
        self._from("outcome")
        refused = self.refusals.get(number, "")
        return Outcome(number=number, done=not refused, refused=refused)

    def _from(self, asked: str) -> None:
        self.asked.append(asked)
        self.threads.add(threading.current_thread().name)


def stay(number: int, load: str, tank: str, *, minutes_ago: float, **values) -> StoredEvent:
    """Return the event of a load's stay of nine minutes in a tank, over some minutes ago."""
    out_ns = NOON - int(minutes_ago * 60) * S
    told = {
        "what": "stay",
        "load": load,
        "trip": 1,
        "by": "number",
        "part": "Tap body",
        "tank": tank,
        "tank_name": f"{tank} (invented)",
        "in_utc_ns": out_ns - 540 * S,
        "out_utc_ns": out_ns,
        "dwell_s": 540.0,
        "shortest_s": 300.0,
        "longest_s": 900.0,
        "fingerprint": "f" * 64,
        **values,
    }
    return event(
        number,
        f"left {tank}",
        kind=EventKind.LOAD,
        subject=f"load/{load}",
        after_s=-int(minutes_ago * 60),
        **told,
    )


def nickel_stay(number: int, load: str, *, minutes_ago: float, **values) -> StoredEvent:
    """Return the event of a stay in nickel, with what it received."""
    received = {
        "bath": "nickel",
        "deposit": "Ni",
        "charge_ah": 120.5,
        "charge_pm_ah": 1.2,
        "efficiency": 0.95,
        "equivalent_g_per_ah": 1.0949,
        "density_g_per_cm3": 8.9,
        "mass_g": 125.34,
        "area_dm2": 250.0,
        "area_from": "its card",
        "thickness_um": 5.63,
        "thickness_pm_um": 0.11,
        "temperature_low_degc": 59.5,
        "temperature_mean_degc": 60.2,
        "temperature_high_degc": 61.0,
        "layer_target_um": 5.0,
    }
    return stay(number, load, "nickel-1", minutes_ago=minutes_ago, **(received | values))
