"""A file in, its text out, or what is wrong with it as a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.errors import ConfigurationFaulty

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_BYTES = 16 * 1024 * 1024
"""Far above any real line; a file beyond it is something else."""
_BOM = b"\xef\xbb\xbf"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def text_of(path: Path) -> str:
    """Return the text of a configuration file.

    Raises:
        ConfigurationFaulty: it is missing, no file, unreadable, too large, or no UTF-8 text.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise ConfigurationFaulty(str(path), (why_not(path, error),)) from error
    if len(content) > LARGEST_BYTES:
        raise ConfigurationFaulty(
            str(path), (f"larger than {LARGEST_BYTES // 2**20} MiB; name a configuration file",)
        )
    return _decoded(content, str(path))


def why_not(path: Path, error: Exception) -> str:
    """Return why a file cannot be read, and what to do about it."""
    if isinstance(error, FileNotFoundError):
        near = ""
        if path.parent.is_dir():
            others = sorted(
                each.name for each in path.parent.glob(f"*{path.suffix or '.toml'}")
            )[:8]
            near = f"; in that folder are {', '.join(others)}" if others else ""
        return f"there is no such file{near}"
    if isinstance(error, IsADirectoryError):
        return "it is a folder; name a file in it"
    if isinstance(error, PermissionError):
        return "it may not be read by you; ask its owner for the right to read it"
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return f"it cannot be read: {reason}"


def _decoded(content: bytes, name: str) -> str:
    if content.startswith(_UTF16):
        raise ConfigurationFaulty(name, ("it is written in UTF-16; save it as UTF-8",))
    if b"\x00" in content:
        raise ConfigurationFaulty(name, ("it is no text file; name a configuration file",))
    try:
        return content.removeprefix(_BOM).decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        byte = content[error.start]
        raise ConfigurationFaulty(
            name, (f"line {line}: byte 0x{byte:02X} is no UTF-8; save the file as UTF-8",)
        ) from error
