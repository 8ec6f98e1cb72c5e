"""Kills a counting line in the midst of its work."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

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
