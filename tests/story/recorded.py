"""A record of the short line, as the program makes one, for tests that read it."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def record_the_short_line(folder: Path, lasting: str) -> Path:
    """Record the short line for some time, '2min', into a store below a folder; return it."""
    store = folder / "store"
    subprocess.run(
        [
            sys.executable,
            *("-m", "linewatch", "demo", "--headless", "--line", "first"),
            *("--for", lasting, "--speed", "20", "--store", str(store)),
        ],
        check=True,
        capture_output=True,
    )
    return store
