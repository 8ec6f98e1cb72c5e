"""Which recorded signals a person means: a tag, "Nickel 1 temperature", a whole position."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.errors import Refused
from linewatch.wiring.meant import meant, things

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from linewatch.wiring.meant import Thing

KINDS: Final = ("tank", "rectifier")


def recorded(store: Path, line_id: str, said: Sequence[str]) -> tuple[str, ...]:
    """Return the recorded tags that a person means; all for nothing said.

    Args:
        store: The store.
        line_id: The line.
        said: Each a tag, or number, name or id of a position: all its tags, or one of them by
            a word after it.

    Raises:
        Refused: nothing, or more than one thing, is called so.
        StoreUnusable: there is no such line in the store.
    """
    from linewatch.history.desk import StoreDesk

    desk = StoreDesk(store, line_id)
    tags, picture = desk.tags(), desk.picture()
    among = list(things(picture)) if picture is not None else []
    found = [tag for each in said for tag in signals_meant(tags, among, each)]
    return tuple(dict.fromkeys(found))


def signals_meant(tags: Sequence[str], among: Sequence[Thing], said: str) -> list[str]:
    """Return the tags that one text means.

    Raises:
        Refused: nothing, or more than one thing, is called so; with what there is.
    """
    doing = f"find the signal {said!r}"
    if said in tags:
        return [said]
    position, _, signal = said.partition(".")
    if signal and any(tag.startswith(f"{position}.") for tag in tags):
        return _of(tags, position, signal, doing)
    words = said.split()
    why = Refused(doing, "write a tag, or the name of a position")
    # The whole may be a position's name; else its last words name a signal of it.
    for count in range(len(words), 0, -1):
        try:
            position = meant(among, " ".join(words[:count]), doing, KINDS)
        except Refused as refused:
            why = refused if count == len(words) else why
            continue
        return _of(tags, position, ".".join(words[count:]), doing)
    raise why


def _of(tags: Sequence[str], position: str, signal: str, doing: str) -> list[str]:
    """Return the tags of a position, or those whose name has a word."""
    own = {
        tag: tag.removeprefix(f"{position}.") for tag in tags if tag.startswith(f"{position}.")
    }
    wanted = signal.casefold()
    found = [tag for tag, name in own.items() if name.casefold() == wanted]
    found = found or [
        tag for tag, name in own.items() if f".{name}.".casefold().startswith(f".{wanted}.")
    ]
    if not signal:
        found = list(own)
    if not found:
        names = ", ".join(own.values()) or "none"
        raise Refused(doing, f"the signals recorded of {position} are: {names}")
    return found
