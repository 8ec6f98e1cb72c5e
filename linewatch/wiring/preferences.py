"""How a person wants the screen: a small file of their own, and what was seen before.

The file is `screen.toml` in the folder that platformdirs names for settings:

    theme = "night"
    units = "us"
    bell = "highest"

    [keys]
    alarms = "f2"
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import platformdirs

from linewatch.core.errors import ConfigurationFaulty, file_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.ports import Series

FILE = "screen.toml"


class Preferences(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """What the file may say; unknown keys are refused."""

    theme: str | None = None
    plain: bool | None = None
    bell: Annotated[str, msgspec.Meta(pattern="^(highest|high|medium|low|never)$")] | None = (
        None
    )
    """Least priority of a new alarm at which the terminal's bell sounds."""
    units: Annotated[str, msgspec.Meta(pattern="^(metric|us)$")] | None = None
    keys: dict[str, str] = {}
    """Keys of the shop's own, by the name that `linewatch keys --names` prints."""


def folder() -> Path:
    """Return where a person's settings lie."""
    return Path(platformdirs.user_config_dir("linewatch", appauthor=False))


def preferences() -> Preferences:
    """Return what a person wants; all is left open if there is no file.

    Raises:
        ConfigurationFaulty: the file has faults.
    """
    from linewatch.ui.keys import Keys, UnknownKeyId
    from linewatch.ui.palette import PALETTES

    file = folder() / FILE
    if not file.exists():
        return Preferences()
    try:
        wanted = msgspec.convert(tomllib.loads(file.read_text(encoding="utf-8")), Preferences)
        Keys(wanted.keys)
    except (UnicodeDecodeError, OSError) as error:
        raise ConfigurationFaulty(str(file), (file_words(error),)) from error
    except (tomllib.TOMLDecodeError, UnknownKeyId) as error:
        raise ConfigurationFaulty(str(file), (str(error),)) from error
    except msgspec.ValidationError as error:
        raise ConfigurationFaulty(str(file), (str(error),)) from error
    if wanted.theme is not None and wanted.theme not in PALETTES:
        known = ", ".join(PALETTES)
        raise ConfigurationFaulty(
            str(file), (f"theme: no theme {wanted.theme!r}; use {known}",)
        )
    return wanted


def is_first_run() -> bool:
    """Say whether this person sees the screen for the first time, and remember it."""
    seen = Path(platformdirs.user_state_dir("linewatch", appauthor=False)) / "seen"
    if seen.exists():
        return False
    try:
        seen.parent.mkdir(parents=True, exist_ok=True)
        seen.touch()
    except OSError:
        # A home that cannot be written to is no reason to keep anybody from looking.
        return False
    return True


def save(name: str, series: Sequence[Series], picture: str) -> str:
    """Save what a trend shows as CSV and Parquet, and the screen as SVG; return where."""
    from linewatch.history.exports import write_series

    where = Path.cwd()
    (where / f"{name}.svg").write_text(picture, encoding="utf-8")
    endings = ["svg"]
    if series:
        for ending in ("csv", "parquet"):
            write_series(series, where / f"{name}.{ending}")
            endings.append(ending)
    return f"{where / name}.{{{','.join(endings)}}}"
