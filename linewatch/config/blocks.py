"""Configuration text for devices and tags, as a person would have written it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from tomlkit.items import InlineTable


def tag_block(keys: Mapping[str, object], comment: str = "") -> str:
    """Return a tag as text.

    Args:
        keys: Its keys as the configuration has them: `measures`, `read` (a mapping) and more.
        comment: What to write beside it, on one line.
    """
    import tomlkit  # imported here: only commissioning writes configuration

    table = tomlkit.table()
    for key, value in keys.items():
        table.add(key, _inline(value) if isinstance(value, dict) else value)
    if comment:
        table["measures"].comment(comment)
    return f"[[device.tag]]\n{tomlkit.dumps(table)}"


def _inline(keys: Mapping[str, object]) -> InlineTable:
    import tomlkit

    inline = tomlkit.inline_table()
    inline.update({key: value for key, value in keys.items() if value is not None})
    return inline


def device_block(keys: Mapping[str, object], tags: Iterable[str]) -> str:
    """Return a device with its tags' blocks as text."""
    import tomlkit

    head = tomlkit.dumps(tomlkit.item(dict(keys)))
    return "\n".join([f"[[device]]\n{head}", *tags])
