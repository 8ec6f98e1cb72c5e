"""Kills a recording process in the midst of its work."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

COUNTING = Path(__file__).with_name("counting_line.py")
PLATED = Path(__file__).with_name("plated_collector.py")


def killed_once(
    store: Path, chance: random.Random, blocks: int = 3, *, script: Path = COUNTING
) -> tuple[int, int]:
    """Record, and be killed at a random moment; return what was shown as stored last."""
    child = subprocess.Popen(
        [sys.executable, str(script), str(store), str(blocks)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    # The moment is random in work done, not in time: a slow machine is killed as often in the
    # midst of a commit as a fast one.
    rows = [child.stdout.readline() for _ in range(chance.randrange(2, 60))]
    for _ in range(chance.randrange(20_000)):
        pass
    child.kill()
    rows += child.stdout.read().splitlines()
    child.wait()
    child.stdin.close()
    child.stdout.close()
    told = [row.split() for row in rows]
    stored = [row for row in told if len(row) == 3 and row[0] == "stored"]
    return (int(stored[-1][1]), int(stored[-1][2])) if stored else (0, 0)
