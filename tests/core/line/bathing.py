"""An invented line of two nickel tanks in one bath, and what is done to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from linewatch.core.commands import LogAddition, MarkDummy
from linewatch.core.line import Line
from linewatch.core.line.additions import additions_of
from linewatch.core.plan import (
    AdditivePlan,
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
from linewatch.core.ports import Order, RunStart, Tick
from linewatch.core.readings import Layout, Moment, Quality, Readings

NS = 10**9
STEP_S = 10
"""How often the devices are polled."""
UTC_NS = 1_772_000_000 * NS
TAGS = (
    "r-one.current",
    "r-one.charge-meter",
    "r-two.current",
    "one.temperature",
    "one.level",
    "one.ph",
    "one.load-present",
)
USUAL = (100.0, 0.0, 50.0, 60.0, 900.0, 4.2, 1.0)
LAYOUT = Layout(link="bus", device="all", tags=TAGS, period_ns=STEP_S * NS)
WINDOWS = {
    "temperature": Window(low=57.0, high=63.0),
    "level": Window(low=850.0, high=950.0),
    "ph": Window(low=3.9, high=4.5),
}


def tag(name: str) -> TagPlan:
    subject, kind = name.split(".")
    return TagPlan(
        id=name,
        subject=subject,
        kind=kind,
        low=-1e5,
        high=1e7,
        period_ns=STEP_S * NS,
        stale_after_ns=3 * STEP_S * NS,
        window=WINDOWS.get(kind, Window()),
    )


BRIGHTENER = AdditivePlan(
    id="brightener",
    name="Brightener",
    dose_ml_per_kah=200.0,
    least_dose_ml=10.0,
    largest_dose_ml=500.0,
    dummy_ratio=0.5,
)
SALT = AdditivePlan(
    id="salt", name="Nickel salt", dose_ml_per_kah=0.0, measure="g", metal_ratio=0.223
)
ANODES = AdditivePlan(
    id="anodes", name="Anodes", dose_ml_per_kah=1095.0, measure="g", is_anode=True
)
LEVELLER = AdditivePlan(id="leveller", name="Leveller", dose_ml_per_kah=90.0)
BATH = BathPlan(
    id="nickel",
    name="Bright nickel",
    deposit=DepositPlan(
        parts=(("Ni(II)", 1.0),),
        efficiency=EfficiencyPlan(value=0.95, low=0.94, high=0.96),
        anode_efficiency=1.0,
    ),
    volume_l=1000.0,
    metal_g_per_l=75.0,
    drag_out_ml_per_m2=100.0,
    additives=(BRIGHTENER, LEVELLER, SALT, ANODES),
)


def rectifier(name: str, tank: str) -> RectifierPlan:
    return RectifierPlan(
        id=name,
        name=name,
        feeds=((tank, 1.0),),
        rated_current_a=500.0,
        rated_voltage_v=12.0,
        zero_cutoff_a=0.5,
        meter_modulus_ah=1000.0,
        meter_resolution_ah=0.1,
    )


def tank(name: str) -> TankPlan:
    return TankPlan(
        id=name,
        name=f"Nickel {name}",
        kind="plate",
        bath="nickel",
        area_dm2=200.0,
        surface_m2=1.0,
        windows=WINDOWS,
    )


PLAN = LinePlan(
    line_id="invented",
    name="Invented",
    fingerprint="a" * 64,
    layouts=(LAYOUT,),
    tags={name: tag(name) for name in TAGS},
    tanks=(tank("one"), tank("two")),
    rectifiers=(rectifier("r-one", "one"), rectifier("r-two", "two")),
    baths=(BATH,),
    conditions=(
        ConditionPlan(
            id="nickel.brightener.due", tag="nickel.brightener", kind="found", priority="low"
        ),
    ),
)


def with_additives(*additives: AdditivePlan, fingerprint: str = "b" * 64) -> LinePlan:
    """Return the plan with other additives."""
    return replace(PLAN, baths=(replace(BATH, additives=additives),), fingerprint=fingerprint)


class Shop:
    """The line, its clock, and what its devices show."""

    def __init__(self, plan: LinePlan = PLAN, memory=None, at_s: int = 0) -> None:
        self.plan, self.at_s = plan, at_s
        self.line = Line(plan, memory)
        self.shown = dict(zip(TAGS, USUAL, strict=True))
        self.events = list(
            self.line.begin(
                RunStart(run_id="r", at=self.at, fingerprint=plan.fingerprint, speed=1.0)
            )
        )

    @property
    def at(self) -> Moment:
        return Moment(utc_ns=UTC_NS + self.at_s * NS, mono_ns=self.at_s * NS)

    def run(self, seconds: int, **shown: float) -> list:
        """Let so many seconds go by; a None is a value that is not read."""
        self.shown |= {
            name.replace("__", ".").replace("_", "-"): v for name, v in shown.items()
        }
        news = []
        for _ in range(0, seconds, STEP_S):
            value = np.array([np.nan if v is None else v for v in self.shown.values()])
            quality = np.where(np.isnan(value), int(Quality.NO_ANSWER), 0).astype(np.uint8)
            news += self.line.receive(
                Readings(
                    layout=LAYOUT,
                    utc_ns=self.at.utc_ns,
                    mono_ns=self.at.mono_ns,
                    value=value,
                    quality=quality,
                )
            )
            self.at_s += STEP_S
        self.events += news
        return news

    def wait(self, seconds: int) -> list:
        """Let so many seconds go by in silence."""
        self.at_s += seconds
        news = self.line.tick(Tick(at=self.at).at)
        self.events += news
        return news

    def log(self, amount: float, additive: str = "brightener", **said) -> list:
        command = LogAddition(
            who=said.pop("who", "MK"),
            bath="nickel",
            additive=additive,
            amount_ml=amount,
            **said,
        )
        news = self.line.obey(Order(request=1, command=command, at=self.at))
        self.events += news
        return news

    def dummy(self, *, begins: bool, tank: str = "two") -> None:
        command = MarkDummy(who="MK", tank=tank, begins=begins)
        self.line.obey(Order(request=1, command=command, at=self.at))

    @property
    def bath(self):
        return self.line.picture(self.at).baths[0]

    def additive(self, name: str = "brightener"):
        return next(each for each in self.bath.additives if each.id == name)

    def account(self, name: str = "brightener"):
        return additions_of(self.line).accounts[f"nickel/{name}"]
