"""Commands that touch no line: check, schema, calc."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.cli import app

if TYPE_CHECKING:
    from pathlib import Path


@app.command
def check(file: Path) -> int:
    """Check a configuration and list every fault at once.

    Args:
        file: The configuration.
    """
    from linewatch import config

    config.read(file)
    return 0
