"""What may go wrong, by name: one row a trouble.

A trouble sets something in the plant, a sensor or a link, and clears it again. Adding one is
adding a row to a line's table. `row` names the line of the fault table that it plays.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from linewatch_sim.modbus import Server
    from linewatch_sim.values import Values
    from linewatch_sim.works import Works


class Stage(Protocol):
    """What a trouble can reach."""

    works: Works
    values: Values
    servers: Mapping[str, Server]

    async def set_listening(self, link: str, *, on: bool) -> None:
        """Let a link drop, or come back."""


Act = Callable[[Any], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One thing that may go wrong."""

    name: str
    row: str
    tells: str
    """One sentence."""
    begin: Act
    """Called with the stage; may be a coroutine function."""
    end: Act


class UnknownTrouble(LookupError):
    """No trouble has this name."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        super().__init__(name)
        self.name = name
        self.known = known

    def __str__(self) -> str:
        return f"no trouble is called {self.name!r}; there are: {', '.join(self.known)}"


class BadMoment(ValueError):
    """A trouble's time cannot be read."""


UNITS_S = {"ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


def seconds(text: str) -> float:
    """Return a span such as '90s', '5min' or '1.5 h' in seconds.

    Raises:
        BadMoment: it is no number with such a unit.
    """
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(ms|s|min|h|d)\s*", text)
    if found is None:
        raise BadMoment(f"{text!r} is no time; write it as 90s, 5min or 1h")
    return float(found[1]) * UNITS_S[found[2]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A trouble at its time."""

    name: str
    begins_s: float
    lasts_s: float | None = None


def planned(text: str) -> Planned:
    """Return what 'NAME@TIME' or 'NAME@TIME+SPAN' asks for; without a time: at once.

    Raises:
        BadMoment: a time in it cannot be read.
    """
    name, _, when = text.partition("@")
    start, _, span = when.partition("+")
    return Planned(
        name=name.strip(),
        begins_s=seconds(start) if start else 0.0,
        lasts_s=seconds(span) if span else None,
    )


def knob(part: str, name: str, element: str, value: float) -> dict[str, Act]:
    """Return how to set one number of the plant, and how to put it back.

    `part` is a key of the works' parts, `name` an array of what may be wrong there.
    """
    before: dict[int, float] = {}

    def begin(stage: Stage) -> None:
        array, place = _array(stage, part, name), _place(stage, part, element)
        before.setdefault(id(stage), float(array[place]))
        array[place] = value

    def end(stage: Stage) -> None:
        if id(stage) in before:
            _array(stage, part, name)[_place(stage, part, element)] = before.pop(id(stage))

    return {"begin": begin, "end": end}


def sensor(what: str, kind: str, size: float = 0.0) -> dict[str, Act]:
    """Return how to break one sensor, and how to mend it."""
    return {
        "begin": lambda stage: stage.values.break_sensor(what, kind, size),
        "end": lambda stage: stage.values.faults.pop(what, None),
    }


def silent_unit(link: str, unit: int) -> dict[str, Act]:
    """Return how to let one unit fall silent, and answer again."""
    return {
        "begin": lambda stage: stage.servers[link].station.silent.add(unit),
        "end": lambda stage: stage.servers[link].station.silent.discard(unit),
    }


def dropped_link(link: str) -> dict[str, Act]:
    """Return how to let a link drop, and come back."""
    return {
        "begin": lambda stage: stage.set_listening(link, on=False),
        "end": lambda stage: stage.set_listening(link, on=True),
    }


def _array(stage: Stage, part: str, name: str) -> Any:  # noqa: ANN401 - any array of the model
    return getattr(stage.works.parts[part].wrong, name)


def _place(stage: Stage, part: str, element: str) -> int:
    return list(stage.works.parts[part].ids).index(element)
