"""A small line to spoil."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from linewatch.config import read_text
from linewatch.core.errors import ConfigurationFaulty

EXAMPLE = Path(__file__).parents[2] / "config" / "example.toml"

Change = Callable[[Any], object]


@pytest.fixture(scope="session")
def example() -> str:
    """The text of the example configuration."""
    return EXAMPLE.read_text(encoding="utf-8")


@pytest.fixture
def changed(example: str) -> Callable[..., str]:
    """Return the example after some changes to its parsed document."""

    def apply(*changes: Change) -> str:
        document = tomlkit.parse(example)
        for change in changes:
            change(document)
        return tomlkit.dumps(document)

    return apply


@pytest.fixture
def faults(changed: Callable[..., str]) -> Callable[..., tuple[str, ...]]:
    """Return what is told about the example after some changes."""

    def tell(*changes: Change) -> tuple[str, ...]:
        with pytest.raises(ConfigurationFaulty) as faulty:
            read_text(changed(*changes), "line.toml")
        assert faulty.value.file == "line.toml"
        return faulty.value.faults

    return tell
