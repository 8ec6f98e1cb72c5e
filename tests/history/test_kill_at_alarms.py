"""kill -9 while people are at their alarms: no act is lost, none is doubled."""

from __future__ import annotations

import json
import random
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

from linewatch.core.alarms.states import State
from linewatch.core.line.memory import unpack
from linewatch.history import rerun
from linewatch.history.places import places
from tests.history.killing import killed_once
from tests.history.plated_line import plan

ACTING = Path(__file__).with_name("acting_collector.py")
KILLS = 10
ALARM = "nickel.level.low"


def rows(store, sql: str) -> list[tuple]:
    with closing(sqlite3.connect(places(store, "plated").journal)) as database:
        return database.execute(sql).fetchall()


def test_no_act_at_an_alarm_is_lost_or_doubled_by_being_killed(tmp_path):
    chance = random.Random(20261125)  # noqa: S311 - chance, no secret
    for _ in range(KILLS):
        last_act, shelved = killed_once(tmp_path, chance, script=ACTING)

        acts = [json.loads(parts) for (parts,) in rows(tmp_path, "SELECT parts FROM people")]
        answered = {
            number: refused
            for number, refused in rows(tmp_path, "SELECT number, refused FROM requests")
            if refused is not None
        }
        told = Counter(
            json.loads(parts)["what"]
            for (parts,) in rows(tmp_path, "SELECT parts FROM events WHERE kind = 'command'")
        )
        moves = Counter(
            json.loads(parts)["move"]
            for (parts,) in rows(tmp_path, "SELECT parts FROM events WHERE kind = 'alarm'")
        )
        done = Counter(act["command"]["command"] for act in acts if not act.get("refused", ""))

        # As the screen had shown it, or more.
        assert len(acts) >= last_act
        assert done["Shelve"] >= shelved
        # Journal, requests, events and moves tell of the same acts, each of them once.
        assert Counter(act["request"] for act in acts) == Counter(answered.keys())
        assert {act["request"]: act["refused"] for act in acts} == answered
        assert told == done
        assert moves["shelve"] == done["Shelve"]
        assert moves["unshelve"] == done["Unshelve"]
        # And the alarm is where these acts have left it.
        assert is_shelved(tmp_path) == (done["Shelve"] > done["Unshelve"])

    verdict = rerun.verify(tmp_path, "plated", lambda _: plan())
    assert verdict.faults == []
    assert verdict.people > 3 * KILLS


def is_shelved(store) -> bool:
    [(part,)] = rows(store, "SELECT bytes FROM memory WHERE name = 'alarms'")
    return unpack(part)[0]["state"].get(ALARM) == int(State.SHELVED)
