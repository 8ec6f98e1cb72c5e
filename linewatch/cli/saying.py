"""Says something in a person's name, and prints what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from pathlib import Path

    from linewatch.core.commands import AnyCommand

Who = Annotated[str | None, Parameter(name="--who")]


def initials(who: str | None) -> str:
    """Return whom the record names: who was given, else who is logged in."""
    from linewatch.wiring.processes import user

    return who or user()


def said(store: Path | None, line: str | None, command: AnyCommand, remark: str = "") -> int:
    """Leave a command, print what became of it, and return the exit code.

    Args:
        store: Folder of the record.
        line: Id of the line, if the store holds several.
        command: What is said.
        remark: What is told besides, once it is saved.
    """
    from linewatch.cli.tables import harmless
    from linewatch.core.units import with_symbols
    from linewatch.wiring import saying, viewer

    answer = saying.say(viewer.open_desk(*viewer.choose(store, line)), command)
    text = answer.remarked(remark)
    if not answer.done and text.endswith("says why"):
        text += ': add --why "the reason"'
    print(harmless(with_symbols(text)))
    return 0 if answer.done else 1
