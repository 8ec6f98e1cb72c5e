"""kill -9 at random moments: nothing shown as stored is missing, nothing is doubled."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

from tests.history.inspect_record import look

KILLS = 10
SCRIPT = Path(__file__).with_name("counting_line.py")


def killed_once(store: Path, chance: random.Random, blocks: int = 3) -> tuple[int, int]:
    """Count, and be killed at a random moment; return what was shown as stored last."""
    child = subprocess.Popen(
        [sys.executable, str(SCRIPT), str(store), str(blocks)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    last, notes = 0, 0
    # The moment is random in work done, not in time: a slow machine is killed as often in the
    # midst of a commit as a fast one.
    for _ in range(chance.randrange(2, 60)):
        row = child.stdout.readline().split()
        if row and row[0] == "stored":
            last, notes = int(row[1]), int(row[2])
    for _ in range(chance.randrange(20_000)):
        pass
    child.kill()
    rest = child.stdout.read().splitlines()
    child.wait()
    child.stdin.close()
    child.stdout.close()
    for row in rest:
        parts = row.split()
        if parts[:1] == ["stored"] and len(parts) == 3:
            last, notes = int(parts[1]), int(parts[2])
    return last, notes


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
