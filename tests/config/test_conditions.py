"""What is watched unless said otherwise, and what an [[alarm]] changes."""

from collections import Counter
from typing import get_args

import pytest

from linewatch.config import read, read_text
from linewatch.config.advice import advice
from linewatch.config.library import shipped
from linewatch.config.model import Suppression
from linewatch.core.line.positions import SUPPRESSIONS
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.plan import TANK_KINDS

NS = 1_000_000_000


@pytest.fixture
def conditions(changed):
    def make(*changes):
        plan = read_text(changed(*changes), "line.toml").plan
        return {condition.id: condition for condition in plan.conditions}

    return make


def alarm(**keys: object):
    def change(document):
        document["tank"][0]["alarm"] = [keys]

    return change


def test_every_limit_of_a_window_is_a_condition(conditions):
    found = conditions()

    assert {name for name in found if name.startswith("nickel-1.temperature")} == {
        "nickel-1.temperature.low-low",
        "nickel-1.temperature.low",
        "nickel-1.temperature.high",
        "nickel-1.temperature.high-high",
        "nickel-1.temperature.bad-quality",
    }
    assert found["nickel-1.temperature.low-low"].limit == 50.0
    assert found["nickel-1.temperature.high-high"].limit == 68.0


def test_every_tag_is_watched_for_bad_values(conditions, changed):
    plan = read_text(changed(), "line.toml").plan

    assert {f"{name}.bad-quality" for name in plan.tags} <= set(conditions())


def test_no_window_means_no_limit_condition(conditions):
    mine = {
        name: each for name, each in conditions().items() if name.startswith("rectifier-1.")
    }
    assert [name for name, each in mine.items() if each.kind != "found"] == [
        "rectifier-1.current.bad-quality",
        "rectifier-1.voltage.bad-quality",
        "rectifier-1.charge-meter.bad-quality",
    ]


def test_an_edge_warns_at_a_lower_priority_than_the_limit_behind_it(conditions):
    found = conditions()

    assert found["nickel-1.level.low-low"].priority == "highest"
    assert found["nickel-1.level.low"].priority == "medium"
    # Nothing stands behind the upper edge: one step less, not two.
    assert advice("plate", "level", "high").priority == "high"
    assert found["nickel-1.level.high"].priority == "medium"


def test_most_of_what_may_be_announced_is_low_and_little_of_it_high():
    """The split of ANSI/ISA-18.2, 80/15/5, speaks of what is announced, not of what is
    configured; so only the order of the shares is held to it, and a bound of our own."""
    plan = read(shipped() / "demo.toml").plan
    shares = Counter(condition.priority for condition in plan.conditions)

    assert shares["low"] > shares["medium"] > shares["high"] > shares["highest"]
    assert shares["high"] + shares["highest"] < 0.2 * len(plan.conditions)


def test_delays_and_deadbands_start_from_the_usual_values(conditions):
    found = conditions()

    # EEMUA 191 as the defaults have it: 5 % of a level's span, 60 s; 2 % for conductivity.
    level = found["nickel-1.level.high"]
    assert level.deadband == pytest.approx(0.05 * (900 - 800))
    assert (level.on_delay_ns, level.off_delay_ns) == (60 * NS, 60 * NS)
    # A window with one side has no span: its limit stands in, not the plausible range.
    assert found["rinse-1.conductivity.high"].deadband == pytest.approx(0.02 * 500)
    # 1 % of ten degrees is less than a thermometer shows twice.
    assert found["nickel-1.temperature.high"].deadband == pytest.approx(0.2)
    assert found["nickel-1.temperature.bad-quality"].deadband == 0.0


def test_what_an_alarm_says_replaces_the_usual_and_nothing_else(conditions):
    usual = conditions(alarm(when="low", of="temperature"))["nickel-1.temperature.low"]
    said = conditions(
        alarm(
            when="low",
            of="temperature",
            limit="56 degC",
            deadband="0.8 K",
            on_delay="10 min",
            priority="highest",
            latch=True,
            action="call us",
        )
    )["nickel-1.temperature.low"]

    assert (said.limit, said.deadband, said.on_delay_ns) == (56.0, 0.8, 600 * NS)
    assert (said.priority, said.latch, said.action) == ("highest", True, "call us")
    assert (said.cause, said.off_delay_ns) == (usual.cause, usual.off_delay_ns)


def test_an_alarm_may_be_switched_off(conditions):
    assert "nickel-1.temperature.low" not in conditions(
        alarm(when="low", of="temperature", off=True)
    )


def test_an_alarm_may_add_what_is_not_usual(conditions):
    found = conditions(alarm(when="rate", of="temperature", limit="2 K"))

    assert found["nickel-1.temperature.rate"].limit == 2.0
    assert found["nickel-1.temperature.low"].limit == 55.0


@pytest.mark.parametrize(
    ("name", "states"),
    [
        ("nickel-1.temperature.low", {"heating-up", "line-rests"}),
        ("rectifier-1.current.low", {"no-load", "line-rests"}),
        ("rectifier-1.voltage.low", {"no-load", "no-current", "line-rests"}),
        # Rows about heaters, leaks and extraction say: never.
        ("nickel-1.level.low-low", set()),
        ("nickel-1.temperature.high-high", set()),
        ("nickel-1.temperature.bad-quality", set()),
    ],
)
def test_what_is_expected_of_the_lines_state_is_no_news(conditions, name, states):
    def window(document):
        document["rectifier"][0]["window"] = {
            "current": {"low": "100 A"},
            "voltage": {"low": "2 V"},
        }

    assert set(conditions(window)[name].suppress_when) == states


def test_every_suppression_is_one_that_the_line_knows():
    assert set(get_args(Suppression)) == set(SUPPRESSIONS)


def test_the_configuration_decides_about_suppression(conditions):
    found = conditions(alarm(when="low", of="temperature", suppress_when=[]))

    assert found["nickel-1.temperature.low"].suppress_when == ()


def test_a_load_that_stays_too_long_is_watched_where_loads_are_seen(conditions):
    def seen(document):
        document["device"][1]["tag"].append(
            {"measures": "nickel-1.load-present", "read": {"table": "discrete", "address": 0}}
        )

    assert conditions(seen)["nickel-1.load-present.overdue"].limit == 2400.0
    assert "nickel-1.load-present.overdue" not in conditions()


@pytest.mark.parametrize(
    ("kind", "measures", "abnormal"), [("treat", "fault", 1.0), ("extract", "running", 0.0)]
)
def test_fault_contacts_and_stopped_fans_are_watched(conditions, kind, measures, abnormal):
    def add(document):
        document["tank"].append({"id": "x", "name": "X", "kind": kind})
        document["device"][1]["tag"].append(
            {"measures": f"x.{measures}", "read": {"table": "coil", "address": 7}}
        )

    found = conditions(add)[f"x.{measures}.discrete"]

    assert found.limit == abnormal
    assert found.suppress_when == ()


def test_nothing_of_the_treatment_is_ever_suppressed(conditions):
    def add(document):
        document["tank"].append(
            {
                "id": "x",
                "name": "X",
                "kind": "treat",
                "window": {kind: {"low": limit} for kind, limit in LOWS.items()},
            }
        )
        for number, kind in enumerate(LOWS):
            document["device"][1]["tag"].append(
                {"measures": f"x.{kind}", "read": {"address": 50 + number, "type": "int16"}}
            )

    found = conditions(add)

    assert all(found[f"x.{kind}.low"].suppress_when == () for kind in LOWS)


LOWS = {"ph": "10 pH", "temperature": "15 degC", "flow": "5 L/min"}


@pytest.mark.parametrize("position", [*TANK_KINDS, "rectifier", "line"])
def test_every_alarm_of_every_position_has_something_to_say_of_bad_values(position):
    for kind in MEASUREMENTS:
        said = advice(position, kind, "bad-quality")
        assert said.cause
        assert said.consequence
        assert said.action


def test_advice_goes_from_the_particular_to_the_general():
    assert advice("bake", "temperature", "low") != advice("plate", "temperature", "low")
    assert advice("strike", "temperature", "low") == advice("plate", "temperature", "low")
    assert advice("load", "temperature", "low") == advice("seal", "temperature", "low")


def test_a_sign_has_an_alarm_wherever_its_signals_are_read_and_nowhere_else():
    plan = read(shipped() / "demo.toml").plan
    found = {each.id for each in plan.conditions if each.kind == "found"}

    assert "rectifier-copper-3.off-set-point" in found
    assert "soak-clean-2.heater-weak" in found
    assert "nickel-4.pump-trembles" in found
    assert "neutralise.ph-swings" in found
    # A barrel that turns makes its current move.
    assert "rectifier-zinc-1.stray-current" in found
    assert "rectifier-zinc-1.hunting" not in found
    # No heater's current is read there.
    assert "nickel-1.heater-weak" not in found


def test_an_unreadable_temperature_waits_less_where_the_position_is_heated():
    plan = read(shipped() / "demo.toml").plan
    found = {each.id: each for each in plan.conditions}

    for name in ("nickel-1", "chromium", "hot-rinse", "bake-oven"):
        warm = found[f"{name}.temperature.bad-quality"]
        assert warm.priority == "medium"
        assert "heater" in warm.consequence
        assert warm.respond_within_s == 300.0
    windows = {tag.id: tag.window for tag in plan.tags.values()}
    unheated = [
        each
        for each in plan.conditions
        if each.kind == "bad-quality"
        and each.tag.endswith(".temperature")
        and (windows[each.tag].target or windows[each.tag].low or 0.0) < 35.0
        and each.tag.partition(".")[0]
        not in {tank.id for tank in plan.tanks if tank.kind in {"treat", "extract", "supply"}}
    ]
    assert unheated
    assert {each.priority for each in unheated} == {"low"}
