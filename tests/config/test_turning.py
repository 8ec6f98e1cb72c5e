"""How a barrel turns by design decides what its speed and its current are watched for."""

from linewatch.config import read, read_text
from linewatch.config.library import shipped

DEMO = read(shipped() / "demo.toml")
UNIT = "rectifier-barrel-electroclean"
TURNING = 'turning = { speed = "6 1/min" }  # its drive tells no speed: the current must\n'


def plan_of(text: str):
    return read_text(text, "line.toml").plan


def conditions(plan) -> dict:
    return {each.id: each for each in plan.conditions}


def test_a_rhythm_is_watched_in_the_current_only_where_no_speed_is_read():
    found = conditions(DEMO.plan)

    assert f"{UNIT}.rhythm-lost" in found
    assert "rectifier-zinc-1.rhythm-lost" not in found
    assert {f"{UNIT}.contact-wears", "rectifier-zinc-1.contact-wears"} <= set(found)
    assert "rectifier-nickel-1.contact-wears" not in found


def test_without_a_speed_and_without_a_design_nothing_is_taken_for_a_barrel():
    assert TURNING in DEMO.text
    found = conditions(plan_of(DEMO.text.replace(TURNING, "")))

    assert f"{UNIT}.rhythm-lost" not in found
    assert f"{UNIT}.contact-wears" not in found


def test_a_barrel_that_rests_by_design_is_late_by_its_rest_before_its_speed_counts_as_low():
    place = 'id = "zinc-1"\nname = "Zinc 1"\n'
    assert place in DEMO.text
    rests = place + 'turning = { speed = "6 1/min", rest = "90 s" }\n'
    plan = plan_of(DEMO.text.replace(place, rests))
    usual, found = conditions(DEMO.plan), conditions(plan)

    low, other = "zinc-1.speed.low", "zinc-2.speed.low"
    assert found[low].on_delay_ns - usual[low].on_delay_ns == 90 * 10**9
    assert found[other].on_delay_ns == usual[other].on_delay_ns
    design = next(tank.turning for tank in plan.tanks if tank.id == "zinc-1")
    assert (design.speed_per_min, design.rest_s) == (6.0, 90.0)


def test_a_speed_needs_its_unit(faults):
    told = faults(lambda document: document["tank"][0].update(turning={"speed": 6}))

    assert any("turning.speed" in each and "no unit" in each for each in told)
