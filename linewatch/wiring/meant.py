"""What a person means who names a thing as the screen does: by number, by name, or by its id.

Rule 1: what is typed whole wins over what it is a part of; an id over a number over a name.
Rule 2: where several things could be meant, or none, the nearest are told and nothing is done.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core.errors import Refused
from linewatch.wiring import viewer

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
    from pathlib import Path

    from linewatch.core.view import LinePicture

NEAREST: Final = 4
ALIKE: Final = 0.5
"""Likeness from which on a name counts as near."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """Something that can be named."""

    id: str
    kind: str
    number: str = ""
    name: str = ""

    @property
    def called(self) -> str:
        """What people call it."""
        return f"{self.number} {self.name}".strip()

    def __str__(self) -> str:
        return f"{self.called} ({self.id})"


def things(picture: LinePicture) -> Iterator[Thing]:
    """Yield everything on a picture that can be named."""
    for tank in picture.tanks:
        yield Thing(id=tank.id, kind="tank", number=tank.number, name=tank.name)
    for rectifier in picture.rectifiers:
        yield Thing(id=rectifier.id, kind="rectifier", name=rectifier.name)
    for bath in picture.baths:
        yield Thing(id=bath.id, kind="bath", name=bath.name)
    for each in picture.duties:
        yield Thing(id=each.id, kind="duty", name=each.text)
    yield Thing(id=picture.line_id, kind="line", name=picture.name)


def meant(
    among: Sequence[Thing], said: str, doing: str, kinds: Collection[str] = ("tank",)
) -> str:
    """Return the id of what a person means.

    Args:
        among: What there is.
        said: An id, a number, a name, or a part of a name that only one thing has.
        doing: What is asked, in words, for the refusal: "explain nickel 9".
        kinds: Which kinds of things can be meant.

    Returns:
        The id.

    Raises:
        Refused: nothing, or more than one thing, is called so; with the nearest.
    """
    wanted = _folded(said)
    mine = [each for each in among if each.kind in kinds]
    for found in (
        [each for each in mine if each.id == said.strip()],
        [each for each in mine if each.number and _folded(each.number) == wanted],
        [each for each in mine if wanted in {_folded(each.name), _folded(each.called)}],
        [each for each in mine if _is_part(wanted, each)],
    ):
        ids = {each.id for each in found}
        if len(ids) == 1:
            return ids.pop()
        if ids:
            raise Refused(doing, f"several are called so: {_listed(found)}")
    words = _words(kinds)
    near = _near(mine, wanted)
    nearest = (
        f"the nearest: {_listed(near)}" if near else f"there are {_listed(mine) or 'none'}"
    )
    raise Refused(doing, f"there is no {words} {said!r}; {nearest}")


def in_store(
    store: Path | None, line: str | None, said: str, doing: str, kinds: Collection[str]
) -> str:
    """Return the id of what a person means on a recorded line; see `meant`.

    Raises:
        Refused: nothing, or more than one thing, is called so.
        StoreUnusable: there is no such line, or it has no picture yet.
    """
    folder, line_id = viewer.choose(store, line)
    return meant(list(things(viewer.picture_in(folder, line_id))), said, doing, kinds)


def _folded(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").split())


def _is_part(wanted: str, each: Thing) -> bool:
    return bool(wanted) and f" {wanted} " in f" {_folded(each.called)} "


def _near(mine: Sequence[Thing], wanted: str) -> list[Thing]:
    """Return the things whose id or name is most like what was said, the likest first."""
    parts = [each for each in mine if wanted and wanted in _folded(f"{each.called} {each.id}")]
    likeness = [
        (max(_likeness(wanted, each.id), _likeness(wanted, each.name)), each) for each in mine
    ]
    like = sorted((pair for pair in likeness if pair[0] >= ALIKE), key=lambda pair: -pair[0])
    return list(dict.fromkeys([*parts, *(each for _, each in like)]))[:NEAREST]


def _likeness(wanted: str, text: str) -> float:
    return difflib.SequenceMatcher(None, wanted, _folded(text)).ratio()


def _listed(found: Sequence[Thing]) -> str:
    several = [str(each) for each in found[:NEAREST]]
    more = f" and {len(found) - NEAREST} more" if len(found) > NEAREST else ""
    return ", ".join(several) + more


def _words(kinds: Collection[str]) -> str:
    *others, last = kinds
    return f"{', '.join(others)} or {last}" if others else last
