"""The rule library: rows that can be believed, functions that keep what they may."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.core.plan import Window
from linewatch.core.rules.current import short, volts_high
from linewatch.core.rules.gauges import habit, slope
from linewatch.core.rules.heat import probe_out
from linewatch.core.rules.library import BY_NAME, RULES, missing, unfit
from linewatch.core.rules.liquid import level_still
from linewatch.core.rules.rule import INTERLOCK, LOOK_S, Seen
from linewatch.core.rules.treatment import cyanide_acid

SAFETY = {
    "probe-out",
    "heater-uncovered",
    "short",
    "cyanide-acid",
    "cyanide-jumps",
    "cyanide-turns-acid",
    "extraction-lost",
}
WINDOW = Window(low=55.0, high=65.0, target=60.0)
NUMBERS = st.none() | st.floats(-1e5, 1e5)


def test_a_name_is_never_given_twice():
    assert len(BY_NAME) == len(RULES)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_says_cause_consequence_checks_and_evidence(rule):
    for text in (rule.title, rule.cause, rule.consequence, rule.action, rule.evidence):
        assert len(text) > 10
    assert rule.respond_within_s > 0.0
    assert rule.looks >= 1


def test_what_endangers_people_is_never_quiet_and_names_the_interlock():
    assert {rule.name for rule in RULES if rule.is_safety} == SAFETY
    for rule in (each for each in RULES if each.is_safety):
        assert rule.suppress_when == ()
        assert rule.priority == "highest"
        assert INTERLOCK in rule.full_action()


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_no_signals_break_a_rule_and_what_it_keeps_can_be_written_down(rule, data):
    kept = ()
    for k in range(data.draw(st.integers(1, 12))):
        seen = Seen(
            now_s=LOOK_S * (k + 1),
            value={kind: data.draw(NUMBERS) for kind in (*rule.needs, "running")},
            window=dict.fromkeys(rule.needs, WINDOW),
            work=data.draw(st.sampled_from((None, False, True))),
            since_s=data.draw(st.floats(0.0, 1e5)),
            spread=data.draw(st.none() | st.floats(0.0, 2.0)),
            rated_a=1000.0,
            rated_v=12.0,
            limit=rule.limit,
        )
        told, kept = rule.judge(seen, kept)
        assert told is None or math.isfinite(told.value)
        assert tuple(json.loads(json.dumps(kept))) == kept


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rule_without_any_good_value_tells_nothing(rule):
    seen = Seen(
        value=dict.fromkeys((*rule.needs, "running")),
        window=dict.fromkeys(rule.needs, WINDOW),
        work=True,
        limit=rule.limit,
    )
    assert rule.judge(seen, ())[0] is None


def test_a_rule_watches_only_where_its_signals_are_read():
    rule = BY_NAME["heater-uncovered"]
    warm = {"temperature": WINDOW}

    assert missing(rule, "plate", warm, frozenset()) == ("level",)
    assert missing(rule, "plate", warm | {"level": Window(low=800.0)}, frozenset()) == ()
    assert missing(rule, "rinse", warm, frozenset()) is None


def test_a_slope_is_told_once_a_span():
    kept, found = (), []
    for k in range(61):
        told, kept = slope(30.0 * k, 60.0 - 0.01 * k, kept, 900.0)
        if told is not None:
            found.append(told)
    # 0.01 K in 30 s is 1.2 K in an hour.
    assert found == pytest.approx([-1.2, -1.2])


def test_a_habit_is_the_mean_until_it_forgets():
    kept = ()
    for value in (1.0, 2.0, 3.0):
        kept = habit(value, kept, 10)
    assert kept == pytest.approx((3.0, 2.0))


def test_a_probe_that_falls_faster_than_a_bath_is_found_and_forgotten_when_it_is_back():
    kept, found = (), []
    for k, degc in enumerate((65.0, 65.0, 61.0, 52.0, 40.0, 31.0, 31.0, 64.0)):
        told, kept = probe_out(
            Seen(now_s=30.0 * k, value={"temperature": degc}, limit=5.0), kept
        )
        found.append(told.is_there)
    assert found == [False, False, False, True, True, True, True, False]


def test_a_cold_load_is_no_probe_out_of_the_liquid():
    kept = ()
    for k, degc in enumerate((65.0, 64.2, 63.9, 63.7, 63.9, 64.4)):
        told, kept = probe_out(
            Seen(now_s=30.0 * k, value={"temperature": degc}, limit=5.0), kept
        )
        assert not told.is_there


def test_a_short_is_a_collapse_of_what_the_cell_usually_resists():
    kept = ()
    for _ in range(20):
        seen = Seen(
            value={"current": 1000.0, "voltage": 5.0},
            work=True,
            since_s=200.0,
            rated_a=1200.0,
            limit=45.0,
        )
        _, kept = short(seen, kept)
    seen.value = {"current": 1000.0, "voltage": 4.0}
    assert not short(seen, kept)[0].is_there
    seen.value = {"current": 1000.0, "voltage": 1.0}
    assert short(seen, kept)[0].is_there


@pytest.mark.parametrize("judge", [short, volts_high])
def test_looks_that_fall_on_the_end_of_each_program_teach_no_wrong_habit(judge):
    """A chromium program as it was met: 3600 A at 5.2 V, at 177 s on its way down."""
    kept, limit = (), 45.0 if judge is short else 1.3
    for load in range(60):
        for since_s, current, voltage in (
            (57.0, 3600.0, 5.22),
            (117.0, 3600.0, 5.21),
            (147.0, 3600.0, 5.2),
            (177.0, 734.0, 3.05),
        ):
            seen = Seen(
                now_s=300.0 * load + since_s,
                value={"current": current, "voltage": voltage},
                work=True,
                since_s=since_s,
                rated_a=6000.0,
                limit=limit,
            )
            told, kept = judge(seen, kept)
            assert told is None or not told.is_there

    assert kept[1] == pytest.approx(5.2 / 3600 if judge is short else 5.2, rel=0.01)


@pytest.mark.parametrize(
    ("looks", "is_there"),
    [((10.6, 10.5, 10.6), False), ((10.6, 10.3, 10.05), True), ((10.5, 9.9), True)],
)
def test_acid_in_cyanide_is_a_low_ph_or_half_a_unit_lost_in_five_minutes(looks, is_there):
    kept = ()
    for ph in looks:
        seen = Seen(value={"ph": ph, "orp": 350.0}, window={"ph": Window(low=10.0)}, limit=10.0)
        told, kept = cyanide_acid(seen, kept)
    assert told.is_there == is_there


def looks_at_dips(in_for_s, level_moves):
    """Return whether a level probe is told of, looked at so long after each load came in."""
    kept, told = (), None
    for k in range(40):
        level = 900.0 + 4.0 * (k % 2 and level_moves)
        seen = Seen(
            now_s=LOOK_S * k,
            value={"level": level},
            window={"level": Window(low=850.0)},
            work=bool(k % 2),
            since_s=in_for_s,
            limit=1.0,
        )
        told, kept = level_still(seen, kept)
    return told is not None and told.is_there


def test_a_dip_too_short_to_be_read_speaks_against_no_level_probe():
    assert not looks_at_dips(3.0, level_moves=False)
    assert looks_at_dips(20.0, level_moves=False)
    assert not looks_at_dips(20.0, level_moves=True)


def test_a_rule_that_asks_for_a_kind_of_position_says_which_and_why_it_is_none():
    for rule in RULES:
        assert (rule.fits is None) == (rule.fits_says == "")
    warms, hot = BY_NAME["warms-itself"], {"temperature": Window(low=55.0, high=65.0)}
    none = frozenset()
    assert missing(warms, "plate", hot, none) is None
    assert "not heated" in unfit(warms, hot, none, holds_cyanide=False)
    cool = {"temperature": Window(low=20.0, high=30.0)}
    assert unfit(warms, cool, none, holds_cyanide=False) == ""
    jumps = BY_NAME["cyanide-jumps"]
    assert "no cyanide" in unfit(jumps, {}, none, holds_cyanide=False)
    assert unfit(jumps, {}, none, holds_cyanide=True) == ""
    turns = frozenset({"load-present", "speed"})
    assert "speed is read" in unfit(BY_NAME["set-high"], {}, turns, holds_cyanide=False)
