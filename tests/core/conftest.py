"""Outside values, and a ledger of which of them were used."""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Check = Callable[[str], Any]


@pytest.fixture(scope="session")
def check_rows() -> dict[str, dict[str, Any]]:
    """Return every row of the outside values by id."""
    file = Path(__file__).parents[1] / "data" / "check_values.toml"
    return {row["id"]: row for row in tomllib.loads(file.read_text("utf-8"))["check"]}
