"""kill -9 at random moments: nothing shown as stored is missing, nothing is doubled."""

from __future__ import annotations

import json
import random
import sqlite3
from contextlib import closing

from linewatch.history import rerun
from linewatch.history.places import places
from tests.history.inspect_record import look
from tests.history.killing import PLATED, killed_once
from tests.history.plated_line import plan

KILLS = 10


def test_a_record_survives_being_killed_again_and_again(tmp_path):
    chance = random.Random(20260225)  # noqa: S311 - chance, no secret
    shown = before = 0
    for _ in range(KILLS):
        last, notes = killed_once(tmp_path, chance)
        found = look(tmp_path)

        assert found.faults == ()
        shown = max(shown, last)
        assert found.last >= shown, "a total went back"
        assert found.notes >= notes, "what a person did was lost"
        assert found.last >= before
        before = found.last
    assert before > 3 * KILLS


def test_hours_that_were_being_archived_survive_too(tmp_path):
    # Each batch is half an hour of line time, so that hours are closed all the while.
    chance = random.Random(7)  # noqa: S311 - chance, no secret
    for _ in range(4):
        last, _ = killed_once(tmp_path, chance, blocks=1800)
        found = look(tmp_path)

        assert found.faults == ()
        assert found.last >= last


def test_what_a_killed_line_recorded_replays_to_its_stored_totals(tmp_path):
    chance = random.Random(11)  # noqa: S311 - chance, no secret
    for _ in range(4):
        charge, actions = killed_once(tmp_path, chance, script=PLATED)

        verdict = rerun.verify(tmp_path, "plated", lambda _: plan())

        assert verdict.faults == []
        assert verdict.people >= actions
        assert stored_charge(tmp_path) >= charge, "a total went back"


def stored_charge(store) -> int:
    with closing(sqlite3.connect(places(store, "plated").journal)) as database:
        row = database.execute("SELECT parts FROM totals WHERE subject = 'r2'").fetchone()
    return json.loads(row[0])["cathodic_uas"]
