"""What each part loads, seen from a clean interpreter: no static graph sees a late import."""

import json
import subprocess
import sys

import pytest

HEAVY = {"textual", "polars", "pymodbus", "asyncua", "sqlite3", "scipy", "numpy", "pydantic"}


def loaded_by(statement: str) -> set[str]:
    """Return the heavy libraries that a statement loads in a new interpreter."""
    code = f"import json, sys; {statement}; print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return {name.split(".")[0] for name in json.loads(done.stdout)} & HEAVY


@pytest.mark.parametrize(
    ("statement", "allowed"),
    [
        ("import linewatch.cli", set()),
        ("import linewatch.core.calc", set()),
        ("import linewatch.core.view", set()),
        ("import linewatch.core.line", {"numpy"}),
        ("import linewatch.drivers", {"numpy", "pydantic"}),
        ("import linewatch.history", {"numpy", "pydantic", "sqlite3"}),
        ("import linewatch.ui.app", {"numpy", "textual"}),
        ("import linewatch.wiring.viewer", set()),
    ],
)
def test_a_part_loads_no_more_than_it_needs(statement: str, allowed: set[str]):
    assert loaded_by(statement) <= allowed
