"""Outside values and running plants."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from linewatch_sim.lines import LINES
from linewatch_sim.works import Works


@pytest.fixture(scope="session")
def check_values() -> dict[str, dict[str, Any]]:
    file = Path(__file__).parents[1] / "data" / "check_values.toml"
    rows = tomllib.loads(file.read_text("utf-8"))["check"]
    return {row["id"]: row for row in rows}


@pytest.fixture
def first() -> Works:
    return Works(LINES["first"][0], seed=1)
