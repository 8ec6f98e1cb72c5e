"""What may go wrong, by name: one row a trouble.

A trouble sets something in the plant, a sensor or a link, and clears it again. Adding one is
adding a row to a line's table.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from linewatch_sim.modbus import Server
    from linewatch_sim.opcua import OpcuaServer
    from linewatch_sim.values import Values
    from linewatch_sim.works import Works


class Stage(Protocol):
    """What a trouble can reach."""

    works: Works
    values: Values
    servers: Mapping[str, Server]
    opcua: Mapping[str, OpcuaServer]

    async def set_listening(self, link: str, *, on: bool) -> None:
        """Let a link drop, or come back."""


Act = Callable[[Any], Any]
Acts = dict[str, Act]
"""`begin` and `end` of a trouble."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One thing that may go wrong."""

    name: str
    group: str
    """What kind of trouble: 'heating', 'rectifier', 'treatment'."""
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


def knob(part: str, name: str, element: str, value: float, *, over_s: float = 0.0) -> Acts:
    """Return how to set one number of the plant, and how to put it back.

    `part` is a key of the works' parts, `name` an array of what may be wrong there. With
    `over_s` it goes there evenly in so much line time.
    """
    usual: dict[int, float] = {}

    def begin(stage: Stage) -> None:
        array, place = _array(stage, part, name), _place(stage, part, element)
        usual.setdefault(id(stage), float(array[place]))
        stage.works.slopes.lead(array, place, value, over_s=over_s)

    def end(stage: Stage) -> None:
        if id(stage) in usual:
            array, place = _array(stage, part, name), _place(stage, part, element)
            stage.works.slopes.lead(array, place, usual.pop(id(stage)))

    return {"begin": begin, "end": end}


def for_a_moment(part: str, name: str, value: float, for_s: float) -> Acts:
    """Return how to set one number for all elements of a part, for a moment only."""

    def begin(stage: Stage) -> None:
        array = _array(stage, part, name)
        for place, usual in enumerate(array.tolist()):
            stage.works.slopes.lead(array, place, value)
            stage.works.slopes.lead(array, place, usual, after_s=for_s)

    return {"begin": begin, "end": _nothing}


def shift(part: str, name: str, element: str, by: float) -> Acts:
    """Return how to move a state of the plant at once; nothing but the plant puts it back."""

    def begin(stage: Stage) -> None:
        getattr(stage.works.parts[part], name)[_place(stage, part, element)] += by

    return {"begin": begin, "end": _nothing}


def stopped_in_the_air(track: str, tank: str, after_s: float = 8.0) -> Acts:
    """Return how to stop a track when the next load has just left a tank, and let it go on."""

    def begin(stage: Stage) -> None:
        loads: Any = stage.works.parts["loads"]
        place = list(loads.tanks).index(tank)
        left_s = float(loads.left_s[place])
        array, where = _array(stage, "loads", "moving"), _place(stage, "loads", track)
        wait_s = max(left_s, 0.0) + after_s
        stage.works.slopes.lead(array, where, 0.0, after_s=wait_s)

    def end(stage: Stage) -> None:
        array, where = _array(stage, "loads", "moving"), _place(stage, "loads", track)
        stage.works.slopes.lead(array, where, 1.0)

    return {"begin": begin, "end": end}


def together(*some: Acts) -> Acts:
    """Return how to do several things at once, and to undo them all."""

    async def begin(stage: Stage) -> None:
        for acts in some:
            await done(acts["begin"](stage))

    async def end(stage: Stage) -> None:
        for acts in reversed(some):
            await done(acts["end"](stage))

    return {"begin": begin, "end": end}


async def done(result: object) -> None:
    """Wait for an act that takes its time."""
    if inspect.isawaitable(result):
        await result


def _nothing(stage: Stage) -> None:
    del stage


def sensor(what: str, kind: str, size: float = 0.0) -> Acts:
    """Return how to break one sensor, and how to mend it."""
    return {
        "begin": lambda stage: stage.values.break_sensor(what, kind, size),
        "end": lambda stage: stage.values.faults.pop(what, None),
    }


def silent_unit(link: str, unit: int) -> Acts:
    """Return how to let one unit fall silent, and answer again."""
    return {
        "begin": lambda stage: stage.servers[link].station.silent.add(unit),
        "end": lambda stage: stage.servers[link].station.silent.discard(unit),
    }


def frozen_link(link: str) -> Acts:
    """Return how to let an OPC UA server live on with values that no longer move."""

    def freeze(stage: Stage, *, on: bool) -> None:
        stage.opcua[link].frozen = on

    return {
        "begin": lambda stage: freeze(stage, on=True),
        "end": lambda stage: freeze(stage, on=False),
    }


def frozen_unit(link: str, unit: int) -> Acts:
    """Return how to let one unit repeat its last answers, and wake up again."""
    return {
        "begin": lambda stage: stage.servers[link].station.frozen.add(unit),
        "end": lambda stage: stage.servers[link].station.frozen.discard(unit),
    }


def dropped_link(link: str) -> Acts:
    """Return how to let a link drop, and come back."""
    return {
        "begin": lambda stage: stage.set_listening(link, on=False),
        "end": lambda stage: stage.set_listening(link, on=True),
    }


def spoiled_value(link: str, what: str, wrong: str) -> Acts:
    """Return how to let an OPC UA value arrive with something wrong."""
    return {
        "begin": lambda stage: stage.opcua[link].spoil(what, wrong),
        "end": lambda stage: stage.opcua[link].spoil(what, None),
    }


def forgotten_subscription(link: str) -> Acts:
    """Return how to let an OPC UA server forget whom it was to tell; nothing undoes it."""
    return {
        "begin": lambda stage: stage.opcua[link].forget_subscriptions(),
        "end": _nothing,
    }


def _array(stage: Stage, part: str, name: str) -> Any:  # noqa: ANN401 - any array of the model
    return getattr(stage.works.parts[part].wrong, name)


def _place(stage: Stage, part: str, element: str) -> int:
    return list(stage.works.parts[part].ids).index(element)
