"""Where data and state lie, unless a person says otherwise."""

from __future__ import annotations

from pathlib import Path

import platformdirs


def default_store() -> Path:
    """Return the folder for the records of real lines."""
    return Path(platformdirs.user_data_dir("linewatch", appauthor=False)) / "store"


def demo_store() -> Path:
    """Return the folder for the demo's record; every demo plant is new, so is its record."""
    return Path(platformdirs.user_data_dir("linewatch", appauthor=False)) / "demo"


def shipped(name: str) -> Path:
    """Return a file that ships with the program: from the wheel, or from the checkout."""
    package = Path(__file__).parent.parent
    installed = package / "config" / "shipped" / name
    return installed if installed.exists() else package.parent / "config" / name
