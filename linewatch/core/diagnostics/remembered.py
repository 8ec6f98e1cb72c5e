"""What keeps itself: state of plain numbers and lists, remembered field by field."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping


class Remembered:
    """A dataclass whose fields are numbers, truths, or lists of them."""

    __slots__ = ()

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on."""
        return {each.name: getattr(self, each.name) for each in fields(self)}  # type: ignore[arg-type]

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered; a field that is new keeps its beginning."""
        for each in fields(self):  # type: ignore[arg-type]  # who inherits it is a dataclass
            if each.name in kept:
                value = kept[each.name]
                setattr(self, each.name, list(value) if isinstance(value, list) else value)
