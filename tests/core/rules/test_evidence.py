"""The figure of an alarm and the limit beside it are of one quantity, or say what they are."""

import pytest

from linewatch.core.line.alarms_seen import _evidence
from linewatch.core.plan import ConditionPlan, Window
from linewatch.core.rules.library import BY_NAME
from linewatch.core.rules.rule import LOOK_S, Seen

UNIT = {"rated_a": 200.0, "rated_v": 12.0, "since_s": 300.0, "work": True}
COLD = {"temperature": Window(low=57.0, high=63.0, target=60.0)}
PRESSED = {"draught": Window(low=200.0), "draught.pad": Window(low=50.0)}
OXIDISED = {"orp": Window(low=200.0, high=450.0), "ph": Window(low=10.0)}
RINSED = {"conductivity": Window(high=1300.0)}
DEEP = {"level": Window(low=850.0), **COLD}
BAKED = {"temperature": Window(low=190.0)}
OPEN = {"current": 1.0, "voltage": 12.0}
FAN = {"draught": 60.0, "running": 1.0, "motor-current": 4.0}
PAD = {"draught": 300.0, "draught.pad": 20.0}

CASES = [
    # (rule, values of each look, windows, more, evidence as it is told)
    ("open-circuit", [OPEN], {}, UNIT, "0.5 % (less than 2 is none)"),
    ("polarity", [{"current": 90.0, "voltage": -3.2}], {}, UNIT, "3.2 V (limit 0.3)"),
    ("oxidation-fails", [{"orp": 20.0}], OXIDISED, {}, "180 mV (limit 150)"),
    ("extraction-lost", [FAN], PRESSED, {}, "30 % (less than 50, or the fan stands)"),
    ("pad-torn", [PAD], PRESSED, {}, "40 % (limit 80)"),
    (
        "wrong-liquid",
        [{"conductivity": 400.0}, {"conductivity": 7000.0}],
        RINSED,
        {},
        "5.08 times (limit 1)",
    ),
    ("slug", [{"ph": 9.0}, {"ph": 5.5}], {}, {}, "3.5 pH (limit 1)"),
    ("glass-broken", [{"ph": 7.01}] * 6, {}, {}, "0 pH (less than 0.15)"),
    (
        "heater-uncovered",
        [{"level": 780.0, "temperature": 60.0}],
        DEEP,
        {},
        "70 mm (its outer limit counts; where none is set, 50)",
    ),
    (
        "soak-broken",
        [{"temperature": 200.0}] * 22 + [{"temperature": 180.0}],
        BAKED,
        {"work": True},
        "10 K (limit 2)",
    ),
    (
        "heat-lost",
        [{"temperature": 58.0}] * 30 + [{"temperature": 56.0}],
        COLD,
        {},
        "8 K/h (limit 1.2)",
    ),
]


@pytest.mark.parametrize(
    ("name", "looks", "windows", "more", "said"), CASES, ids=[each[0] for each in CASES]
)
def test_figure_and_limit_are_of_one_quantity(name, looks, windows, more, said):
    rule, kept, told = BY_NAME[name], (), None
    for k, values in enumerate(looks):
        seen = Seen(now_s=LOOK_S * k, value=values, window=windows, limit=rule.limit, **more)
        told, kept = rule.judge(seen, kept)
    assert told.is_there

    alarm = ConditionPlan(
        id=f"x.{name}",
        tag=f"x.{name}",
        kind="found",
        evidence=rule.evidence,
        evidence_unit=rule.unit,
    )
    assert _evidence(alarm, told.value, rule.limit).endswith(said)


def test_every_limit_that_says_what_it_is_has_a_place_for_its_figure_or_none():
    for rule in BY_NAME.values():
        assert rule.limit_says == "" or "{}" in rule.limit_says
