"""A position, a quantity, a cell or a trouble is one row more in a table."""

from dataclasses import replace

import pytest

from linewatch_sim import lines
from linewatch_sim.lines.first import FIRST
from linewatch_sim.lines.first_troubles import FIRST_TROUBLES
from linewatch_sim.plant import Plant
from linewatch_sim.registers import memories
from linewatch_sim.rows import RegisterRow, StopRow, TankRow
from linewatch_sim.troubles import Trouble, knob
from linewatch_sim.values import Values
from linewatch_sim.works import Works

WARM_RINSE = TankRow(
    id="warm-rinse",
    volume_l=1000.0,
    surface_m2=1.1,
    set_degc=40.0,
    heater_kw=9.0,
    start_degc=40.0,
)


def test_a_tank_row_is_a_tank_with_heat_level_and_conductivity() -> None:
    works = Works(replace(FIRST, tanks=(*FIRST.tanks, WARM_RINSE)), seed=1)
    values = Values(works)
    works.advance_to(600.0, coarsely=True)
    assert values.getter("warm-rinse.temperature")() == pytest.approx(40.0, abs=1.5)
    assert values.getter("warm-rinse.level")() == pytest.approx(900.0, abs=10.0)
    assert values.getter("warm-rinse.conductivity")() > 0.0


def test_a_stop_row_sends_every_load_there() -> None:
    track = FIRST.tracks[0]
    after = max(stop.enters_s + stop.dwell_s for stop in track.stops) + 20.0
    longer = replace(
        track, stops=(*track.stops, StopRow(tank="warm-rinse", enters_s=after, dwell_s=60.0))
    )
    works = Works(replace(FIRST, tanks=(*FIRST.tanks, WARM_RINSE), tracks=(longer,)), seed=1)
    works.advance_to(1800.0, coarsely=True)
    assert sum(visit.tank == "warm-rinse" for visit in works.visits) >= 2


def test_a_register_row_is_a_value_on_the_wire() -> None:
    row = RegisterRow(
        link="tank-io",
        unit=9,
        table="holding",
        address=7,
        type="int16",
        scale=0.1,
        what="nickel-1.heater-duty",
    )
    line = replace(FIRST, registers=(*FIRST.registers, row))
    works = Works(line, seed=1)
    values = Values(works)
    shown = memories(line, values)["tank-io"][9].words("holding", 7, 1)
    held = values.getter("nickel-1.heater-duty")()
    assert int.from_bytes(shown, "big") == pytest.approx(10.0 * held, abs=0.5)


async def test_a_trouble_row_can_be_begun_by_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    row = Trouble(
        name="acid-leaks",
        group="level",
        tells="The drain of the acid tank drips.",
        **knob("solutions", "leak_l_per_min", "acid", 0.5),
    )
    monkeypatch.setitem(lines.LINES, "first", (FIRST, (*FIRST_TROUBLES, row)))
    async with Plant("first") as plant:
        await plant.trouble("acid-leaks")
        acid = list(plant.works.solutions.ids).index("acid")
        assert plant.works.solutions.wrong.leak_l_per_min[acid] == 0.5
