"""A load's record is what the readings give: fed again they give it, and a change is found."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing

import pytest

from linewatch import history
from linewatch.core.commands import DecideLoad, LoadCard
from linewatch.core.line.loads import loads_of
from linewatch.core.loads.record import load_record, newest_trips, subject
from linewatch.history import rerun
from linewatch.history.places import places
from tests.history.plated_line import LiveLine, Plant, plan

LINE = "plated"


def plan_of(_fingerprint: str):
    return plan()


@pytest.fixture
def store(tmp_path):
    """Return a store with some loads, a card and a decision."""
    journal = history.open_journal(tmp_path, LINE)
    desk = history.open_desk(tmp_path, LINE)
    live = LiveLine(journal, plan(), Plant())
    live.begin("run-1")
    live.run(2500.0)
    number = loads_of(live.line).stays["nickel"].trip
    live.ask(desk, LoadCard(who="mk", load=number, part="Tap body", area_dm2=420.0))
    live.ask(desk, DecideLoad(who="mk", load=number, decision="held", why="dull"))
    live.run(1200.0)
    journal.close()
    desk.close()
    return tmp_path


def told(store):
    with closing(history.open_desk(store, LINE)) as desk:
        return [each.event for each in desk.loads((0, 2**62), 10_000)]


def test_feeding_the_readings_again_gives_every_loads_record(store):
    recorded = told(store)
    again = rerun.replay(store, LINE, plan_of).events

    loads = newest_trips(recorded, 100)
    assert len(loads) >= 3
    for number, trip in loads:
        record = load_record(number, recorded, trip)
        assert load_record(number, again, trip) == record
    decided = [
        each for each in (load_record(n, recorded, t) for n, t in loads) if each.decision
    ]
    assert [each.decision for each in decided] == ["held"]
    assert any(
        stay.mass_g
        for number, trip in loads
        for stay in load_record(number, recorded, trip).stays
    )
    assert rerun.verify(store, LINE, plan_of).holds


@pytest.mark.parametrize("figure", ["charge_ah", "thickness_um", "dwell_s", "tank_name"])
def test_a_figure_of_a_load_that_was_changed_in_the_record_is_found(store, figure):
    with closing(sqlite3.connect(places(store, LINE).journal)) as database, database:
        rows = database.execute(
            "SELECT number, parts FROM events WHERE kind = 'load' AND subject LIKE ?",
            (subject("%"),),
        ).fetchall()
        number, parts = next(
            (number, json.loads(parts))
            for number, parts in rows
            if json.loads(parts).get(figure) is not None
        )
        parts[figure] = "another" if figure == "tank_name" else parts[figure] * 1.001
        database.execute(
            "UPDATE events SET parts = ? WHERE number = ?", (json.dumps(parts), number)
        )

    verdict = rerun.verify(store, LINE, plan_of)

    assert not verdict.holds
    assert any("event" in fault for fault in verdict.faults), verdict.faults
