"""The whole program, as its users start it."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def linewatch(tmp_path: Path) -> Run:
    """Run a command of linewatch to its end, with its data under the test's folder."""
    environment = os.environ | {"XDG_DATA_HOME": str(tmp_path / "data"), "NO_COLOR": "1"}

    def run(*arguments: str, timeout: float = 50.0) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [sys.executable, "-m", "linewatch", *arguments],
            capture_output=True,
            text=True,
            timeout=timeout,
            check=False,
            env=environment,
            stdin=subprocess.DEVNULL,
        )

    return run
