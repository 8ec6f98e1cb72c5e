"""Every measurement, one after the other; a machine that does something else spoils them.

    python tests/bench/run.py [--quick]

Each is a program of its own and can be run alone; see its first lines. With --quick the long
ones are left out.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
QUICK = (
    ("bench_demo.py", "20"),
    ("bench_line.py",),
    ("bench_screen.py",),
    ("bench_modbus.py", "--seconds", "10", "--frames", "50000"),
    ("bench_history.py", "--quick"),
)
LONG = (
    ("bench_demo.py",),
    ("bench_truth.py",),
    ("bench_line.py",),
    ("bench_screen.py",),
    ("bench_modbus.py",),
    ("bench_history.py",),
    ("bench_kill.py",),
    ("bench_loads.py",),
    ("bench_soak.py",),
    ("bench_addition.py",),
)


def main(*, quick: bool) -> int:
    """Run them all; return how many failed."""
    failed = 0
    for name, *arguments in QUICK if quick else LONG:
        print(f"\n{name} {' '.join(arguments)}".rstrip(), flush=True)
        done = subprocess.run([sys.executable, str(HERE / name), *arguments], check=False)
        failed += done.returncode != 0
    return failed


if __name__ == "__main__":
    sys.exit(main(quick="--quick" in sys.argv[1:]))
